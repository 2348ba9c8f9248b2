package gateway

import (
	"net/http"
	"net/http/httptest"
	"net/netip"
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

// TestCallerBehindAProxy: only a proxy that is named is believed, and only about the hop that it has added itself.
func TestCallerBehindAProxy(t *testing.T) {
	g := &gateway{Options: Options{TrustedProxies: []netip.Prefix{netip.MustParsePrefix("10.8.0.0/24"), netip.MustParsePrefix("fd00::1/128")}}}
	for _, c := range []struct {
		name, remote string
		hops         []string
		want         string
	}{
		{"nobody in front", "192.0.2.7:4711", nil, "192.0.2.7:4711"},
		{"a caller that tells tales", "192.0.2.7:4711", []string{"10.8.0.1"}, "192.0.2.7:4711"},
		{"a proxy", "10.8.0.1:4711", []string{"192.0.2.7"}, "192.0.2.7:0"},
		{"a proxy over IPv4 in IPv6", "[::ffff:10.8.0.1]:4711", []string{"192.0.2.7"}, "192.0.2.7:0"},
		{"a proxy about IPv6", "[fd00::1]:4711", []string{"2001:db8::9"}, "[2001:db8::9]:0"},
		{"a caller's own hop before the proxy's", "10.8.0.1:4711", []string{"198.51.100.1,203.0.113.3", "198.51.100.2 , 192.0.2.7"}, "192.0.2.7:0"},
		{"a proxy that says nothing", "10.8.0.1:4711", nil, "10.8.0.1:4711"},
		{"a proxy that says no address", "10.8.0.1:4711", []string{"192.0.2.7, unknown"}, "10.8.0.1:4711"},
		{"no address at all", "@", []string{"192.0.2.7"}, "@"},
	} {
		r := httptest.NewRequest("GET", "/v1/planters", nil)
		r.RemoteAddr = c.remote
		for _, hop := range c.hops {
			r.Header.Add("X-Forwarded-For", hop)
		}
		if got := g.callerAt(r); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// TestProxysCallerReachesTheService: the service hears of the caller behind a proxy, and of nothing that the caller invents.
func TestProxysCallerReachesTheService(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{TrustedProxies: []netip.Prefix{netip.MustParsePrefix("127.0.0.1/32")}})
	got := compute(t, front, "{}", "X-Forwarded-For", "198.51.100.1, 192.0.2.7", "Grpc-Metadata-X-Forwarded-For", "198.51.100.2")
	if at := f.meta.Get("x-forwarded-for"); got.StatusCode != 200 || len(at) != 1 || at[0] != "192.0.2.7" {
		t.Errorf("%s: the service was told %q", got.Status, at)
	}
}
