package main

import (
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/protobuf/types/known/structpb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// TestTwoControls: of a row with a pin and a screw the plan turns the screw, where pulling the pin would come
// to the same depth, and it counts the screw's seconds. Row 4 goes to click 30; the text of the pin's way,
// {"click":22,"hole":4}, sorts first, and decides nothing.
func TestTwoControls(t *testing.T) {
	folder := t.TempDir()
	inShell(t, ".", "go", "build", "-o", filepath.Join(folder, "pin-and-screw"), "rowdatum/adjusters/adjustertest/testdata/pinandscrew")
	service := start(t, folder)
	object := func(fields map[string]any) *structpb.Struct {
		s, err := structpb.NewStruct(fields)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	request := &pb.ComputePlanRequest{
		Fixture: &pb.FixtureFigures{ResolutionMm: with(0.5), RepeatabilityMm: with(0.3)},
		Mechanisms: []*pb.Mechanism{{Id: "m", Style: "pin-and-screw", Figures: object(map[string]any{
			"holes": 6.0, "clicksPerHole": 8.0, "clicks": 30.0, "mmPerClick": 1.5})}},
	}
	for row, mm := range []float64{50, 50, 50, 44} {
		request.Rows = append(request.Rows, &pb.RowReadings{Row: int32(row + 1), Mechanism: "m", ReadingsMm: []float64{mm},
			Setting: object(map[string]any{"hole": 3.0, "click": 26.0})})
	}
	plan, err := pb.NewPlanServiceClient(service.conn).ComputePlan(t.Context(), request)
	if err != nil {
		t.Fatal(err)
	}
	if plan.GetTouchedRows() != 1 || plan.GetWorkSeconds() != 45 {
		t.Errorf("%d rows are touched in %v s, want 1 in the screw's 45 s", plan.GetTouchedRows(), plan.GetWorkSeconds())
	}
	move := plan.GetRows()[3].GetMove()
	if after := move.GetSettingAfter().AsMap(); after["hole"] != 3.0 || after["click"] != 30.0 {
		t.Errorf("row 4 goes to %v, want hole 3, click 30", after)
	}
	if say := move.GetSay(); !strings.HasPrefix(say, "Leave the pin in. Turn the screw 4 clicks deeper, to click 30.") {
		t.Errorf("row 4 is told %q", say)
	}
}
