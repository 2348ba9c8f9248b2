package storetest

import (
	"errors"
	"fmt"
	"reflect"
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// Store is a store that can be closed.
type Store interface {
	flow.Store
	Close() error
}

// Place is an empty database of a test's own.
type Place struct {
	Open    func(t *testing.T) Store // opens it, once more if Several
	Several bool                     // several stores may have it open at once, each like a process of its own
	// PlanOfChanges is how the database goes about a page of changes, in its own words.
	PlanOfChanges func(t *testing.T, s Store, shop string, after int64, limit int) string
}

// Run sits the whole exam; place makes a new place.
func Run(t *testing.T, place func(t *testing.T) Place) {
	for _, subject := range []struct {
		name string
		test func(*testing.T, Place)
	}{
		{"planters", testPlanters},
		{"planter lists", testPlanterLists},
		{"fixtures", testFixtures},
		{"restoring", testRestoring},
		{"jobs", testJobs},
		{"job lists", testJobLists},
		{"events", testEvents},
		{"stale appends", testStaleAppends},
		{"planters with jobs", testPlantersWithJobs},
		{"digs", testDigs},
		{"answers", testAnswers},
		{"keys", testKeys},
		{"pairings", testPairings},
		{"audit", testAudit},
		{"changes", testChanges},
		{"changes while many write", testChangesBesideWriters},
		{"changes by their index", testChangesByIndex},
		{"hooks", testHooks},
		{"deliveries", testDeliveries},
		{"deliveries in order", testDeliveriesInOrder},
		{"deliveries to several", testClaims},
		{"the oldest delivery that waits", testOldestWaiting},
		{"shops", testShops},
		{"texts", testTexts},
		{"a failed write leaves nothing", testFailedWrite},
		{"one failing among many", testFailingAmongMany},
		{"a caller who goes away", testGoneCaller},
		{"a panic", testPanic},
		{"an error that do does not mind", testIgnoredError},
		{"appends from many", testManyAppends},
		{"a read sees one state", testOneState},
		{"reads do not wait for a write", testReadBesideWrite},
		{"opened again", testOpenedAgain},
		{"closed", testClosed},
		{"watching", testWatching},
		{"several processes", testSeveral},
	} {
		t.Run(subject.name, func(t *testing.T) {
			t.Parallel()
			subject.test(t, place(t))
		})
	}
}

const (
	shop  = "north"
	other = "south"
	// A moment for tests, microseconds.
	noon leveling.Micros = 1_774_958_400_000_000
)

func open(t *testing.T, p Place) Store {
	t.Helper()
	s := p.Open(t)
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("closing: %v", err)
		}
	})
	return s
}

// write must succeed.
func write(t *testing.T, s Store, do func(tx flow.Tx) error) {
	t.Helper()
	if err := s.Write(t.Context(), do); err != nil {
		t.Fatalf("writing: %v", err)
	}
}

// read must succeed.
func read[T any](t *testing.T, s Store, do func(v flow.View) (T, error)) T {
	t.Helper()
	var got T
	err := s.Read(t.Context(), func(v flow.View) (err error) {
		got, err = do(v)
		return err
	})
	if err != nil {
		t.Fatalf("reading: %v", err)
	}
	return got
}

// wantKind checks what kind of leveling.Error err is.
func wantKind(t *testing.T, what string, err error, kind leveling.Kind) {
	t.Helper()
	e, ok := errors.AsType[*leveling.Error](err)
	if !ok || e.Kind != kind || e.Message == "" {
		t.Errorf("%s: got %v, want a leveling.Error of kind %d", what, err, kind)
	}
}

func wantEqual(t *testing.T, what string, got, want any) {
	t.Helper()
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%s:\n got %+v\nwant %+v", what, got, want)
	}
}

func planter(id string) leveling.Planter {
	scale := 0.93
	return leveling.Planter{
		ID: id, DisplayName: "Planter " + id, Owner: "Ada Acker",
		Mechanisms: []leveling.Mechanism{{ID: "handle", Style: "threaded-handle"}},
		Rows: []leveling.PlanterRow{
			{Number: 1, Mechanism: "handle", Scale: &scale, Rank: leveling.RearRank},
			{Number: 2, Mechanism: "handle"},
		},
		ExternalIDs: map[string]string{"erp": "E-" + id},
		Revision:    1, CreateTime: noon, UpdateTime: noon,
	}
}

func head(planter, id string) flow.JobHead {
	return flow.JobHead{
		JobKey: flow.JobKey{Shop: shop, Planter: planter, Job: id}, Fixture: "window-1", WorkOrder: "W-" + id,
		ExternalIDs: map[string]string{"erp": "J-" + id}, Stage: job.StageOpen, Revision: 1, CreateTime: noon, UpdateTime: noon,
	}
}

func opening() job.Event {
	return job.Event{Revision: 1, CreateTime: noon, Person: "Bo Field", Opened: &job.Opened{Planter: planter("p1"), WorkOrder: "W"}}
}

func reading(revision int) job.Event {
	return job.Event{Revision: revision, CreateTime: noon + leveling.Micros(revision), Person: "Bo Field",
		Reading: &job.Reading{Row: 1 + revision%16, Value: 2 + float64(revision)/16, Unit: leveling.Inch}}
}

// withJob puts planter p1 with an opened job.
func withJob(t *testing.T, s Store, id string) flow.JobHead {
	t.Helper()
	h := head("p1", id)
	write(t, s, func(tx flow.Tx) error {
		if _, err := tx.Planter(shop, "p1"); err != nil {
			if err := tx.PutPlanter(shop, planter("p1")); err != nil {
				return err
			}
		}
		return tx.PutJob(h, []job.Event{opening()})
	})
	return h
}

// appendOne reads the job's head and appends a reading to whatever there is.
func appendOne(key flow.JobKey) func(flow.Tx) error {
	return func(tx flow.Tx) error {
		h, err := tx.Job(key)
		if err != nil {
			return err
		}
		h.Revision++
		h.UpdateTime = noon + leveling.Micros(h.Revision)
		return tx.Append(h, []job.Event{reading(h.Revision)})
	}
}

func revisionsOf(events []job.Event) []int {
	numbers := make([]int, 0, len(events))
	for _, e := range events {
		numbers = append(numbers, e.Revision)
	}
	return numbers
}

func upTo(n int) []int {
	numbers := make([]int, n)
	for i := range numbers {
		numbers[i] = i + 1
	}
	return numbers
}

// pages asks for all pages of a list and returns what name says of each entry.
func pages[T any](t *testing.T, s Store, limit int, equal map[string]string, ask func(flow.View, flow.Query) ([]T, error), place, name func(T) string) []string {
	t.Helper()
	names := []string{}
	for after := ""; ; {
		page := read(t, s, func(v flow.View) ([]T, error) { return ask(v, flow.Query{After: after, Limit: limit, Equal: equal}) })
		for _, entry := range page {
			names = append(names, name(entry))
			after = place(entry)
		}
		if len(page) < limit {
			return names
		}
		if len(page) > limit {
			t.Fatalf("a page of %d has %d entries", limit, len(page))
		}
	}
}

func id(prefix string, n int) string { return fmt.Sprintf("%s%03d", prefix, n) }
