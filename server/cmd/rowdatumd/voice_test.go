package main

import (
	"bytes"
	"context"
	"math"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/api/httpbody"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/structpb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// sayings is a way into the service that keeps every sentence of its answers and refusals.
type sayings struct {
	grpc.ClientConnInterface
	sentences map[string]string // by sentence, the method that said it
}

func (h sayings) Invoke(ctx context.Context, method string, req, res any, o ...grpc.CallOption) error {
	err := h.ClientConnInterface.Invoke(ctx, method, req, res, o...)
	for _, d := range status.Convert(err).Details() {
		if bad, ok := d.(*errdetails.BadRequest); ok {
			for _, v := range bad.FieldViolations {
				h.sentences[v.Description] = method
			}
		}
	}
	if err == nil {
		h.keep(method, res.(proto.Message).ProtoReflect())
	}
	return err
}

// keep keeps the sentences of a message: its texts of more than one word. What a program reads has none, and JSON of
// figures and forms is in mm.
func (h sayings) keep(method string, m protoreflect.Message) {
	if _, figures := m.Interface().(*structpb.Struct); figures {
		return
	}
	each := func(f protoreflect.FieldDescriptor, v protoreflect.Value) {
		if f.Kind() == protoreflect.MessageKind {
			h.keep(method, v.Message())
		} else if f.Kind() == protoreflect.StringKind && strings.Contains(v.String(), " ") {
			h.sentences[v.String()] = method
		}
	}
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		switch {
		case f.IsMap():
		case f.IsList():
			for i := range v.List().Len() {
				each(f, v.List().Get(i))
			}
		default:
			each(f, v)
		}
		return true
	})
}

var (
	brackets = regexp.MustCompile(`\([^()]*\)`)
	metric   = regexp.MustCompile(`\bmm\b|[0-9]mm\b|\bha\b|\bhect`)
	imperial = regexp.MustCompile(`[0-9] (in|pulg)\b|[0-9]″|\binch|\bac\b|\bacre`)
)

// TestOneUnitIsSaid works with a planter in inches and with one in mm through all that the service says of a planter, and
// finds lengths and areas of the other units only in brackets, where they were meant. Programs read mm and hectares in every figure.
func TestOneUnitIsSaid(t *testing.T) {
	t.Parallel()
	conn := waysTo(t, start(t, bundle()).addresses)[0].conn
	for name, other := range map[string]*regexp.Regexp{"depot-sixteen": metric, "ridge-twelve": imperial} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			h := sayings{conn, map[string]string{}}
			s := beginSeasons(t, way{"gRPC", h}, name, 7)
			if name == "depot-sixteen" {
				p := must[*pb.Planter](t)(s.w.planters().GetPlanter(t.Context(), &pb.GetPlanterRequest{Name: s.planter}))
				p.AreaUnit = pb.AreaUnit_ACRE
				must[*pb.Planter](t)(s.w.planters().UpdatePlanter(t.Context(), &pb.UpdatePlanterRequest{Planter: p}))
			}
			tellAll(t, s)
			for sentence, method := range h.sentences {
				if other.MatchString(brackets.ReplaceAllString(sentence, "")) {
					t.Errorf("%s says %q", method, sentence)
				}
			}
			if len(h.sentences) < 150 {
				t.Errorf("only %d sentences were heard", len(h.sentences))
			}
			for _, language := range []string{"en", "es"} {
				for _, format := range []pb.GetJobSheetRequest_Format{pb.GetJobSheetRequest_HTML, pb.GetJobSheetRequest_PDF} {
					answer := must[*httpbody.HttpBody](t)(s.w.jobs().GetJobSheet(t.Context(), &pb.GetJobSheetRequest{Name: s.job.Name, Format: format, Language: language}))
					text := sheetText(t, answer)
					if at := other.FindStringIndex(brackets.ReplaceAllString(text, "")); at != nil {
						t.Errorf("the sheet in %s as %v has a length in the other unit: …%s…", language, format, around(brackets.ReplaceAllString(text, ""), at))
					}
				}
			}
		})
	}
}

