package flow

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"rowdatum/proto/seal"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// exported is one line of an export: one of its fields is set. Planters and fixtures come first, then
// digs, then each job with its events, then keys (hashed), then the trail from its beginning.
type exported struct {
	Planter *leveling.Planter     `json:"planter,omitempty"`
	Fixture *leveling.ShopFixture `json:"fixture,omitempty"`
	Dig     *leveling.Dig         `json:"dig,omitempty"`
	Job     *exportedJob          `json:"job,omitempty"`
	Key     *Key                  `json:"key,omitempty"`
	Audit   *AuditEntry           `json:"audit,omitempty"`
}

type exportedJob struct {
	JobHead
	Events []json.RawMessage `json:"events"` // as they are stored
}

// exportPage is how many things are read at a time.
const exportPage = 200

// Export writes everything a shop owns as JSON lines, as it is at one moment. Imported elsewhere and
// exported again it is the same to the byte. What is not in it: one-time codes; hooks, whose secrets
// are told once; and which requests made planters, fixtures and jobs, which only matters while somebody still
// repeats them. A job that is not what was written is left out, and leftOut is told of it: one bad job costs no shop the
// others.
func (f *Flow) Export(ctx context.Context, shop string, w io.Writer, leftOut func(job string, why error)) error {
	out := json.NewEncoder(w)
	out.SetEscapeHTML(false)
	return f.Store.Read(ctx, func(view View) error {
		var planters []string
		err := allOf(func(q Query) ([]leveling.Planter, error) { return view.Planters(shop, q) },
			func(p leveling.Planter) string { return p.ID },
			func(p leveling.Planter) error {
				planters = append(planters, p.ID)
				return out.Encode(exported{Planter: &p})
			})
		if err != nil {
			return err
		}
		err = allOf(func(q Query) ([]leveling.ShopFixture, error) { return view.Fixtures(shop, q) },
			func(x leveling.ShopFixture) string { return x.ID },
			func(x leveling.ShopFixture) error { return out.Encode(exported{Fixture: &x}) })
		if err != nil {
			return err
		}
		for _, planter := range planters {
			err := allOf(func(q Query) ([]leveling.Dig, error) { return view.Digs(shop, planter, q) },
				func(d leveling.Dig) string { return d.ID },
				func(d leveling.Dig) error { return out.Encode(exported{Dig: &d}) })
			if err != nil {
				return err
			}
		}
		err = allOf(func(q Query) ([]JobHead, error) { return view.Jobs(shop, "", q) }, JobHead.Place,
			func(head JobHead) error {
				one, err := f.exportedJob(view, head)
				if isLost(err) {
					leftOut(jobName(head.JobKey), err)
					return nil
				}
				if err != nil {
					return err
				}
				return out.Encode(exported{Job: one})
			})
		if err != nil {
			return err
		}
		keys, err := view.Keys(shop)
		if err != nil {
			return err
		}
		for _, key := range keys {
			if err := out.Encode(exported{Key: &key}); err != nil {
				return err
			}
		}
		return exportTrail(view, shop, out)
	})
}

// exportedJob reads a job with its log. DataLoss where it is not what was written.
func (f *Flow) exportedJob(view View, head JobHead) (*exportedJob, error) {
	log, err := f.logOf(view, head)
	if err != nil {
		return nil, err
	}
	one := &exportedJob{JobHead: head, Events: raw(log)}
	if err := one.check(); err != nil {
		return nil, changed(head.JobKey, err)
	}
	return one, nil
}

// logOf reads a job's log, which is held against its seal where it was signed.
func (f *Flow) logOf(view View, head JobHead) ([][]byte, error) {
	if head.Stage != job.StageSigned {
		return view.Log(head.JobKey)
	}
	log, _, err := f.folded.seals.read(view, head)
	return log, err
}

// allOf hands every thing of a list to do, a page at a time.
func allOf[T any](list func(Query) ([]T, error), place func(T) string, do func(T) error) error {
	for q := (Query{Limit: exportPage}); ; {
		page, err := list(q)
		if err != nil {
			return err
		}
		for _, one := range page {
			if err := do(one); err != nil {
				return err
			}
		}
		if len(page) < q.Limit {
			return nil
		}
		q.After = place(page[len(page)-1])
	}
}

