package main

import (
	"context"
	"io"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// scene is a shop with one job at each stage. What is refused leaves it as it is.
type scene struct {
	open, bare, signed, voided *pb.Job // bare is not read yet; open is planned, and row 2 must still be moved
	used, usedToAdd            string  // request ids that were used: on the open job's log, and to add the fixture
}

const scenePlanter = "planters/north"

func setScene(t *testing.T, w way) *scene {
	t.Helper()
	ctx := t.Context()
	appended := must[*pb.AppendResponse](t)
	s := &scene{used: newRequestID(), usedToAdd: newRequestID()}
	must[*pb.Planter](t)(w.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: handles(4), PlanterId: "north"}))
	must[*pb.Fixture](t)(w.fixtures().CreateFixture(ctx, &pb.CreateFixtureRequest{Fixture: box(), FixtureId: "box", RequestId: s.usedToAdd}))
	must[*pb.Planter](t)(w.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: handles(2), PlanterId: "south"}))
	for _, planter := range []string{scenePlanter, "planters/south"} {
		must[*pb.Dig](t)(w.digs().CreateDig(ctx, &pb.CreateDigRequest{Parent: planter, Dig: someDig(), DigId: "corner"}))
	}
	jobs := w.jobs()
	for id, to := range map[string]**pb.Job{"open": &s.open, "bare": &s.bare, "signed": &s.signed, "voided": &s.voided} {
		*to = must[*pb.Job](t)(jobs.CreateJob(ctx, &pb.CreateJobRequest{Parent: scenePlanter, Job: &pb.Job{}, JobId: id}))
	}
	s.voided = appended(jobs.VoidJob(ctx, &pb.VoidJobRequest{Name: s.voided.Name, Reason: "came to nothing"})).Job
	for _, job := range []**pb.Job{&s.open, &s.signed} {
		readings := append(inMM(1, 0, 50, 50), inMM(3, 0, 50, 50)...)
		appended(jobs.AddReadings(ctx, &pb.AddReadingsRequest{Name: (*job).Name, Readings: append(readings, inMM(4, 0, 50, 50)...)}))
		row2 := 50.0
		if job == &s.open {
			row2 = 38
		}
		read := appended(jobs.AddReadings(ctx, &pb.AddReadingsRequest{Name: (*job).Name, Readings: inMM(2, 0, row2, row2)})).Job
		*job = appended(jobs.PlanJob(ctx, &pb.PlanJobRequest{Name: read.Name, Etag: read.Etag})).Job
	}
	ticked := appended(jobs.TickCautions(ctx, &pb.TickCautionsRequest{Name: s.signed.Name, Person: ada, Ticks: allTicks(s.signed)})).Job
	s.signed = appended(jobs.SignJob(ctx, &pb.SignJobRequest{Name: ticked.Name, Etag: ticked.Etag, Person: ada})).Job
	noted := appended(jobs.AddNotes(ctx, &pb.AddNotesRequest{Name: s.open.Name, RequestId: s.used, Notes: []*pb.Note{{Text: "first"}}}))
	s.open = noted.Job
	return s
}

func allTicks(job *pb.Job) (ticks []*pb.CautionTick) {
	for _, c := range job.State.Cautions {
		ticks = append(ticks, &pb.CautionTick{Caution: c.Id})
	}
	return ticks
}

// refusal is one call that the contract refuses.
type refusal struct {
	name   string
	call   func(ctx context.Context, w way, s *scene) error
	code   codes.Code
	reason string
	fields []string
}

// only drops an answer that nobody should get.
func only[T any](_ T, err error) error { return err }

