package api

import (
	"math"
	"math/rand/v2"
	"testing"

	"google.golang.org/protobuf/types/known/structpb"

	"rowdatum/adjusters/schema"
)

// The short way writes what the long way does, to the byte: remembered answers are found by it.
func TestCanonicalIsTheSchemas(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 25))
	keys := []string{"turns", "notch", "mmPerTurn", "a<b", "é", "two words", `"`, ""}
	edges := []float64{0, math.Copysign(0, -1), 1e-6, math.Nextafter(1e-6, 0), 1e21, math.Nextafter(1e21, 0), 8, 7.75, -0.25, math.MaxFloat64, 5e-324, math.NaN(), math.Inf(1), math.Inf(-1)}
	for range 20_000 {
		number := edges[rng.IntN(len(edges))]
		if rng.IntN(2) == 0 {
			number = math.Float64frombits(rng.Uint64())
		}
		s := &structpb.Struct{Fields: map[string]*structpb.Value{keys[rng.IntN(len(keys))]: structpb.NewNumberValue(number)}}
		got, err := canonical(s)
		want, wantErr := schema.Canonical(s.AsMap())
		if got != want || err != nil || wantErr != nil {
			t.Fatalf("%v: %s (%v), want %s (%v)", s, got, err, want, wantErr)
		}
	}
}
