package adjuster

import (
	"bytes"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"google.golang.org/grpc/stats"
)

func TestByHand(t *testing.T) {
	for _, c := range []struct {
		name   string
		args   []string
		cookie string
		code   int
		done   bool
		out    string // on standard output
		err    string // on standard error
	}{
		{"by the service", nil, Handshake.MagicCookieValue, 0, false, "", ""},
		{"by a person", nil, "", 2, true, "", "This program is an adjuster of rowdatum."},
		{"asking for help", []string{"--help"}, "", 0, true, "", "This program is an adjuster of rowdatum."},
		{"asking for the version", []string{"--version"}, "", 0, true, "lever 1\n", ""},
		{"with a flag that is not there", []string{"--port"}, Handshake.MagicCookieValue, 2, true, "", "--version"},
	} {
		var out, err bytes.Buffer
		code, done := byHand(leverStyle(), c.args, c.cookie, &out, &err)
		if code != c.code || done != c.done || out.String() != c.out || !strings.Contains(err.String(), c.err) {
			t.Errorf("%s: %d, %v, %q, %q", c.name, code, done, out.String(), err.String())
		}
	}
}

func TestLifeline(t *testing.T) {
	begin, end := &stats.ConnBegin{}, &stats.ConnEnd{}
	for _, c := range []struct {
		name  string
		after []time.Duration // what happens when
		what  []stats.ConnStats
		stop  time.Duration // 0: it must still live after an hour
	}{
		{"no host ever", nil, nil, firstConnection},
		{"the host stays", []time.Duration{time.Second}, []stats.ConnStats{begin}, 0},
		{"the host goes", []time.Duration{time.Second, time.Minute}, []stats.ConnStats{begin, end}, time.Minute + lastConnection},
		{"the host dials again", []time.Duration{0, time.Minute, time.Minute + time.Second}, []stats.ConnStats{begin, end, begin}, 0},
		{"one of two connections goes", []time.Duration{0, 0, time.Second}, []stats.ConnStats{begin, begin, end}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				start, stopped := time.Now(), time.Duration(0)
				l := &lifeline{}
				l.hold(func() { stopped = time.Since(start) }, firstConnection, lastConnection)
				for i, at := range c.after {
					time.Sleep(at - time.Since(start))
					l.HandleConn(t.Context(), c.what[i])
				}
				time.Sleep(time.Hour)
				synctest.Wait()
				if stopped != c.stop {
					t.Errorf("stopped after %v, want %v", stopped, c.stop)
				}
			})
		})
	}
}