// appends are all writes to an open job, each fine but for the job.
var appends = map[string]func(ctx context.Context, j pb.JobServiceClient, job *pb.Job) error{
	"readings": func(ctx context.Context, j pb.JobServiceClient, job *pb.Job) error {
		return only(j.AddReadings(ctx, &pb.AddReadingsRequest{Name: job.Name, Readings: inMM(1, 0, 50)}))
	},
	"a move": func(ctx context.Context, j pb.JobServiceClient, job *pb.Job) error {
		return only(j.AddMoves(ctx, &pb.AddMovesRequest{Name: job.Name, Moves: []*pb.MoveDone{{Row: 1, SettingBefore: turns(8), Count: with(1.0)}}}))
	},
	"a changed part": func(ctx context.Context, j pb.JobServiceClient, job *pb.Job) error {
		return only(j.ChangeParts(ctx, &pb.ChangePartsRequest{Name: job.Name, PartChanges: []*pb.PartChange{{Row: 1, Part: "arm"}}}))
	},
	"an inspection": func(ctx context.Context, j pb.JobServiceClient, job *pb.Job) error {
		return only(j.AddInspections(ctx, &pb.AddInspectionsRequest{Name: job.Name, Inspections: []*pb.Inspection{{Row: 1, Point: "handle-play", Value: with(1.0)}}}))
	},
	"a note": func(ctx context.Context, j pb.JobServiceClient, job *pb.Job) error {
		return only(j.AddNotes(ctx, &pb.AddNotesRequest{Name: job.Name, Notes: []*pb.Note{{Text: "late"}}}))
	},
	"a strike": func(ctx context.Context, j pb.JobServiceClient, job *pb.Job) error {
		return only(j.StrikeEvents(ctx, &pb.StrikeEventsRequest{Name: job.Name, Strikes: []*pb.Strike{{Revision: 1}}}))
	},
	"a tick": func(ctx context.Context, j pb.JobServiceClient, job *pb.Job) error {
		return only(j.TickCautions(ctx, &pb.TickCautionsRequest{Name: job.Name, Person: ada, Ticks: []*pb.CautionTick{{Caution: "park"}}}))
	},
	"a plan": func(ctx context.Context, j pb.JobServiceClient, job *pb.Job) error {
		return only(j.PlanJob(ctx, &pb.PlanJobRequest{Name: job.Name, Etag: job.Etag}))
	},
	"a signature": func(ctx context.Context, j pb.JobServiceClient, job *pb.Job) error {
		return only(j.SignJob(ctx, &pb.SignJobRequest{Name: job.Name, Etag: job.Etag, Person: ada}))
	},
	"a void": func(ctx context.Context, j pb.JobServiceClient, job *pb.Job) error {
		return only(j.VoidJob(ctx, &pb.VoidJobRequest{Name: job.Name, Reason: "again"}))
	},
}

