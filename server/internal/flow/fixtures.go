package flow

import (
	"cmp"
	"context"
	"fmt"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/study"
)

func fixtureName(id string) string { return "fixtures/" + id }

// CreateFixture keeps a new fixture under the wanted id, or one of its own.
func (f *Flow) CreateFixture(ctx context.Context, who Caller, req Request, wanted string, x leveling.ShopFixture) (leveling.ShopFixture, error) {
	var v leveling.Violations
	x.ID = wantedID("fixtureId", wanted, &v)
	x.Check("fixture.", &v)
	if err := v.Err(); err != nil {
		return leveling.ShopFixture{}, err
	}
	return once(ctx, f, who, "CreateFixture", req, func(tx Tx, now leveling.Micros) (leveling.ShopFixture, string, error) {
		x.Revision, x.CreateTime, x.UpdateTime = 1, now, now
		return x, fixtureName(x.ID), tx.PutFixture(who.Shop, x)
	})
}

// Fixture returns one fixture.
func (f *Flow) Fixture(ctx context.Context, who Caller, id string) (x leveling.ShopFixture, err error) {
	err = f.Store.Read(ctx, func(view View) error {
		x, err = view.Fixture(who.Shop, id)
		return err
	})
	return x, err
}

// Fixtures returns a page of fixtures by id.
func (f *Flow) Fixtures(ctx context.Context, who Caller, q Query) (page []leveling.ShopFixture, more bool, err error) {
	return paged(ctx, f, q, func(view View, q Query) ([]leveling.ShopFixture, error) { return view.Fixtures(who.Shop, q) })
}

// UpdateFixture changes a fixture whose etag the caller has seen. Jobs keep the copy they took.
func (f *Flow) UpdateFixture(ctx context.Context, who Caller, req Request, id, etag string, change func(leveling.ShopFixture) (leveling.ShopFixture, error)) (leveling.ShopFixture, error) {
	return once(ctx, f, who, "UpdateFixture", req, func(tx Tx, now leveling.Micros) (leveling.ShopFixture, string, error) {
		present, err := tx.Fixture(who.Shop, id)
		if err != nil {
			return leveling.ShopFixture{}, "", err
		}
		if err := checkEtag(etag, present.Revision, "fixture.etag"); err != nil {
			return leveling.ShopFixture{}, "", err
		}
		x, err := change(present)
		if err != nil {
			return leveling.ShopFixture{}, "", err
		}
		var v leveling.Violations
		x.Check("fixture.", &v)
		if err := v.Err(); err != nil {
			return leveling.ShopFixture{}, "", err
		}
		x.ID, x.Revision, x.CreateTime, x.UpdateTime = id, present.Revision+1, present.CreateTime, now
		return x, fixtureName(id), tx.PutFixture(who.Shop, x)
	})
}

// DeleteFixture removes a fixture. Jobs keep the copy they took.
func (f *Flow) DeleteFixture(ctx context.Context, who Caller, req Request, id, etag string) error {
	_, err := once(ctx, f, who, "DeleteFixture", req, func(tx Tx, _ leveling.Micros) (struct{}, string, error) {
		x, err := tx.Fixture(who.Shop, id)
		if err != nil {
			return struct{}{}, "", err
		}
		if err := checkEtag(etag, x.Revision, ""); err != nil {
			return struct{}{}, "", err
		}
		return struct{}{}, fixtureName(id), tx.DeleteFixture(who.Shop, id)
	})
	return err
}

// StudyRequest is what is asked of a fixture's repeated readings.
type StudyRequest struct {
	Readings    []study.Reading
	ToleranceMm float64
	Confidence  float64
	Apply       bool // keep what was found as the fixture's repeatability and reproducibility
	Etag        string
	Language    leveling.Language
	LengthUnit  leveling.LengthUnit // empty: the ruling's
}

// StudyAnswer is what the readings say of a fixture, with the fixture as it is now.
type StudyAnswer struct {
	study.Study
	Fixture    leveling.ShopFixture
	LengthUnit leveling.LengthUnit // that its words say lengths in
}

// StudyFixture says how good a fixture is by repeated readings, and with Apply keeps it: then the etag must be
// right. Errors: Invalid with every violation; NotFound; Stale.
func (f *Flow) StudyFixture(ctx context.Context, who Caller, req Request, id string, ask StudyRequest) (StudyAnswer, error) {
	x, err := f.Fixture(ctx, who, id)
	if err != nil {
		return StudyAnswer{}, err
	}
	if err := ask.check(); err != nil {
		return StudyAnswer{}, err
	}
	ask.LengthUnit = cmp.Or(ask.LengthUnit, x.Figures.LengthUnit())
	voice := leveling.VoiceFor(ask.Language, ask.LengthUnit, x.Figures)
	out := StudyAnswer{Fixture: x, LengthUnit: voice.LengthUnit(), Study: study.Analyze(study.Problem{Readings: ask.Readings, Fixture: x.Figures, ToleranceMm: ask.ToleranceMm,
		Confidence: ask.Confidence, Voice: voice})}
	if ask.Apply {
		out.Fixture, err = f.UpdateFixture(ctx, who, req, id, ask.Etag, func(x leveling.ShopFixture) (leveling.ShopFixture, error) {
			x.Figures.RepeatabilityMm = out.KeptMm
			if out.People >= study.FewestPeople {
				x.ReproducibilityMm = &out.ReproducibilityMm
			}
			return x, nil
		})
	}
	return out, err
}

func (ask *StudyRequest) check() error {
	var v leveling.Violations
	study.Check("readings", ask.Readings, &v)
	for i, r := range ask.Readings {
		v.Within(fmt.Sprintf("readings[%d].valueMm", i), r.ValueMm, leveling.MinDepthMm, leveling.MaxDepthMm, leveling.Millimeters)
	}
	v.Above("toleranceMm", ask.ToleranceMm, 0, leveling.Millimeters)
	v.Confidence("confidence", ask.Confidence)
	if ask.Apply && ask.Etag == "" {
		say(&v, "etag", func(p *phrases) string { return p.noFixtureEtag })
	}
	return sorted(v).Err()
}
