package main

import (
	"bytes"
	"io"
	"net/http"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/api/httpbody"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// TestSheet fetches the sheet of a signed and of an open job in every form, in both languages.
func TestSheet(t *testing.T) {
	t.Parallel()
	service := start(t, bundle())
	ways := waysTo(t, service.addresses)
	s := setScene(t, ways[0])
	get := func(job *pb.Job, query, language string) (*http.Response, []byte) {
		t.Helper()
		req := must[*http.Request](t)(http.NewRequestWithContext(t.Context(), http.MethodGet, service.url("/v1/"+job.Name+":sheet"+query), nil))
		req.Header.Set("Accept-Language", language)
		answer := must[*http.Response](t)(http.DefaultClient.Do(req))
		defer answer.Body.Close()
		return answer, must[[]byte](t)(io.ReadAll(answer.Body))
	}
	hash := s.signed.State.Signature.ContentHash
	for _, c := range []struct {
		job             *pb.Job
		query, language string
		contentType     string
		wanted          []string
	}{
		{s.signed, "", "en", "text/html; charset=utf-8", []string{hash, "As found", "<svg"}},
		{s.signed, "?format=HTML", "es-MX", "text/html; charset=utf-8", []string{hash, "Surco"}},
		{s.signed, "?language=es-MX", "en", "text/html; charset=utf-8", []string{hash, "Surco"}},
		{s.signed, "?format=CSV", "en", "text/csv; charset=utf-8", []string{hash, "contentHash"}},
		{s.signed, "?format=PDF", "en", "application/pdf", []string{"%PDF-"}},
		{s.signed, "?format=PDF&paper=LETTER", "en", "application/pdf", []string{"%PDF-"}},
		{s.open, "", "en", "text/html; charset=utf-8", []string{"DRAFT"}},
		{s.voided, "", "en", "text/html; charset=utf-8", []string{"VOID"}},
	} {
		answer, text := get(c.job, c.query, c.language)
		if answer.StatusCode != http.StatusOK || answer.Header.Get("Content-Type") != c.contentType {
			t.Errorf("%s%s: %s, %s", c.job.Name, c.query, answer.Status, answer.Header.Get("Content-Type"))
		}
		for _, want := range c.wanted {
			if !bytes.Contains(text, []byte(want)) {
				t.Errorf("%s%s in %s has no %q", c.job.Name, c.query, c.language, want)
			}
		}
		policies, name := answer.Header.Values("Content-Security-Policy"), answer.Header.Get("Content-Disposition")
		if isPage := strings.HasPrefix(c.contentType, "text/html"); len(policies) != 1 || strings.Contains(policies[0], "style-src 'sha256-") != isPage || (name == "") != isPage {
			t.Errorf("%s%s: policies %q, file name %q", c.job.Name, c.query, policies, name)
		}
	}
	if answer, text := get(s.signed, "?language=fr", "en"); answer.StatusCode != http.StatusBadRequest || !bytes.Contains(text, []byte(`"language"`)) {
		t.Errorf("in French: %s, %s", answer.Status, text)
	}
	for _, w := range ways {
		pdf := must[*httpbody.HttpBody](t)(w.jobs().GetJobSheet(t.Context(), &pb.GetJobSheetRequest{Name: s.signed.Name, Format: pb.GetJobSheetRequest_PDF}))
		if pdf.ContentType != "application/pdf" || !bytes.HasPrefix(pdf.Data, []byte("%PDF-")) {
			t.Errorf("%s: %s of %d bytes", w.name, pdf.ContentType, len(pdf.Data))
		}
	}
}
