package job

import (
	"math/rand/v2"
	"testing"

	"rowdatum/server/leveling/estimate"
)

// TestFromOthers holds each row's distance from the middle of the others against its plain meaning.
func TestFromOthers(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for range 300 {
		s := &State{Rows: make([]RowState, 1+rng.IntN(9))}
		for i := range s.Rows {
			s.Rows[i].Known = rng.IntN(4) > 0
			s.Rows[i].Estimate.DepthMm = float64(rng.IntN(6)) // equal depths too
		}
		(&deriver{State: s}).fromOthers()
		for i, r := range s.Rows {
			var others []float64
			for j, o := range s.Rows {
				if j != i && o.Known {
					others = append(others, o.Estimate.DepthMm)
				}
			}
			if !r.Known || len(others) == 0 {
				if r.FromOthersMm != nil {
					t.Fatalf("row %d of %v has something to say of others", i, s.Rows)
				}
				continue
			}
			if want := r.Estimate.DepthMm - estimate.Median(others); r.FromOthersMm == nil || *r.FromOthersMm != want {
				t.Fatalf("row %d is %v from the others, want %v", i, r.FromOthersMm, want)
			}
		}
	}
}
