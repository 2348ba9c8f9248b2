package draw_test

import (
	"math/rand/v2"
	"strings"
	"testing"
	"unicode/utf8"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"rowdatum/clients/cli/draw"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// of makes a message of its JSON.
func of[M proto.Message](t *testing.T, m M, text string) M {
	t.Helper()
	if err := protojson.Unmarshal([]byte(text), m); err != nil {
		t.Fatal(err)
	}
	return m
}

func fourRows(t *testing.T) *rowdatumv1.Planter {
	t.Helper()
	return of(t, &rowdatumv1.Planter{}, `{"displayName": "Four rows, invented", "mechanisms": [{"id": "handle", "style": "threaded-handle"}, {"id": "shims", "style": "shimmed-arm"}],
		"rows": [{"row": 1, "mechanism": "handle", "asLeftMm": 50}, {"row": 2, "mechanism": "handle", "asLeftMm": 51}, {"row": 3, "mechanism": "handle", "asLeftMm": 50.5}, {"row": 4, "mechanism": "shims", "asLeftMm": 50}]}`)
}

func TestFieldMove(t *testing.T) {
	move := of(t, &rowdatumv1.FieldMove{}, `{"deltaMm": 6.35, "meanChangeMm": 6.1, "spreadBeforeMm": 1, "spreadAfterMm": 1.2, "reached": true,
		"mechanisms": [{"mechanism": "handle", "count": 1, "unit": "turn", "rows": [1, 2, 3]}],
		"rows": [{"row": 1, "depthMm": 56, "uncertaintyMm": 0.5, "changeMm": 6, "settingAfter": {"turns": 9}}, {"row": 2, "depthMm": 57, "uncertaintyMm": 0.5, "changeMm": 6, "settingAfter": {"turns": 9.5}},
			{"row": 3, "depthMm": 53.4, "uncertaintyMm": 0.3, "changeMm": 2.9, "settingAfter": {"turns": 16}, "outOfTravel": true}, {"row": 4, "depthMm": 50, "trimmedOnly": true}],
		"cautions": ["Row 3: cannot take the whole count."]}`)
	same(t, "field-move.txt", draw.FieldMove(fourRows(t), move, length.Inch))
	move.Reached, move.Mechanisms[0].Count = false, -0.75
	unknown := fourRows(t)
	unknown.Rows[0].AsLeftMm = nil
	same(t, "field-move-unknown.txt", draw.FieldMove(unknown, move, length.Millimeter))
}

func TestIndexCard(t *testing.T) {
	card := of(t, &rowdatumv1.IndexCard{}, `{"planter": "planters/four", "displayName": "Four rows, invented", "job": "planters/four/jobs/spring", "person": "Tam Orlow", "datumMm": 50.8, "spreadMm": 1.5,
		"rows": [{"row": 1, "offsetMm": -0.8, "uncertaintyMm": 0.5, "measured": true, "verdict": "EVEN", "setting": {"turns": 8}}, {"row": 2, "offsetMm": 0.2, "uncertaintyMm": 0.6, "verdict": "EVEN", "setting": {"turns": 8.5}},
			{"row": 3, "offsetMm": 7, "uncertaintyMm": 0.5, "measured": true, "verdict": "STUCK", "exception": "worn arm, parts ordered"}, {"row": 4, "verdict": "UNSURE"}],
		"marks": [{"mechanism": "handle", "referenceRow": 1, "rows": [{"row": 1, "count": 0, "residualMm": 0}, {"row": 2, "count": 0.5, "residualMm": 0.6}, {"row": 3, "table": [{"depthMm": 50.8, "setting": {"turns": 9}}]}]}],
		"fieldMoves": [{"deltaMm": -6.35, "meanChangeMm": -6.2, "reached": true, "mechanisms": [{"mechanism": "handle", "count": -1, "unit": "turn"}]},
			{"deltaMm": 25.4, "meanChangeMm": 12, "mechanisms": [{"mechanism": "handle", "count": 2, "unit": "turns"}], "rows": [{"row": 3, "outOfTravel": true}]}]}`)
	styles := []*rowdatumv1.Style{{Name: "styles/threaded-handle", CountUnit: &rowdatumv1.CountUnit{One: "turn", Other: "turns"}}}
	same(t, "index-card.txt", draw.IndexCard(draw.Card{Planter: fourRows(t), Card: card, Styles: styles, Unit: length.Inch}))
	same(t, "index-card-unsigned.txt", draw.IndexCard(draw.Card{Planter: fourRows(t), Card: &rowdatumv1.IndexCard{DisplayName: "Four rows, invented"}}))
}

func TestDig(t *testing.T) {
	dig := of(t, &rowdatumv1.Dig{}, `{"name": "planters/four/digs/slope", "title": "Field on the slope", "person": "Tam Orlow", "digTime": "2027-04-20T15:00:00Z", "targetMm": 50.8, "comment": "5 mph, moist",
		"rows": [{"row": 1, "depthsMm": [50, 51]}, {"row": 2, "depthsMm": [60, 61]}]}`)
	a := of(t, &rowdatumv1.DigAnalysis{}, `{"method": "analysis of variance", "seeds": 4, "meanMm": 55.5, "sdMm": 5.8, "cvPercent": 10.4, "shareWithin": 0.5, "withinMm": 6.35, "betweenVarianceMm2": 49.75, "withinVarianceMm2": 0.5, "f": 200, "p": 0.005,
		"rows": [{"row": 1, "seeds": 2, "meanMm": 50.5, "effectMm": -5, "uncertaintyMm": 0.6, "verdict": "OFF", "why": "to be corrected: plants 5.0 mm shallower", "scatterMm": 0.7}, {"row": 2, "seeds": 2, "meanMm": 60.5, "effectMm": 5, "uncertaintyMm": 3, "verdict": "UNSURE", "why": "unsure: may be chance"},
			{"row": 3, "seeds": 9, "meanMm": 55.5, "effectMm": 0.1, "uncertaintyMm": 0.4, "verdict": "EVEN", "why": "even; its seeds scatter", "scatterMm": 12.34, "setApart": true}],
		"plan": {"rows": [{"row": 1, "move": {"effectMm": 4, "count": 1, "unit": "notch", "say": "Move the stop 1 notch deeper. Keep hands clear."}, "verdict": "OFF"}, {"row": 2, "move": {"effectMm": -4, "count": -1, "unit": "notch", "say": "Move the stop 1 notch shallower. Keep hands clear."}, "verdict": "OFF"},
			{"row": 3, "verdict": "STUCK", "why": "stuck at the end of its travel"}], "cautions": ["Lock out the lift."]},
		"emergence": {"guide": "The shallow rows may come up a day earlier.", "sources": [{"title": "Somebody, 1999", "figure": "4 degree days a centimeter"}], "cautions": ["A guide for corn."]}, "cautions": ["With 3 rows little is known."]}`)
	same(t, "dig.txt", draw.Dig(dig, a, length.Inch))
	same(t, "digs.txt", draw.Digs([]*rowdatumv1.Dig{dig}))
	same(t, "no-digs.txt", draw.Digs(nil))
}

func TestWear(t *testing.T) {
	wear := of(t, &rowdatumv1.Wear{}, `{"visits": [{"job": "planters/four/jobs/a", "hectares": 0}, {"job": "planters/four/jobs/b", "hectares": 12345}],
		"rows": [{"row": 1, "visits": 3, "driftMmPerHectare": 0.01, "driftFromMmPerHectare": 0.004, "driftToMmPerHectare": 0.016, "unlike": true, "hectaresLeftFrom": 900, "hectaresLeftTo": 2400, "why": "unlike the rest"},
			{"row": 2, "visits": 3, "driftMmPerHectare": -0.00001, "driftFromMmPerHectare": -0.002, "driftToMmPerHectare": 0.002, "hectaresLeftFrom": 8000, "why": "alike"}, {"row": 3, "visits": 3, "driftMmPerHectare": 0.001, "why": "alike"}, {"row": 4, "visits": 1, "why": "not enough history"}],
		"parts": [{"row": 1, "point": "arm-play", "title": "Play of the arm", "unit": "mm", "last": 2.5, "limit": 2, "worn": true}, {"row": 2, "title": "Disc", "unit": "mm", "last": 375, "limit": 368, "visits": 3, "enough": true, "hectaresLeftFrom": 500, "hectaresLeftTo": 900}, {"row": 3, "title": "Disc", "unit": "mm", "last": 380, "visits": 1}],
		"edge": {"rows": [1, 4], "differenceMmPerHectare": 0.003, "differenceFromMmPerHectare": 0.001, "differenceToMmPerHectare": 0.005, "p": 0.02}, "method": "least squares", "cautions": ["Inspect row 1."]}`)
	same(t, "wear.txt", draw.Wear(fourRows(t), wear))
	same(t, "wear-none.txt", draw.Wear(fourRows(t), &rowdatumv1.Wear{Method: "least squares"}))
}

func TestFixtureStudy(t *testing.T) {
	study := of(t, &rowdatumv1.FixtureStudy{}, `{"method": "crossed", "repeatabilityMm": 0.62, "degreesOfFreedom": 17.5, "reproducibilityMm": 0.3, "rowToRowMm": 2.1, "scatterMm": 0.41, "readingsNeeded": 2, "verdict": "Good enough with 2 readings of each row.",
		"provable": [{"readings": 1, "toleranceMm": 1.4, "severalPeopleMm": 1.6}, {"readings": 2, "toleranceMm": 1.1, "severalPeopleMm": 1.5}], "fixture": {"repeatabilityMm": 0.41}, "cautions": ["People differ."]}`)
	same(t, "fixture-study.txt", draw.FixtureStudy(&rowdatumv1.Fixture{DisplayName: "Tape in a window"}, study, length.NoUnit))
}

// TestSeasonFitsThePage draws answers of wild numbers and long words: no line is wider than the page.
func TestSeasonFitsThePage(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 12))
	for range 300 {
		wild := func() float64 { return []float64{0, 1e-9, 1, 30, 300}[rng.IntN(5)] * rng.NormFloat64() }
		some := func() *float64 {
			if rng.IntN(3) == 0 {
				return nil
			}
			return proto.Float64(wild())
		}
		words := strings.Repeat("long words ", rng.IntN(12))
		unit := []length.Unit{length.NoUnit, length.Millimeter, length.Inch}[rng.IntN(3)]
		planter := &rowdatumv1.Planter{DisplayName: words}
		move := &rowdatumv1.FieldMove{DeltaMm: wild(), MeanChangeMm: wild(), SpreadBeforeMm: wild(), SpreadAfterMm: wild()}
		card := &rowdatumv1.IndexCard{DisplayName: words, DatumMm: some(), SpreadMm: some(), FieldMoves: []*rowdatumv1.FieldMove{move}}
		analysis := &rowdatumv1.DigAnalysis{Method: words, CvPercent: some(), ShareWithin: some(), BetweenVarianceMm2: wild(), Emergence: &rowdatumv1.Emergence{Guide: words}}
		wear := &rowdatumv1.Wear{Method: words, Edge: &rowdatumv1.EdgeWear{DifferenceMmPerHectare: wild()}}
		for row := range int32(rng.IntN(120)) + 1 {
			mechanism := words + "m"
			planter.Rows = append(planter.Rows, &rowdatumv1.PlanterRow{Row: row, Mechanism: mechanism, AsLeftMm: some()})
			move.Mechanisms = append(move.Mechanisms, &rowdatumv1.GroupMove{Mechanism: "m", Count: float64(rng.IntN(99)-49) / 4, Unit: "turns", Rows: []int32{row, row + 1, row + 3}})
			move.Rows = append(move.Rows, &rowdatumv1.FieldRowMove{Row: row, DepthMm: wild(), ChangeMm: wild(), UncertaintyMm: wild(), OutOfTravel: rng.IntN(5) == 0})
			card.Rows = append(card.Rows, &rowdatumv1.IndexCardRow{Row: row, OffsetMm: some(), UncertaintyMm: some(), Exception: words, Verdict: rowdatumv1.Verdict(rng.IntN(5))})
			analysis.Rows = append(analysis.Rows, &rowdatumv1.DigRow{Row: row, Seeds: 9, MeanMm: wild(), EffectMm: wild(), UncertaintyMm: rng.ExpFloat64(), Verdict: rowdatumv1.Verdict(rng.IntN(4)), Why: words})
			wear.Rows = append(wear.Rows, &rowdatumv1.RowWear{Row: row, Visits: 3, DriftMmPerHectare: some(), DriftFromMmPerHectare: some(), HectaresLeftFrom: some(), HectaresLeftTo: some(), Why: words})
		}
		for name, text := range map[string]string{
			"field move": draw.FieldMove(planter, move, unit), "card": draw.IndexCard(draw.Card{Planter: planter, Card: card, Unit: unit}),
			"dig": draw.Dig(&rowdatumv1.Dig{Name: "planters/p/digs/d", Title: words}, analysis, unit), "wear": draw.Wear(planter, wear),
		} {
			for l := range strings.Lines(text) {
				if n := utf8.RuneCountInString(strings.TrimSuffix(l, "\n")); n > 80 {
					t.Fatalf("%s: %d columns in %q", name, n, l)
				}
			}
			if strings.Contains(text, "NaN") || strings.Contains(text, "%!") {
				t.Fatalf("%s:\n%s", name, text)
			}
		}
	}
}
