package adjustertest

import (
	"context"
	"math"
	"slices"
	"strings"
	"unicode"

	"google.golang.org/protobuf/proto"

	"rowdatum/adjusters/adjuster"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

const (
	// near is how far two numbers may differ that should be one: far below anything on a planter, above
	// what rounding to whole picometres adds up to.
	near = 1e-8
	// sample is how many options of a case are put in words and walked there and back: with the row
	// they start from, no more than one call may carry.
	sample = 40
	// maxWords is the longest that anyone listens to.
	maxWords = 600
)

// sitCase asks one case twice and checks the answer; true where there were options.
func (e *exam) sitCase(ctx context.Context, c *Case) bool {
	ask := question(jsonText(c.Figures), jsonText(c.Setting))
	first := e.options(ctx, "options", c.Name, false, ask)
	second := e.options(ctx, "options", c.Name, false, ask)
	if first == nil || second == nil {
		return false
	}
	row := first[0]
	if !proto.Equal(row, second[0]) {
		e.found("pure", c.Name, "the same question was answered differently")
	}
	e.compareViolations(c, row.GetViolations())
	if len(row.GetViolations()) > 0 {
		if len(row.GetOptions()) > 0 {
			e.found("violations", c.Name, "there are options beside the violations")
		}
		return false
	}
	if !e.rules(c.Name, jsonText(c.Setting), row.GetOptions()) {
		return false
	}
	e.compareOptions(ctx, c, row.GetOptions())
	e.words(ctx, c, row.GetOptions())
	e.thereAndBack(ctx, c, row.GetOptions())
	return true
}

// rules checks what holds for every answer with options; false where it makes no sense to go on.
func (e *exam) rules(where, setting string, options []*adjusterv1.Option) bool {
	before := len(e.findings)
	if n := len(options); n < 1 || n > adjuster.MaxOptions {
		e.found("number", where, "there are %d options, must be 1 to %d", n, adjuster.MaxOptions)
		return false
	}
	leaves := 0
	for i, o := range options {
		if !finite(o.GetEffectMm()) || !finite(o.GetCount()) {
			e.found("finite", where, "option %d has effect %v and count %v", i, o.GetEffectMm(), o.GetCount())
		}
		if o.GetLeave() {
			leaves++
			if o.GetEffectMm() != 0 || o.GetCount() != 0 {
				e.found("leave", where, "the option that leaves the row has effect %v and count %v, must be 0", o.GetEffectMm(), o.GetCount())
			}
		}
		if i > 0 && !inOrder(options[i-1], o) {
			e.found("order", where, "option %d (effect %v) comes after effect %v; they must rise, then the count", i, o.GetEffectMm(), options[i-1].GetEffectMm())
		}
	}
	if leaves != 1 {
		e.found("leave", where, "%d options leave the row, must be exactly one", leaves)
	}
	if len(e.findings) > before {
		return false
	}
	e.travel(where, setting, options)
	return true
}

func inOrder(a, b *adjusterv1.Option) bool {
	return a.EffectMm < b.EffectMm || a.EffectMm == b.EffectMm && a.Count <= b.Count
}

// travel checks settings and travels left: there where the row's setting is known, and agreeing.
func (e *exam) travel(where, setting string, options []*adjusterv1.Option) {
	leave := options[slices.IndexFunc(options, (*adjusterv1.Option).GetLeave)]
	for i, o := range options {
		known := o.GetSettingAfter() != "" && o.ShallowerLeftMm != nil && o.DeeperLeftMm != nil
		absent := o.GetSettingAfter() == "" && o.ShallowerLeftMm == nil && o.DeeperLeftMm == nil
		switch {
		case setting == "" && !absent:
			e.found("travel", where, "option %d says where the row stands afterwards, though nobody knows where it stands now", i)
		case setting == "":
		case !known:
			e.found("travel", where, "option %d lacks the setting afterwards or the travel left", i)
		default:
			e.travelOf(where, i, o, leave)
		}
	}
	if setting != "" && leave.GetSettingAfter() != setting {
		e.found("leave", where, "leaving the row gives setting %s, must stay %s", leave.GetSettingAfter(), setting)
	}
}

func (e *exam) travelOf(where string, i int, o, leave *adjusterv1.Option) {
	shallower, deeper := o.GetShallowerLeftMm(), o.GetDeeperLeftMm()
	if !(shallower >= 0 && deeper >= 0 && finite(shallower) && finite(deeper)) {
		e.found("travel", where, "option %d leaves %v mm shallower and %v mm deeper, must be 0 or more", i, shallower, deeper)
	}
	if !same(shallower-o.GetEffectMm(), leave.GetShallowerLeftMm()) || !same(deeper+o.GetEffectMm(), leave.GetDeeperLeftMm()) {
		e.found("travel", where, "the travel left after option %d does not agree with its effect of %v mm", i, o.GetEffectMm())
	}
	canonical := canonicalOr(o.GetSettingAfter())
	switch wrong := e.setting.Check("settingAfter", o.GetSettingAfter()); {
	case wrong != nil:
		e.found("setting", where, "option %d: %v", i, wrong)
	case canonical != o.GetSettingAfter():
		e.found("setting", where, "option %d gives %s, must be written %s", i, o.GetSettingAfter(), canonical)
	}
}

func same(a, b float64) bool { return math.Abs(a-b) <= near }

// compareViolations compares with what the case knows.
func (e *exam) compareViolations(c *Case, got []*adjusterv1.Violation) {
	for _, v := range got {
		path := v.GetField()
		if root, _, _ := strings.Cut(strings.ReplaceAll(path, "[", "."), "."); root != "figures" && root != "setting" {
			e.found("violations", c.Name, "the field %q does not start with figures or setting", path)
		}
		e.aloud("violations", c.Name, v.GetMessage())
		if len(c.Violations) == 0 {
			e.found("violations", c.Name, "%s %s, though nothing is wrong with it", path, v.GetMessage())
		}
	}
	for _, want := range c.Violations {
		if !slices.ContainsFunc(got, func(v *adjusterv1.Violation) bool {
			return v.GetField() == want.Field && (want.Message == "" || v.GetMessage() == want.Message)
		}) {
			e.found("violations", c.Name, "%s %s: not among %v", want.Field, want.Message, got)
		}
	}
}

// compareOptions compares with what the case knows.
func (e *exam) compareOptions(ctx context.Context, c *Case, got []*adjusterv1.Option) {
	if c.Count != 0 && len(got) != c.Count {
		e.found("options", c.Name, "there are %d options, must be %d", len(got), c.Count)
	}
	if c.Only && len(got) != len(c.Options) {
		e.found("options", c.Name, "there are %d options, must be the %d of the case", len(got), len(c.Options))
		return
	}
	for i, want := range c.Options {
		at := slices.IndexFunc(got, func(o *adjusterv1.Option) bool {
			return same(o.GetEffectMm(), want.EffectMm) && (want.Count == nil || same(o.GetCount(), *want.Count))
		})
		if at < 0 || c.Only && at != i {
			e.found("options", c.Name, "there is no option of %v mm where it should be", want.EffectMm)
			continue
		}
		e.compareOption(ctx, c, want, got[at])
	}
}

func (e *exam) compareOption(ctx context.Context, c *Case, want Expected, got *adjusterv1.Option) {
	number := func(what string, want *float64, got float64) {
		if want != nil && !same(*want, got) {
			e.found("options", c.Name, "the option of %v mm has %s %v, must be %v", got, what, got, *want)
		}
	}
	number("travel left shallower", want.ShallowerLeftMm, got.GetShallowerLeftMm())
	number("travel left deeper", want.DeeperLeftMm, got.GetDeeperLeftMm())
	if text := jsonText(want.SettingAfter); text != "" && text != got.GetSettingAfter() {
		e.found("options", c.Name, "the option of %v mm leads to %s, must lead to %s", want.EffectMm, got.GetSettingAfter(), text)
	}
	if want.Say == nil && want.Cautions == nil {
		return
	}
	words := e.say(ctx, c, []*adjusterv1.Option{got})
	if words == nil {
		return
	}
	if want.Say != nil && words[0].GetSay() != *want.Say {
		e.found("words", c.Name, "the option of %v mm is said as %q, must be %q", want.EffectMm, words[0].GetSay(), *want.Say)
	}
	if want.Cautions != nil && !slices.Equal(words[0].GetCautions(), want.Cautions) {
		e.found("words", c.Name, "the option of %v mm has cautions %q, must have %q", want.EffectMm, words[0].GetCautions(), want.Cautions)
	}
}

// say asks for the words of options of one case.
func (e *exam) say(ctx context.Context, c *Case, options []*adjusterv1.Option) []*adjusterv1.Words {
	r := &adjusterv1.SayRequest{Mechanisms: []*adjusterv1.MechanismFigures{{Figures: jsonText(c.Figures)}}, Language: "en"}
	for _, o := range options {
		r.Choices = append(r.Choices, &adjusterv1.Choice{Setting: jsonText(c.Setting), Option: o})
	}
	ctx, cancel := context.WithTimeout(ctx, e.call)
	defer cancel()
	out, err := e.client.Say(ctx, r)
	if err != nil {
		e.found("words", c.Name, "the call failed: %v", err)
		return nil
	}
	if len(out.GetWords()) != len(options) {
		e.found("words", c.Name, "%d choices were sent, %d were answered", len(options), len(out.GetWords()))
		return nil
	}
	return out.GetWords()
}

// words checks that every move has words, and leaving a row none.
func (e *exam) words(ctx context.Context, c *Case, options []*adjusterv1.Option) {
	options = sampled(options)
	for i, w := range e.say(ctx, c, options) {
		o := options[i]
		for _, caution := range w.GetCautions() {
			e.aloud("words", c.Name, caution)
		}
		if o.GetLeave() {
			if w.GetSay() != "" {
				e.found("words", c.Name, "leaving the row is said as %q, must be empty", w.GetSay())
			}
			continue
		}
		e.aloud("words", c.Name, w.GetSay())
		if e.against(o) && !strings.Contains(w.GetSay(), "back") {
			e.found("words", c.Name, "the move of %v mm is against the approach, but %q does not say to go past it and back", o.GetEffectMm(), w.GetSay())
		}
	}
}

func (e *exam) against(o *adjusterv1.Option) bool {
	a := e.style.GetApproach()
	return e.style.GetSlackMm() > 0 &&
		(a == adjusterv1.Approach_APPROACH_DEEPER && o.GetEffectMm() < 0 || a == adjusterv1.Approach_APPROACH_SHALLOWER && o.GetEffectMm() > 0)
}

// aloud checks that a sentence can be read aloud.
func (e *exam) aloud(check, where, sentence string) {
	switch {
	case strings.TrimSpace(sentence) == "":
		e.found(check, where, "words are missing")
	case len(sentence) > maxWords:
		e.found(check, where, "%d letters are too many to listen to, at most %d: %.60q…", len(sentence), maxWords, sentence)
	case strings.ContainsFunc(sentence, unicode.IsControl) || strings.ContainsAny(sentence, "<>{}"):
		e.found(check, where, "%q cannot be read aloud", sentence)
	}
}

// thereAndBack goes to options and looks for the way back: what was gained is given back.
func (e *exam) thereAndBack(ctx context.Context, c *Case, options []*adjusterv1.Option) {
	if c.Setting == nil || c.OneWay {
		return
	}
	options = sampled(options)
	r := &adjusterv1.OptionsRequest{Mechanisms: []*adjusterv1.MechanismFigures{{Figures: jsonText(c.Figures)}}}
	for _, o := range options {
		r.Rows = append(r.Rows, &adjusterv1.RowSetting{Setting: o.GetSettingAfter()})
	}
	for i, row := range e.options(ctx, "there and back", c.Name, false, r) {
		there := options[i].GetEffectMm()
		if !slices.ContainsFunc(row.GetOptions(), func(o *adjusterv1.Option) bool { return same(o.GetEffectMm(), -there) }) {
			e.found("there and back", c.Name, "after a move of %v mm to %s there is none of %v mm", there, options[i].GetSettingAfter(), -there)
		}
	}
}

// sampled is at most sample of the options, the first and the last among them.
func sampled(options []*adjusterv1.Option) []*adjusterv1.Option {
	if len(options) <= sample {
		return options
	}
	out := make([]*adjusterv1.Option, sample)
	for i := range out {
		out[i] = options[i*(len(options)-1)/(sample-1)]
	}
	return out
}
