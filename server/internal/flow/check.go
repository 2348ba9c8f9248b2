package flow

import (
	"context"
	"encoding/json"
	"fmt"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// Checked is what Check looked at.
type Checked struct {
	Shops, Planters, Jobs, Signed int
	BadJobs, BadSeals             int // of Jobs that cannot be read, of Signed that do not hold
}

// Check reads everything that shops have worked, and tells of each thing that is not what was written. An error is a store that
// cannot be read on.
func (f *Flow) Check(ctx context.Context, bad func(shop, thing string, why error)) (c Checked, err error) {
	err = f.Store.Read(ctx, func(view View) error {
		shops, err := view.Shops()
		if err != nil {
			return err
		}
		for _, shop := range shops {
			c.Shops++
			if err := c.shop(view, shop, func(thing string, why error) { bad(shop, thing, why) }); err != nil {
				return err
			}
		}
		return nil
	})
	return c, err
}

func (c *Checked) shop(view View, shop string, bad func(string, error)) error {
	err := allOf(func(q Query) ([]leveling.Planter, error) { return view.Planters(shop, q) },
		func(p leveling.Planter) string { return p.ID },
		func(leveling.Planter) error { c.Planters++; return nil })
	if err != nil {
		bad("the planters", err)
	}
	err = allOf(func(q Query) ([]leveling.ShopFixture, error) { return view.Fixtures(shop, q) },
		func(x leveling.ShopFixture) string { return x.ID }, func(leveling.ShopFixture) error { return nil })
	if err != nil {
		bad("the fixtures", err)
	}
	return allOf(func(q Query) ([]JobHead, error) { return view.Jobs(shop, "", q) }, JobHead.Place, func(head JobHead) error {
		c.Jobs++
		log, err := view.Log(head.JobKey)
		if isLost(err) {
			c.BadJobs++
			bad(jobName(head.JobKey), err)
			return nil
		}
		if err != nil {
			return err
		}
		if wrong := c.job(head, log); wrong != nil {
			bad(jobName(head.JobKey), wrong)
		}
		return nil
	})
}

// isLost says whether a thing, and not the store as a whole, cannot be read.
func isLost(err error) bool { return err != nil && leveling.AsError(err).Kind == leveling.DataLoss }

// job says what is wrong with a job, nil where nothing is.
func (c *Checked) job(head JobHead, log [][]byte) error {
	var last job.Event
	if len(log) > 0 {
		_ = json.Unmarshal(log[len(log)-1], &last) // readLog says what is wrong with it
	}
	if head.Stage == job.StageSigned || last.Signed != nil {
		c.Signed++
		if err := checkSeal(head, log); err != nil {
			c.BadSeals++
			return fmt.Errorf("CONTENT CHANGED: %w", err)
		}
	}
	state, err := readLog(log)
	if err == nil && (state.Revision != head.Revision || state.Stage != head.Stage || state.CreateTime != head.CreateTime) {
		err = fmt.Errorf("the list says stage %d, event %d; its log stage %d, event %d", head.Stage, head.Revision, state.Stage, state.Revision)
	}
	if err != nil {
		c.BadJobs++
	}
	return err
}
