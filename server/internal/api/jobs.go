package api

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"google.golang.org/grpc"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// Jobs serves rowdatum.v1.JobService.
type Jobs struct {
	pb.UnimplementedJobServiceServer
	Flow     *flow.Flow
	Stopping <-chan struct{} // closed when the service stops: watchers are let go
	Watch    WatchTimes
	said     said
	sheets   chan struct{} // a slot for each that is being written
}

// WatchTimes are the times of a watch; the zero value works.
type WatchTimes struct {
	Beat time.Duration // so often a heartbeat comes where nothing else does; 15 s
	Slow time.Duration // a reader that takes a message no sooner is cut off; 10 s
}

// CreateJob implements JobService.
func (s *Jobs) CreateJob(ctx context.Context, req *pb.CreateJobRequest) (*pb.Job, error) {
	ids, err := parseName("parent", req.GetParent(), planterPattern)
	if err != nil {
		return nil, err
	}
	n, err := newJobOf(req)
	if err != nil {
		return nil, err
	}
	n.Planter = ids[0]
	view, err := s.Flow.CreateJob(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), writer(ctx, req.GetPerson(), 0), n)
	if err != nil {
		return nil, err
	}
	return jobProto(view, languageOf(ctx))
}

func newJobOf(req *pb.CreateJobRequest) (flow.NewJob, error) {
	var v leveling.Violations
	v.Words("person", req.GetPerson(), 0, leveling.MaxExternalIDSize)
	j := req.GetJob()
	n := flow.NewJob{WantedID: req.GetJobId(), FindBy: req.GetFindBy(), WorkOrder: j.GetWorkOrder(), ExternalIDs: j.GetExternalIds(), Aim: aimOf("job.aim", j.GetAim(), leveling.DefaultAim(), &v)}
	if name := j.GetFixture(); name != "" {
		ids, err := parseName("job.fixture", name, fixturePattern)
		if err != nil {
			return n, err
		}
		n.Fixture = ids[0]
	}
	if r := j.GetReach(); r != nil {
		reach := reachOf(r)
		n.Reach = &reach
	}
	if j != nil {
		n.Hectares, n.PlantedArea = j.Hectares, j.PlantedArea
	}
	n.LengthUnit = lengthUnit("job.lengthUnit", j.GetLengthUnit(), &v)
	n.AreaUnit = areaUnit("job.areaUnit", j.GetAreaUnit(), &v)
	switch j.GetVerify() {
	case pb.Job_VERIFY_UNSPECIFIED, pb.Job_MOVED:
		n.Verify = job.VerifyMoved
	case pb.Job_WHEN_NEEDED:
		n.Verify = job.VerifyWhenNeeded
	default:
		v.Add("job.verify", "is %d, must be MOVED or WHEN_NEEDED", j.GetVerify())
	}
	return n, v.Err()
}

// writer is who appends: the person named, else the key's label.
func writer(ctx context.Context, person string, at leveling.Micros) flow.Writer {
	if person == "" {
		person = callerOf(ctx).Label
	}
	return flow.Writer{Person: person, EventTime: at}
}

// GetJob implements JobService.
func (s *Jobs) GetJob(ctx context.Context, req *pb.GetJobRequest) (*pb.Job, error) {
	key, err := jobKey(callerOf(ctx), "name", req.GetName())
	if err != nil {
		return nil, err
	}
	view, err := s.Flow.Job(ctx, key)
	if err != nil {
		return nil, err
	}
	return jobProto(view, languageOf(ctx))
}

// ListJobs implements JobService.
func (s *Jobs) ListJobs(ctx context.Context, req *pb.ListJobsRequest) (*pb.ListJobsResponse, error) {
	ids, err := parseName("parent", req.GetParent(), planterPattern)
	if err != nil {
		return nil, err
	}
	if ids[0] == "-" {
		ids[0] = ""
	}
	scope := "jobs of " + ids[0]
	q, err := page(req, fewToAPage, scope, "stage", "workOrder", "externalIds.")
	if err != nil {
		return nil, err
	}
	if err := words(q, "stage", map[string]job.Stage{"OPEN": job.StageOpen, "SIGNED": job.StageSigned, "VOIDED": job.StageVoided}); err != nil {
		return nil, err
	}
	heads, more, err := s.Flow.Jobs(ctx, callerOf(ctx), ids[0], q)
	if err != nil {
		return nil, err
	}
	out := &pb.ListJobsResponse{}
	for _, head := range heads {
		out.Jobs = append(out.Jobs, headProto(head))
	}
	if more {
		out.NextPageToken = nextToken(req, scope, heads[len(heads)-1].Place())
	}
	return out, nil
}

// eventsToAPage bounds a page of events.
var eventsToAPage = bounds{200, 1000}