// tellAll has the service say all that it says of a planter.
func tellAll(t *testing.T, s *seasons) {
	ctx := t.Context()
	for season := range 3 {
		s.visit(season, func() {
			must[*pb.AppendResponse](t)(s.w.jobs().PlanJob(ctx, &pb.PlanJobRequest{Name: s.job.Name, Etag: s.job.Etag, ValidateOnly: true}))
			_, err := s.w.jobs().AddReadings(ctx, &pb.AddReadingsRequest{Name: s.job.Name, Readings: inMM(s.rows[0].number, 0, 1450)})
			wantReason(t, "out of range", err, codes.InvalidArgument, "INVALID_REQUEST")
			_, err = s.w.jobs().PlanJob(ctx, &pb.PlanJobRequest{Name: s.job.Name, Etag: s.job.Etag, ValidateOnly: true, Aim: &pb.Aim{ToleranceMm: with(1e4)}})
			wantReason(t, "out of range", err, codes.InvalidArgument, "INVALID_REQUEST")
		})
	}
	must[*pb.IndexCard](t)(s.w.field().GetIndexCard(ctx, &pb.GetIndexCardRequest{Name: s.planter}))
	planter := must[*pb.Planter](t)(s.w.planters().GetPlanter(ctx, &pb.GetPlanterRequest{Name: s.planter}))
	for _, delta := range []float64{6.35, -12.7, 200} {
		ask := fieldMoveOf(planter, delta)
		ask.LengthUnit = planter.LengthUnit
		must[*pb.FieldMove](t)(s.w.field().ComputeFieldMove(ctx, ask))
	}
	dig := must[*pb.Dig](t)(s.w.digs().CreateDig(ctx, &pb.CreateDigRequest{Parent: s.planter, Dig: &pb.Dig{Title: "Low corner", TargetMm: with(dugDeep), Rows: digRows(s)}}))
	must[*pb.DigAnalysis](t)(s.w.digs().AnalyzeDig(ctx, &pb.AnalyzeDigRequest{Name: dig.Name, Aim: &pb.DigAim{DailyDegreeDays: with(8.0)}}))
	s.wear()
	fixture := must[*pb.Fixture](t)(s.w.fixtures().GetFixture(ctx, &pb.GetFixtureRequest{Name: s.job.Fixture}))
	fixture.RepeatabilityMm = with(1450.0)
	_, err := s.w.fixtures().UpdateFixture(ctx, &pb.UpdateFixtureRequest{Fixture: fixture})
	wantReason(t, "out of range", err, codes.InvalidArgument, "INVALID_REQUEST")
	_, err = s.w.fixtures().StudyFixture(ctx, &pb.StudyFixtureRequest{Name: fixture.Name, ToleranceMm: with(1450.0)})
	wantReason(t, "out of range", err, codes.InvalidArgument, "INVALID_REQUEST")
	styles := must[*pb.ListStylesResponse](t)(pb.NewStyleServiceClient(s.w.conn).ListStyles(ctx, &pb.ListStylesRequest{LengthUnit: planter.LengthUnit}))
	if len(styles.Styles) < 3 {
		t.Errorf("styles %v", styles)
	}
}

// digRows are seeds of every row, those of one row 9 mm shallower.
func digRows(s *seasons) (rows []*pb.RowSeeds) {
	for _, r := range s.rows {
		seeds := &pb.RowSeeds{Row: r.number}
		for range dugSeeds {
			mm := dugDeep + dugScatter*s.rand.NormFloat64()
			if r.number == shallowRow {
				mm -= dugShallow
			}
			seeds.DepthsMm = append(seeds.DepthsMm, math.Round(mm))
		}
		rows = append(rows, seeds)
	}
	return rows
}

// sheetText is what a reader sees of a sheet.
func sheetText(t *testing.T, sheet *httpbody.HttpBody) string {
	t.Helper()
	if strings.HasPrefix(sheet.ContentType, "text/html") {
		return regexp.MustCompile(`(?s)<style.*?</style>|<[^>]*>`).ReplaceAllString(string(sheet.Data), " ")
	}
	read := exec.CommandContext(t.Context(), "pdftotext", "-layout", "-", "-")
	read.Stdin = bytes.NewReader(sheet.Data)
	out, err := read.Output()
	if err != nil {
		t.Fatalf("pdftotext (of poppler-utils): %v", err)
	}
	return string(out)
}

func around(text string, at []int) string {
	return strings.Join(strings.Fields(text[max(0, at[0]-80):min(len(text), at[1]+40)]), " ")
}
