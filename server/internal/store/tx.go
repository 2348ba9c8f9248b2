package store

import (
	"encoding/json"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// tx reads and writes in a session's transaction.
type tx struct {
	view
	news map[flow.JobKey]int // jobs with new events, and their revisions
}

// PutPlanter inserts or replaces a planter.
func (t *tx) PutPlanter(shop string, p leveling.Planter) error {
	return t.putPlanter(shop, p, p.Revision == 1)
}

// RestorePlanter inserts a planter of any revision.
func (t *tx) RestorePlanter(shop string, p leveling.Planter) error {
	return t.putPlanter(shop, p, true)
}

func (t *tx) putPlanter(shop string, p leveling.Planter, isNew bool) error {
	equal := map[string]string{"displayName": p.DisplayName, "owner": p.Owner}
	return t.put(planterShelf, shop, p.ID, p.Revision, isNew, p, withExternalIDs(equal, p.ExternalIDs))
}

// DeletePlanter deletes a planter without jobs and digs.
func (t *tx) DeletePlanter(shop, id string) error {
	n, err := t.exec(sqlDeletePlanter, shop, id, digPlace(id, ""), id+"0") // 0 follows /
	if err != nil {
		return err
	}
	if n == 0 {
		return t.whyKept(shop, id)
	}
	_, err = t.exec(sqlDropTerms, shop, planterShelf.table, id)
	return err
}

// whyKept says why a planter could not be deleted.
func (t *tx) whyKept(shop, id string) error {
	if _, err := t.body(planterShelf, shop, id); err != nil {
		return err
	}
	jobs, err := t.Jobs(shop, id, flow.Query{Limit: 1})
	if err != nil {
		return err
	}
	why := leveling.Error{Kind: leveling.FailedState, Reason: "PLANTER_HAS_JOBS", Message: "The planter has jobs; signed work is never removed.",
		Metadata: map[string]string{"planter": id}}
	if len(jobs) == 0 {
		why.Reason, why.Message = "PLANTER_HAS_DIGS", "The planter has digs; what was seen in the field is never removed."
	}
	return &why
}

// PutDig inserts a dig.
func (t *tx) PutDig(shop string, d leveling.Dig) error {
	return t.put(digShelf, shop, digPlace(d.Planter, d.ID), 1, true, d, map[string]string{planterTerm: d.Planter})
}

// digPlace is where a planter's dig stands in the list of all.
func digPlace(planter, dig string) string { return planter + "/" + dig }

// PutFixture inserts or replaces a fixture.
func (t *tx) PutFixture(shop string, f leveling.ShopFixture) error {
	return t.putFixture(shop, f, f.Revision == 1)
}

// RestoreFixture inserts a fixture of any revision.
func (t *tx) RestoreFixture(shop string, f leveling.ShopFixture) error {
	return t.putFixture(shop, f, true)
}

func (t *tx) putFixture(shop string, f leveling.ShopFixture, isNew bool) error {
	return t.put(fixtureShelf, shop, f.ID, f.Revision, isNew, f, map[string]string{"displayName": f.DisplayName, "kind": number(f.Kind)})
}

// DeleteFixture deletes a fixture.
func (t *tx) DeleteFixture(shop, id string) error {
	n, err := t.exec(sqlDeleteFixture, shop, id)
	if err == nil && n == 0 {
		err = notFound(fixtureShelf.what, id)
	}
	if err != nil {
		return err
	}
	_, err = t.exec(sqlDropTerms, shop, fixtureShelf.table, id)
	return err
}

// PutJob inserts a job with its first events.
func (t *tx) PutJob(head flow.JobHead, events []job.Event) error {
	if err := follows(head, events, 1); err != nil {
		return err
	}
	if err := t.putHead(head); err != nil {
		return err
	}
	return t.putEvents(head, events)
}

// RestoreJob inserts a job with its events as they were stored elsewhere.
func (t *tx) RestoreJob(head flow.JobHead, log [][]byte) error {
	if head.Revision != len(log) {
		return misuse("job %q would have revision %d after %d events", head.Job, head.Revision, len(log))
	}
	if err := t.putHead(head); err != nil {
		return err
	}
	for i, body := range log {
		if _, err := t.exec(sqlPutEvent, head.Shop, head.Planter, head.Job, i+1, string(body)); err != nil {
			return err
		}
	}
	t.news[head.JobKey] = head.Revision
	return nil
}

func (t *tx) putHead(head flow.JobHead) error {
	ids, err := json.Marshal(head.ExternalIDs)
	if err != nil {
		return misuse("external ids that JSON cannot hold: %w", err)
	}
	n, err := t.exec(sqlPutJob, head.Shop, head.Planter, head.Job, head.Place(), head.Fixture, head.WorkOrder, string(ids), int(head.Stage), head.Revision,
		int64(head.CreateTime), int64(head.UpdateTime))
	if err == nil && n == 0 {
		err = exists("job", head.Job)
	}
	if err != nil {
		return err
	}
	equal := map[string]string{planterTerm: head.Planter, "stage": number(head.Stage), "workOrder": head.WorkOrder}
	return t.putTerms(jobShelf, head.Shop, head.Place(), withExternalIDs(equal, head.ExternalIDs))
}

// Append adds events to a job.
func (t *tx) Append(head flow.JobHead, events []job.Event) error {
	if len(events) == 0 {
		return misuse("an append of no events")
	}
	before := events[0].Revision - 1
	if err := follows(head, events, before+1); err != nil {
		return err
	}
	n, err := t.exec(sqlMoveJob, head.Shop, head.Planter, head.Job, int(head.Stage), head.Revision, int64(head.UpdateTime), before)
	if err != nil {
		return err
	}
	if n == 0 {
		if _, err := t.Job(head.JobKey); err != nil {
			return err
		}
		return stale("job", head.Job)
	}
	if head.Stage != job.StageOpen { // it was open until now: a closed job takes no events
		if _, err := t.exec(sqlChangeTerm, head.Shop, jobShelf.table, head.Place(), "stage", number(head.Stage)); err != nil {
			return err
		}
	}
	return t.putEvents(head, events)
}

// follows checks that events are numbered from first on and end at the head's revision.
func follows(head flow.JobHead, events []job.Event, first int) error {
	for i, e := range events {
		if e.Revision != first+i {
			return misuse("event %d of job %q has revision %d, not %d", i, head.Job, e.Revision, first+i)
		}
	}
	if first < 1 || head.Revision != first+len(events)-1 {
		return misuse("job %q would have revision %d after event %d", head.Job, head.Revision, first+len(events)-1)
	}
	return nil
}

func (t *tx) putEvents(head flow.JobHead, events []job.Event) error {
	for _, e := range events {
		body, err := json.Marshal(e)
		if err != nil {
			return misuse("an event that JSON cannot hold: %w", err)
		}
		if _, err := t.exec(sqlPutEvent, head.Shop, head.Planter, head.Job, e.Revision, string(body)); err != nil {
			return err
		}
	}
	t.news[head.JobKey] = head.Revision
	return nil
}

// PutAnswer keeps what a request was answered first.
func (t *tx) PutAnswer(shop, requestID string, a flow.Answer) error {
	response := a.Response
	if response == nil {
		response = []byte{} // not the database's NULL
	}
	n, err := t.exec(sqlPutAnswer, shop, requestID, a.Method, a.BodyHash, response, int64(a.Time))
	if err == nil && n == 0 {
		err = exists("request", requestID)
	}
	return err
}

// PutKey inserts a key or replaces it.
func (t *tx) PutKey(k flow.Key) error {
	if _, err := t.exec(sqlPutKey, k.Shop, k.ID, int(k.Role), k.Label, k.Hash, k.Job.Planter, k.Job.Job, int64(k.CreateTime), int64(k.ExpireTime), int64(k.RevokeTime)); err != nil {
		return err
	}
	return t.putShop(k.Shop)
}

// PutPairing keeps a one-time code.
func (t *tx) PutPairing(p flow.Pairing) error {
	n, err := t.exec(sqlPutPairing, p.CodeHash, p.Shop, int(p.Role), p.Label, int64(p.ExpireTime))
	if err == nil && n == 0 {
		err = exists("code", "")
	}
	return err
}

// OpenPairings counts the codes of a shop that have not ended.
func (t *tx) OpenPairings(shop string, now leveling.Micros) (int, error) {
	n, _, err := one(t.session, func(row func(...any) error) (n int, err error) { return n, row(&n) }, sqlOpenPairings, shop, int64(now))
	return n, err
}

// TakePairing returns a one-time code and removes it.
func (t *tx) TakePairing(codeHash string) (flow.Pairing, error) {
	p, ok, err := one(t.session, func(row func(...any) error) (p flow.Pairing, err error) {
		err = row(&p.CodeHash, &p.Shop, &p.Role, &p.Label, &p.ExpireTime)
		return p, err
	}, sqlTakePairing, codeHash)
	if err == nil && !ok {
		err = notFound("code", "")
	}
	t.wrote = t.wrote || ok // a query that changes something
	return p, err
}

// PutAudit adds to the trail.
func (t *tx) PutAudit(e flow.AuditEntry) error {
	_, err := t.exec(sqlPutAudit, e.Shop, int64(e.Time), e.KeyLabel, e.Method, e.Resource, e.RequestID)
	return err
}
