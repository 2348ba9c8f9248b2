package api

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"go.uber.org/zap"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// TestEveryReasonIsSaid finds every reason that stands in the service's own text: a new one must be said in
// every language.
func TestEveryReasonIsSaid(t *testing.T) {
	given := regexp.MustCompile(`(?:Reason: +|\.Reason, .*\.Message = |wrongKey\(|forbidden\(|unavailable\()"([A-Z_]+)"`)
	stored := regexp.MustCompile(`shelf\{"[a-z]+", "([a-z]+)"|(?:notFound|exists)\("([a-z]+)"`)
	reasons := map[string]bool{}
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range given.FindAllStringSubmatch(string(text), -1) {
			reasons[m[1]] = true
		}
		for _, m := range stored.FindAllStringSubmatch(string(text), -1) {
			what := strings.ToUpper(m[1] + m[2])
			reasons[what+"_NOT_FOUND"], reasons[what+"_EXISTS"] = true, true
		}
		return err
	})
	if err != nil || len(reasons) < 30 || !reasons["DIG_EXISTS"] || !reasons["PLANTER_HAS_DIGS"] {
		t.Fatalf("%d reasons, %v", len(reasons), err)
	}
	for _, l := range leveling.Languages() {
		if l == leveling.English {
			continue
		}
		for reason := range reasons {
			if refusalsIn[l].of(&leveling.Error{Reason: reason}) == "" {
				t.Errorf("%s is not said in %q", reason, l)
			}
		}
	}
}

// TestRefusalsAgree: each language has the keys of Spanish, which every error is said in, and each takes the same.
func TestRefusalsAgree(t *testing.T) {
	variable := regexp.MustCompile(`\{.*?\}`)
	takes := func(said string) []string { return slices.Sorted(slices.Values(variable.FindAllString(said, -1))) }
	full := &leveling.Error{Metadata: map[string]string{"rows": "3", "revision": "7", "style": "x", "id": "y"}}
	for l, said := range refusalsIn {
		if len(said) != len(spanish) {
			t.Errorf("%q has %d refusals, want %d", l, len(said), len(spanish))
		}
		for key, want := range spanish {
			got, known := said[key]
			if !known || !slices.Equal(takes(got), takes(want)) || strings.Contains(filled(got, full, l), "{") {
				t.Errorf("%s in %q: %q", key, l, got)
			}
		}
	}
}

// TestCauseIsNoAnswer: what an adjuster failed with stays behind what the service says of it.
func TestCauseIsNoAnswer(t *testing.T) {
	down := &leveling.Error{Kind: leveling.Unavailable, Reason: "ADJUSTER_DOWN", Message: "It is down.", Metadata: map[string]string{"style": "x", "rows": "7"},
		Err: status.Error(codes.Internal, "it ended with status 3")}
	c := &call{method: ourServices + "PlanService/ComputePlan"}
	got := status.Convert(c.watched(t.Context(), Options{Log: zap.NewNop(), Meter: noMeter{}}, func() (flow.Key, error) { return flow.Key{}, fmt.Errorf("planning: %w", down) }))
	info, _ := got.Details()[0].(*errdetails.ErrorInfo)
	if got.Code() != codes.Unavailable || got.Message() != message(down, leveling.English) || info.GetReason() != "ADJUSTER_DOWN" || info.GetMetadata()["style"] != "x" {
		t.Errorf("%v", got)
	}
}

func TestMessage(t *testing.T) {
	for want, e := range map[string]*leveling.Error{
		"Surcos 3 y 5: no hay lectura con que hacer un plan.":                                           {Reason: "NOTHING_READ", Metadata: map[string]string{"rows": "3,5"}},
		"Este trabajo está anulado y no admite más anotaciones.":                                        {Reason: "JOB_CLOSED", Metadata: map[string]string{"stage": "VOIDED"}},
		"Hay 2 datos de la solicitud que están mal.":                                                    {Reason: "INVALID_REQUEST", Violations: make([]leveling.Violation, 2)},
		`El programa del tipo de mecanismo "x" no está funcionando. Sin eso no hay plan para: Surco 7.`: {Reason: "ADJUSTER_DOWN", Metadata: map[string]string{"style": "x", "rows": "7"}},
		"In words of its own.": {Reason: "OF_TOMORROW", Message: "In words of its own."},
	} {
		if got := message(e, leveling.Spanish); got != want {
			t.Errorf("%s: %q, want %q", e.Reason, got, want)
		}
		if got := message(e, leveling.English); got != e.Message {
			t.Errorf("%s in English: %q", e.Reason, got)
		}
	}
}

// TestTookTooLong: the refusal has the reason that the gateway gives where nobody else gave one, so that it
// leaves the words alone.
func TestTookTooLong(t *testing.T) {
	s := status.Convert(statusError(fmt.Errorf("planning: %w", context.DeadlineExceeded), leveling.Voice{Language: leveling.Spanish}))
	info, _ := s.Details()[0].(*errdetails.ErrorInfo)
	if s.Code() != codes.DeadlineExceeded || info.GetReason() != "DEADLINE_EXCEEDED" || s.Message() != "La respuesta tardó demasiado; no se cambió nada." {
		t.Errorf("%v, %v", s, info)
	}
}
