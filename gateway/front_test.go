package gateway

import (
	"strings"
	"testing"

	"rowdatum/clients/page"
)

// TestFront has the page served at the root under its own policy, packed where that is asked for, never kept without
// asking, and each file under its hash.
func TestFront(t *testing.T) {
	front := serve(t, &fakeService{}, Options{})
	files, err := page.Files()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		wantPolicy := "default-src 'none'"
		if f.Path == "/" || f.Path == "/sw.js" {
			wantPolicy = page.Policy
		}
		plain := send(t, front, "GET", f.Path, "", "Accept-Encoding", "identity")
		if plain.StatusCode != 200 || plain.text != string(f.Body) || plain.Header.Get("Content-Type") != f.Type ||
			plain.Header.Get("Content-Security-Policy") != wantPolicy || plain.Header.Get("Cache-Control") != "no-cache" ||
			plain.Header.Get("X-Content-Type-Options") != "nosniff" || plain.Header.Get("ETag") != f.ETag {
			t.Errorf("%s: %s %v", f.Path, plain.Status, plain.Header)
		}
		packed := send(t, front, "GET", f.Path, "", "Accept-Encoding", "br, gzip")
		if packed.Header.Get("Content-Encoding") != "gzip" || packed.text != string(f.Gzip) || !strings.Contains(strings.Join(packed.Header.Values("Vary"), ","), "Accept-Encoding") {
			t.Errorf("%s packed: %s %v", f.Path, packed.Status, packed.Header)
		}
		known := send(t, front, "GET", f.Path, "", "Accept-Encoding", "gzip", "If-None-Match", packed.Header.Get("ETag"))
		if known.StatusCode != 304 {
			t.Errorf("%s known: %s", f.Path, known.Status)
		}
		if refused := send(t, front, "GET", f.Path, "", "Accept-Encoding", "gzip;q=0"); refused.Header.Get("Content-Encoding") != "" {
			t.Errorf("%s packed for a caller that refuses it", f.Path)
		}
	}
}
