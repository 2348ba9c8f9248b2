package flow

import (
	"context"

	"slices"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// JobView is a job with what its events come to.
type JobView struct {
	Head  JobHead
	State *job.State
}

// Appended is what a write to a job did.
type Appended struct {
	JobView
	Events []job.Event
}

// Writer is who appends, and when by their own clock.
type Writer struct {
	Person    string
	EventTime leveling.Micros
}

// NewJob is what a caller says of a job to open.
type NewJob struct {
	WantedID    string
	Planter     string
	Fixture     string // empty: the defaults of a window fixture
	WorkOrder   string
	ExternalIDs map[string]string
	Aim         leveling.Aim
	Reach       *leveling.Reach // nil: the planter's
	Verify      job.Verify
}

// CreateJob opens a job with a copy of planter, fixture and styles as they are now.
func (f *Flow) CreateJob(ctx context.Context, who Caller, req Request, by Writer, n NewJob) (JobView, error) {
	opened, err := f.opening(ctx, who, n)
	if err != nil {
		return JobView{}, err
	}
	var v leveling.Violations
	key := JobKey{Shop: who.Shop, Planter: n.Planter, Job: wantedID("jobId", n.WantedID, &v)}
	v.Words("job.workOrder", n.WorkOrder, 0, leveling.MaxExternalIDSize)
	leveling.CheckExternalIDs("job.externalIds", n.ExternalIDs, &v)
	opened.Aim.Check("job.aim", func(row int) bool { _, known := opened.Planter.MechanismOf(row); return known }, &v)
	opened.Reach.Check("job.reach", &v)
	if err := sorted(v).Err(); err != nil {
		return JobView{}, err
	}
	made, err := once(ctx, f, who, "CreateJob", req, func(tx Tx, now leveling.Micros) (span, string, error) {
		head := JobHead{JobKey: key, Fixture: n.Fixture, WorkOrder: n.WorkOrder, ExternalIDs: n.ExternalIDs,
			Stage: job.StageOpen, Revision: 1, CreateTime: now, UpdateTime: now}
		first := job.Event{Revision: 1, CreateTime: now, EventTime: by.EventTime, Person: by.Person, Opened: &opened}
		return span{Job: key.Job, From: 1, To: 1}, jobName(key), tx.PutJob(head, []job.Event{first})
	})
	if err != nil {
		return JobView{}, err
	}
	key.Job = made.Job // of the first answer, where this is a repeat
	view, err := f.jobAt(ctx, key, 1)
	return view.JobView, err
}

// opening takes the copy that a job is worked from.
func (f *Flow) opening(ctx context.Context, who Caller, n NewJob) (job.Opened, error) {
	opened := job.Opened{Aim: n.Aim, Verify: n.Verify, WorkOrder: n.WorkOrder, Styles: map[string]leveling.Style{},
		Fixture: leveling.ShopFixture{Kind: leveling.Window, Figures: leveling.DefaultsOf(leveling.Window)}}
	err := f.Store.Read(ctx, func(view View) (err error) {
		if opened.Planter, err = view.Planter(who.Shop, n.Planter); err != nil || n.Fixture == "" {
			return err
		}
		opened.Fixture, err = view.Fixture(who.Shop, n.Fixture)
		return err
	})
	if err != nil {
		return job.Opened{}, err
	}
	opened.Reach = opened.Planter.Reach
	if n.Reach != nil {
		opened.Reach = *n.Reach
	}
	groups := byStyle(opened.Planter.Mechanisms, fittedRows(opened.Planter.Rows))
	each(groups, func(g *styleGroup) error { return g.ask(ctx, f.Mechanisms, "") })
	if err := firstError(groups); err != nil {
		return job.Opened{}, err
	}
	for _, g := range groups {
		g.style.FiguresSchema, g.style.SettingSchema = "", ""
		opened.Styles[g.id] = g.style
	}
	return opened, nil
}

func fittedRows(rows []leveling.PlanterRow) []fittedRow {
	out := make([]fittedRow, len(rows))
	for i, row := range rows {
		out[i] = fittedRow{number: row.Number, mechanism: row.Mechanism, setting: row.Setting}
	}
	return out
}

// Job returns a job with its state.
func (f *Flow) Job(ctx context.Context, key JobKey) (JobView, error) {
	view, err := f.jobAt(ctx, key, 0)
	return view.JobView, err
}

// jobAt returns a job as it was at a revision, with the events after `after` up to there.
func (f *Flow) jobAt(ctx context.Context, key JobKey, revision int) (a Appended, err error) {
	err = f.Store.Read(ctx, func(view View) (err error) {
		a.State, a.Head, err = f.folded.state(view, key, revision)
		return err
	})
	if err != nil {
		return Appended{}, err
	}
	if a.State.Revision == a.Head.Revision {
		f.folded.put(key, a.State)
	}
	a.Head = headOf(a.Head, a.State)
	return a, nil
}

// headOf is the head as it was when the state was the last.
func headOf(head JobHead, s *job.State) JobHead {
	head.Revision, head.Stage, head.UpdateTime = s.Revision, s.Stage, s.UpdateTime
	return head
}

// Jobs returns a page of jobs without their states, newest first; planter "" is every planter.
func (f *Flow) Jobs(ctx context.Context, who Caller, planter string, q Query) (page []JobHead, more bool, err error) {
	return paged(ctx, f, q, func(view View, q Query) ([]JobHead, error) {
		if planter != "" {
			if _, err := view.Planter(who.Shop, planter); err != nil {
				return nil, err
			}
		}
		return view.Jobs(who.Shop, planter, q)
	})
}

// Logged is a page of a job's events, with which revision struck each (0 where it stands).
type Logged struct {
	Opened   *job.Opened
	Events   []job.Event
	StruckBy map[int]int
	More     bool
}

// JobEvents returns events after a revision, in order.
func (f *Flow) JobEvents(ctx context.Context, key JobKey, after, limit int) (log Logged, err error) {
	err = f.Store.Read(ctx, func(view View) error {
		s, _, err := f.folded.state(view, key, 0)
		if err != nil {
			return err
		}
		log.Events, err = view.Events(key, after, limit)
		log.Opened, log.StruckBy = s.Opened, struckBy(s, log.Events)
		log.More = len(log.Events) > 0 && log.Events[len(log.Events)-1].Revision < s.Revision
		return err
	})
	return log, err
}

func struckBy(s *job.State, events []job.Event) map[int]int {
	out := map[int]int{}
	for _, e := range events {
		if by := s.StruckBy(e.Revision); by != 0 {
			out[e.Revision] = by
		}
	}
	return out
}

// span is the answer that is kept of a write to a job: the state follows from the log.
type span struct {
	Job  string `json:"job"`
	From int    `json:"from"`
	To   int    `json:"to"`
}

// append checks, builds and appends events in one transaction. build is given the job as it is then; its
// events need neither revision nor time. then, if any, does what belongs to the same transaction.
func (f *Flow) append(ctx context.Context, who Caller, key JobKey, method string, req Request, by Writer,
	build func(tx Tx, s *job.State, now leveling.Micros) ([]job.Event, error), then func(tx Tx, next *job.State, now leveling.Micros) error) (Appended, error) {
	var done Appended
	var longer *job.Longer
	wrote, repeat, err := onceOr(ctx, f, who, method, req, func(tx Tx, now leveling.Micros) (span, string, error) {
		s, head, err := f.folded.state(tx, key, 0)
		if err != nil {
			return span{}, "", err
		}
		events, err := build(tx, s, now)
		if err != nil {
			return span{}, "", err
		}
		for i := range events {
			e := &events[i]
			e.Revision, e.CreateTime, e.EventTime, e.Person = s.Revision+1+i, now, by.EventTime, by.Person
		}
		if longer, err = s.Extend(events...); err != nil {
			return span{}, "", err
		}
		head.Revision, head.Stage, head.UpdateTime = longer.Revision, longer.Stage, longer.UpdateTime
		done = Appended{JobView: JobView{Head: head}, Events: events}
		if err := tx.Append(head, events); err != nil {
			return span{}, "", err
		}
		if then != nil {
			done.State = longer.State()
			err = then(tx, done.State, now)
		}
		return span{Job: key.Job, From: s.Revision + 1, To: longer.Revision}, jobName(key), err
	})
	if err != nil {
		return Appended{}, err
	}
	if repeat {
		return f.asWritten(ctx, key, wrote)
	}
	if done.State == nil { // what follows is worked out here, where no other writer waits for it
		done.State = longer.State()
	}
	f.folded.put(key, done.State)
	return done, nil
}

// asWritten gives the answer of an earlier write again.
func (f *Flow) asWritten(ctx context.Context, key JobKey, wrote span) (Appended, error) {
	a, err := f.jobAt(ctx, key, wrote.To)
	if err != nil {
		return Appended{}, err
	}
	err = f.Store.Read(ctx, func(view View) (err error) {
		a.Events, err = view.Events(key, wrote.From-1, wrote.To-wrote.From+1)
		return err
	})
	return a, err
}

// AddReadings appends readings.
func (f *Flow) AddReadings(ctx context.Context, who Caller, key JobKey, req Request, by Writer, readings []job.Reading) (Appended, error) {
	return f.append(ctx, who, key, "AddReadings", req, by, func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		return events(readings, func(r job.Reading) job.Event { return job.Event{Reading: &r} }), s.CheckReadings(readings)
	}, nil)
}