// exportTrail writes the trail from its beginning; the store gives it from its end.
func exportTrail(view View, shop string, out *json.Encoder) error {
	var trail []AuditEntry
	for before := int64(0); ; {
		page, err := view.Audit(shop, before, exportPage)
		if err != nil {
			return err
		}
		trail = append(trail, page...)
		if len(page) < exportPage {
			break
		}
		before = page[len(page)-1].Serial
	}
	for _, entry := range slices.Backward(trail) {
		if err := out.Encode(exported{Audit: &entry}); err != nil {
			return err
		}
	}
	return nil
}

// maxExportLine bounds one line: a job with its whole log.
const maxExportLine = 64 << 20

// Import brings in what was exported, all or nothing, into a shop that has none of it. Errors: Exists;
// Invalid for a line that is no export's, or a signed job whose content was changed since.
func (f *Flow) Import(ctx context.Context, shop string, r io.Reader) (lines int, err error) {
	var all []exported
	in := bufio.NewScanner(r)
	in.Buffer(nil, maxExportLine)
	for in.Scan() {
		lines++
		one, err := readExported(in.Bytes())
		if err != nil {
			var v leveling.Violations
			v.Add(fmt.Sprintf("line %d", lines), "%s", err)
			return 0, v.Err()
		}
		all = append(all, one)
	}
	if err := in.Err(); err != nil {
		return 0, fmt.Errorf("reading an export: %w", err)
	}
	return lines, f.Store.Write(ctx, func(tx Tx) error {
		for i, one := range all {
			if err := one.restore(tx, shop); err != nil {
				return fmt.Errorf("line %d: %w", i+1, err)
			}
		}
		return nil
	})
}

func readExported(line []byte) (one exported, err error) {
	if err := json.Unmarshal(line, &one); err != nil {
		return one, errors.New("is not a line of an export")
	}
	set := 0
	for _, there := range []bool{one.Planter != nil, one.Fixture != nil, one.Dig != nil, one.Job != nil, one.Key != nil, one.Audit != nil} {
		if there {
			set++
		}
	}
	if set != 1 {
		return one, errors.New("is not a line of an export: it holds not exactly one thing")
	}
	if one.Job != nil {
		return one, one.Job.check()
	}
	return one, nil
}

// check holds the events of a job against its head and its seal.
func (j *exportedJob) check() error {
	state, err := readLog(j.log())
	if err != nil || state.Stage != j.Stage || state.Revision != j.Revision {
		return fmt.Errorf("holds the job %q, whose events are not what was written", j.Job)
	}
	if j.Stage == job.StageSigned && !seal.Check(jobName(j.JobKey), j.log()).Holds() {
		return fmt.Errorf("holds the job %q, whose content is not what was signed", j.Job)
	}
	return nil
}

func (j *exportedJob) log() [][]byte {
	out := make([][]byte, len(j.Events))
	for i, event := range j.Events {
		out[i] = event
	}
	return out
}

func raw(log [][]byte) []json.RawMessage {
	out := make([]json.RawMessage, len(log))
	for i, event := range log {
		out[i] = event
	}
	return out
}

func (one exported) restore(tx Tx, shop string) error {
	switch {
	case one.Planter != nil:
		return tx.RestorePlanter(shop, *one.Planter)
	case one.Fixture != nil:
		return tx.RestoreFixture(shop, *one.Fixture)
	case one.Dig != nil:
		return tx.PutDig(shop, *one.Dig)
	case one.Job != nil:
		one.Job.Shop = shop
		return tx.RestoreJob(one.Job.JobHead, one.Job.log())
	case one.Key != nil:
		one.Key.Shop = shop
		if one.Key.Job != (JobKey{}) {
			one.Key.Job.Shop = shop
		}
		return tx.PutKey(*one.Key)
	default:
		one.Audit.Shop = shop
		return tx.PutAudit(*one.Audit)
	}
}
