package flow

import (
	"cmp"
	"context"
	"errors"
	"math"
	"strconv"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// JobView is a job with what its events come to.
type JobView struct {
	Head  JobHead
	State *job.State
	log   digest // of a signed job: of the bytes that State was folded from
}

// Appended is what a write to a job did.
type Appended struct {
	JobView
	Events []job.Event
	More   bool // of a watch: there are later events already
}

// Last is the revision of the last event.
func (a *Appended) Last() int { return a.Events[len(a.Events)-1].Revision }

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
	Hectares    *float64            // planted in all by now; nil: not known
	PlantedArea *float64            // the same as it was typed, in AreaUnit
	LengthUnit  leveling.LengthUnit // empty: the planter's
	AreaUnit    leveling.AreaUnit   // likewise
	FindBy      string              // a key of ExternalIDs: an open job with the same id under it is taken instead
}

// maxHectares bounds what one planter planted in its life.
const maxHectares = 1_000_000

// errNoneYet says that a job must be made, which only works with styles. It is Stale: somebody else's doing, no failure.
var errNoneYet = &leveling.Error{Kind: leveling.Stale, Message: "There is no such job yet."}

// CreateJob opens a job with a copy of planter, fixture and styles as they are now. Where it was opened before, by
// this request or as the job of n.FindBy, no adjuster is asked.
func (f *Flow) CreateJob(ctx context.Context, who Caller, req Request, by Writer, n NewJob) (JobView, error) {
	opened, err := f.opening(ctx, who, n)
	if err != nil {
		return JobView{}, err
	}
	key, err := n.check(who, &opened)
	if err != nil {
		return JobView{}, err
	}
	made, err := f.putJob(ctx, who, req, by, n, key, &opened)
	if errors.Is(err, errNoneYet) {
		if opened.Styles, err = f.stylesOf(ctx, opened.Planter, leveling.VoiceFor(leveling.English, opened.LengthUnit, opened.Fixture.Figures)); err != nil {
			return JobView{}, err
		}
		made, err = f.putJob(ctx, who, req, by, n, key, &opened)
	}
	if err != nil {
		return JobView{}, err
	}
	key.Job = made.Job // of the first answer, where this is a repeat
	return f.jobAt(ctx, key, max(made.Revision, 1))
}

// check notes all that is wrong with a job to open, and returns its name.
func (n NewJob) check(who Caller, opened *job.Opened) (JobKey, error) {
	var v leveling.Violations
	key := JobKey{Shop: who.Shop, Planter: n.Planter, Job: wantedID("jobId", n.WantedID, &v)}
	v.Words("job.workOrder", n.WorkOrder, 0, leveling.MaxExternalIDSize)
	leveling.CheckExternalIDs("job.externalIds", n.ExternalIDs, &v)
	opened.Aim.Check("job.aim", func(row int) bool { _, known := opened.Planter.MechanismOf(row); return known }, &v)
	opened.Reach.Check("job.reach", &v)
	if n.Hectares != nil {
		v.Within("job.hectares", *n.Hectares, 0, maxHectares, " ha")
	}
	if n.PlantedArea != nil {
		n.checkArea(opened.AreaUnit, &v)
	}
	if n.FindBy != "" && n.ExternalIDs[n.FindBy] == "" {
		v.Add("findBy", "is %q, which is not a key of job.externalIds", n.FindBy)
	}
	return key, sorted(v).Err()
}

// checkArea notes what is wrong with an area as it was typed.
func (n NewJob) checkArea(u leveling.AreaUnit, v *leveling.Violations) {
	if n.Hectares != nil {
		say(v, "job.plantedArea", func(p *phrases) string { return p.areaTwice })
		return
	}
	unit := " ha"
	if u == leveling.Acre {
		unit = " ac"
	}
	v.Within("job.plantedArea", *n.PlantedArea, 0, math.Floor(u.Area(maxHectares)), unit)
}