// events makes an event of each.
func events[T any](all []T, event func(T) job.Event) []job.Event {
	out := make([]job.Event, len(all))
	for i, one := range all {
		out[i] = event(one)
	}
	return out
}

// ChangeParts appends changed parts.
func (f *Flow) ChangeParts(ctx context.Context, who Caller, key JobKey, req Request, by Writer, changes []job.PartChange) (Appended, error) {
	return f.append(ctx, who, key, "ChangeParts", req, by, func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		return events(changes, func(c job.PartChange) job.Event { return job.Event{PartChange: &c} }), s.CheckPartChanges(changes)
	}, nil)
}

// AddInspections appends inspections; whether a part is worn follows from its point's limit where it has
// one.
func (f *Flow) AddInspections(ctx context.Context, who Caller, key JobKey, req Request, by Writer, inspections []job.Inspection) (Appended, error) {
	return f.append(ctx, who, key, "AddInspections", req, by, func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		if err := s.CheckInspections(inspections); err != nil {
			return nil, err
		}
		return events(inspections, func(i job.Inspection) job.Event {
			judged := s.JudgeInspection(i)
			return job.Event{Inspection: &judged}
		}), nil
	}, nil)
}

// AddNotes appends notes.
func (f *Flow) AddNotes(ctx context.Context, who Caller, key JobKey, req Request, by Writer, notes []job.Note) (Appended, error) {
	return f.append(ctx, who, key, "AddNotes", req, by, func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		return events(notes, func(n job.Note) job.Event { return job.Event{Note: &n} }), s.CheckNotes(notes)
	}, nil)
}

