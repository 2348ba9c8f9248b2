package flow_test

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	_ "modernc.org/sqlite"

	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// oldHash is the content hash of the job first in testdata/seal, as the sheet of the program that signed it had it.
const oldHash = "3ddf43b34c1bd3c716200cdc38d64b676d38a9bb75ac5cf1813b67f1a9fbc8f4"

var firstJob, secondJob = flow.JobKey{Shop: "local", Planter: "creek-six", Job: "first"}, flow.JobKey{Shop: "local", Planter: "creek-six", Job: "second"}

// oldStore is a copy of the store that a program of 2026-12-01 left, open, with another hand on its file.
func oldStore(t *testing.T) (f *flow.Flow, hand *sql.DB) {
	t.Helper()
	text, err := os.ReadFile("../../../testdata/seal/store.db")
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "rowdatum.db")
	if err := os.WriteFile(file, text, 0o600); err != nil {
		t.Fatal(err)
	}
	kept, err := store.Open(t.Context(), file, nil)
	if err != nil {
		t.Fatal(err)
	}
	hand, err = sql.Open("sqlite", file)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		hand.Close()
		kept.Close()
	})
	return &flow.Flow{Store: kept, Now: func() leveling.Micros { return noon }}, hand
}

// shown are all the ways in which a job of a store is shown.
var shown = map[string]func(context.Context, *flow.Flow, flow.JobKey) error{
	"the job": func(ctx context.Context, f *flow.Flow, key flow.JobKey) error { _, err := f.Job(ctx, key); return err },
	"the sheet": func(ctx context.Context, f *flow.Flow, key flow.JobKey) error {
		_, _, err := f.JobAndLog(ctx, key)
		return err
	},
	"its events": func(ctx context.Context, f *flow.Flow, key flow.JobKey) error {
		_, err := f.JobEvents(ctx, key, 3, 2)
		return err
	},
	"a watch": func(ctx context.Context, f *flow.Flow, key flow.JobKey) error {
		ctx, cancel := context.WithCancel(ctx)
		defer cancel()
		err := f.WatchJob(ctx, key, 5, func() <-chan time.Time { return nil }, func(flow.Appended) error { cancel(); return nil }, func() error { cancel(); return nil })
		if leveling.AsError(err).Kind == leveling.Internal {
			return nil // the watch stood until it was left
		}
		return err
	},
	"an export": func(ctx context.Context, f *flow.Flow, key flow.JobKey) error {
		var lost error
		err := f.Export(ctx, key.Shop, &bytes.Buffer{}, func(job string, why error) {
			if job == "planters/"+key.Planter+"/jobs/"+key.Job {
				lost = why
			}
		})
		return errors.Join(err, lost)
	},
	"a write": func(ctx context.Context, f *flow.Flow, key flow.JobKey) error {
		_, err := f.AddNotes(ctx, flow.Caller{Shop: key.Shop}, key, flow.Request{}, flow.Writer{}, []job.Note{{Text: "x"}})
		if reason(err) == "JOB_CLOSED" {
			return nil
		}
		return err
	},
}

func nothingLost(t *testing.T) func(string, error) {
	return func(job string, why error) { t.Errorf("the export left out %s: %v", job, why) }
}

// TestOldStoreVerifiesForEver reads the jobs that a program before the recipes signed.
func TestOldStoreVerifiesForEver(t *testing.T) {
	f, _ := oldStore(t)
	for range 2 { // from the store, then as remembered
		j := must[flow.JobView](t)(f.Job(t.Context(), firstJob))
		if j.Head.Stage != job.StageSigned || j.State.Signature.ContentHash != oldHash || j.State.Signature.Recipe != 1 {
			t.Fatalf("%+v, %+v", j.Head, j.State.Signature)
		}
	}
	for what, ask := range shown {
		for _, key := range []flow.JobKey{firstJob, secondJob} {
			if err := ask(t.Context(), f, key); err != nil {
				t.Errorf("%s of %s: %v", what, key.Job, err)
			}
		}
	}
	var out bytes.Buffer
	if err := f.Export(t.Context(), "local", &out, nothingLost(t)); err != nil {
		t.Fatal(err)
	}
	other, _, _ := onStore(t)
	if _, err := other.Import(t.Context(), "north", bytes.NewReader(out.Bytes())); err != nil {
		t.Fatal(err)
	}
	var again bytes.Buffer
	if err := other.Export(t.Context(), "north", &again, nothingLost(t)); err != nil || !bytes.Equal(out.Bytes(), again.Bytes()) {
		t.Errorf("an export is not the same once it was imported (%v)", err)
	}
	key := firstJob
	key.Shop = "north"
	if j, err := other.Job(t.Context(), key); err != nil || j.State.Signature.ContentHash != oldHash {
		t.Errorf("imported, it is %v", err)
	}
}

