package shop

import (
	"context"
	"fmt"

	rowdatum "rowdatum/clients/go"
	"rowdatum/clients/prove/internal/proof"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// Run levels planters in all ways and says what came out.
func Run(ctx context.Context, setting proof.Setting) ([]proof.Table, error) {
	t, end, err := begin(ctx, setting)
	if err != nil {
		return nil, err
	}
	defer end()
	return t.tables(ctx)
}

// size is how much is tried.
type size struct {
	planters     int // of each main scene
	wears        []wear
	variants     []scene
	tolerancesMm []float64
}

// long is what the proof is made from: the curve goes from 1.6 to 4 mm; on notches equal spread lies beyond.
func long() size {
	of := func(rows int, k kind, f fixture, w wear) scene {
		return scene{kind: k, fixture: f, wear: w, rows: rows, planters: 60}
	}
	return size{
		planters: 200, wears: []wear{usual(), neglect()}, tolerancesMm: []float64{1.6, 2, 2.4, 2.8, 3.175, 3.6, 4, 4.6, 5.2},
		variants: []scene{
			of(6, threads(), sixteenth(), usual()), of(12, threads(), sixteenth(), usual()),
			of(16, threads(), sixteenth(), usual()), of(36, threads(), sixteenth(), usual()),
			of(24, threads(), sixteenth(), even()), of(24, notches(), sixteenth(), even()),
			of(24, threads(), eighth(), usual()), of(24, threads(), fixture{"1 mm", 1, 0.5}, usual()),
		},
	}
}

// quick is enough to see that it works.
func quick() size {
	return size{planters: 24, wears: []wear{usual()}, tolerancesMm: []float64{2.4, 3.175, 4}}
}

// trial is one run.
type trial struct {
	client *rowdatum.Client
	size
	say func(format string, args ...any)
}

// begin starts the service of a run; the caller ends it.
func begin(ctx context.Context, setting proof.Setting) (t *trial, end func(), err error) {
	running, err := setting.Start(ctx)
	if err != nil {
		return nil, nil, err
	}
	t = &trial{client: running.Client, size: long(), say: setting.Say}
	if setting.Quick {
		t.size = quick()
	}
	return t, running.End, nil
}

// compared are the ways of working on the planters of one scene.
type compared struct {
	scene
	hand                     figures
	verified, needed, oracle curve
}

// level has one planter leveled through the service.
type level func(context.Context, *rowdatum.Client, *planter, settings) (finished, error)

// timed is the scene with what the service says that a touch takes.
func (t *trial) timed(ctx context.Context, s scene) (scene, error) {
	style, err := t.client.Styles.GetStyle(ctx, &rowdatumv1.GetStyleRequest{Name: "styles/" + s.style})
	s.touchSeconds = style.GetTouchSeconds()
	return s, err
}

// verify has the planters of a scene leveled by hand and by the service, verified.
func (t *trial) verify(ctx context.Context, s scene) (*compared, error) {
	s, err := t.timed(ctx, s)
	if err != nil {
		return nil, err
	}
	c := &compared{scene: s}
	if c.hand, err = s.byHand(ctx, usualToleranceMm); err != nil {
		return nil, err
	}
	c.verified, err = t.curve(ctx, s, settings{verify: rowdatumv1.Job_MOVED}, byService)
	t.say("%s: leveled by hand and by the service", s)
	return c, err
}

// byHand has the planters of a scene leveled by hand, and holds the rows to a tolerance.
func (s scene) byHand(ctx context.Context, toleranceMm float64) (figures, error) {
	return s.try(ctx, toleranceMm, func(_ context.Context, p *planter) (finished, error) { return byHand(p), nil })
}

// compare has the planters of a scene leveled in every way.
func (t *trial) compare(ctx context.Context, s scene) (*compared, error) {
	c, err := t.verify(ctx, s)
	if err != nil {
		return nil, err
	}
	if c.needed, err = t.curve(ctx, c.scene, settings{verify: rowdatumv1.Job_WHEN_NEEDED}, byService); err != nil {
		return nil, err
	}
	c.oracle, err = t.curve(ctx, c.scene, settings{}, byOracle)
	t.say("%s: leveled in all ways", s)
	return c, err
}

// String names the scene.
func (s scene) String() string {
	return fmt.Sprintf("%d rows, %s, %s wear, ruled %s", s.rows, s.kind.title, s.wear.title, s.fixture.title)
}

// curve has planters leveled at every tolerance.
func (t *trial) curve(ctx context.Context, s scene, set settings, by level) (curve, error) {
	var out curve
	for _, tolerance := range t.tolerancesMm {
		f, err := t.one(ctx, s, settings{tolerance, set.verify}, by)
		if err != nil {
			return nil, err
		}
		out = append(out, point{tolerance, f})
	}
	return out, nil
}

// one has planters leveled at one tolerance.
func (t *trial) one(ctx context.Context, s scene, set settings, by level) (figures, error) {
	return s.try(ctx, set.toleranceMm, func(ctx context.Context, p *planter) (finished, error) { return by(ctx, t.client, p, set) })
}
