package store

import (
	"encoding/json"
	"maps"
	"math"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// view reads in a session's transaction.
type view struct{ *session }

// Planter returns a planter.
func (v view) Planter(shop, id string) (leveling.Planter, error) {
	return thing[leveling.Planter](v, planterShelf, shop, id)
}

// Planters returns a page of planters, by id.
func (v view) Planters(shop string, q flow.Query) ([]leveling.Planter, error) {
	return list(v, planterShelf, shop, q, fromJSON[leveling.Planter])
}

// Fixture returns a fixture.
func (v view) Fixture(shop, id string) (leveling.ShopFixture, error) {
	return thing[leveling.ShopFixture](v, fixtureShelf, shop, id)
}

// Fixtures returns a page of fixtures, by id.
func (v view) Fixtures(shop string, q flow.Query) ([]leveling.ShopFixture, error) {
	return list(v, fixtureShelf, shop, q, fromJSON[leveling.ShopFixture])
}

// Dig returns a dig.
func (v view) Dig(shop, planter, id string) (leveling.Dig, error) {
	return thing[leveling.Dig](v, digShelf, shop, digPlace(planter, id))
}

// Digs returns a page of a planter's digs, by id.
func (v view) Digs(shop, planter string, q flow.Query) ([]leveling.Dig, error) {
	q.Equal = map[string]string{planterTerm: planter}
	if q.After != "" {
		q.After = digPlace(planter, q.After)
	}
	return list(v, digShelf, shop, q, fromJSON[leveling.Dig])
}

func thing[T any](v view, s shelf, shop, id string) (t T, err error) {
	body, err := v.body(s, shop, id)
	if err != nil {
		return t, err
	}
	if err := json.Unmarshal([]byte(body), &t); err != nil {
		return t, unreadable(err)
	}
	return t, nil
}

// Job returns a job's head.
func (v view) Job(key flow.JobKey) (flow.JobHead, error) {
	head, ok, err := one(v.session, scanHead, sqlJob, key.Shop, key.Planter, key.Job)
	if err == nil && !ok {
		err = notFound("job", key.Job)
	}
	return head, err
}

// Jobs returns a page of jobs, newest first.
func (v view) Jobs(shop, planter string, q flow.Query) ([]flow.JobHead, error) {
	if planter != "" {
		q.Equal = maps.Clone(q.Equal)
		if q.Equal == nil {
			q.Equal = map[string]string{}
		}
		q.Equal[planterTerm] = planter
	}
	return list(v, jobShelf, shop, q, scanHead)
}

// planterTerm is by what a planter's jobs and digs are found.
const planterTerm = "planter"

func scanHead(row func(...any) error) (h flow.JobHead, err error) {
	var ids []byte
	if err := row(&h.Shop, &h.Planter, &h.Job, &h.Fixture, &h.WorkOrder, &ids, &h.Stage, &h.Revision, &h.CreateTime, &h.UpdateTime); err != nil {
		return h, err
	}
	if err := json.Unmarshal(ids, &h.ExternalIDs); err != nil {
		return h, unreadable(err)
	}
	return h, nil
}

// Events returns a job's events in order.
func (v view) Events(key flow.JobKey, after, limit int) ([]job.Event, error) {
	if limit == 0 {
		limit = math.MaxInt
	}
	return query(v.session, fromJSON[job.Event], sqlEvents, key.Shop, key.Planter, key.Job, after, limit)
}

// Log returns a job's events as they are stored.
func (v view) Log(key flow.JobKey) ([][]byte, error) {
	return query(v.session, stored, sqlEvents, key.Shop, key.Planter, key.Job, 0, math.MaxInt)
}

func stored(row func(...any) error) (body []byte, err error) {
	err = row(&body)
	return body, err
}

// Answer returns what a request was answered first.
func (v view) Answer(shop, requestID string) (flow.Answer, bool, error) {
	return one(v.session, func(row func(...any) error) (a flow.Answer, err error) {
		err = row(&a.Method, &a.BodyHash, &a.Response, &a.Time)
		return a, err
	}, sqlAnswer, shop, requestID)
}

// KeyByHash finds a key.
func (v view) KeyByHash(hash string) (flow.Key, error) {
	key, ok, err := one(v.session, scanKey, sqlKeyByHash, hash)
	if err == nil && !ok {
		err = notFound("key", "")
	}
	return key, err
}

// Keys lists a shop's keys, oldest first.
func (v view) Keys(shop string) ([]flow.Key, error) {
	return query(v.session, scanKey, sqlKeys, shop)
}

func scanKey(row func(...any) error) (k flow.Key, err error) {
	err = row(&k.Shop, &k.ID, &k.Role, &k.Label, &k.Hash, &k.Job.Planter, &k.Job.Job, &k.CreateTime, &k.ExpireTime, &k.RevokeTime)
	if k.Job.Job != "" {
		k.Job.Shop = k.Shop
	}
	return k, err
}

// Audit returns a page of the trail, newest first.
func (v view) Audit(shop string, before int64, limit int) ([]flow.AuditEntry, error) {
	if before == 0 {
		before = math.MaxInt64
	}
	return query(v.session, scanAudit, sqlAudit, shop, before, limit)
}

// Changes returns a page of what a shop's software follows of the trail, in order.
func (v view) Changes(shop string, after int64, limit int) ([]flow.AuditEntry, error) {
	return query(v.session, scanAudit, sqlChanges, shop, after, limit)
}

func scanAudit(row func(...any) error) (e flow.AuditEntry, err error) {
	err = row(&e.Serial, &e.Shop, &e.Time, &e.KeyLabel, &e.Method, &e.Resource, &e.RequestID)
	return e, err
}

// Shops lists all shops.
func (v view) Shops() ([]string, error) { return query(v.session, text, sqlShops) }
