package gateway

import (
	"crypto/tls"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// cookies returns what an answer has the browser keep, by name.
func (a answer) cookies() map[string]*http.Cookie {
	out := map[string]*http.Cookie{}
	for _, c := range a.Cookies() {
		out[c.Name] = c
	}
	return out
}

const asJSON, anyJSON = "Content-Type", "application/json"

func paired(ends time.Duration) *pb.RedeemPairingResponse {
	out := &pb.RedeemPairingResponse{Key: "rd_PHONE", Session: &pb.Session{Shop: "creek", Role: pb.Role_TECHNICIAN, Label: "Ada's phone"}}
	if ends > 0 {
		out.Session.ExpireTime = timestamppb.New(time.Now().Add(ends))
	}
	return out
}

func TestRedeemedKeyIsACookie(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{})
	for _, c := range []struct {
		name     string
		ends     time.Duration
		headers  []string
		secure   bool
		from, to int // seconds
	}{
		{"plain, for 90 days", 90 * 24 * time.Hour, nil, false, 90*86400 - 60, 90 * 86400},
		{"a proxy with TLS", 90 * 24 * time.Hour, []string{"X-Forwarded-Proto", "https"}, true, 90*86400 - 60, 90 * 86400},
		{"without an end", 0, nil, false, 400 * 86400, 400 * 86400},
		{"longer than browsers keep", 9999 * time.Hour * 24, nil, false, 400 * 86400, 400 * 86400},
	} {
		f.phone = paired(c.ends)
		got := send(t, front, "POST", redeemPath, `{"code":"GOOD"}`, append(c.headers, asJSON, anyJSON, "Cookie", "rowdatum=rd_REVOKED")...)
		kept := got.cookies()[phoneCookie]
		if got.StatusCode != 200 || kept == nil || kept.Value != "rd_PHONE" || !kept.HttpOnly || kept.SameSite != http.SameSiteStrictMode || kept.Path != "/" || kept.Domain != "" ||
			kept.Secure != c.secure || kept.MaxAge < c.from || kept.MaxAge > c.to {
			t.Errorf("%s: %s %+v", c.name, got.Status, kept)
		}
		var told struct {
			Key     string
			Session struct{ Shop, Role string }
		}
		if err := json.Unmarshal([]byte(got.text), &told); err != nil || told.Key != "" || told.Session.Shop != "creek" || strings.Contains(got.text, "rd_PHONE") {
			t.Errorf("%s: told %s", c.name, got.text)
		}
		if len(f.meta.Get("authorization")) != 0 {
			t.Errorf("%s: an old key went along: %v", c.name, f.meta)
		}
	}
	if got := send(t, front, "POST", redeemPath, `{"code":"BAD"}`, asJSON, anyJSON); got.StatusCode != 401 || len(got.Cookies()) != 0 || got.Header.Get("WWW-Authenticate") != "Bearer" {
		t.Errorf("wrong code: %s %v", got.Status, got.Header)
	}
}

func TestCookieOverTLS(t *testing.T) {
	f := &fakeService{phone: paired(time.Hour)}
	plain := serve(t, f, Options{})
	front := httptest.NewUnstartedServer(plain.Config.Handler)
	front.TLS = &tls.Config{MinVersion: tls.VersionTLS12}
	front.StartTLS()
	defer front.Close()
	got := send(t, front, "POST", redeemPath, `{"code":"GOOD"}`, asJSON, anyJSON)
	if kept := got.cookies()[phoneCookie]; kept == nil || !kept.Secure || !slices.Equal(f.meta.Get("x-forwarded-proto"), []string{"https"}) {
		t.Errorf("%+v, told %v", kept, f.meta)
	}
}

func TestCookieBecomesTheKey(t *testing.T) {
	f := &fakeService{}
	front := serve(t, f, Options{})
	for _, c := range []struct {
		name    string
		headers []string
		want    []string
	}{
		{"none", nil, nil},
		{"phone", []string{"Cookie", "a=b; rowdatum=rd_1"}, []string{"Bearer rd_1"}},
		{"share", []string{"Cookie", "rowdatum-share=rd_2"}, []string{"Bearer rd_2"}},
		{"phone before share", []string{"Cookie", "rowdatum-share=rd_2; rowdatum=rd_1"}, []string{"Bearer rd_1"}},
		{"header before cookie", []string{"Cookie", "rowdatum=rd_1", "Authorization", "Bearer rd_3"}, []string{"Bearer rd_3"}},
		{"no key", []string{"Cookie", `rowdatum="rd 1"`}, nil},
		{"empty", []string{"Cookie", "rowdatum="}, nil},
	} {
		send(t, front, "GET", "/v1/planters", "", c.headers...)
		if got := f.meta.Get("authorization"); !slices.Equal(got, c.want) {
			t.Errorf("%s: arrived %q, want %q", c.name, got, c.want)
		}
	}
}