// TestAlteredJobIsNotShown alters what is stored of a signed job while the service runs and remembers it, and again where it does not.
func TestAlteredJobIsNotShown(t *testing.T) {
	one := ` WHERE planter = 'creek-six' AND job = 'first' AND `
	for what, alter := range map[string]string{
		"one figure of one reading":     `UPDATE events SET body = replace(body, '57.2', '57.3')` + one + `revision = 10`,
		"ten events":                    `UPDATE events SET body = replace(body, 'Ada Ruiz', 'Ada Ruis')` + one + `revision BETWEEN 7 AND 16`,
		"the person who signed":         `UPDATE events SET body = replace(body, 'Ada Ruiz', 'Bo')` + one + `revision = 25`,
		"the hash":                      `UPDATE events SET body = replace(body, '3ddf43b3', '3ddf43b4')` + one + `revision = 25`,
		"the last event is gone":        `DELETE FROM events` + one + `revision = 25`,
		"the last event, head and all":  `DELETE FROM events` + one + `revision = 25; UPDATE jobs SET revision = 24 WHERE job = 'first'`,
		"the stage is taken back":       `UPDATE jobs SET stage = 1 WHERE job = 'first'; UPDATE events SET body = replace(body, '57.2', '57.3')` + one + `revision = 10`,
		"the job is made void":          `UPDATE jobs SET stage = 3 WHERE job = 'first'; UPDATE events SET body = replace(body, '57.2', '57.3')` + one + `revision = 10`,
		"an event in the middle gone":   `DELETE FROM events` + one + `revision = 12`,
		"all events are gone":           `DELETE FROM events` + one + `revision > 0`,
		"an event of another job":       `UPDATE events SET body = (SELECT body FROM events WHERE job = 'second' AND revision = 9)` + one + `revision = 9`,
		"the whole log of another job":  `DELETE FROM events` + one + `revision > 0; INSERT INTO events SELECT shop, planter, 'first', revision, body FROM events WHERE job = 'second'; UPDATE jobs SET revision = 19 WHERE job = 'first'`,
		"the revision":                  `UPDATE jobs SET revision = 24 WHERE job = 'first'`,
		"an event is no JSON any more":  `UPDATE events SET body = substr(body, 1, 40)` + one + `revision = 12`,
		"a name twice":                  `UPDATE events SET body = replace(body, '"reading":', '"reading":{"side":"LEFT"},"reading":')` + one + `revision = 10`,
		"a name in other letters":       `UPDATE events SET body = replace(body, '"value":57.2', '"value":57.2,"VALUE":50')` + one + `revision = 10`,
		"events behind the signature":   `INSERT INTO events SELECT shop, planter, job, 26, replace(body, '"revision":10', '"revision":26') FROM events` + one + `revision = 10; UPDATE jobs SET revision = 26 WHERE job = 'first'`,
		"a field that nobody knows yet": `UPDATE events SET body = replace(body, '"value":57.2', '"value":57.2,"note":1')` + one + `revision = 10`,
	} {
		t.Run(what, func(t *testing.T) {
			for _, remembered := range []bool{true, false} {
				f, hand := oldStore(t)
				if remembered {
					for _, ask := range shown {
						if err := ask(t.Context(), f, firstJob); err != nil {
							t.Fatal(err)
						}
					}
				}
				if _, err := hand.ExecContext(t.Context(), alter); err != nil {
					t.Fatal(err)
				}
				for where, ask := range shown {
					err := ask(t.Context(), f, firstJob)
					if reason(err) != "CONTENT_CHANGED" || leveling.AsError(err).Kind != leveling.DataLoss {
						t.Errorf("remembered %v: %s: %v", remembered, where, err)
					}
				}
				list, _, err := f.Jobs(t.Context(), flow.Caller{Shop: "local"}, "creek-six", flow.Query{Limit: 10})
				if err != nil || len(list) != 2 {
					t.Fatalf("a list: %d jobs, %v", len(list), err)
				}
				for _, head := range list {
					if said := head.Stage == job.StageSigned && !head.Changed; said != (head.Job == "second") {
						t.Errorf("remembered %v: the list says of %s: signed %v", remembered, head.Job, said)
					}
				}
				for where, ask := range shown {
					if err := ask(t.Context(), f, secondJob); err != nil {
						t.Errorf("remembered %v: %s of the other job: %v", remembered, where, err)
					}
				}
			}
		})
	}
}

