package gateway

import (
	"net/http"
	"strings"
	"testing"
)

// TestKeylessCallsUnderOwnNamesOnly has a name of a site elsewhere lead to this machine: the service must
// hear that such a call needs a key.
func TestKeylessCallsUnderOwnNamesOnly(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{})
	for host, own := range map[string]bool{"127.0.0.1:7480": true, "127.0.0.1": true, "localhost:7480": true, "LOCALHOST": true, "[::1]:7480": true, "[::1]": true,
		"evil.example:7480": false, "evil.example": false, "localhost.evil.example": false, "192.168.1.7:7480": false, "127.0.0.1.evil.example": false} {
		req, err := http.NewRequest("GET", front.URL+"/v1/planters", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Host = host
		req.Header.Set(keysOnlyHeader, "0") // the caller has no say
		resp, err := front.Client().Do(req)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if got := f.meta.Get(keysOnlyHeader); (len(got) == 0) != own || resp.StatusCode != 200 {
			t.Errorf("%s: %s, told %q", host, resp.Status, got)
		}
	}
}

// TestLanguagesTravelOn has the service hear what its reader reads, and never what gRPC cannot carry.
func TestLanguagesTravelOn(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{})
	for _, c := range []struct {
		said []string
		want string
	}{
		{nil, ""},
		{[]string{"es-MX, en;q=0.5"}, "es-MX, en;q=0.5"},
		{[]string{"es", "en;q=0.5"}, "es,en;q=0.5"},
		{[]string{"espa\u00f1ol"}, ""},
		{[]string{strings.Repeat("es,", 400)}, ""},
	} {
		req, err := http.NewRequest("GET", front.URL+"/v1/planters", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header[languageHeader] = c.said
		resp, err := front.Client().Do(req)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if got := strings.Join(f.meta.Get(languageHeader), "|"); got != c.want || resp.StatusCode != 200 {
			t.Errorf("%q: %s, told %q", c.said, resp.Status, got)
		}
	}
}