func refusals() []refusal {
	type does = func(ctx context.Context, w way, s *scene) error
	var out []refusal
	say := func(name string, code codes.Code, reason string, call does, fields ...string) {
		out = append(out, refusal{name, call, code, reason, fields})
	}
	invalid := func(name string, call does, fields ...string) {
		say(name, codes.InvalidArgument, "INVALID_REQUEST", call, fields...)
	}
	readings := func(change func(*pb.Reading)) does {
		return func(ctx context.Context, w way, s *scene) error {
			r := inMM(1, 0, 50)
			change(r[0])
			return only(w.jobs().AddReadings(ctx, &pb.AddReadingsRequest{Name: s.open.Name, Readings: r}))
		}
	}
	moves := func(m *pb.MoveDone) does {
		return func(ctx context.Context, w way, s *scene) error {
			return only(w.jobs().AddMoves(ctx, &pb.AddMovesRequest{Name: s.open.Name, Moves: []*pb.MoveDone{m}}))
		}
	}
	update := func(etag string, paths ...string) does {
		return func(ctx context.Context, w way, _ *scene) error {
			return only(w.planters().UpdatePlanter(ctx, &pb.UpdatePlanterRequest{Planter: &pb.Planter{Name: scenePlanter, Owner: "other", Etag: etag},
				UpdateMask: &fieldmaskpb.FieldMask{Paths: paths}}))
		}
	}
	updateFixture := func(etag string, paths ...string) does {
		return func(ctx context.Context, w way, _ *scene) error {
			return only(w.fixtures().UpdateFixture(ctx, &pb.UpdateFixtureRequest{Fixture: &pb.Fixture{Name: "fixtures/box", DisplayName: "other", Etag: etag},
				UpdateMask: &fieldmaskpb.FieldMask{Paths: paths}}))
		}
	}
	plan := func(etag string) does {
		return func(ctx context.Context, w way, s *scene) error {
			return only(w.jobs().PlanJob(ctx, &pb.PlanJobRequest{Name: s.open.Name, Etag: etag}))
		}
	}
	sign := func(etag string) does {
		return func(ctx context.Context, w way, s *scene) error {
			return only(w.jobs().SignJob(ctx, &pb.SignJobRequest{Name: s.open.Name, Etag: etag, Person: ada}))
		}
	}

	for name, call := range map[string]does{"a planter's etag": update(`"99"`, "owner"), "a fixture's etag": updateFixture(`"99"`, "display_name"),
		"a plan's etag": plan(`"2"`), "a signature's etag": sign(`"2"`),
		"a deleted planter's etag": func(ctx context.Context, w way, _ *scene) error {
			return only(w.planters().DeletePlanter(ctx, &pb.DeletePlanterRequest{Name: scenePlanter, Etag: `"99"`}))
		}} {
		say("stale: "+name, codes.Aborted, "STALE_ETAG", call)
	}
	invalid("no etag: a planter", update("", "owner"), "planter.etag")
	invalid("no etag: a fixture", updateFixture("", "display_name"), "fixture.etag")
	invalid("no etag: a plan", plan(""), "etag")
	invalid("no etag: a signature", sign(""), "etag")

	say("stale: settingBefore", codes.Aborted, "STALE_SETTING", moves(&pb.MoveDone{Row: 2, SettingBefore: turns(7), Count: with(1.0)}))
	invalid("no settingBefore", moves(&pb.MoveDone{Row: 2, Count: with(1.0)}), "moves[0].settingBefore")
	invalid("a move that the mechanism cannot make", moves(&pb.MoveDone{Row: 2, SettingBefore: turns(8), Count: with(0.1)}), "moves[0]")
	invalid("a move of no count", moves(&pb.MoveDone{Row: 2, SettingBefore: turns(8)}), "moves[0]")
	invalid("a move of a row that is not there", moves(&pb.MoveDone{Row: 9, SettingBefore: turns(8), Count: with(1.0)}), "moves[0].row")

	invalid("a depth too deep", readings(func(r *pb.Reading) { r.Value = new(300.1) }), "readings[0].value")
	invalid("a depth too deep, in inches", readings(func(r *pb.Reading) { r.Value, r.Unit = new(50.0), pb.LengthUnit_IN }), "readings[0].value")
	invalid("a depth that is not a number", readings(func(r *pb.Reading) { r.Value = new(math.NaN()) }), "readings[0].value")
	invalid("a reading without its number", readings(func(r *pb.Reading) { r.Value = nil }), "readings[0].value")
	invalid("a reading without a unit", readings(func(r *pb.Reading) { r.Unit = 0 }), "readings[0].unit")
	invalid("a reading of a row that is not there", readings(func(r *pb.Reading) { r.Row = 9 }), "readings[0].row")
	invalid("a reading after a move that is not there", readings(func(r *pb.Reading) { r.AfterMove = 2 }), "readings[0].afterMove")
	invalid("no readings", func(ctx context.Context, w way, s *scene) error {
		return only(w.jobs().AddReadings(ctx, &pb.AddReadingsRequest{Name: s.open.Name}))
	}, "readings")
	invalid("a tick by nobody", func(ctx context.Context, w way, s *scene) error {
		return only(w.jobs().TickCautions(ctx, &pb.TickCautionsRequest{Name: s.open.Name, Ticks: []*pb.CautionTick{{Caution: "park"}}}))
	}, "person")
	invalid("a void without a reason", func(ctx context.Context, w way, s *scene) error {
		return only(w.jobs().VoidJob(ctx, &pb.VoidJobRequest{Name: s.open.Name}))
	}, "reason")
	invalid("a request id that is no UUID", func(ctx context.Context, w way, s *scene) error {
		return only(w.jobs().AddNotes(ctx, &pb.AddNotesRequest{Name: s.open.Name, RequestId: "one", Notes: []*pb.Note{{Text: "x"}}}))
	}, "requestId")

	for name, call := range map[string]does{
		"a note": func(ctx context.Context, w way, s *scene) error {
			return only(w.jobs().AddNotes(ctx, &pb.AddNotesRequest{Name: s.open.Name, RequestId: s.used, Notes: []*pb.Note{{Text: "second"}}}))
		},
		"the same note by somebody else": func(ctx context.Context, w way, s *scene) error {
			return only(w.jobs().AddNotes(ctx, &pb.AddNotesRequest{Name: s.open.Name, RequestId: s.used, Person: ben, Notes: []*pb.Note{{Text: "first"}}}))
		},
		"a reading": func(ctx context.Context, w way, s *scene) error {
			return only(w.jobs().AddReadings(ctx, &pb.AddReadingsRequest{Name: s.open.Name, RequestId: s.used, Readings: inMM(1, 0, 50)}))
		},
		"a planter": func(ctx context.Context, w way, s *scene) error {
			return only(w.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: handles(1), RequestId: s.usedToAdd}))
		},
		"a fixture": func(ctx context.Context, w way, s *scene) error {
			return only(w.fixtures().CreateFixture(ctx, &pb.CreateFixtureRequest{Fixture: box(), RequestId: s.usedToAdd}))
		},
		"a job": func(ctx context.Context, w way, s *scene) error {
			return only(w.jobs().CreateJob(ctx, &pb.CreateJobRequest{Parent: scenePlanter, Job: &pb.Job{}, RequestId: s.usedToAdd}))
		}} {
		say("request id used before: "+name, codes.AlreadyExists, "REQUEST_ID_REUSED", call)
	}

	for name, write := range appends {
		say("on a signed job: "+name, codes.FailedPrecondition, "JOB_CLOSED", func(ctx context.Context, w way, s *scene) error { return write(ctx, w.jobs(), s.signed) })
		say("on a voided job: "+name, codes.FailedPrecondition, "JOB_CLOSED", func(ctx context.Context, w way, s *scene) error { return write(ctx, w.jobs(), s.voided) })
		say("on a job that is not there: "+name, codes.NotFound, "JOB_NOT_FOUND", func(ctx context.Context, w way, _ *scene) error {
			return write(ctx, w.jobs(), &pb.Job{Name: scenePlanter + "/jobs/none", Etag: `"1"`})
		})
	}
	say("a strike of the opening", codes.FailedPrecondition, "NOT_STRIKABLE", func(ctx context.Context, w way, s *scene) error { return appends["a strike"](ctx, w.jobs(), s.open) })
	say("a plan of what was not read", codes.FailedPrecondition, "NOTHING_READ", func(ctx context.Context, w way, s *scene) error { return appends["a plan"](ctx, w.jobs(), s.bare) })
	say("a signature while cautions are open", codes.FailedPrecondition, "CAUTIONS_OPEN", func(ctx context.Context, w way, s *scene) error {
		return only(w.jobs().SignJob(ctx, &pb.SignJobRequest{Name: s.open.Name, Etag: s.open.Etag, Person: ada, Exceptions: []*pb.Exception{{Row: 2, Reason: "parts on order"}}}))
	})
	invalid("a signature by nobody", func(ctx context.Context, w way, s *scene) error {
		return only(w.jobs().SignJob(ctx, &pb.SignJobRequest{Name: s.open.Name, Etag: s.open.Etag}))
	}, "person")

	say("a planter's id that is taken", codes.AlreadyExists, "PLANTER_EXISTS", func(ctx context.Context, w way, _ *scene) error {
		return only(w.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: handles(1), PlanterId: "north"}))
	})
	say("a fixture's id that is taken", codes.AlreadyExists, "FIXTURE_EXISTS", func(ctx context.Context, w way, _ *scene) error {
		return only(w.fixtures().CreateFixture(ctx, &pb.CreateFixtureRequest{Fixture: box(), FixtureId: "box"}))
	})
	say("a job's id that is taken", codes.AlreadyExists, "JOB_EXISTS", func(ctx context.Context, w way, _ *scene) error {
		return only(w.jobs().CreateJob(ctx, &pb.CreateJobRequest{Parent: scenePlanter, Job: &pb.Job{}, JobId: "open"}))
	})
	say("deleting a planter with jobs", codes.FailedPrecondition, "PLANTER_HAS_JOBS", func(ctx context.Context, w way, _ *scene) error {
		return only(w.planters().DeletePlanter(ctx, &pb.DeletePlanterRequest{Name: scenePlanter}))
	})
	say("a style that is not installed", codes.FailedPrecondition, "STYLE_NOT_INSTALLED", func(ctx context.Context, w way, _ *scene) error {
		p := handles(1)
		p.Mechanisms[0].Style = "ratchet"
		return only(w.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: p}))
	})
	say("a job with a fixture that is not there", codes.NotFound, "FIXTURE_NOT_FOUND", func(ctx context.Context, w way, _ *scene) error {
		return only(w.jobs().CreateJob(ctx, &pb.CreateJobRequest{Parent: scenePlanter, Job: &pb.Job{Fixture: "fixtures/none"}}))
	})
	invalid("a job opened by a name without end", func(ctx context.Context, w way, _ *scene) error {
		return only(w.jobs().CreateJob(ctx, &pb.CreateJobRequest{Parent: scenePlanter, Job: &pb.Job{}, Person: strings.Repeat("p", 5000)}))
	}, "person")
	invalid("a fixture of no kind", func(ctx context.Context, w way, _ *scene) error {
		return only(w.fixtures().CreateFixture(ctx, &pb.CreateFixtureRequest{Fixture: &pb.Fixture{DisplayName: "Box"}}))
	}, "fixture.kind")
	invalid("a planter with everything wrong", func(ctx context.Context, w way, _ *scene) error {
		return only(w.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{PlanterId: "North!", Planter: &pb.Planter{RowSpacingMm: with(-1.0)}}))
	}, "planter.displayName", "planter.mechanisms", "planter.rowSpacingMm", "planter.rows", "planterId")

	for name, list := range map[string]func(ctx context.Context, w way, size int32, token, filter string) (string, error){
		"planters": func(ctx context.Context, w way, size int32, token, filter string) (string, error) {
			page, err := w.planters().ListPlanters(ctx, &pb.ListPlantersRequest{PageSize: size, PageToken: token, Filter: filter})
			return page.GetNextPageToken(), err
		},
		"fixtures": func(ctx context.Context, w way, size int32, token, filter string) (string, error) {
			page, err := w.fixtures().ListFixtures(ctx, &pb.ListFixturesRequest{PageSize: size, PageToken: token, Filter: filter})
			return page.GetNextPageToken(), err
		},
		"jobs": func(ctx context.Context, w way, size int32, token, filter string) (string, error) {
			page, err := w.jobs().ListJobs(ctx, &pb.ListJobsRequest{Parent: scenePlanter, PageSize: size, PageToken: token, Filter: filter})
			return page.GetNextPageToken(), err
		}} {
		invalid(name+": a bad page token", func(ctx context.Context, w way, _ *scene) error { return only(list(ctx, w, 0, "!", "")) }, "pageToken")
		invalid(name+": a page token of another list", func(ctx context.Context, w way, s *scene) error {
			page, err := w.jobs().ListJobEvents(ctx, &pb.ListJobEventsRequest{Parent: s.open.Name, PageSize: 1})
			if err != nil || page.NextPageToken == "" {
				return err
			}
			return only(list(ctx, w, 0, page.NextPageToken, ""))
		}, "pageToken")
		invalid(name+": a negative page size", func(ctx context.Context, w way, _ *scene) error { return only(list(ctx, w, -1, "", "")) }, "pageSize")
		invalid(name+": a filter of an unknown key", func(ctx context.Context, w way, _ *scene) error { return only(list(ctx, w, 0, "", `colour="red"`)) }, "filter")
		invalid(name+": a filter that cannot be read", func(ctx context.Context, w way, _ *scene) error {
			return only(list(ctx, w, 0, "", `="red"`))
		}, "filter")
	}
	invalid("a page token under another filter", func(ctx context.Context, w way, _ *scene) error {
		page, err := w.jobs().ListJobs(ctx, &pb.ListJobsRequest{Parent: scenePlanter, PageSize: 1})
		if err != nil || page.NextPageToken == "" {
			return err
		}
		return only(w.jobs().ListJobs(ctx, &pb.ListJobsRequest{Parent: scenePlanter, PageSize: 1, PageToken: page.NextPageToken, Filter: "stage=OPEN"}))
	}, "pageToken")
	invalid("a filter of an unknown stage", func(ctx context.Context, w way, _ *scene) error {
		return only(w.jobs().ListJobs(ctx, &pb.ListJobsRequest{Parent: scenePlanter, Filter: "stage=LOST"}))
	}, "filter")
	invalid("a mask of an unknown field", update(`"2"`, "owner", "colour"), "updateMask")
	invalid("a fixture's mask of an unknown field", updateFixture(`"1"`, "colour"), "updateMask")
	return out
}

