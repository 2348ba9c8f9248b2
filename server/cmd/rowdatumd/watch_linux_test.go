package main

import (
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
)

// stopsWithin is how long a service may take to stop, whoever watches.
const stopsWithin = 3 * time.Second

func TestStoppingLetsWatchersGo(t *testing.T) {
	t.Parallel()
	service := launch(t, filepath.Join(t.TempDir(), "rowdatum.db"))
	job := openJob(t, service.ways[0], "p", handles(2)).Name
	var watchers []*watcher
	for range 3 {
		watchers = append(watchers, watchFrom(t, service.ways[0], job, 0), watchFrom(t, service.ways[1], job, 0), watchAsBrowser(t, service.addresses, job, ""))
	}
	for _, w := range watchers {
		w.waitFor(t, 1)
	}
	asked := time.Now()
	if err := service.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := service.cmd.Wait(); err != nil {
		t.Errorf("it ended with %v", err)
	}
	if took := time.Since(asked); took > stopsWithin {
		t.Errorf("it took %v to stop", took)
	}
	for i, w := range watchers {
		err := w.waitEnd(t, seenWithin)
		if i%3 == 2 { // a browser is told in words
			if !strings.Contains(err.Error(), "stop") {
				t.Errorf("watcher %d was told %v", i, err)
			}
		} else if code, _ := reasonOf(err); code != codes.Unavailable {
			t.Errorf("watcher %d was told %v", i, err)
		}
	}
}