// TestExportLeavesOutWhatIsLost: one job that is not what was written costs nobody the others, and what is exported can be
// brought in.
func TestExportLeavesOutWhatIsLost(t *testing.T) {
	f, hand := oldStore(t)
	if _, err := hand.ExecContext(t.Context(), `UPDATE events SET body = substr(body, 1, 40) WHERE job = 'first' AND revision = 12`); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	var lost []string
	if err := f.Export(t.Context(), "local", &out, func(job string, _ error) { lost = append(lost, job) }); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(lost, []string{"planters/creek-six/jobs/first"}) {
		t.Errorf("left out: %v", lost)
	}
	other, _, _ := onStore(t)
	if _, err := other.Import(t.Context(), "north", &out); err != nil {
		t.Fatal(err)
	}
	key := secondJob
	key.Shop = "north"
	if j, err := other.Job(t.Context(), key); err != nil || j.Head.Stage != job.StageSigned {
		t.Errorf("the job that was well: %+v, %v", j.Head, err)
	}
}

// TestAlteredVisit: what rests on the last signed job, or on several, says so.
func TestAlteredVisit(t *testing.T) {
	f, hand := oldStore(t)
	f.Mechanisms = &counted{}
	who := flow.Caller{Shop: "local"}
	if _, err := hand.ExecContext(t.Context(), `UPDATE events SET body = replace(body, '57.2', '57.3') WHERE job = 'second' AND revision = 10`); err != nil {
		t.Fatal(err)
	}
	if _, err := f.IndexCard(t.Context(), who, "creek-six", leveling.English); reason(err) != "CONTENT_CHANGED" {
		t.Errorf("the index card: %v", err)
	}
	for language, want := range map[leveling.Language]string{leveling.English: "The visit second is left out", leveling.Spanish: "La visita second queda fuera"} {
		a, err := f.Wear(t.Context(), who, "creek-six", 0.9, language)
		if err != nil || len(a.Visits) != 1 || !strings.Contains(strings.Join(a.Cautions, "\n"), want) {
			t.Errorf("wear: %v, %v, %q", err, a.Visits, a.Cautions)
		}
	}
}

// TestSpacingIsNoContent: another program may have written the same JSON in another way.
func TestSpacingIsNoContent(t *testing.T) {
	f, hand := oldStore(t)
	before := must[flow.JobView](t)(f.Job(t.Context(), firstJob))
	if _, err := hand.ExecContext(t.Context(), `UPDATE events SET body = replace(body, '{"revision":', '{ "revision" : ')`); err != nil {
		t.Fatal(err)
	}
	after := must[flow.JobView](t)(f.Job(t.Context(), firstJob))
	if before.State.Describe() != after.State.Describe() {
		t.Error("the job is another")
	}
}

// TestSignedIsWhatIsStored: a job that was altered while it was open is signed as it is stored, not as it is remembered.
func TestSignedIsWhatIsStored(t *testing.T) {
	f, hand := oldStore(t)
	if _, err := hand.ExecContext(t.Context(), `DELETE FROM events WHERE job = 'first' AND revision = 25; UPDATE jobs SET revision = 24, stage = 1 WHERE job = 'first'`); err != nil {
		t.Fatal(err)
	}
	who, by := flow.Caller{Shop: "local"}, flow.Writer{Person: "Bo"}
	if j := must[flow.JobView](t)(f.Job(t.Context(), firstJob)); j.Head.Stage != job.StageOpen {
		t.Fatalf("stage %v", j.Head.Stage)
	}
	if _, err := hand.ExecContext(t.Context(), `UPDATE events SET body = replace(body, '57.2', '57.25') WHERE job = 'first' AND revision = 10`); err != nil {
		t.Fatal(err)
	}
	signed, err := f.SignJob(t.Context(), who, firstJob, flow.Request{}, by, flow.Etag(24), []job.Exception{{Row: 4, Reason: "parts"}, {Row: 3, Reason: "shims"}})
	if err != nil {
		t.Fatal(err)
	}
	shown := must[flow.JobView](t)(f.Job(t.Context(), firstJob))
	if shown.State.Describe() != signed.State.Describe() || shown.State.Row(3).AsFound.Mm != 57.25 || shown.State.Signature.Recipe != 2 {
		t.Errorf("signed as\n%s\nshown as\n%s", signed.State.Describe(), shown.State.Describe())
	}
}

func BenchmarkSignedJob(b *testing.B) {
	text, err := os.ReadFile("../../../testdata/seal/store.db")
	if err != nil {
		b.Fatal(err)
	}
	file := filepath.Join(b.TempDir(), "rowdatum.db")
	if err := os.WriteFile(file, text, 0o600); err != nil {
		b.Fatal(err)
	}
	kept, err := store.Open(b.Context(), file, nil)
	if err != nil {
		b.Fatal(err)
	}
	defer kept.Close()
	f := &flow.Flow{Store: kept}
	for b.Loop() {
		if _, err := f.Job(b.Context(), firstJob); err != nil {
			b.Fatal(err)
		}
	}
}
