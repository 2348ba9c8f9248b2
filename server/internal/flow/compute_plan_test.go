package flow

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"rowdatum/server/leveling"
)

// steps is an installed style without a process: a stop of ten steps of 2 mm, the row at the fifth.
type steps struct {
	fail       map[string]error                // by style
	violations map[string][]leveling.Violation // by style: what it finds wrong with every row
}

func (s steps) Styles(context.Context, leveling.Voice) ([]leveling.Style, error) {
	return []leveling.Style{s.style("a"), s.style("b"), s.style("c")}, nil
}

func (s steps) style(id string) leveling.Style {
	return leveling.Style{ID: id, CountUnit: leveling.CountUnit{One: "step", Other: "steps"}, SetsPlantingDepth: true,
		TouchSeconds: 60, Cautions: []string{"Mind style " + id + "."}, State: leveling.Serving}
}

func (s steps) Style(_ context.Context, id string, _ leveling.Voice) (leveling.Style, error) {
	return s.style(id), s.fail[id]
}

func (s steps) Options(_ context.Context, style string, q leveling.OptionsQuestion) ([]leveling.RowOptions, error) {
	if err := s.fail[style]; err != nil {
		return nil, err
	}
	answers := make([]leveling.RowOptions, len(q.Rows))
	for i := range answers {
		if answers[i].Violations = s.violations[style]; answers[i].Violations != nil {
			continue
		}
		for n := -5; n <= 5; n++ {
			answers[i].Options = append(answers[i].Options, leveling.Option{Leave: n == 0, EffectMm: 2 * float64(n), Count: float64(n),
				SettingAfter: leveling.JSON(fmt.Sprintf(`{"step":%d}`, n)), TravelKnown: true,
				ShallowerLeftMm: float64(10 + 2*n), DeeperLeftMm: float64(10 - 2*n)})
		}
	}
	return answers, nil
}

func (s steps) Say(_ context.Context, style string, _ []leveling.JSON, choices []leveling.Choice, _ leveling.Voice) ([]leveling.Words, error) {
	words := make([]leveling.Words, len(choices))
	for i, c := range choices {
		if !c.Option.Leave {
			words[i].Say = fmt.Sprintf("Move it %g.", c.Option.Count)
		}
		words[i].Cautions = []string{"It squeaks."}
	}
	return words, nil
}

func request(depths ...float64) PlanRequest {
	req := PlanRequest{Fixture: leveling.DefaultFixture(), Aim: leveling.DefaultAim(), Mechanisms: []leveling.Mechanism{
		{ID: "ma", Style: "a", Figures: "{}"}, {ID: "mb", Style: "b", Figures: "{}"}, {ID: "ma2", Style: "a", Figures: `{"x":1}`}}}
	for i, depth := range depths {
		req.Rows = append(req.Rows, PlanRow{Number: i + 1, Mechanism: req.Mechanisms[i%3].ID, Setting: `{"step":0}`,
			ReadingsMm: []float64{depth}})
	}
	return req
}

func TestComputePlan(t *testing.T) {
	f := &Flow{Mechanisms: steps{}}
	req := request(50, 50, 50, 50, 40, 50)
	answer, err := f.ComputePlan(t.Context(), req)
	if err != nil {
		t.Fatal(err)
	}
	if answer.TouchedRows != 1 || answer.Moves[4] != (Move{Unit: "steps", Say: "Move it 5."}) {
		t.Errorf("the one deep row is not moved 5 steps: %d touched, %+v", answer.TouchedRows, answer.Moves)
	}
	for i, move := range answer.Moves {
		if i != 4 && move != (Move{}) {
			t.Errorf("row %d is left but has words: %+v", i+1, move)
		}
	}
	for _, want := range append(leveling.Voice{}.SafetyCautions(), "Mind style b.", "Row 1: It squeaks.") {
		if !slices.Contains(answer.Cautions, want) {
			t.Errorf("the cautions lack %q: %q", want, answer.Cautions)
		}
	}
	if slices.Contains(answer.Cautions, "Mind style a.") {
		t.Errorf("a style that is not touched is cautioned about: %q", answer.Cautions)
	}
	if i, j := slices.Index(answer.Cautions, leveling.Voice{}.SafetyCautions()[0]), slices.Index(answer.Cautions, "Row 1: It squeaks."); i != 0 || j < i {
		t.Errorf("safety does not come first: %q", answer.Cautions)
	}
}