// putJob finds the job or writes it; without styles it is errNoneYet instead.
func (f *Flow) putJob(ctx context.Context, who Caller, req Request, by Writer, n NewJob, key JobKey, opened *job.Opened) (jobMade, error) {
	return once(ctx, f, who, "CreateJob", req, func(tx Tx, now leveling.Micros) (jobMade, string, error) {
		found, err := n.find(tx, who)
		switch {
		case err != nil || len(found) > 0:
			return foundJob(found), "", err
		case opened.Styles == nil:
			return jobMade{}, "", errNoneYet
		}
		if opened.AlsoOpen, err = n.alsoOpen(tx, who); err != nil {
			return jobMade{}, "", err
		}
		head := JobHead{JobKey: key, Fixture: n.Fixture, WorkOrder: n.WorkOrder, ExternalIDs: n.ExternalIDs,
			Stage: job.StageOpen, Revision: 1, CreateTime: now, UpdateTime: now}
		first := job.Event{Revision: 1, CreateTime: now, EventTime: by.EventTime, Person: by.Person, Opened: opened}
		if err := tx.PutJob(head, []job.Event{first}); err != nil {
			return jobMade{}, "", err
		}
		return jobMade{Job: key.Job}, jobName(key), tell(tx, head, []job.Event{first})
	})
}

// jobMade is the answer that is kept of opening a job: its state then follows from the log.
type jobMade struct {
	Job      string `json:"job"`
	Revision int    `json:"revision,omitempty"` // of a job that was open already
}

// find returns the planter's open job that is taken instead of a new one, if there is one.
func (n NewJob) find(tx Tx, who Caller) ([]JobHead, error) {
	if n.FindBy == "" {
		return nil, nil
	}
	return n.open(tx, who, map[string]string{"externalIds." + n.FindBy: n.ExternalIDs[n.FindBy]})
}

// alsoOpen returns another open job of the planter, "" where there is none.
func (n NewJob) alsoOpen(tx Tx, who Caller) (string, error) {
	found, err := n.open(tx, who, map[string]string{})
	return foundJob(found).Job, err
}

// open returns the planter's newest open job of these values, if there is one.
func (n NewJob) open(tx Tx, who Caller, equal map[string]string) ([]JobHead, error) {
	equal["stage"] = strconv.Itoa(int(job.StageOpen))
	return tx.Jobs(who.Shop, n.Planter, Query{Limit: 1, Equal: equal})
}

func foundJob(found []JobHead) (made jobMade) {
	for _, head := range found {
		made = jobMade{Job: head.Job, Revision: head.Revision}
	}
	return made
}

// opening takes the copy that a job is worked from, but for its styles.
func (f *Flow) opening(ctx context.Context, who Caller, n NewJob) (job.Opened, error) {
	opened := job.Opened{Aim: n.Aim, Verify: n.Verify, WorkOrder: n.WorkOrder, Hectares: n.Hectares, PlantedArea: n.PlantedArea,
		Fixture: leveling.ShopFixture{Kind: leveling.Window, Figures: leveling.DefaultsOf(leveling.Window)}}
	err := f.Store.Read(ctx, func(view View) (err error) {
		if opened.Planter, err = view.Planter(who.Shop, n.Planter); err != nil || n.Fixture == "" {
			return err
		}
		opened.Fixture, err = view.Fixture(who.Shop, n.Fixture)
		return err
	})
	opened.LengthUnit = cmp.Or(n.LengthUnit, opened.Planter.LengthUnit)
	opened.AreaUnit = cmp.Or(n.AreaUnit, opened.Planter.AreaUnit)
	if n.PlantedArea != nil {
		hectares := opened.AreaUnit.Hectares(*n.PlantedArea)
		opened.Hectares = &hectares
	}
	opened.Reach = opened.Planter.Reach
	if n.Reach != nil {
		opened.Reach = *n.Reach
	}
	return opened, err
}