// TestWritesFromOtherSites sends what a browser would send for a page elsewhere. Sec-Fetch-Site is sent
// only where the address is https or this machine's own; Origin always with a write.
func TestWritesFromOtherSites(t *testing.T) {
	f := &fakeService{phone: paired(time.Hour)}
	front := serve(t, f, Options{AllowedOrigins: []string{"https://shop.example"}})
	const cookie = "rowdatum=rd_1"
	for _, c := range []struct {
		name    string
		headers []string
		ok      bool
	}{
		{"same origin", []string{"Sec-Fetch-Site", "same-origin", "Origin", front.URL}, true},
		{"typed by hand", []string{"Sec-Fetch-Site", "none"}, true},
		{"other port or name of the same site", []string{"Sec-Fetch-Site", "same-site", "Origin", "http://127.0.0.1:1"}, false},
		{"other site", []string{"Sec-Fetch-Site", "cross-site", "Origin", "https://evil.example"}, false},
		{"other site, no origin", []string{"Sec-Fetch-Site", "cross-site"}, false},
		{"other site that is allowed", []string{"Sec-Fetch-Site", "cross-site", "Origin", "https://shop.example"}, true},
		{"old browser, same origin", []string{"Origin", front.URL}, true},
		{"old browser, other port", []string{"Origin", "http://127.0.0.1:1"}, false},
		{"old browser, other site", []string{"Origin", "https://evil.example"}, false},
		{"old browser, hidden", []string{"Origin", "null"}, false},
		{"a program", nil, true},
	} {
		for _, w := range []struct{ method, path string }{{"POST", "/v1/planters"}, {"PATCH", "/v1/planters/p"}, {"DELETE", "/v1/planters/p"}, {"POST", redeemPath}, {"POST", "/unpair"}, {"POST", "/share"}} {
			f.method = ""
			got := send(t, front, w.method, w.path, `{}`, append(c.headers, asJSON, anyJSON, "Cookie", cookie)...)
			refused := got.StatusCode == 403
			if refused == c.ok || refused && (got.problem(t).Details[0].Reason != "OTHER_SITE" || f.method != "" || len(got.Cookies()) != 0) {
				t.Errorf("%s, %s %s: %s %s", c.name, w.method, w.path, got.Status, got.text)
			}
		}
		if got := send(t, front, "GET", "/v1/planters", "", append(c.headers, "Cookie", cookie)...); got.StatusCode != 200 {
			t.Errorf("%s, reading: %s", c.name, got.Status)
		}
	}
	// A form of another site that hides where it comes from: not JSON, so nothing.
	if got := send(t, front, "POST", "/v1/planters", "a=b", "Content-Type", "text/plain", "Cookie", cookie); got.StatusCode != 415 {
		t.Errorf("form: %s", got.Status)
	}
}

func TestShareLink(t *testing.T) {
	ends := timestamppb.New(time.Now().Add(time.Hour))
	f := &fakeService{keys: map[string]*pb.Session{
		"rd_LINK":   {Shop: "creek", Role: pb.Role_READER, Label: "share of Ada", ExpireTime: ends},
		"rd_OWNER":  {Shop: "creek", Role: pb.Role_OWNER, ExpireTime: ends},
		"rd_ALWAYS": {Shop: "creek", Role: pb.Role_READER},
		"rd_PHONE":  {Shop: "creek", Role: pb.Role_TECHNICIAN, ExpireTime: ends},
	}}
	front := serve(t, f, Options{})
	for _, c := range []struct {
		name, key, cookie string
		status            int
		reason            string
	}{
		{"a link", "Bearer rd_LINK", "", 200, ""},
		{"a second link", "Bearer rd_LINK", "rowdatum-share=rd_OTHER", 200, ""},
		{"in place of a pairing that ended", "Bearer rd_LINK", "rowdatum=rd_GONE", 200, ""},
		{"on a paired phone", "Bearer rd_LINK", "rowdatum=rd_PHONE", 400, "PAIRED_ALREADY"},
		{"a key that does more", "Bearer rd_OWNER", "", 403, "KEY_NOT_SHARED"},
		{"a key that never ends", "Bearer rd_ALWAYS", "", 403, "KEY_NOT_SHARED"},
		{"a wrong key", "Bearer rd_WRONG", "", 401, "UNAUTHENTICATED"},
		{"no key", "", "", 401, "KEY_MISSING"},
		{"no key but the browser's", "", "rowdatum-share=rd_LINK", 401, "KEY_MISSING"},
		{"another sort of key", "Basic rd_LINK", "", 401, "KEY_MISSING"},
	} {
		got := send(t, front, "POST", "/share", "", "Authorization", c.key, "Cookie", c.cookie)
		kept := got.cookies()
		if got.StatusCode != c.status {
			t.Errorf("%s: %s %s", c.name, got.Status, got.text)
			continue
		}
		if c.status != 200 {
			if p := got.problem(t); p.Details[0].Reason != c.reason || len(kept) != 0 {
				t.Errorf("%s: %s %v", c.name, got.text, kept)
			}
			continue
		}
		share := kept[shareCookie]
		if share == nil || share.Value != "rd_LINK" || !share.HttpOnly || share.SameSite != http.SameSiteStrictMode || share.MaxAge < 3500 || share.MaxAge > 3600 || strings.Contains(got.text, "rd_LINK") {
			t.Errorf("%s: %v %s", c.name, share, got.text)
		}
	}
}