func TestComputePlanNamesRowsOfAFailingStyle(t *testing.T) {
	down := &leveling.Error{Kind: leveling.Unavailable, Reason: "ADJUSTER_DOWN", Message: "The adjuster is down.",
		Metadata: map[string]string{"style": "a"}, Err: errors.New("exit status 2")}
	f := &Flow{Mechanisms: steps{fail: map[string]error{"a": down}}}
	_, err := f.ComputePlan(t.Context(), request(50, 50, 50, 50))
	e, ok := errors.AsType[*leveling.Error](err)
	if !ok || e.Kind != leveling.Unavailable || e.Reason != "ADJUSTER_DOWN" || e.Metadata["style"] != "a" || e.Metadata["rows"] != "1,3,4" {
		t.Errorf("got %#v", err)
	}
	if !strings.Contains(e.Message, "Rows 1, 3 and 4") {
		t.Errorf("the message does not name the rows: %q", e.Message)
	}
	if down.Metadata["rows"] != "" {
		t.Error("the adjuster's own error was changed")
	}

	if _, err := f.ComputePlan(t.Context(), PlanRequest{Fixture: leveling.DefaultFixture(), Aim: leveling.DefaultAim(),
		Mechanisms: []leveling.Mechanism{{ID: "mb", Style: "b", Figures: "{}"}},
		Rows:       []PlanRow{{Number: 1, Mechanism: "mb", ReadingsMm: []float64{50}}}}); err != nil {
		t.Errorf("a plan that does not need the style failed too: %v", err)
	}
}

func TestComputePlanGathersEveryViolation(t *testing.T) {
	f := &Flow{Mechanisms: steps{violations: map[string][]leveling.Violation{
		"a": {{Field: "figures.x", Say: leveling.Text("is odd")}},
		"b": {{Field: "setting.step", Say: leveling.Text("is odd")}},
	}}}
	req := request(50, 50, 50, 50, 50)
	req.Aim.ToleranceMm = 0
	req.Rows[0].ReadingsMm = nil
	_, err := f.ComputePlan(t.Context(), req)
	e, ok := errors.AsType[*leveling.Error](err)
	if !ok || e.Kind != leveling.Invalid {
		t.Fatalf("got %v", err)
	}
	var fields []string
	for _, v := range e.Violations {
		fields = append(fields, v.Field)
	}
	want := []string{"aim.toleranceMm", "mechanisms[0].figures.x", "mechanisms[2].figures.x",
		"rows[0].readingsMm", "rows[1].setting.step", "rows[4].setting.step"}
	if !slices.Equal(fields, want) {
		t.Errorf("violations of %q, want %q", fields, want)
	}
}

func TestComputePlanCautions(t *testing.T) {
	f := &Flow{Mechanisms: steps{}}
	req := request(2, 2.25)
	req.Rows[1].ReadingsMm = []float64{2.25, 2.25, 2.25, 5.9}
	req.Aim.Row, req.Aim.DatumMm = 77, new(50.0)
	answer, err := f.ComputePlan(t.Context(), req)
	if err != nil {
		t.Fatal(err)
	}
	for _, word := range []string{"inches", `"ma2"`, "Row 2: reading 4", "aim.row", "aim.datumMm"} {
		if !slices.ContainsFunc(answer.Cautions, func(c string) bool { return strings.Contains(c, word) }) {
			t.Errorf("no caution speaks of %s: %q", word, answer.Cautions)
		}
	}
}

func TestNaturalCompare(t *testing.T) {
	sorted := []string{"aim.row", "rows", "rows[2].readingsMm[0]", "rows[2].readingsMm[10]", "rows[10].row", "rows[10].setting"}
	for i, a := range sorted {
		for j, b := range sorted {
			if got, want := naturalCompare(a, b), i-j; (got < 0) != (want < 0) || (got > 0) != (want > 0) {
				t.Errorf("naturalCompare(%q, %q) = %d", a, b, got)
			}
		}
	}
}

// counted counts the questions that would cross to an adjuster.
type counted struct {
	steps
	asked atomic.Int64
}

func (c *counted) Options(ctx context.Context, style string, q leveling.OptionsQuestion) ([]leveling.RowOptions, error) {
	c.asked.Add(1)
	return c.steps.Options(ctx, style, q)
}

func (c *counted) Say(ctx context.Context, style string, figures []leveling.JSON, choices []leveling.Choice, v leveling.Voice) ([]leveling.Words, error) {
	c.asked.Add(1)
	return c.steps.Say(ctx, style, figures, choices, v)
}

// TestComputePlanAsksTwiceAStyle: however many rows and mechanisms there are, a style is asked for options
// once and for words once.
func TestComputePlanAsksTwiceAStyle(t *testing.T) {
	depths := make([]float64, leveling.MaxRows)
	for i := range depths {
		depths[i] = 50 + float64(i%7)
	}
	c := &counted{}
	if _, err := (&Flow{Mechanisms: c}).ComputePlan(t.Context(), request(depths...)); err != nil {
		t.Fatal(err)
	}
	if n := c.asked.Load(); n != 4 {
		t.Errorf("%d questions for 120 rows of two styles, want 4", n)
	}
}