// ListJobEvents implements JobService.
func (s *Jobs) ListJobEvents(ctx context.Context, req *pb.ListJobEventsRequest) (*pb.ListJobEventsResponse, error) {
	key, err := jobKey(callerOf(ctx), "parent", req.GetParent())
	if err != nil {
		return nil, err
	}
	scope := "events of " + req.GetParent()
	q, err := page(req, eventsToAPage, scope)
	if err != nil {
		return nil, err
	}
	after := 0
	if q.After != "" {
		if after, err = strconv.Atoi(q.After); err != nil {
			return nil, fmt.Errorf("reading a page token of ours: %w", err)
		}
	}
	log, err := s.Flow.JobEvents(ctx, key, after, q.Limit)
	if err != nil {
		return nil, err
	}
	out := &pb.ListJobEventsResponse{}
	if out.Events, err = eventsProto(log.Events, log.Opened, log.StruckBy); err != nil {
		return nil, err
	}
	if log.More {
		out.NextPageToken = nextToken(req, scope, strconv.Itoa(log.Events[len(log.Events)-1].Revision))
	}
	return out, nil
}

// append reads what every appending request has, lets do append, and answers.
func (s *Jobs) append(ctx context.Context, req appending, at leveling.Micros, v leveling.Violations,
	do func(who flow.Caller, key flow.JobKey, r flow.Request, by flow.Writer) (flow.Appended, error)) (*pb.AppendResponse, error) {
	who := callerOf(ctx)
	key, err := jobKey(who, "name", req.GetName())
	if err != nil {
		return nil, err
	}
	v.Words("person", req.GetPerson(), 0, leveling.MaxExternalIDSize)
	if err := v.Err(); err != nil {
		return nil, err
	}
	done, err := do(who, key, requestOf(ctx, req.GetRequestId(), req), writer(ctx, req.GetPerson(), at))
	if err != nil {
		return nil, err
	}
	return appendedProto(done, languageOf(ctx))
}

// AddReadings implements JobService.
func (s *Jobs) AddReadings(ctx context.Context, req *pb.AddReadingsRequest) (*pb.AppendResponse, error) {
	var v leveling.Violations
	at := timeOf("eventTime", req.GetEventTime(), &v)
	readings := readingsOf(req.GetReadings(), &v)
	return s.append(ctx, req, at, v, func(who flow.Caller, key flow.JobKey, r flow.Request, by flow.Writer) (flow.Appended, error) {
		return s.Flow.AddReadings(ctx, who, key, r, by, readings)
	})
}

// AddMoves implements JobService.
func (s *Jobs) AddMoves(ctx context.Context, req *pb.AddMovesRequest) (*pb.AppendResponse, error) {
	var v leveling.Violations
	at := timeOf("eventTime", req.GetEventTime(), &v)
	var moves []flow.MoveAsked
	for i, m := range req.GetMoves() {
		path := fmt.Sprintf("moves[%d].", i)
		asked := flow.MoveAsked{Row: int(m.GetRow()), Count: m.Count, SettingBefore: object(path+"settingBefore", m.GetSettingBefore(), "", &v),
			SettingAfter: object(path+"settingAfter", m.GetSettingAfter(), "", &v)}
		if m.AfterMove != nil {
			after := int(*m.AfterMove)
			asked.AfterMove = &after
		}
		moves = append(moves, asked)
	}
	return s.append(ctx, req, at, v, func(who flow.Caller, key flow.JobKey, r flow.Request, by flow.Writer) (flow.Appended, error) {
		return s.Flow.AddMoves(ctx, who, key, r, by, moves)
	})
}

// ChangeParts implements JobService.
func (s *Jobs) ChangeParts(ctx context.Context, req *pb.ChangePartsRequest) (*pb.AppendResponse, error) {
	var v leveling.Violations
	at := timeOf("eventTime", req.GetEventTime(), &v)
	changes := each(req.GetPartChanges(), func(c *pb.PartChange) job.PartChange {
		return job.PartChange{Row: int(c.GetRow()), Part: c.GetPart()}
	})
	return s.append(ctx, req, at, v, func(who flow.Caller, key flow.JobKey, r flow.Request, by flow.Writer) (flow.Appended, error) {
		return s.Flow.ChangeParts(ctx, who, key, r, by, changes)
	})
}

// AddInspections implements JobService.
func (s *Jobs) AddInspections(ctx context.Context, req *pb.AddInspectionsRequest) (*pb.AppendResponse, error) {
	var v leveling.Violations
	at := timeOf("eventTime", req.GetEventTime(), &v)
	inspections := each(req.GetInspections(), func(i *pb.Inspection) job.Inspection {
		return job.Inspection{Row: int(i.GetRow()), Point: i.GetPoint(), Value: i.Value, Worn: i.GetWorn(), Comment: i.GetComment()}
	})
	return s.append(ctx, req, at, v, func(who flow.Caller, key flow.JobKey, r flow.Request, by flow.Writer) (flow.Appended, error) {
		return s.Flow.AddInspections(ctx, who, key, r, by, inspections)
	})
}

