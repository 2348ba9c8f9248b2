package storetest

import (
	"slices"
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

func testJobs(t *testing.T, p Place) {
	s := open(t, p)
	h := withJob(t, s, "j1")
	get := func(v flow.View) (flow.JobHead, error) { return v.Job(h.JobKey) }
	wantEqual(t, "as put", read(t, s, get), h)
	wantKind(t, "again", s.Write(t.Context(), func(tx flow.Tx) error { return tx.PutJob(h, []job.Event{opening()}) }), leveling.Exists)

	h.Revision, h.UpdateTime = 3, noon+5
	write(t, s, func(tx flow.Tx) error { return tx.Append(h, []job.Event{reading(2), reading(3)}) })
	wantEqual(t, "appended", read(t, s, get), h)

	for name, key := range map[string]flow.JobKey{
		"another job":     {Shop: shop, Planter: "p1", Job: "j2"},
		"another planter": {Shop: shop, Planter: "p2", Job: "j1"},
		"another shop":    {Shop: other, Planter: "p1", Job: "j1"},
	} {
		wantKind(t, name, s.Read(t.Context(), func(v flow.View) error { _, err := v.Job(key); return err }), leveling.NotFound)
		ahead := h
		ahead.JobKey, ahead.Revision = key, 4
		wantKind(t, "appending to "+name, s.Write(t.Context(), func(tx flow.Tx) error { return tx.Append(ahead, []job.Event{reading(4)}) }), leveling.NotFound)
		wantEqual(t, "events of "+name, len(read(t, s, func(v flow.View) ([]job.Event, error) { return v.Events(key, 0, 0) })), 0)
	}
}

func testJobLists(t *testing.T, p Place) {
	s := open(t, p)
	want := map[string][]string{}
	write(t, s, func(tx flow.Tx) error {
		clear(want)
		for _, id := range []string{"p1", "p2"} {
			if err := tx.PutPlanter(shop, planter(id)); err != nil {
				return err
			}
		}
		for i := range 20 {
			h := head([]string{"p1", "p2"}[i%2], id("j", i))
			h.CreateTime = noon + leveling.Micros(i/4) // several of one moment
			h.WorkOrder = id("W", i%3)
			if err := tx.PutJob(h, []job.Event{opening()}); err != nil {
				return err
			}
			signed := i%5 == 0
			if signed {
				h.Stage, h.Revision = job.StageSigned, 2
				if err := tx.Append(h, []job.Event{{Revision: 2, Signed: &job.Signed{}}}); err != nil {
					return err
				}
			}
			for name, there := range map[string]bool{"all": true, "p1": i%2 == 0, "signed": signed, "open": !signed, "W001": i%3 == 1,
				"open of p2 in W002": !signed && i%2 == 1 && i%3 == 2, "erp": i == 13} {
				if there {
					want[name] = append(want[name], h.Place())
				}
			}
		}
		return nil
	})
	for name, c := range map[string]struct {
		planter string
		equal   map[string]string
	}{
		"all":                {},
		"p1":                 {planter: "p1"},
		"signed":             {equal: map[string]string{"stage": "2"}},
		"open":               {equal: map[string]string{"stage": "1"}},
		"W001":               {equal: map[string]string{"workOrder": "W001"}},
		"open of p2 in W002": {"p2", map[string]string{"workOrder": "W002", "stage": "1"}},
		"erp":                {equal: map[string]string{"externalIds.erp": "J-j013"}},
	} {
		slices.Sort(want[name])
		for _, limit := range []int{1, 6, 50} {
			ask := func(v flow.View, q flow.Query) ([]flow.JobHead, error) { return v.Jobs(shop, c.planter, q) }
			got := pages(t, s, limit, c.equal, ask, flow.JobHead.Place, flow.JobHead.Place)
			wantEqual(t, name, got, want[name])
		}
	}
	newest := read(t, s, func(v flow.View) ([]flow.JobHead, error) { return v.Jobs(shop, "", flow.Query{Limit: 1}) })
	wantEqual(t, "newest first", newest[0].CreateTime, noon+4)
	wantEqual(t, "another shop's", len(read(t, s, func(v flow.View) ([]flow.JobHead, error) { return v.Jobs(other, "p1", flow.Query{Limit: 9}) })), 0)
}

func testEvents(t *testing.T, p Place) {
	s := open(t, p)
	h := withJob(t, s, "j1")
	withJob(t, s, "j10") // a name that begins the same
	all := []job.Event{opening()}
	for r := 2; r <= 40; r++ {
		all = append(all, reading(r))
	}
	h.Revision = 40
	write(t, s, func(tx flow.Tx) error { return tx.Append(h, all[1:]) })
	for _, c := range []struct{ after, limit, from, to int }{
		{0, 0, 0, 40}, {0, 3, 0, 3}, {7, 5, 7, 12}, {38, 10, 38, 40}, {40, 0, 40, 40}, {99, 0, 40, 40},
	} {
		got := read(t, s, func(v flow.View) ([]job.Event, error) { return v.Events(h.JobKey, c.after, c.limit) })
		if !slices.EqualFunc(got, all[c.from:c.to], func(a, b job.Event) bool { return a.Revision == b.Revision }) {
			t.Errorf("after %d, limit %d: got %v", c.after, c.limit, revisionsOf(got))
		}
	}
	got := read(t, s, func(v flow.View) ([]job.Event, error) { return v.Events(h.JobKey, 0, 0) })
	wantEqual(t, "events whole", got, all)
}

func testStaleAppends(t *testing.T, p Place) {
	s := open(t, p)
	h := withJob(t, s, "j1")
	h.Revision = 2
	write(t, s, func(tx flow.Tx) error { return tx.Append(h, []job.Event{reading(2)}) })
	wantKind(t, "the same revision", s.Write(t.Context(), func(tx flow.Tx) error { return tx.Append(h, []job.Event{reading(2)}) }), leveling.Stale)
	h.Revision = 5
	wantKind(t, "a gap", s.Write(t.Context(), func(tx flow.Tx) error { return tx.Append(h, []job.Event{reading(4), reading(5)}) }), leveling.Stale)
	for name, events := range map[string][]job.Event{
		"no event": nil, "twice the same": {reading(3), reading(3)}, "a head beyond its events": {reading(3), reading(4)},
	} {
		if err := s.Write(t.Context(), func(tx flow.Tx) error { return tx.Append(h, events) }); err == nil {
			t.Errorf("%s was appended", name)
		}
	}
	got := read(t, s, func(v flow.View) ([]job.Event, error) { return v.Events(h.JobKey, 0, 0) })
	wantEqual(t, "revisions", revisionsOf(got), upTo(2))
}
