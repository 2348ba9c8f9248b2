package api

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/known/structpb"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/leveling"
)

// TestControlCharacters: each text of a request is of one line but for notes, and whoever sends another is told which.
func TestControlCharacters(t *testing.T) {
	figures, err := structpb.NewStruct(map[string]any{"unit": "a\x7fb"})
	if err != nil {
		t.Fatal(err)
	}
	planter := func(change func(*pb.Planter)) proto.Message {
		p := &pb.Planter{DisplayName: "The “16-row” Ångström 播种机 🌽", Owner: "يوسف"}
		change(p)
		return &pb.CreatePlanterRequest{Planter: p}
	}
	for _, c := range []struct {
		name  string
		req   proto.Message
		field string // empty: taken
	}{
		{"plain", planter(func(*pb.Planter) {}), ""},
		{"NUL", planter(func(p *pb.Planter) { p.DisplayName = "a\x00b" }), "planter.displayName"},
		{"a line break", planter(func(p *pb.Planter) { p.Owner = "a\nb" }), "planter.owner"},
		{"an escape", &pb.CreatePairingRequest{Label: "Ada\x1b[2K"}, "label"},
		{"another row", &pb.CreatePairingRequest{Label: "Ada\nk2  creek  owner"}, "label"},
		{"C1", &pb.CreatePairingRequest{Label: "Ada\u009b2K"}, "label"},
		{"an override of direction", &pb.CreatePairingRequest{Label: "Ada\u202ereader"}, "label"},
		{"an isolate", &pb.CreatePairingRequest{Label: "Ada\u2066reader"}, "label"},
		{"a separator of lines", &pb.CreatePairingRequest{Label: "Ada\u2028reader"}, "label"},
		{"a name", &pb.GetPlanterRequest{Name: "planters/a\tb"}, "name"},
		{"a key of a map", planter(func(p *pb.Planter) { p.ExternalIds = map[string]string{"a\rb": "1"} }), "planter.externalIds"},
		{"an entry of a map", planter(func(p *pb.Planter) { p.ExternalIds = map[string]string{"erp": "1\x00"} }), "planter.externalIds.erp"},
		{"a figure", planter(func(p *pb.Planter) { p.Mechanisms = []*pb.Mechanism{{}, {Figures: figures}} }), "planter.mechanisms[1].figures.fields.unit.stringValue"},
		{"a note of lines", &pb.AddNotesRequest{Notes: []*pb.Note{{Text: "left gang:\r\n\tsee to it"}}}, ""},
		{"a note that draws", &pb.AddNotesRequest{Notes: []*pb.Note{{Text: "ok"}, {Text: "a\x1b[31m"}}}, "notes[1].text"},
		{"a note from right to left", &pb.AddNotesRequest{Notes: []*pb.Note{{Text: "\u202eabc"}}}, "notes[0].text"},
		{"a reason", &pb.SignJobRequest{Exceptions: []*pb.Exception{{Reason: "a\nb"}}}, "exceptions[0].reason"},
	} {
		err := printable(c.req)
		if c.field == "" {
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		e := leveling.AsError(err)
		if err == nil || e.Kind != leveling.Invalid || len(e.Violations) != 1 || e.Violations[0].Field != c.field {
			t.Errorf("%s: %v, want a violation of %s", c.name, err, c.field)
			continue
		}
		for _, l := range leveling.Languages() {
			if said := e.Violations[0].Say(leveling.Voice{Language: l}); !strings.Contains(said, "U+") {
				t.Errorf("%s, in %v: %q", c.name, l, said)
			}
		}
	}
}

// TestSeveralLines: the fields of several lines are fields of the contract.
func TestSeveralLines(t *testing.T) {
	for name := range severalLines {
		found, err := protoregistry.GlobalFiles.FindDescriptorByName(name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if f, ok := found.(protoreflect.FieldDescriptor); !ok || f.Kind() != protoreflect.StringKind {
			t.Errorf("%s is no text", name)
		}
	}
}
