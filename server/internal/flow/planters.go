package flow

import (
	"cmp"
	"context"
	"fmt"

	"rowdatum/server/leveling"
)

// CreatePlanter keeps a new planter under the wanted id, or one of its own. Errors: Invalid with every
// violation; Exists; what Mechanisms returns.
func (f *Flow) CreatePlanter(ctx context.Context, who Caller, req Request, wanted string, p leveling.Planter) (leveling.Planter, error) {
	var v leveling.Violations
	p.ID = wantedID("planterId", wanted, &v)
	if err := f.checkPlanter(ctx, p, "planter.", v); err != nil {
		return leveling.Planter{}, err
	}
	return once(ctx, f, who, "CreatePlanter", req, func(tx Tx, now leveling.Micros) (leveling.Planter, string, error) {
		p.Revision, p.CreateTime, p.UpdateTime = 1, now, now
		return p, planterName(p.ID), tx.PutPlanter(who.Shop, p)
	})
}

// checkPlanter tells everything that is wrong with a planter, figures and settings included.
func (f *Flow) checkPlanter(ctx context.Context, p leveling.Planter, path string, v leveling.Violations) error {
	p.Check(path, &v)
	groups := byStyle(p.Mechanisms, fittedRows(p.Rows))
	each(groups, func(g *styleGroup) error { return g.ask(ctx, f.Mechanisms, leveling.Voice{}) })
	for _, found := range violations(groups, path) {
		// A planter may be described before anyone has looked where a row stands; a plan asks then.
		if !missingSetting(p, found.Field, path) {
			v = append(v, found)
		}
	}
	if err := sorted(v).Err(); err != nil {
		return err
	}
	return firstError(groups)
}

func planterName(id string) string { return "planters/" + id }

func jobName(key JobKey) string { return planterName(key.Planter) + "/jobs/" + key.Job }

// Planter returns one planter.
func (f *Flow) Planter(ctx context.Context, who Caller, id string) (p leveling.Planter, err error) {
	err = f.Store.Read(ctx, func(view View) error {
		p, err = view.Planter(who.Shop, id)
		return err
	})
	return p, err
}

// VoiceOf is how words of a planter, or of one of its jobs, are said to a reader of a language.
func (f *Flow) VoiceOf(ctx context.Context, who Caller, planter, job string, l leveling.Language) (v leveling.Voice, err error) {
	err = f.Store.Read(ctx, func(view View) error {
		if job == "" {
			_, v, err = f.planterVoice(view, who, planter, l)
			return err
		}
		j, err := f.folded.job(view, JobKey{Shop: who.Shop, Planter: planter, Job: job}, 0)
		if err == nil {
			v = j.State.Voice(l)
		}
		return err
	})
	return v, err
}

// planterVoice is a planter, and how its words are said to a reader of a language: in its own units, or else in
// those of the newest of its last jobs that nobody has altered.
func (f *Flow) planterVoice(view View, who Caller, id string, l leveling.Language) (p leveling.Planter, v leveling.Voice, err error) {
	if p, err = view.Planter(who.Shop, id); err != nil {
		return p, v, err
	}
	heads, err := view.Jobs(who.Shop, id, Query{Limit: 10})
	if err != nil {
		return p, v, err
	}
	measured := leveling.DefaultFixture()
	v.Language = l
	for _, head := range heads {
		newest, err := f.folded.job(view, head.JobKey, 0)
		if isChanged(err) {
			continue
		}
		if err != nil {
			return p, v, err
		}
		v, measured = newest.State.Voice(l), newest.State.Opened.Fixture.Figures
		break
	}
	areas := cmp.Or(p.AreaUnit, v.AreaUnit)
	if p.LengthUnit != "" {
		v = leveling.VoiceFor(l, p.LengthUnit, measured)
	}
	v.AreaUnit = areas
	return p, v, nil
}

// Planters returns a page of planters by id.
func (f *Flow) Planters(ctx context.Context, who Caller, q Query) (page []leveling.Planter, more bool, err error) {
	return paged(ctx, f, q, func(view View, q Query) ([]leveling.Planter, error) { return view.Planters(who.Shop, q) })
}

// paged asks for one more than the page holds, to know whether there are more.
func paged[T any](ctx context.Context, f *Flow, q Query, list func(View, Query) ([]T, error)) (page []T, more bool, err error) {
	limit := q.Limit
	q.Limit++
	err = f.Store.Read(ctx, func(view View) error {
		page, err = list(view, q)
		return err
	})
	if len(page) > limit {
		return page[:limit], true, err
	}
	return page, false, err
}

// UpdatePlanter changes a planter whose etag the caller has seen; change makes the new one of the old.
func (f *Flow) UpdatePlanter(ctx context.Context, who Caller, req Request, id, etag string, change func(leveling.Planter) (leveling.Planter, error)) (leveling.Planter, error) {
	seen, err := f.Planter(ctx, who, id)
	if err != nil {
		return leveling.Planter{}, err
	}
	changed, err := change(seen)
	if err != nil {
		return leveling.Planter{}, err
	}
	if err := f.checkPlanter(ctx, changed, "planter.", nil); err != nil {
		return leveling.Planter{}, err
	}
	return once(ctx, f, who, "UpdatePlanter", req, func(tx Tx, now leveling.Micros) (leveling.Planter, string, error) {
		present, err := tx.Planter(who.Shop, id)
		if err != nil {
			return leveling.Planter{}, "", err
		}
		if err := checkEtag(etag, present.Revision, "planter.etag"); err != nil {
			return leveling.Planter{}, "", err
		}
		if present.Revision != seen.Revision {
			return leveling.Planter{}, "", checkEtag(Etag(seen.Revision), present.Revision, "planter.etag")
		}
		p := changed
		p.ID, p.Revision, p.CreateTime, p.UpdateTime = id, present.Revision+1, present.CreateTime, now
		return p, planterName(id), tx.PutPlanter(who.Shop, p)
	})
}

// DeletePlanter removes a planter without jobs.
func (f *Flow) DeletePlanter(ctx context.Context, who Caller, req Request, id, etag string) error {
	_, err := once(ctx, f, who, "DeletePlanter", req, func(tx Tx, _ leveling.Micros) (struct{}, string, error) {
		p, err := tx.Planter(who.Shop, id)
		if err != nil {
			return struct{}{}, "", err
		}
		if err := checkEtag(etag, p.Revision, ""); err != nil {
			return struct{}{}, "", err
		}
		return struct{}{}, planterName(id), tx.DeletePlanter(who.Shop, id)
	})
	return err
}

// missingSetting says whether field is the setting of a row that has none.
func missingSetting(p leveling.Planter, field, path string) bool {
	for i, row := range p.Rows {
		if row.Setting == "" && field == fmt.Sprintf("%srows[%d].setting", path, i) {
			return true
		}
	}
	return false
}