// TestShareKeepsAPairingThatCannotBeAsked has the service fail in between.
func TestShareKeepsAPairingThatCannotBeAsked(t *testing.T) {
	front := serve(t, &fakeService{err: http.ErrHandlerTimeout}, Options{}) // and no keys: every session is an error
	got := send(t, front, "POST", "/share", "", "Authorization", "Bearer rd_LINK", "Cookie", "rowdatum=rd_PHONE")
	if len(got.Cookies()) != 0 || got.problem(t).Code != int(codes.Unimplemented) {
		t.Errorf("%s %s", got.Status, got.text)
	}
}

// TestUnpair: the phone's key is ended with the phone's key, and whatever comes of that the browser has none any more.
func TestUnpair(t *testing.T) {
	for _, c := range []struct {
		name, cookie string
		err          error
		carried      []string
		status       int
		text         string // of an answer; of a fault its reason
	}{
		{"a phone", "rowdatum=rd_1", nil, []string{"Bearer rd_1"}, 200, `{"keyEnded":true}`},
		{"a phone that read a link before", "rowdatum-share=rd_2; rowdatum=rd_1", nil, []string{"Bearer rd_1"}, 200, `{"keyEnded":true}`},
		{"again", "rowdatum=rd_1", status.Error(codes.Unauthenticated, "revoked"), []string{"Bearer rd_1"}, 200, `{"keyEnded":true}`},
		{"a reader of a link", "rowdatum-share=rd_2", nil, nil, 200, `{"keyEnded":false}`},
		{"nobody", "", nil, nil, 200, `{"keyEnded":false}`},
		{"a key that pairing did not make", "rowdatum=rd_1", status.Error(codes.PermissionDenied, "not paired"), []string{"Bearer rd_1"}, 200, `{"keyEnded":false}`},
		{"the service is away", "rowdatum=rd_1", status.Error(codes.Unavailable, "connection refused"), []string{"Bearer rd_1"}, 503, "KEY_NOT_ENDED"},
		{"the service does not answer in time", "rowdatum=rd_1", status.Error(codes.DeadlineExceeded, "late"), []string{"Bearer rd_1"}, 503, "KEY_NOT_ENDED"},
		{"too many calls", "rowdatum=rd_1", status.Error(codes.ResourceExhausted, "slow down"), []string{"Bearer rd_1"}, 503, "KEY_NOT_ENDED"},
	} {
		f := &fakeService{err: c.err}
		front := serve(t, f, Options{})
		got := send(t, front, "POST", "/unpair", "", "Cookie", c.cookie, "Authorization", "Bearer rd_OTHER") // only the cookie's own is ended
		kept := got.cookies()
		if got.StatusCode != c.status || kept[phoneCookie] == nil || kept[phoneCookie].MaxAge >= 0 || kept[shareCookie] == nil || kept[shareCookie].MaxAge >= 0 {
			t.Errorf("%s: %s %v", c.name, got.Status, kept)
		}
		if c.status == 200 && strings.TrimSpace(got.text) != c.text || c.status != 200 && got.problem(t).Details[0].Reason != c.text {
			t.Errorf("%s: %s, want %s", c.name, got.text, c.text)
		}
		if carried := f.meta.Get("authorization"); !slices.Equal(carried, c.carried) {
			t.Errorf("%s: the service was called with %q, want %q", c.name, carried, c.carried)
		}
	}
	f := &fakeService{}
	front := serve(t, f, Options{})
	if got := send(t, front, "GET", "/unpair", "", "Cookie", "rowdatum=rd_1"); got.StatusCode != 405 || len(got.Cookies()) != 0 || f.method != "" {
		t.Errorf("a link that ends pairings: %s, called %q", got.Status, f.method)
	}
}
