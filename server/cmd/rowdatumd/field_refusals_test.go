package main

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// fieldRefusals are what is refused of field moves, digs, wear, studies and sheets.
func fieldRefusals() []refusal {
	type does = func(ctx context.Context, w way, s *scene) error
	var out []refusal
	say := func(name string, code codes.Code, reason string, call does, fields ...string) {
		out = append(out, refusal{name, call, code, reason, fields})
	}
	invalid := func(name string, call does, fields ...string) {
		say(name, codes.InvalidArgument, "INVALID_REQUEST", call, fields...)
	}
	fieldMove := func(name string, deltaMm float64) does {
		return func(ctx context.Context, w way, _ *scene) error {
			return only(w.field().GetFieldMove(ctx, &pb.GetFieldMoveRequest{Name: name, DeltaMm: &deltaMm}))
		}
	}
	compute := func(change func(*pb.ComputeFieldMoveRequest)) does {
		return func(ctx context.Context, w way, _ *scene) error {
			req := fieldMoveOf(handles(3), 12.7)
			change(req)
			return only(w.field().ComputeFieldMove(ctx, req))
		}
	}
	dig := func(change func(*pb.CreateDigRequest)) does {
		return func(ctx context.Context, w way, _ *scene) error {
			req := &pb.CreateDigRequest{Parent: scenePlanter, Dig: someDig()}
			change(req)
			return only(w.digs().CreateDig(ctx, req))
		}
	}
	pasted := func(text string, unit pb.LengthUnit) does {
		return dig(func(r *pb.CreateDigRequest) { r.Dig = &pb.Dig{Pasted: &pb.PastedSeeds{Text: text, Unit: unit}} })
	}
	seeds := func(change func(*pb.AnalyzeSeedsRequest)) does {
		return func(ctx context.Context, w way, _ *scene) error {
			req := &pb.AnalyzeSeedsRequest{Rows: someDig().Rows}
			change(req)
			return only(w.digs().AnalyzeSeeds(ctx, req))
		}
	}
	analyze := func(aim *pb.DigAim) does {
		return func(ctx context.Context, w way, _ *scene) error {
			return only(w.digs().AnalyzeDig(ctx, &pb.AnalyzeDigRequest{Name: scenePlanter + "/digs/corner", Aim: aim}))
		}
	}
	digs := func(req *pb.ListDigsRequest) does {
		return func(ctx context.Context, w way, _ *scene) error { return only(w.digs().ListDigs(ctx, req)) }
	}
	wear := func(name string, confidence *float64) does {
		return func(ctx context.Context, w way, _ *scene) error {
			return only(w.wear().GetWear(ctx, &pb.GetWearRequest{Name: name, Confidence: confidence}))
		}
	}
	study := func(change func(*pb.StudyFixtureRequest)) does {
		return func(ctx context.Context, w way, s *scene) error {
			req := &pb.StudyFixtureRequest{Name: "fixtures/box", Readings: someStudy()}
			change(req)
			return only(w.fixtures().StudyFixture(ctx, req))
		}
	}
	sheet := func(job string, format pb.GetJobSheetRequest_Format, paper pb.GetJobSheetRequest_Paper) does {
		return func(ctx context.Context, w way, _ *scene) error {
			return only(w.jobs().GetJobSheet(ctx, &pb.GetJobSheetRequest{Name: scenePlanter + "/jobs/" + job, Format: format, Paper: paper}))
		}
	}

	for name, call := range map[string]does{"a field move": fieldMove("planters/none", 6.35), "wear": wear("planters/none", nil),
		"a list of digs": digs(&pb.ListDigsRequest{Parent: "planters/none"}),
		"a dig":          dig(func(r *pb.CreateDigRequest) { r.Parent = "planters/none" }),
		"an index card": func(ctx context.Context, w way, _ *scene) error {
			return only(w.field().GetIndexCard(ctx, &pb.GetIndexCardRequest{Name: "planters/none"}))
		}} {
		say("of a planter that is not there: "+name, codes.NotFound, "PLANTER_NOT_FOUND", call)
	}
	for name, call := range map[string]does{
		"reading": func(ctx context.Context, w way, _ *scene) error {
			return only(w.digs().GetDig(ctx, &pb.GetDigRequest{Name: scenePlanter + "/digs/none"}))
		},
		"analysis": func(ctx context.Context, w way, _ *scene) error {
			return only(w.digs().AnalyzeDig(ctx, &pb.AnalyzeDigRequest{Name: scenePlanter + "/digs/none"}))
		}} {
		say("of a dig that is not there: "+name, codes.NotFound, "DIG_NOT_FOUND", call)
	}
	say("a study of a fixture that is not there", codes.NotFound, "FIXTURE_NOT_FOUND", study(func(r *pb.StudyFixtureRequest) { r.Name = "fixtures/none" }))
	say("a sheet of a job that is not there", codes.NotFound, "JOB_NOT_FOUND", sheet("none", 0, 0))

	invalid("a field move too deep", fieldMove(scenePlanter, 300.1), "deltaMm")
	invalid("a field move too shallow", fieldMove(scenePlanter, -301), "deltaMm")
	invalid("a field move that is not a number", fieldMove(scenePlanter, math.NaN()), "deltaMm")
	invalid("a field move without its change", compute(func(r *pb.ComputeFieldMoveRequest) { r.DeltaMm = nil }), "deltaMm")
	invalid("a planter's field move without its change", func(ctx context.Context, w way, s *scene) error {
		return only(w.field().GetFieldMove(ctx, &pb.GetFieldMoveRequest{Name: scenePlanter}))
	}, "deltaMm")
	invalid("a study of a reading without its number", study(func(r *pb.StudyFixtureRequest) { r.Readings[2].ValueMm = nil }), "readings[2].valueMm")
	invalid("a field move of nothing", compute(func(r *pb.ComputeFieldMoveRequest) { r.Mechanisms, r.Rows, r.DeltaMm = nil, nil, new(400.0) }), "deltaMm", "mechanisms", "rows")
	invalid("a field move of rows that cannot be", compute(func(r *pb.ComputeFieldMoveRequest) {
		r.Rows[0].DepthMm, r.Rows[0].Scale = with(301.0), with(0.0)
		r.Rows[1].Row, r.Rows[1].ScaleSd = 1, with(-1.0)
		r.Rows[2].Mechanism = "stop"
	}), "rows[0].depthMm", "rows[0].scale", "rows[1].depthMm", "rows[1].row", "rows[1].scaleSd", "rows[2].depthMm", "rows[2].mechanism")
	invalid("a field move from a setting that cannot be", compute(func(r *pb.ComputeFieldMoveRequest) { r.Rows[1].Setting = turns(17) }), "rows[1].setting.turns")
	say("a field move of a style that is not installed", codes.FailedPrecondition, "STYLE_NOT_INSTALLED", compute(func(r *pb.ComputeFieldMoveRequest) { r.Mechanisms[0].Style = "ratchet" }))

	say("a dig's id that is taken", codes.AlreadyExists, "DIG_EXISTS", dig(func(r *pb.CreateDigRequest) { r.DigId = "corner" }))
	say("a planter with digs", codes.FailedPrecondition, "PLANTER_HAS_DIGS", func(ctx context.Context, w way, _ *scene) error {
		return only(w.planters().DeletePlanter(ctx, &pb.DeletePlanterRequest{Name: "planters/south"}))
	})
	say("request id used before: a dig", codes.AlreadyExists, "REQUEST_ID_REUSED", func(ctx context.Context, w way, s *scene) error {
		return only(w.digs().CreateDig(ctx, &pb.CreateDigRequest{Parent: scenePlanter, Dig: someDig(), RequestId: s.usedToAdd}))
	})
	invalid("a dig of nothing", dig(func(r *pb.CreateDigRequest) { r.Dig, r.DigId = &pb.Dig{}, "North!" }), "dig.rows", "digId")
	invalid("a dig of one row", dig(func(r *pb.CreateDigRequest) { r.Dig.Rows = r.Dig.Rows[:1] }), "dig.rows")
	invalid("a dig of one seed a row", dig(func(r *pb.CreateDigRequest) {
		for _, row := range r.Dig.Rows {
			row.DepthsMm = row.DepthsMm[:1]
		}
	}), "dig.rows")
	invalid("a dig of seeds that cannot be", dig(func(r *pb.CreateDigRequest) {
		r.Dig.Rows = append(r.Dig.Rows, &pb.RowSeeds{Row: 9, DepthsMm: []float64{50}}, &pb.RowSeeds{Row: 1, DepthsMm: slices.Repeat([]float64{50}, 201)}, &pb.RowSeeds{Row: 3})
		r.Dig.Rows[0].DepthsMm[1], r.Dig.Rows[1].DepthsMm[0], r.Dig.TargetMm = 300.1, -1, with(0.5)
		r.Dig.Title, r.Dig.Person, r.Dig.Comment = strings.Repeat("t", 201), strings.Repeat("p", 101), strings.Repeat("c", 1001)
	}), "dig.comment", "dig.person", "dig.rows[0].depthsMm[1]", "dig.rows[1].depthsMm[0]", "dig.rows[2].row", "dig.rows[3].depthsMm", "dig.rows[3].row", "dig.rows[4].depthsMm",
		"dig.targetMm", "dig.title")
	invalid("a dig of what is no number", dig(func(r *pb.CreateDigRequest) { r.Dig.Rows[0].DepthsMm[0] = math.NaN() }), "dig.rows[0].depthsMm[0]")
	invalid("pasted seeds without a unit", pasted("1 50 51\n2 50", 0), "dig.pasted.unit")
	invalid("pasted seeds beside rows", dig(func(r *pb.CreateDigRequest) {
		r.Dig.Pasted = &pb.PastedSeeds{Text: "1 50 51\n2 50", Unit: pb.LengthUnit_MM}
	}), "dig.rows")
	invalid("pasted lines that cannot be read", pasted("row,depths\n1, 2, 1 7/8\nleft, 2\n3, deep\n4\n5, 2", pb.LengthUnit_IN), "dig.pasted.text", "dig.pasted.text", "dig.pasted.text")
	invalid("pasted text without seeds", pasted("row, depths\n\n", pb.LengthUnit_MM), "dig.pasted.text")
	invalid("pasted text too long", pasted(strings.Repeat("1 50\n", 14000), pb.LengthUnit_MM), "dig.pasted.text")
	invalid("pasted seeds that cannot be", pasted("1 12.5\n2 2 2", pb.LengthUnit_IN), "dig.rows[0].depthsMm[0]")

	all := []string{"aim.confidence", "aim.dailyDegreeDays", "aim.toleranceMm", "aim.withinMm"}
	wild := &pb.DigAim{ToleranceMm: with(0.0), Confidence: with(1.0), WithinMm: with(-1.0), DailyDegreeDays: with(41.0)}
	invalid("an aim out of range", analyze(wild), all...)
	invalid("an aim that is not a number", analyze(&pb.DigAim{ToleranceMm: with(math.NaN())}), "aim.toleranceMm")
	invalid("no degree days a day", analyze(&pb.DigAim{DailyDegreeDays: with(0.0)}), "aim.dailyDegreeDays")
	invalid("seeds with an aim out of range", seeds(func(r *pb.AnalyzeSeedsRequest) { r.Aim, r.TargetMm = wild, with(301.0) }), append(all, "targetMm")...)
	invalid("seeds of nothing", seeds(func(r *pb.AnalyzeSeedsRequest) { r.Rows = nil }), "rows")
	invalid("seeds pasted wrong", seeds(func(r *pb.AnalyzeSeedsRequest) {
		r.Rows, r.Pasted = nil, &pb.PastedSeeds{Text: "1 50 x\n2 50", Unit: pb.LengthUnit_MM}
	}), "pasted.text")

	invalid("digs: a bad page token", digs(&pb.ListDigsRequest{Parent: scenePlanter, PageToken: "!"}), "pageToken")
	invalid("digs: a negative page size", digs(&pb.ListDigsRequest{Parent: scenePlanter, PageSize: -1}), "pageSize")
	invalid("digs: a page token of another list", func(ctx context.Context, w way, s *scene) error {
		page, err := w.jobs().ListJobEvents(ctx, &pb.ListJobEventsRequest{Parent: s.open.Name, PageSize: 1})
		if err != nil || page.NextPageToken == "" {
			return err
		}
		return only(w.digs().ListDigs(ctx, &pb.ListDigsRequest{Parent: scenePlanter, PageToken: page.NextPageToken}))
	}, "pageToken")

	for _, confidence := range []float64{0.49, 1, math.Inf(1), math.NaN()} {
		invalid("wear at a confidence that cannot be", wear(scenePlanter, &confidence), "confidence")
	}
	invalid("hectares that cannot be", func(ctx context.Context, w way, _ *scene) error {
		return only(w.jobs().CreateJob(ctx, &pb.CreateJobRequest{Parent: scenePlanter, Job: &pb.Job{Hectares: with(-1.0)}}))
	}, "job.hectares")

	invalid("a study of nothing", study(func(r *pb.StudyFixtureRequest) { r.Readings = nil }), "readings")
	invalid("a study that is not balanced", study(func(r *pb.StudyFixtureRequest) { r.Readings = r.Readings[1:] }), "readings")
	invalid("a study of one reading each", study(func(r *pb.StudyFixtureRequest) {
		r.Readings = []*pb.StudyReading{r.Readings[0], r.Readings[2]}
	}), "readings", "readings")
	invalid("a study with everything wrong", study(func(r *pb.StudyFixtureRequest) {
		r.Readings[3].ValueMm, r.ToleranceMm, r.Confidence, r.Apply = new(301.0), with(0.0), with(1.0), true
	}), "confidence", "etag", "readings[3].valueMm", "toleranceMm")
	invalid("a study of what is no number", study(func(r *pb.StudyFixtureRequest) { r.Readings[0].ValueMm = new(math.NaN()) }), "readings[0].valueMm")
	invalid("a study for a tolerance without end", study(func(r *pb.StudyFixtureRequest) { r.ToleranceMm = with(math.Inf(1)) }), "toleranceMm")
	say("stale: a study's etag", codes.Aborted, "STALE_ETAG", study(func(r *pb.StudyFixtureRequest) { r.Apply, r.Etag = true, `"99"` }))
	say("request id used before: a study", codes.AlreadyExists, "REQUEST_ID_REUSED", func(ctx context.Context, w way, s *scene) error {
		return only(w.fixtures().StudyFixture(ctx, &pb.StudyFixtureRequest{Name: "fixtures/box", Readings: someStudy(), Apply: true, Etag: `"1"`, RequestId: s.usedToAdd}))
	})

	invalid("a sheet as nobody knows it", sheet("signed", 9, 9), "format", "paper")
	return out
}