// stylesOf asks the adjusters whether they serve every row of a planter, and copies its styles.
func (f *Flow) stylesOf(ctx context.Context, planter leveling.Planter, v leveling.Voice) (map[string]leveling.Style, error) {
	groups := byStyle(planter.Mechanisms, fittedRows(planter.Rows))
	each(groups, func(g *styleGroup) error { return g.ask(ctx, f.Mechanisms, v) })
	if err := firstError(groups); err != nil {
		return nil, err
	}
	styles := map[string]leveling.Style{}
	for _, g := range groups {
		g.style.FiguresSchema, g.style.SettingSchema = "", ""
		styles[g.id] = g.style
	}
	return styles, nil
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
	return f.jobAt(ctx, key, 0)
}

// jobAt returns a job as it was at a revision; 0 is its last.
func (f *Flow) jobAt(ctx context.Context, key JobKey, revision int) (JobView, error) {
	return f.jobAnd(ctx, key, revision, func(View, JobView) error { return nil })
}

// jobAnd is jobAt that has others read what belongs to the job, on the same view.
func (f *Flow) jobAnd(ctx context.Context, key JobKey, revision int, also func(View, JobView) error) (j JobView, err error) {
	err = f.Store.Read(ctx, func(view View) (err error) {
		if j, err = f.folded.job(view, key, revision); err != nil {
			return err
		}
		return also(view, j)
	})
	if err != nil {
		return JobView{}, err
	}
	if j.State.Revision == j.Head.Revision {
		f.folded.put(j)
	}
	j.Head = headOf(j.Head, j.State)
	return j, nil
}

// JobAndLog returns a job with its events as they are stored.
func (f *Flow) JobAndLog(ctx context.Context, key JobKey) (j JobView, log [][]byte, err error) {
	j, err = f.jobAnd(ctx, key, 0, func(view View, _ JobView) (err error) {
		log, err = view.Log(key)
		return err
	})
	return j, log, err
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
		page, err := view.Jobs(who.Shop, planter, q)
		if err != nil {
			return nil, err
		}
		return page, f.markChanged(view, page)
	})
}