// TestRefusals makes every call both ways: the answers are the same error. Nothing is changed by any.
func TestRefusals(t *testing.T) {
	t.Parallel()
	service := start(t, bundle())
	ways := waysTo(t, service.addresses)
	s := setScene(t, ways[0])
	before := everything(t, ways[0])
	for _, c := range slices.Concat(refusals(), fieldRefusals()) {
		c.check(t, ways, s)
	}
	unchanged(t, "the shop", before, everything(t, ways[0]))
}

// check makes the call both ways and wants the same refusal.
func (c refusal) check(t *testing.T, ways [2]way, s *scene) {
	t.Run(c.name, func(t *testing.T) {
		var answers [2]*status.Status
		for i, w := range ways {
			err := c.call(t.Context(), w, s)
			wantReason(t, w.name, err, c.code, c.reason)
			answers[i] = status.Convert(err)
			checkError(t, w.name, answers[i].Proto(), bad{code: c.code, fields: c.fields})
		}
		// What is wrong in itself, the gateway may have said in words of its own.
		sameDetails := slices.EqualFunc(answers[0].Details(), answers[1].Details(), func(x, y any) bool { return proto.Equal(x.(proto.Message), y.(proto.Message)) })
		if c.code != codes.InvalidArgument && (answers[0].Message() != answers[1].Message() || !sameDetails) {
			t.Errorf("gRPC says %v\nHTTP says %v", answers[0], answers[1])
		}
	})
}

