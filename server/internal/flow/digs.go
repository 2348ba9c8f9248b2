package flow

import (
	"context"

	"rowdatum/server/leveling"
)

// CreateDig keeps a dig of a planter under the wanted id, or one of its own. Errors: Invalid with every
// violation; NotFound for the planter; Exists.
func (f *Flow) CreateDig(ctx context.Context, who Caller, req Request, wanted string, d leveling.Dig) (leveling.Dig, error) {
	planter, err := f.Planter(ctx, who, d.Planter)
	if err != nil {
		return leveling.Dig{}, err
	}
	var v leveling.Violations
	d.ID = wantedID("digId", wanted, &v)
	d.Check("dig.", func(row int) bool { _, known := planter.MechanismOf(row); return known }, &v)
	if err := sorted(v).Err(); err != nil {
		return leveling.Dig{}, err
	}
	return once(ctx, f, who, "CreateDig", req, func(tx Tx, now leveling.Micros) (leveling.Dig, string, error) {
		if _, err := tx.Planter(who.Shop, d.Planter); err != nil {
			return leveling.Dig{}, "", err // deleted meanwhile
		}
		d.CreateTime = now
		return d, planterName(d.Planter) + "/digs/" + d.ID, tx.PutDig(who.Shop, d)
	})
}

// Dig returns one dig.
func (f *Flow) Dig(ctx context.Context, who Caller, planter, id string) (d leveling.Dig, err error) {
	err = f.Store.Read(ctx, func(view View) error {
		d, err = view.Dig(who.Shop, planter, id)
		return err
	})
	return d, err
}

// Digs returns a page of a planter's digs by id.
func (f *Flow) Digs(ctx context.Context, who Caller, planter string, q Query) (page []leveling.Dig, more bool, err error) {
	return paged(ctx, f, q, func(view View, q Query) ([]leveling.Dig, error) {
		if _, err := view.Planter(who.Shop, planter); err != nil {
			return nil, err
		}
		return view.Digs(who.Shop, planter, q)
	})
}
