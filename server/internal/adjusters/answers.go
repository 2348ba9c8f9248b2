package adjusters

import (
	"errors"
	"fmt"
	"strings"

	"rowdatum/adjusters/adjuster"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
	"rowdatum/server/leveling"
)

// rowOptions checks a program's answer for every asked row. The error goes on from "the adjuster
// answered wrongly:".
func (d *description) rowOptions(asked []leveling.RowSetting, said []*adjusterv1.RowOptions) ([]leveling.RowOptions, error) {
	if len(said) != len(asked) {
		return nil, fmt.Errorf("it was asked for %d rows and answered for %d", len(asked), len(said))
	}
	rows := make([]leveling.RowOptions, len(asked))
	for i, row := range said {
		var err error
		switch {
		case len(row.GetViolations()) > 0 && len(row.GetOptions()) > 0:
			err = errors.New("it gave options and called the row wrong at once")
		case len(row.GetViolations()) > 0:
			rows[i].Violations, err = violations(row.Violations)
		default:
			rows[i].Options, err = d.options(asked[i], row.GetOptions())
		}
		if err != nil {
			return nil, fmt.Errorf("in entry %d of its answer %w", i+1, err)
		}
	}
	return rows, nil
}

// options checks the options of one row.
func (d *description) options(asked leveling.RowSetting, said []*adjusterv1.Option) ([]leveling.Option, error) {
	if len(said) == 0 || len(said) > adjuster.MaxOptions {
		return nil, fmt.Errorf("there are %d options, must be 1 to %d", len(said), adjuster.MaxOptions)
	}
	options := make([]leveling.Option, len(said))
	leaves := 0
	for i, o := range said {
		var err error
		if options[i], err = d.option(asked, o); err != nil {
			return nil, err
		}
		if options[i].Leave {
			leaves++
		}
		if i > 0 && options[i].EffectMm < options[i-1].EffectMm {
			return nil, errors.New("the options are not by rising effect")
		}
	}
	if leaves != 1 {
		return nil, fmt.Errorf("%d options leave the row alone, must be exactly one", leaves)
	}
	return options, nil
}

// option checks one option.
func (d *description) option(asked leveling.RowSetting, o *adjusterv1.Option) (leveling.Option, error) {
	known := asked.Setting != ""
	c := checks{}
	c.within("an effect", o.GetEffectMm(), -maxFigureMm, maxFigureMm)
	c.within("a count", o.GetCount(), -maxCount, maxCount)
	c.within("an option's seconds", o.GetSeconds(), 0, adjuster.MaxSeconds)
	c.that(!o.GetLeave() || o.GetEffectMm() == 0 && o.GetCount() == 0 && o.GetSeconds() == 0, "leaving the row alone has an effect, a count or seconds")
	if o.GetSettingAfter() == "" == known || (o.GetShallowerLeftMm() == 0 && o.ShallowerLeftMm == nil) == known || (o.DeeperLeftMm == nil) == known {
		c.that(false, "the setting after a move and the travel left must be there exactly where the setting is known")
	}
	c.within("a travel left", o.GetShallowerLeftMm(), 0, maxFigureMm)
	c.within("a travel left", o.GetDeeperLeftMm(), 0, maxFigureMm)
	if c.err != nil {
		return leveling.Option{}, c.err
	}
	option := leveling.Option{
		Leave: o.Leave, EffectMm: o.EffectMm + 0, Count: o.Count + 0, // +0 turns -0 into 0
		TravelKnown: known, ShallowerLeftMm: o.GetShallowerLeftMm() + 0, DeeperLeftMm: o.GetDeeperLeftMm() + 0,
		Seconds: o.GetSeconds() + 0,
	}
	if !known {
		return option, nil
	}
	var err error
	option.SettingAfter, err = d.canonical(o.SettingAfter)
	return option, err
}

// violations checks what a program found wrong with a row.
func violations(said []*adjusterv1.Violation) ([]leveling.Violation, error) {
	c := checks{}
	c.that(len(said) <= maxTexts, "there are %d violations, at most %d are taken", len(said), maxTexts)
	if c.err != nil {
		return nil, c.err
	}
	out := make([]leveling.Violation, len(said))
	for i, v := range said {
		c.text("a violation's field", v.GetField(), 1, maxShortText)
		c.that(under("figures", v.GetField()) || under("setting", v.GetField()), "a violation is about %q, must be figures or setting", clip(v.GetField()))
		c.text("a violation's message", v.GetMessage(), 1, maxLongText)
		out[i] = leveling.Violation{Field: v.GetField(), Say: leveling.Text(v.GetMessage())}
	}
	return out, c.err
}

// under says whether a path is root or lies below it.
func under(root, path string) bool {
	rest, ok := strings.CutPrefix(path, root)
	return ok && (rest == "" || rest[0] == '.' || rest[0] == '[')
}

// words checks a program's words for every choice.
func words(asked []leveling.Choice, said []*adjusterv1.Words) ([]leveling.Words, error) {
	if len(said) != len(asked) {
		return nil, fmt.Errorf("it was asked for the words of %d choices and gave %d", len(asked), len(said))
	}
	out := make([]leveling.Words, len(said))
	c := checks{}
	for i, w := range said {
		if asked[i].Option.Leave {
			c.that(w.GetSay() == "", "it says something to do for a row that is left alone")
		} else {
			c.text("the words for a move", w.GetSay(), 1, maxLongText)
		}
		c.texts("a row's cautions", w.GetCautions())
		out[i] = leveling.Words{Say: w.GetSay(), Cautions: w.GetCautions()}
	}
	return out, c.err
}
