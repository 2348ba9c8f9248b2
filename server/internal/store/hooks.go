package store

import (
	"encoding/json"
	"math"
	"strconv"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// Hook returns a hook.
func (v view) Hook(shop, id string) (flow.Hook, error) {
	h, err := thing[flow.Hook](v, hookShelf, shop, id)
	h.Shop = shop
	return h, err
}

// Hooks returns a page of hooks, by id.
func (v view) Hooks(shop string, q flow.Query) ([]flow.Hook, error) {
	return list(v, hookShelf, shop, q, func(row func(...any) error) (flow.Hook, error) {
		h, err := fromJSON[flow.Hook](row)
		h.Shop = shop
		return h, err
	})
}

// DueHooks returns the hooks of all shops that have a delivery due.
func (v view) DueHooks(now leveling.Micros) ([]flow.Hook, error) {
	return query(v.session, func(row func(...any) error) (h flow.Hook, err error) {
		var shop string
		var body []byte
		if err := row(&shop, &body); err != nil {
			return h, err
		}
		err = json.Unmarshal(body, &h)
		h.Shop = shop
		return h, err
	}, sqlDueHooks, int64(now))
}

// OldestWaiting returns when the oldest event happened that waits, paused hooks aside.
func (v view) OldestWaiting() (oldest leveling.Micros, err error) {
	all, err := query(v.session, func(row func(...any) error) (at leveling.Micros, err error) {
		var body []byte
		if err := row(&body, &at); err != nil {
			return 0, err
		}
		var h flow.Hook
		if err = json.Unmarshal(body, &h); h.Paused {
			at = 0
		}
		return at, err
	}, sqlWaiting)
	for _, at := range all {
		if at > 0 && (oldest == 0 || at < oldest) {
			oldest = at
		}
	}
	return oldest, err
}

// Delivery returns a delivery.
func (v view) Delivery(shop, hook, id string) (flow.Delivery, error) {
	d, ok, err := one(v.session, scanDelivery, sqlDelivery, shop, hook, id)
	if err == nil && !ok {
		err = notFound("delivery", id)
	}
	return d, err
}

// Deliveries returns a page of a hook's deliveries, newest first.
func (v view) Deliveries(shop, hook string, q flow.Query) ([]flow.Delivery, error) {
	before, state := int64(math.MaxInt64), 0
	var err error
	if q.After != "" {
		if before, err = strconv.ParseInt(q.After, 10, 64); err != nil {
			return nil, misuse("a page of deliveries after %q", q.After)
		}
	}
	if wanted := q.Equal["state"]; wanted != "" {
		if state, err = strconv.Atoi(wanted); err != nil {
			return nil, misuse("deliveries of state %q", wanted)
		}
	}
	return query(v.session, scanDelivery, sqlDeliveries, shop, hook, before, state, q.Limit)
}

func scanDelivery(row func(...any) error) (d flow.Delivery, err error) {
	err = row(&d.Serial, &d.Shop, &d.Hook, &d.ID, &d.Job, &d.Event, &d.Body, &d.State, &d.Attempts, &d.CreateTime, &d.FirstTime, &d.DueTime, &d.EndTime,
		&d.LastStatus, &d.LastProblem)
	return d, err
}

// PutHook inserts a hook or replaces it.
func (t *tx) PutHook(shop string, h flow.Hook) error {
	return t.put(hookShelf, shop, h.ID, h.Revision, h.Revision == 1, h, nil)
}

// DeleteHook deletes a hook with its deliveries.
func (t *tx) DeleteHook(shop, id string) error {
	n, err := t.exec(sqlDeleteHook, shop, id)
	if err == nil && n == 0 {
		err = notFound(hookShelf.what, id)
	}
	if err != nil {
		return err
	}
	_, err = t.exec(sqlDeleteHeard, shop, id)
	return err
}

// PutDelivery adds a delivery.
func (t *tx) PutDelivery(d flow.Delivery) error {
	if _, err := t.exec(sqlPutDelivery, d.Shop, d.Hook, d.ID, d.Job, string(d.Event), d.Body, int64(d.CreateTime)); err != nil {
		return err
	}
	return t.nextDelivery(d, d.CreateTime)
}

// nextDelivery makes the first that waits of d's hook and job due, unless one of them is.
func (t *tx) nextDelivery(d flow.Delivery, now leveling.Micros) error {
	_, err := t.exec(sqlNextDelivery, d.Shop, d.Hook, d.Job, int64(now))
	return err
}

// ClaimDeliveries returns due deliveries and puts them off. Nobody comes between: writers take turns.
func (t *tx) ClaimDeliveries(shop, hook string, now, until leveling.Micros, limit int) ([]flow.Delivery, error) {
	all, err := query(t.session, scanDelivery, sqlDueDeliveries, shop, hook, int64(now), limit)
	if err != nil {
		return nil, err
	}
	for i := range all {
		all[i].DueTime = until
		if _, err := t.exec(sqlClaimDelivery, all[i].Serial, int64(until)); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// KeepDelivery keeps what became of a delivery.
func (t *tx) KeepDelivery(d flow.Delivery, claim, now leveling.Micros) error {
	n, err := t.exec(sqlKeepDelivery, d.Serial, int64(claim), int(d.State), d.Attempts, int64(d.FirstTime), int64(d.DueTime), int64(d.EndTime), d.LastStatus, d.LastProblem)
	if err == nil && n == 0 {
		err = stale("delivery", d.ID)
	}
	if err != nil || d.State == flow.Waiting {
		return err
	}
	return t.nextDelivery(d, now)
}

// ResendDelivery has a delivery wait again.
func (t *tx) ResendDelivery(d flow.Delivery, now leveling.Micros) error {
	if _, err := t.exec(sqlResendDelivery, d.Serial); err != nil {
		return err
	}
	return t.nextDelivery(d, now)
}

// DropDeliveries forgets deliveries that ended long ago.
func (t *tx) DropDeliveries(before leveling.Micros, limit int) error {
	_, err := t.exec(sqlDropDeliveries, int64(before), limit)
	return err
}
