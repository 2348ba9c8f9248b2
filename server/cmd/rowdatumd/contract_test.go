package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	spb "google.golang.org/genproto/googleapis/rpc/status"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/structpb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

func bundle() string { return filepath.Join(programs, "adjusters") }

func testdata(t *testing.T, name string) []byte {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("../../../testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func example(t *testing.T) *pb.ComputePlanRequest {
	t.Helper()
	req := &pb.ComputePlanRequest{}
	if err := protojson.Unmarshal(testdata(t, "requests/contract-example.json"), req); err != nil {
		t.Fatal(err)
	}
	return req
}

func with[T any](x T) *T { return &x }

func object(t *testing.T, fields map[string]any) *structpb.Struct {
	t.Helper()
	s, err := structpb.NewStruct(fields)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// bad is one row of the contract's table of errors: the example, made wrong in one way.
type bad struct {
	name   string
	spoil  func(*pb.ComputePlanRequest)
	code   codes.Code
	fields []string // every violation's path, in order; nil where the error is no INVALID_ARGUMENT
}

func badRequests(t *testing.T) []bad {
	nan, inf := math.NaN(), math.Inf(1)
	invalid := func(name string, spoil func(*pb.ComputePlanRequest), fields ...string) bad {
		return bad{name, spoil, codes.InvalidArgument, fields}
	}
	return []bad{
		invalid("a depth that is not a number", func(r *pb.ComputePlanRequest) { r.Rows[1].ReadingsMm[0] = nan }, "rows[1].readingsMm[0]"),
		invalid("an infinite depth", func(r *pb.ComputePlanRequest) { r.Rows[1].ReadingsMm[0] = inf }, "rows[1].readingsMm[0]"),
		invalid("a depth too shallow", func(r *pb.ComputePlanRequest) { r.Rows[0].ReadingsMm[1] = -20.001 }, "rows[0].readingsMm[1]"),
		invalid("a depth too deep", func(r *pb.ComputePlanRequest) { r.Rows[0].ReadingsMm[1] = 300.001 }, "rows[0].readingsMm[1]"),
		invalid("more than 120 rows", func(r *pb.ComputePlanRequest) {
			for n := int32(4); n <= 121; n++ {
				r.Rows = append(r.Rows, &pb.RowReadings{Row: n, Mechanism: "stop", Setting: object(t, map[string]any{"notch": 9}), ReadingsMm: []float64{50}})
			}
		}, "rows"),
		invalid("no rows", func(r *pb.ComputePlanRequest) { r.Rows = nil }, "rows"),
		invalid("no mechanisms", func(r *pb.ComputePlanRequest) { r.Mechanisms = nil },
			"mechanisms", "rows[0].mechanism", "rows[1].mechanism", "rows[2].mechanism"),
		invalid("two rows with one number", func(r *pb.ComputePlanRequest) { r.Rows[2].Row = 1 }, "rows[2].row"),
		invalid("a row without a number", func(r *pb.ComputePlanRequest) { r.Rows[2].Row = 0 }, "rows[2].row"),
		invalid("a row without readings", func(r *pb.ComputePlanRequest) { r.Rows[2].ReadingsMm = nil }, "rows[2].readingsMm"),
		invalid("an unknown mechanism", func(r *pb.ComputePlanRequest) { r.Rows[2].Mechanism = "spring" }, "rows[2].mechanism"),
		invalid("two mechanisms with one id", func(r *pb.ComputePlanRequest) { r.Mechanisms[1].Id = "handle" }, "mechanisms[1].id", "rows[1].mechanism"),
		invalid("figures off the schema", func(r *pb.ComputePlanRequest) {
			r.Mechanisms[0].Figures.Fields["mmPerTurn"] = structpb.NewNumberValue(0)
		},
			"mechanisms[0].figures.mmPerTurn"),
		invalid("an unknown figure", func(r *pb.ComputePlanRequest) {
			r.Mechanisms[0].Figures.Fields["colour"] = structpb.NewStringValue("red")
		},
			"mechanisms[0].figures.colour"),
		invalid("no figures", func(r *pb.ComputePlanRequest) { r.Mechanisms[0].Figures = nil },
			"mechanisms[0].figures.mmPerTurn", "mechanisms[0].figures.smallestTurn", "mechanisms[0].figures.totalTurns"),
		invalid("a setting off the schema", func(r *pb.ComputePlanRequest) { r.Rows[1].Setting.Fields["notch"] = structpb.NewNumberValue(2.5) },
			"rows[1].setting.notch"),
		invalid("a setting beyond the figures", func(r *pb.ComputePlanRequest) { r.Rows[1].Setting.Fields["notch"] = structpb.NewNumberValue(21) },
			"rows[1].setting.notch"),
		invalid("a style that must know the setting", func(r *pb.ComputePlanRequest) { r.Rows[2].Setting = nil }, "rows[2].setting"),
		invalid("a tolerance of 0", func(r *pb.ComputePlanRequest) { r.Aim.ToleranceMm = with(0.0) }, "aim.toleranceMm"),
		invalid("a negative resolution", func(r *pb.ComputePlanRequest) { r.Fixture.ResolutionMm = with(-1.0) }, "fixture.resolutionMm"),
		invalid("a repeatability that is not finite", func(r *pb.ComputePlanRequest) { r.Fixture.RepeatabilityMm = &inf }, "fixture.repeatabilityMm"),
		invalid("a negative floor", func(r *pb.ComputePlanRequest) { r.Fixture.FloorMm = with(-0.1) }, "fixture.floorMm"),
		invalid("a negative reach", func(r *pb.ComputePlanRequest) { r.Reach.ShallowerMm, r.Reach.DeeperMm = with(-1.0), with(-2.0) },
			"reach.deeperMm", "reach.shallowerMm"),
		invalid("negative seconds", func(r *pb.ComputePlanRequest) { r.Aim.MissSeconds = with(-1.0) }, "aim.missSeconds"),
		invalid("a negative zero uncertainty", func(r *pb.ComputePlanRequest) { r.Aim.ZeroUncertaintyMm = with(-1.0) }, "aim.zeroUncertaintyMm"),
		invalid("a scale of 0", func(r *pb.ComputePlanRequest) { r.Rows[0].Scale = with(0.0) }, "rows[0].scale"),
		invalid("a negative scale sd", func(r *pb.ComputePlanRequest) { r.Rows[0].ScaleSd = with(-0.1) }, "rows[0].scaleSd"),
		invalid("a confidence below a half", func(r *pb.ComputePlanRequest) { r.Aim.Confidence = with(0.49) }, "aim.confidence"),
		invalid("a confidence of 1", func(r *pb.ComputePlanRequest) { r.Aim.Confidence = with(1.0) }, "aim.confidence"),
		invalid("matching a row that is not there", func(r *pb.ComputePlanRequest) { r.Aim.Kind, r.Aim.Row = pb.Aim_MATCH_ROW, with(int32(9)) }, "aim.row"),
		invalid("setting a depth without saying which", func(r *pb.ComputePlanRequest) { r.Aim.Kind = pb.Aim_SET_DEPTH }, "aim.datumMm"),
		invalid("an aim of an unknown kind", func(r *pb.ComputePlanRequest) { r.Aim.Kind = 99 }, "aim.kind"),
		invalid("a reference row that is not there", func(r *pb.ComputePlanRequest) { r.ReferenceRows = []int32{7} }, "referenceRows[0]"),
		invalid("everything at once", func(r *pb.ComputePlanRequest) {
			r.Aim.ToleranceMm, r.Aim.Confidence = with(-1.0), with(2.0)
			r.Mechanisms[2].Figures.Fields["leverRatio"] = structpb.NewNumberValue(-1)
			r.Rows[0].ReadingsMm[0], r.Rows[1].ReadingsMm = 1000, nil
		}, "aim.confidence", "aim.toleranceMm", "mechanisms[2].figures.leverRatio", "rows[0].readingsMm[0]", "rows[1].readingsMm"),
		{name: "a style that is not installed", code: codes.FailedPrecondition,
			spoil: func(r *pb.ComputePlanRequest) { r.Mechanisms[1].Style = "ratchet" }},
		{name: "a style that no row has and is not installed", code: codes.FailedPrecondition,
			spoil: func(r *pb.ComputePlanRequest) {
				r.Mechanisms = append(r.Mechanisms, &pb.Mechanism{Id: "spare", Style: "ratchet", Figures: object(t, nil)})
			}},
	}
}

// TestBadRequests sends every bad request both ways: the answers are the same error, naming the same
// paths, in words without a trace of the machinery.
func TestBadRequests(t *testing.T) {
	t.Parallel()
	service := start(t, bundle())
	plans := pb.NewPlanServiceClient(service.conn)
	for _, c := range badRequests(t) {
		t.Run(c.name, func(t *testing.T) {
			req := example(t)
			c.spoil(req)
			ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
			defer cancel()
			_, err := plans.ComputePlan(ctx, req)
			checkError(t, "gRPC", status.Convert(err).Proto(), c)

			body, err := protojson.Marshal(req)
			if err != nil {
				t.Fatal(err)
			}
			code, answer := post(t, service.url("/v1/plans:compute"), body)
			if code != http.StatusBadRequest {
				t.Errorf("HTTP status %d, want 400: %s", code, answer)
			}
			checkError(t, "HTTP", statusOf(t, answer), c)
		})
	}
}

func post(t *testing.T, url string, body []byte) (int, []byte) {
	t.Helper()
	res, err := http.Post(url, "application/json", bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	answer, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, answer
}

func statusOf(t *testing.T, answer []byte) *spb.Status {
	t.Helper()
	s := &spb.Status{}
	if err := protojson.Unmarshal(answer, s); err != nil {
		t.Fatalf("%s: %v", answer, err)
	}
	return s
}

// machinery are words that no person should have to read.
var machinery = []string{"proto", "json:", "unmarshal", "goroutine", "nil", "struct", "float64", "int32", "0x", "rpc", "runtime"}

func checkError(t *testing.T, way string, s *spb.Status, want bad) {
	t.Helper()
	if codes.Code(s.Code) != want.code {
		t.Errorf("%s: code %v, want %v: %v", way, codes.Code(s.Code), want.code, s)
	}
	var fields []string
	words := []string{s.Message}
	for _, detail := range s.Details {
		m, err := detail.UnmarshalNew()
		if err != nil {
			t.Fatal(err)
		}
		switch d := m.(type) {
		case *errdetails.BadRequest:
			for _, v := range d.FieldViolations {
				fields, words = append(fields, v.Field), append(words, v.Description)
			}
		case *errdetails.ErrorInfo:
			if d.Domain != "rowdatum" || d.Reason == "" {
				t.Errorf("%s: error info %v", way, d)
			}
		}
	}
	if !slices.Equal(fields, want.fields) {
		t.Errorf("%s: violations of %q, want %q: %v", way, fields, want.fields, s)
	}
	for _, said := range words {
		if said == "" {
			t.Errorf("%s: an empty message: %v", way, s)
		}
		for _, word := range machinery {
			if strings.Contains(strings.ToLower(said), word) {
				t.Errorf("%s: %q speaks of the machinery (%s)", way, said, word)
			}
		}
	}
}

// TestBadJSON sends what only JSON can get wrong.
func TestBadJSON(t *testing.T) {
	t.Parallel()
	service := start(t, bundle())
	for _, c := range []struct{ name, body, field string }{
		{"an unknown field", `{"rows": [{"row": 1, "depthMm": 50}]}`, "rows[0].depthMm"},
		{"an unknown field deep inside", `{"aim": {"tolerance": 3}}`, "aim.tolerance"},
		{"an unknown enum word", `{"aim": {"kind": "BEST"}}`, "aim.kind"},
		{"NaN as a word", `{"aim": {"toleranceMm": "NaN"}}`, "aim.toleranceMm"},
		{"infinity as a word", `{"rows": [{"row": 1, "mechanism": "a", "readingsMm": [1, "Infinity"]}]}`, "rows[0].readingsMm[1]"},
		{"a number too large", `{"aim": {"toleranceMm": 1e400}}`, "aim.toleranceMm"},
		{"a fraction where a whole number belongs", `{"rows": [{"row": 1.5}]}`, "rows[0].row"},
		{"a word where a number belongs", `{"rows": [{"row": 1, "readingsMm": ["deep"]}]}`, "rows[0].readingsMm[0]"},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, answer := post(t, service.url("/v1/plans:compute"), []byte(c.body))
			if code != http.StatusBadRequest {
				t.Errorf("HTTP status %d, want 400: %s", code, answer)
			}
			checkError(t, "HTTP", statusOf(t, answer), bad{code: codes.InvalidArgument, fields: []string{c.field}})
		})
	}
}

// TestOtherErrors are the rows of the contract's table that concern no field of a plan.
func TestOtherErrors(t *testing.T) {
	t.Parallel()
	service := start(t, bundle())
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	styles := pb.NewStyleServiceClient(service.conn)
	get := func(path string) (int, []byte) {
		res, err := http.Get(service.url(path))
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		answer, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res.StatusCode, answer
	}
	check := func(name string, wantHTTP int, path string, want bad, viaGRPC error) {
		t.Run(name, func(t *testing.T) {
			code, answer := get(path)
			if code != wantHTTP {
				t.Errorf("HTTP status %d, want %d: %s", code, wantHTTP, answer)
			}
			checkError(t, "HTTP", statusOf(t, answer), want)
			if viaGRPC != nil {
				checkError(t, "gRPC", status.Convert(viaGRPC).Proto(), want)
			}
		})
	}
	_, err := styles.GetStyle(ctx, &pb.GetStyleRequest{Name: "styles/ratchet"})
	check("a style that is not there", http.StatusNotFound, "/v1/styles/ratchet", bad{code: codes.NotFound}, err)
	_, err = styles.ListStyles(ctx, &pb.ListStylesRequest{PageToken: "!"})
	check("a bad page token", http.StatusBadRequest, "/v1/styles?pageToken=!", bad{code: codes.InvalidArgument, fields: []string{"pageToken"}}, err)
	_, err = styles.ListStyles(ctx, &pb.ListStylesRequest{PageToken: "YWJj"})
	check("a page token of nobody's", http.StatusBadRequest, "/v1/styles?pageToken=YWJj", bad{code: codes.InvalidArgument, fields: []string{"pageToken"}}, err)
	_, err = styles.ListStyles(ctx, &pb.ListStylesRequest{PageSize: -1})
	check("a negative page size", http.StatusBadRequest, "/v1/styles?pageSize=-1", bad{code: codes.InvalidArgument, fields: []string{"pageSize"}}, err)
	check("an unknown query parameter", http.StatusBadRequest, "/v1/styles?colour=red", bad{code: codes.InvalidArgument, fields: []string{"colour"}}, nil)
	check("a path that is not there", http.StatusNotFound, "/v1/tractors", bad{code: codes.NotFound}, nil)

	t.Run("a body over 1 MiB", func(t *testing.T) {
		code, answer := post(t, service.url("/v1/plans:compute"), append([]byte(`{"rows": [`), bytes.Repeat([]byte(" "), 2<<20)...))
		if code != http.StatusRequestEntityTooLarge {
			t.Errorf("HTTP status %d, want 413: %s", code, answer)
		}
		checkError(t, "HTTP", statusOf(t, answer), bad{code: codes.ResourceExhausted})
		req := example(t)
		req.Rows[0].Mechanism = strings.Repeat("x", 2<<20)
		_, err := pb.NewPlanServiceClient(service.conn).ComputePlan(ctx, req)
		if status.Code(err) != codes.ResourceExhausted {
			t.Errorf("gRPC code %v, want ResourceExhausted", status.Code(err))
		}
	})
}

// TestLooksLikeInches accepts readings that were typed in inches, and says so.
func TestLooksLikeInches(t *testing.T) {
	t.Parallel()
	service := start(t, bundle())
	req := example(t)
	for _, row := range req.Rows {
		row.ReadingsMm = []float64{2.25}
	}
	answer, err := pb.NewPlanServiceClient(service.conn).ComputePlan(t.Context(), req)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(answer.Cautions, func(c string) bool { return strings.Contains(c, "inches") }) {
		t.Errorf("no caution about inches: %q", answer.Cautions)
	}
}

// TestExample computes the contract's worked example both ways and compares every figure with it.
func TestExample(t *testing.T) {
	t.Parallel()
	service := start(t, bundle())
	code, overHTTP := post(t, service.url("/v1/plans:compute"), testdata(t, "requests/contract-example.json"))
	if code != http.StatusOK {
		t.Fatalf("HTTP status %d: %s", code, overHTTP)
	}
	overGRPC, err := pb.NewPlanServiceClient(service.conn).ComputePlan(t.Context(), example(t))
	if err != nil {
		t.Fatal(err)
	}
	same := &pb.Plan{}
	if err := protojson.Unmarshal(overHTTP, same); err != nil {
		t.Fatal(err)
	}
	if !proto.Equal(same, overGRPC) {
		t.Errorf("HTTP says %v\ngRPC says %v", same, overGRPC)
	}
	var got, want any
	if err := json.Unmarshal(overHTTP, &got); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(testdata(t, "answers/contract-example.json"), &want); err != nil {
		t.Fatal(err)
	}
	compare(t, "", got, want)
}

// compare holds got against want: numbers to half a unit of the last digit that the example prints (it
// prints five decimals), words that the example leaves open ("…") must be there and not be empty. got
// may have more fields.
func compare(t *testing.T, path string, got, want any) {
	t.Helper()
	switch w := want.(type) {
	case map[string]any:
		g, ok := got.(map[string]any)
		if !ok {
			t.Errorf("%s is %v, want an object", path, got)
			return
		}
		for key := range w {
			compare(t, path+"."+key, g[key], w[key])
		}
	case []any:
		g, ok := got.([]any)
		if !ok || len(g) != len(w) && !slices.Equal(w, []any{"…"}) {
			t.Errorf("%s is %v, want %v", path, got, want)
			return
		}
		for i := range w {
			compare(t, path, g[i], w[i])
		}
	case float64:
		if g, ok := got.(float64); !ok || math.Abs(g-w) > 5.1e-5 {
			t.Errorf("%s is %v, want %v", path, got, want)
		}
	case string:
		if g, ok := got.(string); !ok || g == "" || w != "…" && g != w {
			t.Errorf("%s is %v, want %v", path, got, want)
		}
	default:
		if got != want {
			t.Errorf("%s is %v, want %v", path, got, want)
		}
	}
}