// markChanged marks those of a list that were signed and are no longer what was signed. One of them fails nobody's list.
func (f *Flow) markChanged(view View, page []JobHead) error {
	for i := range page {
		head := &page[i]
		if head.Stage != job.StageSigned {
			continue
		}
		_, _, err := f.folded.seals.read(view, *head)
		if head.Changed = isChanged(err); err != nil && !head.Changed {
			return err
		}
	}
	return nil
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
		now, err := f.folded.job(view, key, 0)
		if err != nil {
			return err
		}
		log.Events, err = view.Events(key, after, limit)
		log.Opened, log.StruckBy = now.State.Opened, struckBy(now.State, log.Events)
		log.More = len(log.Events) > 0 && log.Events[len(log.Events)-1].Revision < now.State.Revision
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

// appending is one write to a job's log. build is given the job as it is then; its events need neither
// revision nor time. then, if any, does what belongs to the same transaction.
type appending struct {
	key    JobKey
	method string
	req    Request
	by     Writer
	anew   bool // the job is read anew, whatever is remembered of it
	build  func(tx Tx, s *job.State, now leveling.Micros) ([]job.Event, error)
	then   func(tx Tx, next *job.State, now leveling.Micros) error
}

// append checks, builds and appends events in one transaction. The log itself tells a repeat of a request,
// which is answered as the first time and does nothing, and another request under the same id, which is an
// Exists error.
func (f *Flow) append(ctx context.Context, who Caller, a appending) (Appended, error) {
	if err := a.req.check(); err != nil {
		return Appended{}, err
	}
	var done Appended
	var longer *job.Longer
	err := f.Store.Write(ctx, func(tx Tx) (err error) {
		now := f.Now()
		if done, longer, err = a.write(tx, f, now); err != nil || longer == nil {
			return err
		}
		if a.then != nil {
			done.State = longer.State()
			if err := a.then(tx, done.State, now); err != nil {
				return err
			}
		}
		if err := tell(tx, done.Head, done.Events); err != nil {
			return err
		}
		return tx.PutAudit(who.did(a.method, jobName(a.key), a.req.LogID, now))
	})
	if err != nil {
		return Appended{}, err
	}
	if longer == nil {
		return f.asWritten(ctx, a.key, done.Events)
	}
	if done.State == nil { // what follows is worked out here, where no other writer waits for it
		done.State = longer.State()
	}
	f.folded.put(done.JobView)
	return done, nil
}

// write appends to the job as it is remembered, which may be behind: then nothing was written, and it is
// read and written to again. A repeat has no longer log, and the events of the first time.
func (a appending) write(tx Tx, f *Flow, now leveling.Micros) (Appended, *job.Longer, error) {
	if a.anew {
		f.folded.forget(a.key)
	}
	if known, ok := f.folded.last(a.key); ok {
		if done, longer, err := a.onto(tx, known, now); err == nil {
			return done, longer, nil
		}
	}
	present, err := f.folded.job(tx, a.key, 0)
	if err != nil {
		return Appended{}, nil, err
	}
	return a.onto(tx, present, now)
}

func (a appending) onto(tx Tx, at JobView, now leveling.Micros) (Appended, *job.Longer, error) {
	if first, repeat, err := a.repeats(at.State); err != nil || repeat {
		return Appended{Events: first}, nil, err
	}
	events, err := a.build(tx, at.State, now)
	if err != nil {
		return Appended{}, nil, err
	}
	a.stamp(events, at.State.Revision, now)
	if err := at.State.Room(events); err != nil {
		return Appended{}, nil, err
	}
	longer, err := at.State.Extend(events...)
	if err != nil {
		return Appended{}, nil, err
	}
	head := at.Head
	head.Revision, head.Stage, head.UpdateTime = longer.Revision, longer.Stage, longer.UpdateTime
	if err := tx.Append(head, events); err != nil {
		return Appended{}, nil, err
	}
	return Appended{JobView: JobView{Head: head}, Events: events}, longer, nil
}

// repeats returns what the request wrote the first time, if it did.
func (a appending) repeats(s *job.State) (first []job.Event, repeat bool, err error) {
	if a.req.ID == "" {
		return nil, false, nil
	}
	first, hash := s.Wrote(a.req.ID)
	if len(first) > 0 && hash != a.req.BodyHash {
		return nil, false, reused(a.req.ID)
	}
	return first, len(first) > 0, nil
}

// stamp gives events their revisions, times, person and request.
func (a appending) stamp(events []job.Event, after int, now leveling.Micros) {
	var req *job.Request
	if a.req.ID != "" {
		req = &job.Request{ID: a.req.ID, Hash: a.req.BodyHash}
	}
	for i := range events {
		e := &events[i]
		e.Revision, e.CreateTime, e.EventTime, e.Person, e.Request = after+1+i, now, a.by.EventTime, a.by.Person, req
	}
}

// asWritten gives the answer of an earlier write again: the state follows from the log.
func (f *Flow) asWritten(ctx context.Context, key JobKey, events []job.Event) (Appended, error) {
	j, err := f.jobAt(ctx, key, events[len(events)-1].Revision)
	return Appended{JobView: j, Events: events}, err
}

// AddReadings appends readings.
func (f *Flow) AddReadings(ctx context.Context, who Caller, key JobKey, req Request, by Writer, readings []job.Reading) (Appended, error) {
	return f.append(ctx, who, appending{key: key, method: "AddReadings", req: req, by: by, build: func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		return events(readings, func(r job.Reading) job.Event { return job.Event{Reading: &r} }), s.CheckReadings(readings)
	}})
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
	return f.append(ctx, who, appending{key: key, method: "ChangeParts", req: req, by: by, build: func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		return events(changes, func(c job.PartChange) job.Event { return job.Event{PartChange: &c} }), s.CheckPartChanges(changes)
	}})
}

