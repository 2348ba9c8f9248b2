package flow

import (
	"context"

	"rowdatum/server/leveling"
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