// TestPastedFaultsAreToldByLine has each fault of a pasted text told with its line, in the reader's language.
func TestPastedFaultsAreToldByLine(t *testing.T) {
	t.Parallel()
	req := &pb.AnalyzeSeedsRequest{Pasted: &pb.PastedSeeds{Text: "row,depths\n1, 2, 1 7/8\nleft, 2\n\n3, deep\n4\n", Unit: pb.LengthUnit_IN}}
	for _, w := range waysTo(t, start(t, bundle()).addresses) {
		for language, want := range map[string][]string{
			"en": {`line 3: "left" is not a row number`, `line 5: "deep" is not a depth`, "line 6: has a row and no depth"},
			"es": {`línea 3: "left" no es un número de surco`, `línea 5: "deep" no es una profundidad`, "línea 6: tiene un surco y ninguna profundidad"},
		} {
			err := only(w.digs().AnalyzeSeeds(metadata.AppendToOutgoingContext(t.Context(), "accept-language", language), req))
			if got := described(err); !slices.Equal(got, want) {
				t.Errorf("%s, %s: %q, want %q", w.name, language, got, want)
			}
		}
	}
}

// TestPastedCommasAreAskedAbout has a pasted comma that may be a decimal sign or a separator refused with how to write it,
// and 17/8 too, over each way and in each language; nothing is computed of eight seeds that were four.
func TestPastedCommasAreAskedAbout(t *testing.T) {
	req := &pb.AnalyzeSeedsRequest{Pasted: &pb.PastedSeeds{Text: "1 50,5 52,1\n2, 50,5, 52,1\n3,50,5,52,1\n4 17/8", Unit: pb.LengthUnit_MM}}
	for _, w := range waysTo(t, start(t, bundle()).addresses) {
		for language, want := range map[string][4]string{
			"en": {`line 1: the comma in "50,5" may be`, `line 2: the comma in "50,5" may be`, `line 3: the comma in "50,5" may be`, `line 4: "17/8" can be read in two ways; write`},
			"es": {`línea 1: la coma en "50,5" puede`, `línea 2: la coma en "50,5" puede`, `línea 3: la coma en "50,5" puede`, `línea 4: "17/8" se puede leer de dos maneras; escriba`},
		} {
			err := only(w.digs().AnalyzeSeeds(metadata.AppendToOutgoingContext(t.Context(), "accept-language", language), req))
			got := described(err)
			if len(got) != len(want) {
				t.Fatalf("%s, %s: %q", w.name, language, got)
			}
			for i, begins := range want {
				if !strings.HasPrefix(got[i], begins) || i < 3 && !strings.Contains(got[i], "50.5") {
					t.Errorf("%s, %s: %q, want %q and how to write it", w.name, language, got[i], begins)
				}
			}
		}
	}
}

// described are what an error's violations say.
func described(err error) (out []string) {
	for _, d := range status.Convert(err).Details() {
		if bad, ok := d.(*errdetails.BadRequest); ok {
			for _, v := range bad.FieldViolations {
				out = append(out, v.Description)
			}
		}
	}
	return out
}
