package api

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/structpb"

	"rowdatum/adjusters/schema"
	"rowdatum/server/leveling"
)

// The short way writes what the long way does, to the byte: remembered answers are found by it.
func TestCanonicalIsTheSchemas(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 25))
	keys := []string{"turns", "notch", "mmPerTurn", "a<b", "é", "two words", `"`, ""}
	edges := []float64{0, math.Copysign(0, -1), 1e-6, math.Nextafter(1e-6, 0), 1e21, math.Nextafter(1e21, 0), 8, 7.75, -0.25, math.MaxFloat64, 5e-324, math.NaN(), math.Inf(1), math.Inf(-1)}
	for range 20_000 {
		s := &structpb.Struct{Fields: map[string]*structpb.Value{}}
		for range rng.IntN(4) {
			value := structpb.NewNumberValue(edges[rng.IntN(len(edges))])
			switch rng.IntN(8) {
			case 0:
				value = structpb.NewStringValue("thread")
			case 1, 2, 3:
				value = structpb.NewNumberValue(math.Float64frombits(rng.Uint64()))
			}
			s.Fields[keys[rng.IntN(len(keys))]] = value
		}
		got, err := canonical(s)
		want, wantErr := schema.Canonical(s.AsMap())
		if got != want || err != nil || wantErr != nil {
			t.Fatalf("%v: %s (%v), want %s (%v)", s, got, err, want, wantErr)
		}
	}
}

// The short way reads what the long way reads, and nothing that it refuses.
func FuzzStructOf(f *testing.F) {
	for _, text := range []string{`{"turns":5.25}`, `{"notch":-3}`, `{"a":0}`, `{"a":-0}`, `{"a":-0.5}`, `{"a":01}`, `{"a":1.}`, `{"a":.5}`, `{"a":-}`, `{"a":}`, `{"a":1e5}`,
		`{"a":0x1}`, `{"a":1_0}`, `{"a":Inf}`, `{"":1}`, `{"a":1,"b":2}`, `{"a" :1}`, `{"a":{"b":1}}`, `{"a":"1"}`, `{"a":1}}`, `{"a":99999999999999999999999.5}`, `{}`, `[]`, `null`, `{"é":1}`} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, ok := plainStruct(text)
		if !ok {
			return
		}
		var object map[string]any
		if err := json.Unmarshal([]byte(text), &object); err != nil {
			t.Fatalf("%q was read as %v: %v", text, got, err)
		}
		want, err := structpb.NewStruct(object)
		if err != nil || !proto.Equal(got, want) {
			t.Fatalf("%q was read as %v, want %v (%v)", text, got, want, err)
		}
	})
}

// Most settings go the short way, and come back as they went.
func TestPlainSettingsComeBack(t *testing.T) {
	for _, text := range []string{`{"turns":5.25}`, `{"notch":-3}`, `{"turns":0}`} {
		s, ok := plainStruct(text)
		if !ok {
			t.Errorf("%s did not go the short way", text)
		}
		var wrong leveling.Violations
		if back := object("setting", s, "", &wrong); string(back) != text || wrong != nil {
			t.Errorf("%s came back as %s (%v)", text, back, wrong)
		}
	}
}
