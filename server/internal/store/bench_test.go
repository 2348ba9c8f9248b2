package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// BenchmarkAppend compares durable appends with a bare loop on the same database that writes the same rows
// in transactions of the same sizes: ratio is the median of alternated runs, 1 is as fast as bare.
func BenchmarkAppend(b *testing.B) {
	places := map[string]func(*testing.B) string{
		"sqlite": func(b *testing.B) string { return filepath.Join(b.TempDir(), "rowdatum.db") },
		"postgres": func(b *testing.B) string {
			needPostgres(b)
			return newDatabase(b)
		},
	}
	for name, place := range places {
		for _, writers := range []int{1, 16} {
			b.Run(fmt.Sprintf("%s/writers=%d", name, writers), func(b *testing.B) { benchmarkAppend(b, place(b), writers) })
		}
	}
}

const (
	appendsARun = 600 // a fifth of a second or less
	leastRuns   = 7
)

func benchmarkAppend(b *testing.B, place string, writers int) {
	ours := &appender{Store: mustOpen(b, place), writers: writers}
	heads := ours.fill(b, "bare", writers, 1)
	ours.fill(b, "ours", writers, 1)
	bare := newBare(b, ours.writer, heads)
	var ratios, rates []float64
	run := func() {
		sizes, took := ours.run(b)
		bareTook := bare.run(b, sizes)
		ratios = append(ratios, bareTook.Seconds()/took.Seconds())
		rates = append(rates, appendsARun/took.Seconds())
	}
	for b.Loop() {
		run()
	}
	for len(ratios) < leastRuns {
		run()
	}
	if err := ours.Close(); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(median(ratios), "ratio")
	b.ReportMetric(median(rates), "appends/s")
	b.ReportMetric(float64(ours.writes)/float64(ours.groups), "writes/commit")
}

// appender appends to jobs of its own, a job a writer.
type appender struct {
	*Store
	writers int
	heads   []flow.JobHead

	writes, groups int
}

// fill puts a planter with jobs of so many events each.
func (a *appender) fill(b testing.TB, shop string, jobs, events int) []flow.JobHead {
	b.Helper()
	err := a.Write(context.Background(), func(t flow.Tx) error {
		return t.PutPlanter(shop, leveling.Planter{ID: "p", Revision: 1})
	})
	if err != nil {
		b.Fatal(err)
	}
	a.heads = fillJobs(b, a.Store, shop, "p", jobs, events)
	return a.heads
}

const jobsAWrite = 200

func fillJobs(b testing.TB, s *Store, shop, planter string, jobs, events int) []flow.JobHead {
	b.Helper()
	var heads []flow.JobHead
	for from := 0; from < jobs; from += jobsAWrite {
		err := s.Write(context.Background(), func(t flow.Tx) error {
			for n := from; n < min(from+jobsAWrite, jobs); n++ {
				head := flow.JobHead{JobKey: flow.JobKey{Shop: shop, Planter: planter, Job: fmt.Sprintf("job-%07d", n)}, Stage: job.StageOpen,
					Revision: events, CreateTime: leveling.Micros(n), WorkOrder: fmt.Sprintf("%s-%d", planter, n)}
				log := make([]job.Event, events)
				for i := range log {
					log[i] = benchEvent(i + 1)
				}
				if err := t.PutJob(head, log); err != nil {
					return err
				}
				heads = append(heads, head)
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	return heads
}

func benchEvent(revision int) job.Event {
	return job.Event{Revision: revision, CreateTime: 1_774_958_400_000_000, Person: "Bo Field", Reading: &job.Reading{Row: 7, Value: 2.0625, Unit: leveling.Inch, AfterMove: 3}}
}

// run appends and returns the sizes of the groups that were committed, and the time it took.
func (a *appender) run(b *testing.B) (sizes []int, took time.Duration) {
	a.grouped = func(n int) {
		sizes = append(sizes, n)
		a.writes += n
		a.groups++
	}
	var all sync.WaitGroup
	start := time.Now()
	for w := range a.writers {
		all.Go(func() {
			head := &a.heads[w]
			for range appendsARun / a.writers {
				head.Revision++
				if err := a.Write(context.Background(), func(t flow.Tx) error { return t.Append(*head, []job.Event{benchEvent(head.Revision)}) }); err != nil {
					b.Error(err)
					return
				}
			}
		})
	}
	all.Wait()
	return sizes, time.Since(start)
}

// bareAppender writes the same rows with nothing around it, all statements prepared once. It borrows the
// writing connection while the store rests.
type bareAppender struct {
	session                  *session
	heads                    []flow.JobHead
	begin, move, put, commit *sql.Stmt
	event                    string
}

func newBare(b *testing.B, s *session, heads []flow.JobHead) *bareAppender {
	b.Helper()
	body, err := json.Marshal(benchEvent(1_000))
	if err != nil {
		b.Fatal(err)
	}
	prepare := func(text string) *sql.Stmt {
		stmt, err := s.conn.PrepareContext(context.Background(), text)
		if err != nil {
			b.Fatal(err)
		}
		return stmt
	}
	begin, _, _ := strings.Cut(s.beginText, ";")
	return &bareAppender{session: s, heads: heads, event: string(body), begin: prepare(begin), move: prepare(sqlMoveJob), put: prepare(sqlPutEvent), commit: prepare("COMMIT")}
}

func (a *bareAppender) run(b *testing.B, sizes []int) time.Duration {
	exec := func(stmt *sql.Stmt, args ...any) {
		if _, err := stmt.ExecContext(context.Background(), args...); err != nil {
			b.Fatal(err)
		}
	}
	start := time.Now()
	for _, size := range sizes {
		exec(a.begin)
		for i := range size {
			h := &a.heads[i%len(a.heads)]
			h.Revision++
			exec(a.move, h.Shop, h.Planter, h.Job, int(h.Stage), h.Revision, int64(h.UpdateTime), h.Revision-1)
			exec(a.put, h.Shop, h.Planter, h.Job, h.Revision, a.event)
		}
		exec(a.commit)
	}
	return time.Since(start)
}

func median(all []float64) float64 {
	slices.Sort(all)
	return all[len(all)/2]
}