// StrikeEvents takes earlier events out of force.
func (f *Flow) StrikeEvents(ctx context.Context, who Caller, key JobKey, req Request, by Writer, strikes []job.Strike) (Appended, error) {
	return f.append(ctx, who, key, "StrikeEvents", req, by, func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		return events(strikes, func(x job.Strike) job.Event { return job.Event{Strike: &x} }), s.CheckStrikes(strikes)
	}, nil)
}

// TickCautions ticks cautions, by a named person.
func (f *Flow) TickCautions(ctx context.Context, who Caller, key JobKey, req Request, by Writer, ticks []job.Tick) (Appended, error) {
	return f.append(ctx, who, key, "TickCautions", req, by, func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		return events(ticks, func(t job.Tick) job.Event { return job.Event{Tick: &t} }), s.CheckTicks(by.Person, ticks)
	}, nil)
}

// VoidJob closes a job that came to nothing.
func (f *Flow) VoidJob(ctx context.Context, who Caller, key JobKey, req Request, by Writer, reason string) (Appended, error) {
	return f.append(ctx, who, key, "VoidJob", req, by, func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		return []job.Event{{Voided: &job.Voided{Reason: reason}}}, s.CheckVoid(reason)
	}, nil)
}

// SignJob signs a job whose etag the caller has seen, and takes what it taught back to the planter.
func (f *Flow) SignJob(ctx context.Context, who Caller, key JobKey, req Request, by Writer, etag string, exceptions []job.Exception) (Appended, error) {
	sign := func(tx Tx, s *job.State, now leveling.Micros) ([]job.Event, error) {
		if err := checkEtag(etag, s.Revision, "etag"); err != nil {
			return nil, err
		}
		if err := s.CheckSign(by.Person, exceptions); err != nil {
			return nil, err
		}
		log, err := tx.Events(key, 0, 0)
		if err != nil {
			return nil, err
		}
		last := job.Event{Revision: s.Revision + 1, CreateTime: now, EventTime: by.EventTime, Person: by.Person, Signed: &job.Signed{Exceptions: exceptions}}
		last.Signed.ContentHash, err = job.ContentHash(append(slices.Clip(log), last))
		return []job.Event{last}, err
	}
	teach := func(tx Tx, next *job.State, now leveling.Micros) error {
		planter, err := tx.Planter(who.Shop, key.Planter)
		if err != nil {
			return err
		}
		taught := next.Teach(planter)
		taught.Revision, taught.UpdateTime = planter.Revision+1, now
		return tx.PutPlanter(who.Shop, taught)
	}
	return f.append(ctx, who, key, "SignJob", req, by, sign, teach)
}

// groupsOf asks the adjusters for the options of every row of a job as it stands.
func (f *Flow) groupsOf(ctx context.Context, s *job.State) ([]*styleGroup, error) {
	rows := make([]fittedRow, len(s.Rows))
	for i, row := range s.Rows {
		rows[i] = fittedRow{number: row.Row, mechanism: row.Mechanism, setting: row.Setting}
	}
	groups := byStyle(s.Opened.Planter.Mechanisms, rows)
	each(groups, func(g *styleGroup) error { return g.ask(ctx, f.Mechanisms, "") })
	return groups, firstError(groups)
}

// optionsOf are the options by row; rows that the adjusters refuse are violations.
func optionsOf(groups []*styleGroup) (map[int][]leveling.Option, leveling.Violations) {
	options := map[int][]leveling.Option{}
	for _, g := range groups {
		for i, number := range g.numbers {
			options[number] = g.options[i].Options
		}
	}
	return options, violations(groups, "job.state.")
}
