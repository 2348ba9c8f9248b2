package storetest

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

func entry(shop, method string, n int) flow.AuditEntry {
	return flow.AuditEntry{Shop: shop, Time: noon, Method: method, Resource: fmt.Sprint("planters/p", n)}
}

func testChanges(t *testing.T, p Place) {
	s := open(t, p)
	var want []string
	write(t, s, func(tx flow.Tx) error {
		want = nil
		for n, method := range slices.Concat(flow.ChangeMethods, []string{"AddReadings", "CreateShare", "CreateJob"}) {
			for _, shop := range []string{shop, other} {
				if err := tx.PutAudit(entry(shop, method, n)); err != nil {
					return err
				}
			}
			if slices.Contains(flow.ChangeMethods, method) {
				want = append(want, fmt.Sprint("planters/p", n))
			}
		}
		return nil
	})
	got, after := []string{}, int64(0)
	for {
		page := read(t, s, func(v flow.View) ([]flow.AuditEntry, error) { return v.Changes(shop, after, 3) })
		for _, e := range page {
			if e.Shop != shop || e.Serial <= after {
				t.Errorf("%+v after %d", e, after)
			}
			got, after = append(got, e.Resource), e.Serial
		}
		if len(page) == 0 {
			break
		}
	}
	wantEqual(t, "changes", got, want)
}

// testChangesByIndex: among many readings the few changes are found by their own index, and come sorted from it.
func testChangesByIndex(t *testing.T, p Place) {
	s := open(t, p)
	const many = 5000
	write(t, s, func(tx flow.Tx) error {
		for n := range many {
			method := "AddReadings"
			if n%100 == 0 {
				method = "SignJob"
			}
			if err := tx.PutAudit(entry(shop, method, n)); err != nil {
				return err
			}
		}
		return nil
	})
	plan := p.PlanOfChanges(t, s, shop, 100, 50)
	if !strings.Contains(plan, "audit_changes") || strings.Contains(strings.ToLower(plan), "sort") || strings.Contains(plan, "TEMP B-TREE") {
		t.Errorf("changes are looked up so:\n%s", plan)
	}
}

// testChangesBesideWriters reads on from a cursor while many write, through several stores where the place has
// them: every change is seen once, in the order of its serial.
func testChangesBesideWriters(t *testing.T, p Place) {
	stores := []Store{open(t, p)}
	if p.Several {
		stores = append(stores, open(t, p), open(t, p))
	}
	const writers, each = 9, 40
	var all sync.WaitGroup
	for w := range writers {
		all.Go(func() {
			for n := range each {
				if err := stores[w%len(stores)].Write(t.Context(), func(tx flow.Tx) error { return tx.PutAudit(entry(shop, "SignJob", w*each+n)) }); err != nil {
					t.Error(err)
				}
			}
		})
	}
	written := make(chan struct{})
	go func() { all.Wait(); close(written) }()
	seen, after := map[string]bool{}, int64(0)
	for last := false; ; {
		page := read(t, oneOf(stores, len(seen)), func(v flow.View) ([]flow.AuditEntry, error) { return v.Changes(shop, after, 1000) })
		for _, e := range page {
			if seen[e.Resource] || e.Serial <= after {
				t.Errorf("%s twice, or out of order: %d after %d", e.Resource, e.Serial, after)
			}
			seen[e.Resource], after = true, e.Serial
		}
		if last {
			break
		}
		select {
		case <-written:
			last = true
		default:
		}
	}
	wantEqual(t, "changes seen", len(seen), writers*each)
}

// oneOf goes round the stores.
func oneOf(stores []Store, n int) Store { return stores[n%len(stores)] }

func hook(id string) flow.Hook {
	return flow.Hook{Shop: shop, ID: id, URL: "https://shop.example/" + id, Events: []flow.HookEvent{flow.JobSigned}, Secret: "whsec_c2VjcmV0",
		Revision: 1, CreateTime: noon, UpdateTime: noon}
}