// TestMaskOfEverything is apart: a client's own JSON library refuses to write such a mask.
func TestMaskOfEverything(t *testing.T) {
	t.Parallel()
	service := start(t, bundle())
	openJob(t, waysTo(t, service.addresses)[0], "north", handles(1))
	want := bad{code: codes.InvalidArgument, fields: []string{"updateMask"}}
	_, err := pb.NewPlanterServiceClient(service.conn).UpdatePlanter(t.Context(), &pb.UpdatePlanterRequest{
		Planter: &pb.Planter{Name: scenePlanter, Etag: `"1"`}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"*"}}})
	checkError(t, "gRPC", status.Convert(err).Proto(), want)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPatch, service.url("/v1/"+scenePlanter+"?updateMask=*"), strings.NewReader(`{"etag": "\"1\""}`))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	res := must[*http.Response](t)(http.DefaultClient.Do(r))
	defer res.Body.Close()
	answer := must[[]byte](t)(io.ReadAll(res.Body))
	checkError(t, "HTTP", statusOf(t, answer), want)
}

// TestRowsOpen refuses a signature until what is not even is excepted, with a reason.
func TestRowsOpen(t *testing.T) {
	t.Parallel()
	service := start(t, bundle())
	for i, w := range waysTo(t, service.addresses) {
		t.Run(w.name, func(t *testing.T) {
			jobs, ctx := w.jobs(), t.Context()
			appended := must[*pb.AppendResponse](t)
			job := openJob(t, w, []string{"east", "west"}[i], handles(4))
			appended(jobs.AddReadings(ctx, &pb.AddReadingsRequest{Name: job.Name, Readings: append(append(inMM(1, 0, 50, 50), inMM(2, 0, 38, 38)...), append(inMM(3, 0, 50, 50), inMM(4, 0, 50, 50)...)...)}))
			job = appended(jobs.TickCautions(ctx, &pb.TickCautionsRequest{Name: job.Name, Person: ada, Ticks: allTicks(job)})).Job
			job = appended(jobs.PlanJob(ctx, &pb.PlanJobRequest{Name: job.Name, Etag: job.Etag})).Job
			sign := func(except ...*pb.Exception) (*pb.AppendResponse, error) {
				return jobs.SignJob(ctx, &pb.SignJobRequest{Name: job.Name, Etag: job.Etag, Person: ada, Exceptions: except})
			}
			wantReason(t, "row 2 is off", only(sign()), codes.FailedPrecondition, "ROWS_OPEN")
			wantReason(t, "another row is excepted", only(sign(&pb.Exception{Row: 3, Reason: "why not"})), codes.FailedPrecondition, "ROWS_OPEN")
			wantReason(t, "row 2 can be proven off", only(sign(&pb.Exception{Unproven: true, Reason: "poor fixture"})), codes.FailedPrecondition, "ROWS_OPEN")
			checkError(t, w.name, status.Convert(only(sign(&pb.Exception{Row: 2}))).Proto(), bad{code: codes.InvalidArgument, fields: []string{"exceptions[0].reason"}})
			signed := appended(sign(&pb.Exception{Row: 2, Reason: "parts on order"})).Job
			if signed.Stage != pb.Job_SIGNED || signed.State.Signature.GetContentHash() == "" || signed.State.Rows[1].Exception != "parts on order" {
				t.Errorf("signed as %v", signed)
			}
		})
	}
}