// AddInspections appends inspections; whether a part is worn follows from its point's limit where it has
// one.
func (f *Flow) AddInspections(ctx context.Context, who Caller, key JobKey, req Request, by Writer, inspections []job.Inspection) (Appended, error) {
	return f.append(ctx, who, appending{key: key, method: "AddInspections", req: req, by: by, build: func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		if err := s.CheckInspections(inspections); err != nil {
			return nil, err
		}
		return events(inspections, func(i job.Inspection) job.Event {
			judged := s.JudgeInspection(i)
			return job.Event{Inspection: &judged}
		}), nil
	}})
}

// AddNotes appends notes.
func (f *Flow) AddNotes(ctx context.Context, who Caller, key JobKey, req Request, by Writer, notes []job.Note) (Appended, error) {
	return f.append(ctx, who, appending{key: key, method: "AddNotes", req: req, by: by, build: func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		return events(notes, func(n job.Note) job.Event { return job.Event{Note: &n} }), s.CheckNotes(notes)
	}})
}

// StrikeEvents takes earlier events out of force.
func (f *Flow) StrikeEvents(ctx context.Context, who Caller, key JobKey, req Request, by Writer, strikes []job.Strike) (Appended, error) {
	return f.append(ctx, who, appending{key: key, method: "StrikeEvents", req: req, by: by, build: func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		return events(strikes, func(x job.Strike) job.Event { return job.Event{Strike: &x} }), s.CheckStrikes(strikes)
	}})
}

// TickCautions ticks cautions, by a named person.
func (f *Flow) TickCautions(ctx context.Context, who Caller, key JobKey, req Request, by Writer, ticks []job.Tick) (Appended, error) {
	return f.append(ctx, who, appending{key: key, method: "TickCautions", req: req, by: by, build: func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		return events(ticks, func(t job.Tick) job.Event { return job.Event{Tick: &t} }), s.CheckTicks(by.Person, ticks)
	}})
}

// VoidJob closes a job that came to nothing.
func (f *Flow) VoidJob(ctx context.Context, who Caller, key JobKey, req Request, by Writer, reason string) (Appended, error) {
	return f.append(ctx, who, appending{key: key, method: "VoidJob", req: req, by: by, build: func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		return []job.Event{{Voided: &job.Voided{Reason: reason}}}, s.CheckVoid(reason)
	}})
}

// SignJob signs a job whose etag the caller has seen, and takes what it taught back to the planter.
func (f *Flow) SignJob(ctx context.Context, who Caller, key JobKey, req Request, by Writer, etag string, exceptions []job.Exception) (Appended, error) {
	signing := appending{key: key, method: "SignJob", req: req, by: by, anew: true} // what is signed is what is stored
	signing.build = func(tx Tx, s *job.State, now leveling.Micros) ([]job.Event, error) {
		if err := checkEtag(etag, s.Revision, "etag"); err != nil {
			return nil, err
		}
		if err := s.CheckSign(by.Person, exceptions); err != nil {
			return nil, err
		}
		log, err := tx.Log(key)
		if err != nil {
			return nil, err
		}
		last := []job.Event{{Signed: &job.Signed{Exceptions: exceptions}}}
		signing.stamp(last, s.Revision, now)
		return last, last[0].Seal(jobName(key), log)
	}
	signing.then = func(tx Tx, next *job.State, now leveling.Micros) error {
		planter, err := tx.Planter(who.Shop, key.Planter)
		if err != nil {
			return err
		}
		taught := next.Teach(planter)
		taught.Revision, taught.UpdateTime = planter.Revision+1, now
		return tx.PutPlanter(who.Shop, taught)
	}
	return f.append(ctx, who, signing)
}

// groupsOf asks the adjusters for the options of every row of a job as it stands.
func (f *Flow) groupsOf(ctx context.Context, s *job.State, v leveling.Voice) ([]*styleGroup, error) {
	rows := make([]fittedRow, len(s.Rows))
	for i, row := range s.Rows {
		rows[i] = fittedRow{number: row.Row, mechanism: row.Mechanism, setting: row.Setting}
	}
	groups := byStyle(s.Opened.Planter.Mechanisms, rows)
	each(groups, func(g *styleGroup) error { return g.ask(ctx, f.Mechanisms, v) })
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
