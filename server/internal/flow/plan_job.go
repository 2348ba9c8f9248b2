package flow

import (
	"context"
	"sync"
	"time"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// PlanJob computes a plan from a job whose etag the caller has seen, and issues it; with dry it is only
// computed. aim nil is the job's own.
func (f *Flow) PlanJob(ctx context.Context, who Caller, key JobKey, req Request, by Writer, etag string, ask job.Ask, dry bool) (Appended, error) {
	issued, seen, err := f.planOf(ctx, key, etag, ask)
	if err == nil && dry {
		return Appended{JobView: seen, Events: []job.Event{{Issued: &issued, Person: by.Person}}}, nil
	}
	return f.append(ctx, who, appending{key: key, method: "PlanJob", req: req, by: by, build: func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		if err != nil {
			return nil, err
		}
		return []job.Event{{Issued: &issued}}, checkEtag(etag, s.Revision, "etag")
	}})
}

func (f *Flow) planOf(ctx context.Context, key JobKey, etag string, ask job.Ask) (job.Issued, JobView, error) {
	view, err := f.Job(ctx, key)
	if err != nil {
		return job.Issued{}, JobView{}, err
	}
	if err := checkEtag(etag, view.State.Revision, "etag"); err != nil {
		return job.Issued{}, JobView{}, err
	}
	if err := view.State.CheckPlan(ask); err != nil {
		return job.Issued{}, JobView{}, err
	}
	groups, err := f.groupsOf(ctx, view.State, view.State.Voice(ask.Language))
	if err != nil {
		return job.Issued{}, JobView{}, err
	}
	options, refused := optionsOf(groups)
	if err := refused.Err(); err != nil {
		return job.Issued{}, JobView{}, err
	}
	problem, free := view.State.Problem(options, ask)
	var asked []string
	if free && view.State.PlanRevision > 0 {
		asked = append(asked, catalogue.In(problem.Voice.Language).choseAnew)
	}
	answer, err := f.worded(ctx, f.planner.Compute(problem), groups, problem.Voice, asked)
	if err != nil {
		return job.Issued{}, JobView{}, err
	}
	issued := job.Issued{Plan: answer.Plan, Aim: problem.Aim, Free: free}
	for _, move := range answer.Moves {
		issued.Says = append(issued.Says, job.IssuedMove(move))
	}
	return issued, view, nil
}

// WatchJob sends what came after a revision, then what comes, until ctx ends or send fails. beat is called
// in place of send when nothing came for a while, and at once where nothing came yet or others are sent what they have
// missed first, so that the reader knows that the watch stands.
func (f *Flow) WatchJob(ctx context.Context, key JobKey, after int, pause func() <-chan time.Time, send func(Appended) error, beat func() error) (err error) {
	changed, cancel := f.Store.Subscribe(key)
	defer cancel()
	if after, err = f.catchUp(ctx, key, after, pause, send, beat); err != nil {
		return err
	}
	told := after
	for {
		select {
		case told = <-changed:
		case <-pause():
			if err := beat(); err != nil {
				return err
			}
		case <-ctx.Done():
			return ctx.Err()
		}
		for more := true; more; {
			news, err := f.news(ctx, key, after, told)
			if err != nil {
				return err
			}
			if more = news.More; len(news.Events) == 0 {
				break
			}
			if err := send(news); err != nil {
				return err
			}
			after = news.Last()
		}
	}
}

// catchUp sends what a new watcher has missed, page by page, and returns how far. Few do so at once: that bounds what is in
// memory for readers who take it slowly, however many there are.
func (f *Flow) catchUp(ctx context.Context, key JobKey, after int, pause func() <-chan time.Time, send func(Appended) error, beat func() error) (int, error) {
	now, err := f.jobAt(ctx, key, 0)
	if err != nil {
		return after, err
	}
	leave, err := f.catching.of(now.State).enter(ctx, pause, beat)
	if err != nil {
		return after, err
	}
	defer leave()
	for first := true; ; first = false {
		news, err := f.news(ctx, key, after, 0)
		if err != nil {
			return after, err
		}
		if len(news.Events) == 0 {
			if first {
				err = beat()
			}
			return after, err
		}
		if err := send(news); err != nil {
			return after, err
		}
		if after = news.Last(); !news.More {
			return after, nil
		}
	}
}

// How many watchers are sent what they have missed at once. Of jobs whose log is over largeJob bytes it is one: each of
// their messages is as large as one may be, and is there several times on its way.
const (
	mostCatching      = 32
	mostCatchingLarge = 1
	largeJob          = 1 << 20
)

// catching are the slots. Large jobs have their own, so that nobody else waits for them. The zero value works.
type catching struct {
	once         sync.Once
	usual, large slots
}

// of gives the slots for a job.
func (c *catching) of(s *job.State) slots {
	c.once.Do(func() { c.usual, c.large = make(slots, mostCatching), make(slots, mostCatchingLarge) })
	if s.Bytes() > largeJob {
		return c.large
	}
	return c.usual
}

type slots chan struct{}

// enter waits for a slot until ctx ends. Whoever has to wait hears a beat at once and after each pause.
func (s slots) enter(ctx context.Context, pause func() <-chan time.Time, beat func() error) (leave func(), err error) {
	leave = func() { <-s }
	select {
	case s <- struct{}{}:
		return leave, nil
	default:
	}
	for {
		if err := beat(); err != nil {
			return nil, err
		}
		select {
		case s <- struct{}{}:
			return leave, nil
		case <-pause():
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

// What one message of a watch holds at most, but for a single event that is larger.
const (
	mostNews      = 250
	mostNewsBytes = 1 << 20
)

// page cuts events after the last that a message has room for.
func page(events []job.Event) []job.Event {
	bytes := 0
	for i := range events {
		if bytes += events[i].Size(); i > 0 && (i == mostNews || bytes > mostNewsBytes) {
			return events[:i]
		}
	}
	return events
}

// news are the events after a revision, as many as go into one message, and the job as it is now: as another watcher has
// read them if they go as far as has been told, so that hundreds of watchers read a new event once.
func (f *Flow) news(ctx context.Context, key JobKey, after, told int) (Appended, error) {
	if a, ok := f.read.last(key, after); ok && told > 0 && a.State.Revision >= told {
		return a, nil
	}
	var a Appended
	var err error
	a.JobView, err = f.jobAnd(ctx, key, 0, func(view View, j JobView) (err error) {
		if j.State.Revision > after {
			a.Events, err = view.Events(key, after, min(j.State.Revision-after, mostNews))
		}
		return err
	})
	if err != nil || len(a.Events) == 0 {
		return a, err
	}
	a.Events = page(a.Events)
	a.More = after+len(a.Events) < a.State.Revision
	f.read.put(key, after, a)
	return a, nil
}

// mostRead is how many jobs' news are kept: more jobs than many watch at once.
const mostRead = 128

// readNews remembers what watchers have last read of each job. The zero value works.
type readNews struct {
	mu   sync.Mutex
	jobs bounded[JobKey, readAfter]
}

type readAfter struct {
	after int
	news  Appended
}

func (r *readNews) last(key JobKey, after int) (Appended, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	last, ok := r.jobs[key]
	return last.news, ok && last.after == after
}

func (r *readNews) put(key JobKey, after int, news Appended) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.jobs.put(key, readAfter{after, news}, mostRead)
}
