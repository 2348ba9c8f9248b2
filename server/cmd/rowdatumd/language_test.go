package main

import (
	"context"
	"slices"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// TestLanguages has readers of two languages work at one job, through both ways in.
func TestLanguages(t *testing.T) {
	t.Parallel()
	service := start(t, bundle())
	ways := waysTo(t, service.addresses)
	s := setScene(t, ways[0])
	spanish := metadata.AppendToOutgoingContext(t.Context(), "accept-language", "es-MX, en;q=0.5")
	for _, w := range ways {
		t.Run(w.name, func(t *testing.T) {
			job := must[*pb.Job](t)
			in := func(ctx context.Context) *pb.JobState {
				return job(w.jobs().GetJob(ctx, &pb.GetJobRequest{Name: s.open.Name})).State
			}
			theirs, ours := in(spanish), in(t.Context())
			if es, en := theirs.Rows[0].Why, ours.Rows[0].Why; !strings.HasPrefix(es, "parejo: 50.0 mm") || !strings.HasPrefix(en, "even: 50.0 mm") {
				t.Errorf("row 1: %q, and in English %q", es, en)
			}
			for i, c := range theirs.Cautions {
				if en := ours.Cautions[i]; c.Id != en.Id || c.Text == en.Text || c.Text == "" {
					t.Errorf("caution %v, and in English %v", c, en)
				}
			}
			if !slices.Contains(theirs.SigningNeeds, "Surco 2: falta emparejar; lleve al nivel común, lea otra vez, o exceptúe con un motivo.") {
				t.Errorf("signing needs %q", theirs.SigningNeeds)
			}

			_, err := w.jobs().SignJob(spanish, &pb.SignJobRequest{Name: s.open.Name, Etag: s.open.Etag, Person: ada})
			wantSaid(t, err, codes.FailedPrecondition, "Faltan precauciones por confirmar; una persona debe confirmar cada una antes de firmar el trabajo.", "")
			_, err = w.jobs().AddReadings(spanish, &pb.AddReadingsRequest{Name: s.open.Name, Readings: inMM(1, 0, 1450)})
			wantSaid(t, err, codes.InvalidArgument, "Hay un dato de la solicitud que está mal.", "da una profundidad de 1450 mm, debe dar una de -20 a 300 mm")

			dry := must[*pb.AppendResponse](t)(w.jobs().PlanJob(spanish, &pb.PlanJobRequest{Name: s.open.Name, Etag: s.open.Etag, ValidateOnly: true}))
			if why := dry.Events[0].GetPlanIssued().Plan.Rows[1].Why; !strings.HasPrefix(why, "se mueve: está a 38.0 mm") {
				t.Errorf("the plan says %q", why)
			}
		})
	}
}

func wantSaid(t *testing.T, err error, code codes.Code, message, violation string) {
	t.Helper()
	got := status.Convert(err)
	if got.Code() != code || got.Message() != message {
		t.Errorf("%v: %q, want %v: %q", got.Code(), got.Message(), code, message)
	}
	for _, d := range got.Details() {
		if bad, ok := d.(*errdetails.BadRequest); ok && bad.FieldViolations[0].Description != violation {
			t.Errorf("violation %q, want %q", bad.FieldViolations[0].Description, violation)
		}
	}
}