func testHooks(t *testing.T, p Place) {
	s := open(t, p)
	write(t, s, func(tx flow.Tx) error {
		for _, id := range []string{"b", "a", "c"} {
			if err := tx.PutHook(shop, hook(id)); err != nil {
				return err
			}
		}
		return nil
	})
	changed := hook("b")
	changed.Revision, changed.Paused, changed.OldSecret, changed.OldUntil = 2, true, "whsec_b2xk", noon+1
	write(t, s, func(tx flow.Tx) error { return tx.PutHook(shop, changed) })
	wantEqual(t, "as changed", read(t, s, func(v flow.View) (flow.Hook, error) { return v.Hook(shop, "b") }), changed)
	wantEqual(t, "a page", read(t, s, func(v flow.View) ([]flow.Hook, error) {
		return v.Hooks(shop, flow.Query{After: "a", Limit: 5})
	}), []flow.Hook{changed, hook("c")})
	wantEqual(t, "another shop's", len(read(t, s, func(v flow.View) ([]flow.Hook, error) { return v.Hooks(other, flow.Query{Limit: 5}) })), 0)

	for _, c := range []struct {
		name string
		kind leveling.Kind
		do   func(flow.Tx) error
	}{
		{"the same id again", leveling.Exists, func(tx flow.Tx) error { return tx.PutHook(shop, hook("a")) }},
		{"a revision behind", leveling.Stale, func(tx flow.Tx) error { return tx.PutHook(shop, changed) }},
		{"another shop's", leveling.NotFound, func(tx flow.Tx) error { _, err := tx.Hook(other, "a"); return err }},
		{"deleting another shop's", leveling.NotFound, func(tx flow.Tx) error { return tx.DeleteHook(other, "a") }},
	} {
		wantKind(t, c.name, s.Write(t.Context(), c.do), c.kind)
	}

	write(t, s, func(tx flow.Tx) error { return tx.PutDelivery(delivery("a", "e1", "j1")) })
	write(t, s, func(tx flow.Tx) error { return tx.DeleteHook(shop, "a") })
	wantEqual(t, "deliveries of a deleted hook", len(read(t, s, func(v flow.View) ([]flow.Delivery, error) {
		return v.Deliveries(shop, "a", flow.Query{Limit: 5})
	})), 0)
}

func delivery(hook, id, job string) flow.Delivery {
	return flow.Delivery{Shop: shop, Hook: hook, ID: id, Job: job, Event: flow.JobSigned, Body: `{"id":"` + id + `"}`, State: flow.Waiting, CreateTime: noon}
}

func putDeliveries(t *testing.T, s Store, all ...flow.Delivery) {
	t.Helper()
	write(t, s, func(tx flow.Tx) error {
		for _, d := range all {
			if err := tx.PutDelivery(d); err != nil {
				return err
			}
		}
		return nil
	})
}

// claim claims what is due of hook h and names it.
func claim(t *testing.T, s Store, now, until leveling.Micros, limit int) (ids []string, all []flow.Delivery) {
	t.Helper()
	write(t, s, func(tx flow.Tx) (err error) {
		all, err = tx.ClaimDeliveries(shop, "h", now, until, limit)
		return err
	})
	return idsOf(all), all
}

func idsOf(all []flow.Delivery) (ids []string) {
	for _, d := range all {
		ids = append(ids, d.ID)
	}
	return ids
}

