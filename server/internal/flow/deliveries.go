package flow

import (
	"context"
	"encoding/json"
	"slices"
	"time"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// Delivery is one event on its way to one hook. The names are those under which the answer of a re-send is kept.
type Delivery struct {
	Serial      int64           `json:"serial"` // given by the store: the order of a job's deliveries
	Shop        string          `json:"-"`
	Hook        string          `json:"hook"`
	ID          string          `json:"id"`  // of the event: the same at every attempt, and for every hook
	Job         string          `json:"job"` // its name
	Event       HookEvent       `json:"event"`
	Body        string          `json:"body"` // the event, as it is sent
	State       DeliveryState   `json:"state"`
	Attempts    int             `json:"attempts,omitempty"`
	CreateTime  leveling.Micros `json:"createTime"`
	FirstTime   leveling.Micros `json:"firstTime,omitempty"`   // of the first attempt; 0 before it
	DueTime     leveling.Micros `json:"dueTime,omitempty"`     // of the next attempt; 0 where it waits for one before it, or has ended
	EndTime     leveling.Micros `json:"endTime,omitempty"`     // 0 while it waits
	LastStatus  int             `json:"lastStatus,omitempty"`  // of HTTP; 0 where nobody answered
	LastProblem string          `json:"lastProblem,omitempty"` // why the last attempt failed, for people
}

// DeliveryState is what has become of a delivery.
type DeliveryState int

// The states.
const (
	Waiting DeliveryState = iota + 1
	Delivered
	Dead // given up
)

// cloudEvent is an event in CloudEvents 1.0's JSON format.
type cloudEvent struct {
	SpecVersion     string    `json:"specversion"`
	ID              string    `json:"id"`
	Source          string    `json:"source"`
	Type            HookEvent `json:"type"`
	Subject         string    `json:"subject"`
	Time            string    `json:"time"`
	DataContentType string    `json:"datacontenttype"`
	Data            hookData  `json:"data"`
}

// hookData is what an event says of its job: enough to find it by, in the receiver's books and here. The job
// itself is asked for, as it then is.
type hookData struct {
	Job         string            `json:"job"`
	Revision    int               `json:"revision"`
	Stage       string            `json:"stage"`
	WorkOrder   string            `json:"workOrder,omitempty"`
	ExternalIDs map[string]string `json:"externalIds,omitempty"`
	ContentHash string            `json:"contentHash,omitempty"`
	Inspections []wornPart        `json:"inspections,omitempty"`
}

type wornPart struct {
	Row     int      `json:"row"`
	Point   string   `json:"point"`
	Value   *float64 `json:"value,omitempty"`
	Comment string   `json:"comment,omitempty"`
}

var stageWord = map[job.Stage]string{job.StageOpen: "OPEN", job.StageSigned: "SIGNED", job.StageVoided: "VOIDED"}

// tell writes what hooks are to hear of a job's new events into the transaction that writes those. Where there
// is nothing to hear, which is so for readings and moves, it asks nothing of the store.
func tell(tx Tx, head JobHead, events []job.Event) error {
	var hooks []Hook
	for _, told := range toldOf(head, events) {
		if hooks == nil {
			var err error
			if hooks, err = tx.Hooks(head.Shop, Query{Limit: mostHooks}); err != nil || len(hooks) == 0 {
				return err
			}
		}
		if err := told.put(tx, head.Shop, hooks, events[0].CreateTime); err != nil {
			return err
		}
	}
	return nil
}

// toldOf are the events that hooks may hear of, in order; the worn parts of one write are one.
func toldOf(head JobHead, events []job.Event) (out []cloudEvent) {
	var worn []wornPart
	say := func(kind HookEvent, e job.Event) *hookData {
		out = append(out, newCloudEvent(kind, head, e))
		return &out[len(out)-1].Data
	}
	for _, e := range events {
		switch i := e.Inspection; {
		case e.Opened != nil:
			say(JobOpened, e)
		case e.Issued != nil:
			say(JobPlan, e)
		case e.Signed != nil:
			say(JobSigned, e).ContentHash = e.Signed.ContentHash
		case i != nil && i.Worn:
			worn = append(worn, wornPart{Row: i.Row, Point: i.Point, Value: i.Value, Comment: i.Comment})
		}
	}
	if len(worn) > 0 {
		say(PartLimit, events[len(events)-1]).Inspections = worn
	}
	return out
}

func newCloudEvent(kind HookEvent, head JobHead, e job.Event) cloudEvent {
	name := jobName(head.JobKey)
	return cloudEvent{SpecVersion: "1.0", ID: newID(), Source: "/shops/" + head.Shop, Type: kind, Subject: name,
		Time: time.UnixMicro(int64(e.CreateTime)).UTC().Format(time.RFC3339Nano), DataContentType: "application/json",
		Data: hookData{Job: name, Revision: e.Revision, Stage: stageWord[head.Stage], WorkOrder: head.WorkOrder, ExternalIDs: head.ExternalIDs}}
}

// put writes a delivery for every hook that hears of the event.
func (c cloudEvent) put(tx Tx, shop string, hooks []Hook, now leveling.Micros) error {
	body, err := json.Marshal(c)
	if err != nil {
		return err
	}
	for _, h := range hooks {
		if !slices.Contains(h.Events, c.Type) {
			continue
		}
		d := Delivery{Shop: shop, Hook: h.ID, ID: c.ID, Job: c.Subject, Event: c.Type, Body: string(body), State: Waiting, CreateTime: now}
		if err := tx.PutDelivery(d); err != nil {
			return err
		}
	}
	return nil
}

// Deliveries returns a page of a hook's deliveries, newest first.
func (f *Flow) Deliveries(ctx context.Context, who Caller, hook string, q Query) (page []Delivery, more bool, err error) {
	return paged(ctx, f, q, func(view View, q Query) ([]Delivery, error) {
		if _, err := view.Hook(who.Shop, hook); err != nil {
			return nil, err
		}
		return view.Deliveries(who.Shop, hook, q)
	})
}

// OldestWaiting is how long ago the oldest event happened that waits to be delivered, of all shops, paused hooks
// aside; 0 where none waits.
func (f *Flow) OldestWaiting(ctx context.Context) (age time.Duration, err error) {
	err = f.Store.Read(ctx, func(view View) error {
		at, err := view.OldestWaiting()
		if at > 0 {
			age = max(time.Duration(f.Now()-at)*time.Microsecond, 0)
		}
		return err
	})
	return age, err
}

// ResendDelivery has a delivery that has ended sent once more.
func (f *Flow) ResendDelivery(ctx context.Context, who Caller, req Request, hook, id string) (Delivery, error) {
	return once(ctx, f, who, "ResendDelivery", req, func(tx Tx, now leveling.Micros) (Delivery, string, error) {
		d, err := tx.Delivery(who.Shop, hook, id)
		if err != nil {
			return Delivery{}, "", err
		}
		if d.State == Waiting {
			return Delivery{}, "", &leveling.Error{Kind: leveling.FailedState, Reason: "DELIVERY_WAITS", Message: "This delivery is still on its way."}
		}
		if err := tx.ResendDelivery(d, now); err != nil {
			return Delivery{}, "", err
		}
		d, err = tx.Delivery(who.Shop, hook, id)
		return d, hookName(hook) + "/deliveries/" + id, err
	})
}
