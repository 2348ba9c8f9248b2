package flow

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/plan"
)

// fittedRow is one row as the adjusters see it: its mechanism and where that stands.
type fittedRow struct {
	number    int
	mechanism string
	setting   leveling.JSON
}

// styleGroup is the rows of one style: one question, one answer.
type styleGroup struct {
	id         string
	mechanisms []int // indexes into the mechanisms, of this style
	rows       []int // indexes into the rows, of this style
	numbers    []int // the rows' numbers
	question   leveling.OptionsQuestion

	style   leveling.Style
	options []leveling.RowOptions // one a row of rows
	words   []leveling.Words      // one a row of rows; empty for stuck rows
	err     error
}

// byStyle groups rows by style, sorted by the style's id; a style that no row has is a group without
// rows. Rows whose mechanism is not among the mechanisms are in none.
func byStyle(mechanisms []leveling.Mechanism, rows []fittedRow) []*styleGroup {
	byID := map[string]*styleGroup{}
	place := map[string]int{} // mechanism id to its index among its style's figures
	style := map[string]string{}
	for i, m := range mechanisms {
		if _, twice := style[m.ID]; twice {
			continue
		}
		g := byID[m.Style]
		if g == nil {
			g = &styleGroup{id: m.Style}
			byID[m.Style] = g
		}
		style[m.ID], place[m.ID] = m.Style, len(g.mechanisms)
		g.mechanisms = append(g.mechanisms, i)
		g.question.Figures = append(g.question.Figures, m.Figures)
	}
	for i, row := range rows {
		if g := byID[style[row.mechanism]]; g != nil && i < leveling.MaxRows {
			g.rows, g.numbers = append(g.rows, i), append(g.numbers, row.number)
			g.question.Rows = append(g.question.Rows, leveling.RowSetting{Mechanism: place[row.mechanism], Setting: row.setting})
		}
	}
	return slices.SortedFunc(maps.Values(byID), func(a, b *styleGroup) int { return strings.Compare(a.id, b.id) })
}

// each runs do for all groups side by side, waits for them, and keeps each one's error with its group.
func each(groups []*styleGroup, do func(*styleGroup) error) {
	if len(groups) == 1 { // as with most planters
		groups[0].err = do(groups[0])
		return
	}
	var wait sync.WaitGroup
	for _, g := range groups {
		wait.Go(func() { g.err = do(g) })
	}
	wait.Wait()
}

// ask gets the options of every row, and the style.
func (g *styleGroup) ask(ctx context.Context, m Mechanisms, v leveling.Voice) error {
	options, err := m.Options(ctx, g.id, g.question)
	if err != nil {
		return err
	}
	g.options = options
	g.style, err = m.Style(ctx, g.id, v)
	return err
}

// violations tells what the adjusters found wrong, in paths below prefix.
func violations(groups []*styleGroup, prefix string) leveling.Violations {
	var found leveling.Violations
	type said struct{ field, message string }
	seen := map[said]bool{}
	for _, g := range groups {
		for i, answer := range g.options {
			for _, v := range answer.Violations {
				if strings.HasPrefix(v.Field, "figures") {
					v.Field = fmt.Sprintf("%smechanisms[%d].%s", prefix, g.mechanisms[g.question.Rows[i].Mechanism], v.Field)
				} else {
					v.Field = fmt.Sprintf("%srows[%d].%s", prefix, g.rows[i], v.Field)
				}
				if same := (said{v.Field, v.Say(leveling.Voice{})}); !seen[same] {
					seen[same] = true
					found = append(found, v)
				}
			}
		}
	}
	return found
}

// firstError returns the error of the first group that has one, with the rows that need it. Styles that
// are not installed are named all at once, before anything else: no restart will bring them.
func firstError(groups []*styleGroup) error {
	if err := notInstalled(groups); err != nil {
		return err
	}
	for _, g := range groups {
		if g.err != nil {
			return g.named(leveling.AsError(g.err))
		}
	}
	return nil
}

// notInstalled is one error for all styles that are not installed, nil where there is at most one.
func notInstalled(groups []*styleGroup) error {
	var missing []string
	var last *leveling.Error
	for _, g := range groups {
		if e, ok := errors.AsType[*leveling.Error](g.err); ok && e.Reason == "STYLE_NOT_INSTALLED" {
			missing, last = append(missing, g.id), e
		}
	}
	if len(missing) < 2 {
		return nil
	}
	e := *last
	e.Metadata = maps.Clone(last.Metadata)
	e.Metadata["style"] = strings.Join(missing, ",")
	e.Message = fmt.Sprintf("The styles %s are not installed. Installed: %s.", strings.Join(missing, ", "), cmp.Or(e.Metadata["installed"], "none"))
	return &e
}

// named is an adjuster's error with the rows that need its style.
func (g *styleGroup) named(cause *leveling.Error) error {
	e := *cause
	e.Metadata = maps.Clone(cause.Metadata)
	if len(g.numbers) == 0 {
		return &e
	}
	numbers := make([]string, len(g.numbers))
	for i, number := range g.numbers {
		numbers[i] = strconv.Itoa(number)
	}
	if e.Metadata == nil {
		e.Metadata = map[string]string{}
	}
	e.Metadata["style"], e.Metadata["rows"] = g.id, strings.Join(numbers, ",")
	e.Message = fmt.Sprintf("%s %s cannot be planned without it.", cause.Message, leveling.Voice{}.RowList(g.numbers))
	return &e
}

// say asks for the words of every chosen option, leave included: a row that is left may still carry a
// caution of its own.
func (g *styleGroup) say(ctx context.Context, m Mechanisms, v leveling.Voice, chosen func(number int) *plan.RowPlan) error {
	g.words = make([]leveling.Words, len(g.rows))
	choices := make([]leveling.Choice, 0, len(g.rows))
	asked := make([]int, 0, len(g.rows))
	for i, number := range g.numbers {
		if row := chosen(number); row.Part != plan.NoReach {
			asked = append(asked, i)
			choices = append(choices, leveling.Choice{RowSetting: g.question.Rows[i], Option: row.Option})
		}
	}
	if len(choices) == 0 {
		return nil
	}
	words, err := m.Say(ctx, g.id, g.question.Figures, choices, v)
	if err != nil {
		return err
	}
	for k, i := range asked {
		g.words[i] = words[k]
	}
	return nil
}