func testDeliveries(t *testing.T, p Place) {
	s := open(t, p)
	write(t, s, func(tx flow.Tx) error { return tx.PutHook(shop, hook("h")) })
	due := func(now leveling.Micros) int {
		return len(read(t, s, func(v flow.View) ([]flow.Hook, error) { return v.DueHooks(now) }))
	}
	wantEqual(t, "hooks due before there is anything", due(noon+1e12), 0)
	putDeliveries(t, s, delivery("h", "e1", "j1"), delivery("h", "e2", "j2"), delivery("h", "e3", "j3"), delivery("other", "e1", "j1"))
	wantEqual(t, "hooks due too early", due(noon-1), 0)
	wantEqual(t, "hooks due", read(t, s, func(v flow.View) ([]flow.Hook, error) { return v.DueHooks(noon) }), []flow.Hook{hook("h")})

	ids, all := claim(t, s, noon, noon+30, 2)
	wantEqual(t, "claimed", ids, []string{"e1", "e2"})
	rest, _ := claim(t, s, noon, noon+30, 9)
	wantEqual(t, "the rest", rest, []string{"e3"})
	again, _ := claim(t, s, noon+29, noon+60, 9)
	wantEqual(t, "claimed while others have it", len(again), 0)

	arrived, failed := all[0], all[1]
	arrived.State, arrived.Attempts, arrived.FirstTime, arrived.DueTime, arrived.EndTime, arrived.LastStatus = flow.Delivered, 1, noon, 0, noon+5, 204
	failed.Attempts, failed.FirstTime, failed.DueTime, failed.LastStatus, failed.LastProblem = 1, noon, noon+1000, 500, "answered 500"
	write(t, s, func(tx flow.Tx) error { return tx.KeepDelivery(arrived, noon+30, noon+5) })
	write(t, s, func(tx flow.Tx) error { return tx.KeepDelivery(failed, noon+30, noon+5) })
	wantKind(t, "a claim that is lost", s.Write(t.Context(), func(tx flow.Tx) error { return tx.KeepDelivery(arrived, noon+30, noon+5) }), leveling.Stale)
	wantEqual(t, "as kept", read(t, s, func(v flow.View) (flow.Delivery, error) { return v.Delivery(shop, "h", "e2") }), failed)

	lapsed, _ := claim(t, s, noon+30, noon+60, 9)
	wantEqual(t, "whose claim lapsed", lapsed, []string{"e3"})
	later, _ := claim(t, s, noon+1000, noon+1030, 9)
	wantEqual(t, "later", later, []string{"e3", "e2"})

	list := func(q flow.Query) []string {
		return idsOf(read(t, s, func(v flow.View) ([]flow.Delivery, error) { return v.Deliveries(shop, "h", q) }))
	}
	wantEqual(t, "newest first", list(flow.Query{Limit: 2}), []string{"e3", "e2"})
	wantEqual(t, "next page", list(flow.Query{Limit: 2, After: fmt.Sprint(failed.Serial)}), []string{"e1"})
	wantEqual(t, "those that arrived", list(flow.Query{Limit: 9, Equal: map[string]string{"state": fmt.Sprint(int(flow.Delivered))}}), []string{"e1"})
	_, err := readErr(t, s, func(v flow.View) (flow.Delivery, error) { return v.Delivery(other, "h", "e1") })
	wantKind(t, "another shop's", err, leveling.NotFound)

	write(t, s, func(tx flow.Tx) error { return tx.DropDeliveries(noon+5, 10) })
	wantEqual(t, "before any was old", len(list(flow.Query{Limit: 9})), 3)
	write(t, s, func(tx flow.Tx) error { return tx.DropDeliveries(noon+6, 10) })
	wantEqual(t, "once one was old", list(flow.Query{Limit: 9}), []string{"e3", "e2"})
}

func readErr[T any](t *testing.T, s Store, do func(flow.View) (T, error)) (got T, err error) {
	t.Helper()
	err = s.Read(t.Context(), func(v flow.View) (err error) {
		got, err = do(v)
		return err
	})
	return got, err
}

