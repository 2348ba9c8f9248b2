package flow_test

import (
	"context"
	"sync/atomic"
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// counted is an installed style that counts how often it is asked.
type counted struct {
	flow.Mechanisms
	asked atomic.Int32
	fail  error
}

func (c *counted) Style(_ context.Context, id string, _ leveling.Voice) (leveling.Style, error) {
	c.asked.Add(1)
	return leveling.Style{ID: id, TouchSeconds: 60, State: leveling.Serving}, c.fail
}

func (c *counted) Options(_ context.Context, _ string, q leveling.OptionsQuestion) ([]leveling.RowOptions, error) {
	c.asked.Add(1)
	out := make([]leveling.RowOptions, len(q.Rows))
	for i := range out {
		out[i].Options = []leveling.Option{{Leave: true}}
	}
	return out, c.fail
}

// TestFoundJobAsksNobody: a job that is there already, and a repeat, are answered while the adjusters are away; a
// new job is not opened without them.
func TestFoundJobAsksNobody(t *testing.T) {
	f, kept, _ := onStore(t)
	style := &counted{}
	f.Mechanisms = style
	for _, id := range []string{"east", "west"} {
		planter := leveling.Planter{ID: id, DisplayName: id, Revision: 1, Mechanisms: []leveling.Mechanism{{ID: "m", Style: "steps"}},
			Rows: []leveling.PlanterRow{{Number: 1, Mechanism: "m"}}}
		if err := kept.Write(t.Context(), func(tx flow.Tx) error { return tx.PutPlanter("north", planter) }); err != nil {
			t.Fatal(err)
		}
	}
	open := func(planter, order, request string) (flow.JobView, error) {
		return f.CreateJob(t.Context(), owner, flow.Request{ID: request}, flow.Writer{},
			flow.NewJob{Planter: planter, FindBy: "order", ExternalIDs: map[string]string{"order": order}, Aim: leveling.DefaultAim()})
	}
	first := must[flow.JobView](t)(open("east", "W-1", firstID))
	if style.asked.Load() == 0 || first.State.Opened.Styles["steps"].ID != "steps" {
		t.Fatalf("opened with the styles %v after %d questions", first.State.Opened.Styles, style.asked.Load())
	}
	style.asked.Store(0)
	style.fail = &leveling.Error{Kind: leveling.Unavailable, Reason: "ADJUSTER_DOWN", Message: "It is down."}
	for _, c := range []struct{ name, planter, order, request, reason string }{
		{"found", "east", "W-1", "", ""},
		{"found, under a request id", "east", "W-1", secondID, ""},
		{"found, the same request", "east", "W-1", secondID, ""},
		{"the request that opened it", "east", "W-1", firstID, ""},
		{"another order", "east", "W-2", "", "ADJUSTER_DOWN"},
		{"another planter", "west", "W-1", "", "ADJUSTER_DOWN"},
	} {
		got, err := open(c.planter, c.order, c.request)
		if reason(err) != c.reason || c.reason == "" && got.Head.Job != first.Head.Job {
			t.Errorf("%s: %s, %v", c.name, got.Head.Job, err)
		}
		if (style.asked.Load() > 0) != (c.reason != "") {
			t.Errorf("%s: the adjusters were asked %d times", c.name, style.asked.Load())
		}
		style.asked.Store(0)
	}
	if _, err := f.VoidJob(t.Context(), owner, first.Head.JobKey, flow.Request{}, flow.Writer{}, "came to nothing"); err != nil {
		t.Fatal(err)
	}
	if again := must[flow.JobView](t)(open("east", "W-1", firstID)); again.Head.Job != first.Head.Job || again.State.Revision != 1 {
		t.Errorf("the request that opened it is answered with %s at revision %d", again.Head.Job, again.State.Revision)
	}
	if _, err := open("east", "W-1", ""); reason(err) != "ADJUSTER_DOWN" {
		t.Errorf("a job that is closed is found: %v", err)
	}
}
