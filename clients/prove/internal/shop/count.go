package shop

import (
	"context"
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// readSeconds is what one reading takes, common practice, no source; a style's touchSeconds hold one.
const readSeconds = 20

// The service's defaults: the confidence that all jobs here go by, and the tolerance that rows leveled by hand are held to.
const (
	confidence       = 0.9
	usualToleranceMm = 3.175
)

// finished is a planter as its technician leaves it.
type finished struct {
	datumMm float64
	even    []bool // which rows are called even with it
	told    *told  // nil where nobody said
}

// told is what the service says of a planter that is signed.
type told struct {
	found, left promise
	cautions    []string // of the last plan
}

// promise is what the service says of all rows together: the chance that those called even are within tolerance of the datum at
// once, and how far the true depths of all are apart.
type promise struct {
	chance   float64
	spreadMm *rowdatumv1.TrueSpread
}

// worked is what one way of working came to on one planter.
type worked struct {
	readings, moves, touched int // touched are rows that were moved at all
	moved, read              int // the most moves of one row, and its most readings between two moves
	spreadMm                 float64
	even, wrong              int // rows called even; of these beyond the tolerance in truth
	told                     *told
	found, left              came
}

// came is what came of a promise.
type came struct {
	within, inside bool
	spreadMm       float64 // in truth
}

// came holds what was promised of rows against their true depths.
func (f finished) came(p promise, depthsMm []float64, toleranceMm float64) came {
	const half = 0.005 // mm: what is told is rounded
	c := came{within: true, spreadMm: spread(depthsMm)}
	for i, d := range depthsMm {
		c.within = c.within && (!f.even[i] || math.Abs(d-f.datumMm) <= toleranceMm)
	}
	c.inside = p.spreadMm.GetFrom()-half <= c.spreadMm && c.spreadMm <= p.spreadMm.GetTo()+half
	return c
}

// settle counts what was done to a planter, and what is true of it now.
func (p *planter) settle(f finished, toleranceMm float64) worked {
	w := worked{spreadMm: spread(p.depths()), told: f.told}
	if f.told != nil {
		w.found, w.left = f.came(f.told.found, p.cameIn, toleranceMm), f.came(f.told.left, p.depths(), toleranceMm)
	}
	for i, r := range p.rows {
		w.readings += r.readings
		w.moves += r.moves
		w.moved, w.read = max(w.moved, r.moves), max(w.read, r.longest)
		if r.moves > 0 {
			w.touched++
		}
		if f.even[i] {
			w.even++
			if math.Abs(r.depthMm-f.datumMm) > toleranceMm {
				w.wrong++
			}
		}
	}
	return w
}

// figures are what one way of working comes to over all planters, each for one planter.
type figures struct {
	readings, moves, touched, minutes float64
	median, p95, most                 float64 // of the true spread, mm
	even, wrong                       float64 // share of rows called even; of these wrongly
	excepted                          float64 // rows not called even
}

// way levels one planter.
type way func(context.Context, *planter) (finished, error)

// try has a way of working level every planter of a scene, and says what came out.
func (s scene) try(ctx context.Context, toleranceMm float64, level way) (figures, error) {
	all, err := s.each(ctx, toleranceMm, level)
	return s.sum(all), err
}

// each has a way of working level every planter of a scene.
func (s scene) each(ctx context.Context, toleranceMm float64, level way) ([]worked, error) {
	all := make([]worked, s.planters)
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(8 * runtime.GOMAXPROCS(0)) // most of them wait for the service's disk
	for i := range all {
		group.Go(func() error {
			p := s.comesIn(i + 1)
			f, err := level(ctx, p)
			if err == nil {
				all[i] = p.settle(f, toleranceMm)
			}
			return err
		})
	}
	return all, group.Wait()
}

func (s scene) sum(all []worked) (f figures) {
	var spreads []float64
	var total worked
	for _, w := range all {
		spreads = append(spreads, w.spreadMm)
		total.readings += w.readings
		total.moves += w.moves
		total.touched += w.touched
		total.even += w.even
		total.wrong += w.wrong
	}
	slices.Sort(spreads)
	n := float64(len(all))
	f.readings, f.moves, f.touched = float64(total.readings)/n, float64(total.moves)/n, float64(total.touched)/n
	f.minutes = (f.readings*readSeconds + f.moves*(s.touchSeconds-readSeconds)) / 60
	f.median, f.p95, f.most = quantile(spreads, 0.5), quantile(spreads, 0.95), quantile(spreads, 1)
	f.even = float64(total.even) / n / float64(s.rows)
	f.excepted = float64(s.rows) - float64(total.even)/n
	f.wrong = float64(total.wrong) / float64(max(1, total.even))
	return f
}

// quantile is that of sorted numbers, between neighbours in proportion.
func quantile(sorted []float64, share float64) float64 {
	at := share * float64(len(sorted)-1)
	low := int(at)
	high := min(low+1, len(sorted)-1)
	return sorted[low] + (at-float64(low))*(sorted[high]-sorted[low])
}
