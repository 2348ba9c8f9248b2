package gateway

import (
	"context"
	"slices"
	"testing"

	"google.golang.org/genproto/googleapis/api/httpbody"
	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"
)

// TestSheetBringsItsOwnPolicy: what is no JSON comes as it is, with its type, and with its policy in place of
// the gateway's; no other header of the service gets out, and no other answer brings a policy.
func TestSheetBringsItsOwnPolicy(t *testing.T) {
	const own = "default-src 'none'; style-src 'sha256-x'"
	f := &fakeService{}
	front := serve(t, f, Options{})
	for _, c := range []struct {
		name, contentType, text string
		said                    metadata.MD
		policies, dispositions  []string
	}{
		{"a page", "text/html; charset=utf-8", "<p>Sheet</p>", metadata.Pairs("content-security-policy", own, "x-secret", "inside"), []string{own}, nil},
		{"a file", "application/pdf", "%PDF-\x00\xff", metadata.Pairs("content-disposition", `inline; filename="a.pdf"`), []string{policy}, []string{`inline; filename="a.pdf"`}},
		{"two policies", "text/html", "x", metadata.Pairs("content-security-policy", own, "content-security-policy", "default-src *"), []string{policy}, nil},
		{"nothing said", "text/csv", "row\r\n", nil, []string{policy}, nil},
	} {
		f.sheet = func(ctx context.Context) *httpbody.HttpBody {
			_ = grpc.SetHeader(ctx, c.said)
			return &httpbody.HttpBody{ContentType: c.contentType, Data: []byte(c.text)}
		}
		got := send(t, front, "GET", "/v1/planters/p/jobs/j:sheet", "")
		if got.StatusCode != 200 || got.text != c.text || got.Header.Get("Content-Type") != c.contentType {
			t.Errorf("%s: %s, %q: %q", c.name, got.Status, got.Header.Get("Content-Type"), got.text)
		}
		if !slices.Equal(got.Header.Values("Content-Security-Policy"), c.policies) || !slices.Equal(got.Header.Values("Content-Disposition"), c.dispositions) {
			t.Errorf("%s: policies %q, dispositions %q", c.name, got.Header.Values("Content-Security-Policy"), got.Header.Values("Content-Disposition"))
		}
		if got.Header.Get("X-Secret") != "" || got.Header.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: headers %v", c.name, got.Header)
		}
	}

	// An answer in JSON says nothing of a policy, whatever the service sends along.
	if got := send(t, front, "GET", "/v1/planters/p", ""); !slices.Equal(got.Header.Values("Content-Security-Policy"), []string{policy}) {
		t.Errorf("JSON: policies %q", got.Header.Values("Content-Security-Policy"))
	}
}
