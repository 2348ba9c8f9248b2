package draw_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"rowdatum/clients/cli/draw"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

func TestEvenRoundsInwards(t *testing.T) {
	tests := []struct {
		unit     length.Unit
		ruling   float64
		from, to float64
		want     string
	}{
		{length.Millimeter, 1, 47.41, 50.39, "even from 47.5 to 50.3 mm deep"},
		{length.Millimeter, 1, 47.4, 50.4, "even from 47.4 to 50.4 mm deep"},
		{length.Inch, 25.4 / 16, 48, 52, "even from 1 15/16 to 2 in deep"}, // 49.2 and 50.8 mm; 47.6 and 52.4 lie outside
		{length.Inch, 25.4 / 16, 50, 51, "even at a depth of 2 in"},
		{length.Inch, 1, 47.41, 50.39, "even from 1.87 to 1.98 in deep"}, // a fixture ruled in mm
		{length.Inch, 25.4 / 16, 51, 52, ""},
	}
	for _, tt := range tests {
		v := draw.Visit{Unit: tt.unit, Opened: &rowdatumv1.Opened{Fixture: &rowdatumv1.Fixture{ResolutionMm: &tt.ruling}}}
		row := &rowdatumv1.RowState{EvenFromMm: &tt.from, EvenToMm: &tt.to}
		if got := draw.Even(v, row); got != tt.want {
			t.Errorf("%v to %v in %v: got %q, want %q", tt.from, tt.to, tt.unit, got, tt.want)
		}
	}
	if got := draw.Even(draw.Visit{}, &rowdatumv1.RowState{}); got != "" {
		t.Errorf("nothing is known, and yet %q", got)
	}
}

// visit is a job that shows what the scripts of whole programs do not.
func visit(t *testing.T) draw.Visit {
	t.Helper()
	v := draw.Visit{Job: &rowdatumv1.Job{}, Opened: &rowdatumv1.Opened{}, Unit: length.Inch, Left: true}
	for text, into := range map[string]proto.Message{
		`{"name": "planters/p/jobs/j", "stage": "OPEN", "revision": 9, "state": {"datumMm": 50.8, "toleranceMm": 3.175, "rows": [
			{"row": 1, "mechanism": "plate", "asFoundMm": 46, "estimateMm": 50.5, "uncertaintyMm": 0.6, "verdict": "EVEN", "next": "READ_AFTER_MOVE"},
			{"row": 2, "mechanism": "plate", "next": "READ"}],
			"marks": [{"mechanism": "plate", "referenceRow": 1, "rows": [{"row": 1, "count": 0}, {"row": 2, "table": [
				{"depthMm": 50.8, "setting": {"hole": 3}}, {"depthMm": 63.5, "setting": {"hole": 5}}]}]}]}}`: v.Job,
		`{"planter": {"displayName": "Pair", "mechanisms": [{"id": "plate", "style": "pin-plate"}], "rows": [{"row": 1, "mechanism": "plate"}, {"row": 2, "mechanism": "plate"}]},
			"fixture": {"displayName": "Pads", "kind": "BLOCKS", "resolutionMm": 1.5875, "zeroMm": 120}}`: v.Opened,
	} {
		if err := protojson.Unmarshal([]byte(text), into); err != nil {
			t.Fatal(err)
		}
	}
	return v
}

func TestForetoldRowsShowAsSuch(t *testing.T) {
	got := draw.Job(visit(t))
	for _, want := range []string{
		"Fixture         Pads: blocks, ruled to 1/16 in (1.6 mm)",
		"Rows            0 of 2 even",
		"   1  plate      1 13/16       (2) 0.024  even    read after the move",
		"   2  plate            -         -     -  -       read",
		"in brackets: foretold, not",
		"○ as found  ● now  ◇ foretold  ─ datum",
		"───◇───",
		"nothing: it may be signed",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not in\n%s", want, got)
		}
	}
}

func TestMarksByTable(t *testing.T) {
	got := draw.Marks(visit(t))
	if !strings.Contains(got, "   2  by table: 2 in → hole 3; 2 1/2 in → hole 5\n") || !strings.Contains(got, "   1  0                    at the datum\n") {
		t.Errorf("got\n%s", got)
	}
}

func TestEventsInWords(t *testing.T) {
	const at = `"createTime": "2027-03-14T09:26:00Z"`
	tests := []struct{ event, want string }{
		{`"reading": {"row": 3, "value": 2.25, "unit": "IN", "depthMm": 62.85}`, "row 3: read 2 1/4 in, which is 2 1/2 in (62.9 mm) deep"},
		{`"reading": {"row": 3, "value": 2.26, "unit": "IN", "side": "RIGHT", "depthMm": 57.404}`, "row 3: read 2.26 in on the right side"},
		{`"move": {"row": 1, "count": -2, "effectMm": -8}`, "row 1: moved −2 shallower"},
		{`"inspection": {"row": 1, "point": "spring"}`, "row 1: inspected spring"},
		{`"note": {"text": "cold morning"}`, "noted: cold morning"},
		{`"strike": {"revision": 4}`, "struck 4"},
		{`"planIssued": {"plan": {"datumMm": 50.8, "touchedRows": 1}}`, "plan: bring rows to 2 in (50.8 mm), touch 1 row"},
		{`"cautionTick": {"caution": "lockout"}`, "ticked the caution: lockout"},
		{`"voided": {"reason": "sold"}`, "voided: sold"},
		{`"struckBy": 0`, "something that this program does not know; a newer one does"},
	}
	for _, tt := range tests {
		e := &rowdatumv1.JobEvent{}
		if err := protojson.Unmarshal([]byte("{"+at+", "+tt.event+"}"), e); err != nil {
			t.Fatal(err)
		}
		got := draw.Event(visit(t), e)
		if words := strings.Join(strings.Fields(got)[3:], " "); words != tt.want {
			t.Errorf("%s: got %q, want %q", tt.event, words, tt.want)
		}
	}
}