// testOldestWaiting: what has ended, and what a paused hook keeps back, is not waited for.
func testOldestWaiting(t *testing.T, p Place) {
	s := open(t, p)
	want := func(what string, at leveling.Micros) {
		t.Helper()
		wantEqual(t, what, read(t, s, func(v flow.View) (leveling.Micros, error) { return v.OldestWaiting() }), at)
	}
	want("nothing", 0)
	paused, foreign := hook("paused"), hook("h")
	paused.Paused = true
	write(t, s, func(tx flow.Tx) error {
		return errors.Join(tx.PutHook(shop, hook("h")), tx.PutHook(shop, paused), tx.PutHook(other, foreign))
	})
	at := func(shop, hook, id string, at leveling.Micros) flow.Delivery {
		d := delivery(hook, id, "j")
		d.Shop, d.CreateTime = shop, at
		return d
	}
	putDeliveries(t, s, at(shop, "paused", "e1", noon))
	want("of a paused hook", 0)
	putDeliveries(t, s, at(shop, "h", "e2", noon+20), at(shop, "h", "e3", noon+30), at(other, "h", "e4", noon+10))
	want("of any shop", noon+10)
	write(t, s, func(tx flow.Tx) error { return tx.DeleteHook(other, "h") })
	want("of the next shop", noon+20)
	_, all := claim(t, s, noon+40, noon+50, 1)
	all[0].State, all[0].DueTime, all[0].EndTime = flow.Delivered, 0, noon+41
	write(t, s, func(tx flow.Tx) error { return tx.KeepDelivery(all[0], noon+50, noon+41) })
	want("after one arrived", noon+30)
}

// testDeliveriesInOrder: one of a job and hook is due at a time, the oldest; sent again, it takes its turn.
func testDeliveriesInOrder(t *testing.T, p Place) {
	s := open(t, p)
	write(t, s, func(tx flow.Tx) error { return tx.PutHook(shop, hook("h")) })
	putDeliveries(t, s, delivery("h", "a1", "a"), delivery("h", "b1", "b"), delivery("h", "a2", "a"))
	now := noon
	end := func(d flow.Delivery, state flow.DeliveryState) {
		t.Helper()
		claim := d.DueTime
		d.State, d.DueTime, d.EndTime = state, 0, now
		write(t, s, func(tx flow.Tx) error { return tx.KeepDelivery(d, claim, now) })
	}
	step := func(what string, want ...string) []flow.Delivery {
		t.Helper()
		now += 100
		ids, all := claim(t, s, now, now+10, 9)
		wantEqual(t, what, ids, want)
		return all
	}
	first := step("the first of each job", "a1", "b1")
	putDeliveries(t, s, delivery("h", "a3", "a"))
	end(first[0], flow.Dead)
	second := step("after one was given up, and one's claim lapsed", "a2", "b1")
	end(second[1], flow.Delivered)
	end(second[0], flow.Delivered)
	third := step("the last", "a3")
	write(t, s, func(tx flow.Tx) error { return tx.ResendDelivery(first[0], now) })
	end(third[0], flow.Delivered)
	again := step("one given up, sent again behind what was on its way", "a1")
	wantEqual(t, "its attempts begin anew", again[0].Attempts, 0)
	end(again[0], flow.Delivered)
	step("nothing")
}

// testClaims: nothing is given to two who claim at once, whatever process they are in.
func testClaims(t *testing.T, p Place) {
	stores := []Store{open(t, p)}
	if p.Several {
		stores = append(stores, open(t, p))
	}
	write(t, stores[0], func(tx flow.Tx) error { return tx.PutHook(shop, hook("h")) })
	const many = 200
	for n := range many {
		putDeliveries(t, stores[0], delivery("h", id("e", n), id("j", n)))
	}
	var mu sync.Mutex
	given := map[string]int{}
	var all sync.WaitGroup
	for c := range 8 {
		all.Go(func() {
			for {
				var got []flow.Delivery
				err := oneOf(stores, c).Write(t.Context(), func(tx flow.Tx) (err error) {
					got, err = tx.ClaimDeliveries(shop, "h", noon, noon+1e9, 7)
					return err
				})
				if err != nil {
					t.Error(err)
				}
				if len(got) == 0 {
					return
				}
				mu.Lock()
				for _, d := range got {
					given[d.ID]++
				}
				mu.Unlock()
			}
		})
	}
	all.Wait()
	for id, times := range given {
		if times != 1 {
			t.Errorf("%s was given %d times", id, times)
		}
	}
	wantEqual(t, "given", len(given), many)
}