// AddNotes implements JobService.
func (s *Jobs) AddNotes(ctx context.Context, req *pb.AddNotesRequest) (*pb.AppendResponse, error) {
	var v leveling.Violations
	at := timeOf("eventTime", req.GetEventTime(), &v)
	notes := each(req.GetNotes(), func(n *pb.Note) job.Note { return job.Note{Row: int(n.GetRow()), Text: n.GetText()} })
	return s.append(ctx, req, at, v, func(who flow.Caller, key flow.JobKey, r flow.Request, by flow.Writer) (flow.Appended, error) {
		return s.Flow.AddNotes(ctx, who, key, r, by, notes)
	})
}

// StrikeEvents implements JobService.
func (s *Jobs) StrikeEvents(ctx context.Context, req *pb.StrikeEventsRequest) (*pb.AppendResponse, error) {
	var v leveling.Violations
	at := timeOf("eventTime", req.GetEventTime(), &v)
	strikes := each(req.GetStrikes(), func(x *pb.Strike) job.Strike {
		return job.Strike{Revision: int(x.GetRevision()), Reason: x.GetReason()}
	})
	return s.append(ctx, req, at, v, func(who flow.Caller, key flow.JobKey, r flow.Request, by flow.Writer) (flow.Appended, error) {
		return s.Flow.StrikeEvents(ctx, who, key, r, by, strikes)
	})
}

// TickCautions implements JobService.
func (s *Jobs) TickCautions(ctx context.Context, req *pb.TickCautionsRequest) (*pb.AppendResponse, error) {
	var v leveling.Violations
	at := timeOf("eventTime", req.GetEventTime(), &v)
	v.Words("person", req.GetPerson(), 1, leveling.MaxExternalIDSize)
	ticks := each(req.GetTicks(), func(t *pb.CautionTick) job.Tick { return job.Tick{Caution: t.GetCaution()} })
	return s.append(ctx, req, at, v, func(who flow.Caller, key flow.JobKey, r flow.Request, by flow.Writer) (flow.Appended, error) {
		return s.Flow.TickCautions(ctx, who, key, r, by, ticks)
	})
}

// PlanJob implements JobService.
func (s *Jobs) PlanJob(ctx context.Context, req *pb.PlanJobRequest) (*pb.AppendResponse, error) {
	var v leveling.Violations
	return s.append(ctx, req, 0, v, func(who flow.Caller, key flow.JobKey, r flow.Request, by flow.Writer) (flow.Appended, error) {
		ask := job.Ask{Replan: req.GetReplan(), Language: languageOf(ctx)}
		if req.GetAim() != nil {
			view, err := s.Flow.Job(ctx, key)
			if err != nil {
				return flow.Appended{}, err
			}
			aim := aimOf("aim", req.GetAim(), view.State.Opened.Aim, &v)
			if err := v.Err(); err != nil {
				return flow.Appended{}, err
			}
			ask.Aim = &aim
		}
		return s.Flow.PlanJob(ctx, who, key, r, by, req.GetEtag(), ask, req.GetValidateOnly())
	})
}

// SignJob implements JobService.
func (s *Jobs) SignJob(ctx context.Context, req *pb.SignJobRequest) (*pb.AppendResponse, error) {
	var v leveling.Violations
	v.Words("person", req.GetPerson(), 1, leveling.MaxExternalIDSize)
	exceptions := each(req.GetExceptions(), func(x *pb.Exception) job.Exception {
		return job.Exception{Row: int(x.GetRow()), Unproven: x.GetUnproven(), Reason: x.GetReason()}
	})
	return s.append(ctx, req, 0, v, func(who flow.Caller, key flow.JobKey, r flow.Request, by flow.Writer) (flow.Appended, error) {
		return s.Flow.SignJob(ctx, who, key, r, by, req.GetEtag(), exceptions)
	})
}

// VoidJob implements JobService.
func (s *Jobs) VoidJob(ctx context.Context, req *pb.VoidJobRequest) (*pb.AppendResponse, error) {
	return s.append(ctx, req, 0, nil, func(who flow.Caller, key flow.JobKey, r flow.Request, by flow.Writer) (flow.Appended, error) {
		return s.Flow.VoidJob(ctx, who, key, r, by, req.GetReason())
	})
}

// WatchJob implements JobService.
func (s *Jobs) WatchJob(req *pb.WatchJobRequest, stream grpc.ServerStreamingServer[pb.WatchJobResponse]) error {
	var v leveling.Violations
	if req.GetAfterRevision() < 0 {
		v.Add("afterRevision", "is %d, must be 0 or more", req.GetAfterRevision())
	}
	if err := v.Err(); err != nil {
		return err
	}
	key, err := jobKey(callerOf(stream.Context()), "name", req.GetName())
	if err != nil {
		return err
	}
	return s.watch(stream, key, int(req.GetAfterRevision()))
}
