package store

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling/job"
)

// crashPlace, set, makes the test program the process that is to be killed.
const crashPlace = "ROWDATUM_TEST_CRASH_PLACE"

func TestMain(m *testing.M) {
	if place := os.Getenv(crashPlace); place != "" {
		fmt.Fprintln(os.Stderr, appendUntilKilled(place, os.Getenv("ROWDATUM_TEST_CRASH_ROUND")))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

const (
	crashRounds  = 6
	crashWorkers = 8
)

// TestCrash kills a process that appends, at random moments: whatever it acknowledged is there, once and in
// order, and a request sent again gets its first answer.
func TestCrash(t *testing.T) {
	t.Run("sqlite", func(t *testing.T) { testCrash(t, filepath.Join(t.TempDir(), "rowdatum.db")) })
	t.Run("postgres", func(t *testing.T) {
		needPostgres(t)
		testCrash(t, newDatabase(t))
	})
}

func testCrash(t *testing.T, place string) {
	s := mustOpen(t, place)
	key := jobIn(t, s)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	moments := rand.New(rand.NewPCG(3, 9))
	acknowledged := map[string]int{}
	for round := range crashRounds {
		counts := killed(t, place, round, time.Duration(moments.IntN(150))*time.Millisecond, acknowledged)
		s := mustOpen(t, place)
		for worker, n := range counts { // what was on its way, and the last that was acknowledged, sent again
			for i := max(0, n-1); i <= n; i++ {
				request := requestID(strconv.Itoa(round), worker, i)
				if err := s.Write(t.Context(), requestOnce(key, request, func(revision int) { acknowledgedOnce(t, acknowledged, request, revision) })); err != nil {
					t.Fatal(err)
				}
			}
		}
		checkLog(t, s, key, acknowledged)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if len(acknowledged) < crashRounds*crashWorkers {
		t.Errorf("only %d requests were acknowledged: the test looks at little", len(acknowledged))
	}
}

func acknowledgedOnce(t *testing.T, acknowledged map[string]int, request string, revision int) {
	if before, ok := acknowledged[request]; ok && before != revision {
		t.Errorf("%s was answered %d first and %d later", request, before, revision)
	}
	acknowledged[request] = revision
}

// checkLog wants every acknowledged request in the log at its revision, and none twice.
func checkLog(t *testing.T, s *Store, key flow.JobKey, acknowledged map[string]int) {
	t.Helper()
	var events []job.Event
	if err := s.Read(t.Context(), func(v flow.View) (err error) { events, err = v.Events(key, 0, 0); return err }); err != nil {
		t.Fatal(err)
	}
	at := map[string]int{}
	for i, e := range events {
		if e.Revision != i+1 {
			t.Fatalf("event %d has revision %d", i+1, e.Revision)
		}
		if e.Note == nil {
			continue
		}
		if before := at[e.Note.Text]; before != 0 {
			t.Errorf("%s is there twice, at %d and %d", e.Note.Text, before, e.Revision)
		}
		at[e.Note.Text] = e.Revision
	}
	for request, revision := range acknowledged {
		if at[request] != revision {
			t.Errorf("%s was acknowledged at %d, it is at %d", request, revision, at[request])
		}
	}
}

// killed runs a round and returns how many requests of each worker were acknowledged.
func killed(t *testing.T, place string, round int, after time.Duration, acknowledged map[string]int) (counts [crashWorkers]int) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), crashPlace+"="+place, "ROWDATUM_TEST_CRASH_ROUND="+strconv.Itoa(round))
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewReader(out)
	var kill *time.Timer
	for {
		line, err := lines.ReadString('\n')
		if err == io.EOF { // a line without its end was not acknowledged
			break
		} else if err != nil {
			t.Fatal(err)
		}
		if kill == nil { // it is at work: the moment is counted from here
			kill = time.AfterFunc(after, func() { _ = cmd.Process.Kill() })
		}
		var worker, revision int
		var request string
		if _, err := fmt.Sscan(line, &worker, &request, &revision); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		acknowledgedOnce(t, acknowledged, request, revision)
		counts[worker]++
	}
	if err := cmd.Wait(); err == nil || !strings.Contains(err.Error(), "kill") {
		t.Fatalf("it was to be killed, it ended with: %v", err)
	}
	return counts
}

func requestID(round string, worker, n int) string { return fmt.Sprintf("%s-%d-%d", round, worker, n) }

// requestOnce appends a note unless the request was answered before; answered hears the revision.
func requestOnce(key flow.JobKey, request string, answered func(revision int)) func(flow.Tx) error {
	return func(tx flow.Tx) error {
		a, ok, err := tx.Answer(key.Shop, request)
		if err != nil {
			return err
		}
		if ok {
			revision, err := strconv.Atoi(string(a.Response))
			answered(revision)
			return err
		}
		head, err := tx.Job(key)
		if err != nil {
			return err
		}
		head.Revision++
		answered(head.Revision)
		if err := tx.Append(head, []job.Event{{Revision: head.Revision, Note: &job.Note{Text: request}}}); err != nil {
			return err
		}
		return tx.PutAnswer(key.Shop, request, flow.Answer{Method: "AddNotes", Response: []byte(strconv.Itoa(head.Revision))})
	}
}

// appendUntilKilled is the other process: it says on its output what the store acknowledged.
func appendUntilKilled(place, round string) error {
	s, err := Open(context.Background(), place, nil)
	if err != nil {
		return err
	}
	key := flow.JobKey{Shop: "north", Planter: "p", Job: "job-0000000"}
	failed := make(chan error)
	var out sync.Mutex
	for worker := range crashWorkers {
		go func() {
			for n := 0; ; n++ {
				request, revision := requestID(round, worker, n), 0
				if err := s.Write(context.Background(), requestOnce(key, request, func(r int) { revision = r })); err != nil {
					failed <- err
					return
				}
				out.Lock()
				_, err := fmt.Fprintln(os.Stdout, worker, request, revision)
				out.Unlock()
				if err != nil {
					failed <- err
					return
				}
			}
		}()
	}
	return <-failed
}
