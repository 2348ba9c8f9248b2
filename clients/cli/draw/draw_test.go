package draw_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/structpb"

	"rowdatum/clients/cli/draw"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

var update = flag.Bool("update", false, "write the pictures anew; read the difference before committing it")

func read(t *testing.T, name string, message proto.Message) {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := protojson.Unmarshal(text, message); err != nil {
		t.Fatal(err)
	}
}

// same compares a drawing with the one that was approved.
func same(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs; got\n%s", name, got)
	}
}

func TestPlanOfTheContractExample(t *testing.T) {
	q := draw.Question{Planter: "Three rows, three mechanisms", Unit: length.Inch, Request: &rowdatumv1.ComputePlanRequest{}}
	plan := &rowdatumv1.Plan{}
	read(t, "../../../testdata/requests/contract-example.json", q.Request)
	read(t, "../../../testdata/answers/contract-example.json", plan)
	same(t, "contract-example.txt", draw.Plan(q, plan))
}

// TestPlanOfEveryKindOfRow draws a plan, written for this test, that has a row of every kind.
func TestPlanOfEveryKindOfRow(t *testing.T) {
	q := draw.Question{Unit: length.Millimeter, Request: &rowdatumv1.ComputePlanRequest{},
		Styles: []*rowdatumv1.Style{{Name: "styles/notched-stop", CountUnit: &rowdatumv1.CountUnit{One: "notch", Other: "notches"}}}}
	plan := &rowdatumv1.Plan{}
	read(t, "testdata/every-kind.request.json", q.Request)
	read(t, "testdata/every-kind.answer.json", plan)
	same(t, "every-kind.txt", draw.Plan(q, plan))
}

// TestPlanFitsThePage draws random plans of every size: no line is wider than the page and every row
// is in the table and below the picture.
func TestPlanFitsThePage(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 11))
	for rows := 1; rows <= 120; rows++ {
		q, plan := randomPlan(rng, rows)
		text := draw.Plan(q, plan)
		for l := range strings.Lines(text) {
			if n := utf8.RuneCountInString(strings.TrimSuffix(l, "\n")); n > 80 {
				t.Fatalf("%d rows: %d columns in %q", rows, n, l)
			}
		}
		if dots := strings.Count(text, "●") - 1; dots != rows {
			t.Fatalf("%d rows: %d dots in\n%s", rows, dots, text)
		}
		if lines := strings.Count(text, " handle "); lines != rows {
			t.Fatalf("%d rows: %d lines of the table in\n%s", rows, lines, text)
		}
		if strings.Contains(text, "NaN") || strings.Contains(text, "%!") {
			t.Fatalf("%d rows:\n%s", rows, text)
		}
	}
}

func randomPlan(rng *rand.Rand, rows int) (draw.Question, *rowdatumv1.Plan) {
	q := draw.Question{Planter: strings.Repeat("long name ", 12), Unit: []length.Unit{length.NoUnit, length.Millimeter, length.Inch}[rng.IntN(3)],
		Request: &rowdatumv1.ComputePlanRequest{}}
	plan := &rowdatumv1.Plan{DatumMm: 50 + rng.NormFloat64(), SpreadBeforeMm: 20, Cautions: []string{strings.Repeat("Mind this. ", 30)}}
	wild := []float64{0, 1, 6, 60}[rng.IntN(4)]
	for i := range rows {
		q.Request.Rows = append(q.Request.Rows, &rowdatumv1.RowReadings{Row: int32(i + 1), Mechanism: "handle"})
		after := plan.DatumMm + rng.NormFloat64()
		row := &rowdatumv1.RowPlan{Row: int32(i + 1), EstimateMm: 50 + wild*rng.NormFloat64(), UncertaintyMm: rng.Float64(),
			Verdict: rowdatumv1.Verdict(1 + rng.IntN(3)), PredictedMm: &after, PredictedChance: proto.Float64(rng.Float64()), Why: "Because."}
		if rng.IntN(2) == 0 {
			row.Move = &rowdatumv1.Move{EffectMm: rng.NormFloat64(), Count: float64(rng.IntN(90)-45) / 4, Unit: "turns", Say: "Turn it. Mind your hands."}
		}
		plan.Rows = append(plan.Rows, row)
		plan.Tradeoff = append(plan.Tradeoff, &rowdatumv1.TradeoffPoint{TouchedRows: int32(i), SpreadMm: 20 / float64(i+1)})
	}
	return q, plan
}

func TestPlanKeepsTheWalk(t *testing.T) {
	q := draw.Question{Request: &rowdatumv1.ComputePlanRequest{}}
	plan := &rowdatumv1.Plan{}
	for _, row := range []int32{7, 3, 5} {
		q.Request.Rows = append(q.Request.Rows, &rowdatumv1.RowReadings{Row: row, Mechanism: "m"})
	}
	for _, row := range []int32{3, 5, 7} {
		plan.Rows = append(plan.Rows, &rowdatumv1.RowPlan{Row: row, Move: &rowdatumv1.Move{Say: fmt.Sprintf("Go to %d.", row)}})
	}
	text := draw.Plan(q, plan)
	if a, b, c := strings.Index(text, "Go to 7"), strings.Index(text, "Go to 3"), strings.Index(text, "Go to 5"); !(a < b && b < c) {
		t.Errorf("the rows are not in the order of the request:\n%s", text)
	}
}

func TestStyles(t *testing.T) {
	figures, err := structpb.NewStruct(map[string]any{"properties": map[string]any{
		"notches": map[string]any{"type": "integer", "description": "How many notches."}, "mmPerNotch": map[string]any{}}})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "styles.txt", draw.Styles([]*rowdatumv1.Style{
		{Name: "styles/notched-stop", Title: "Notched stop", Version: "1.0.0", CountUnit: &rowdatumv1.CountUnit{One: "notch", Other: "notches"},
			SetsPlantingDepth: true, FiguresSchema: figures, TouchSeconds: 61, Cautions: []string{"Keep clear."}, State: rowdatumv1.StyleState_SERVING},
		{Name: "styles/slotted-link", State: rowdatumv1.StyleState_QUARANTINED, StateReason: "it died five times"},
		{Name: "styles/pinned-rod", State: rowdatumv1.StyleState_SERVING, StateReason: "A newer file of it is refused: it has no words."},
	}))
	same(t, "no-styles.txt", draw.Styles(nil))
}
