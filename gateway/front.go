package gateway

import (
	"bytes"
	"net/http"
	"strings"
	"time"

	"rowdatum/clients/page"
)

// frontPages are the files of the page that a technician works with; it lies at "/".
func frontPages() (map[string]http.Handler, error) {
	files, err := page.Files()
	if err != nil {
		return nil, err
	}
	out := map[string]http.Handler{}
	for _, f := range files {
		out[f.Path] = front(f)
	}
	return out, nil
}

// front serves a file packed where the browser takes that. Cache-Control stays no-cache: a browser asks each time and
// hears by the hash that nothing has changed, so that page and service are always of one version.
func front(f page.File) http.Handler {
	return onlyGet(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policyOf(f))
		h.Set("Content-Type", f.Type)
		h.Add("Vary", "Accept-Encoding")
		h.Set("ETag", f.ETag)
		body := f.Body
		if takesGzip(r) {
			body = f.Gzip
			h.Set("Content-Encoding", "gzip")
			h.Set("ETag", strings.TrimSuffix(f.ETag, `"`)+`-gzip"`)
		}
		http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(body))
	})
}

// policyOf is the page's policy for what a browser runs on its own: the document and its worker. A part of the page
// goes by the document's; opened alone it may do nothing, and says so in fewer bytes.
func policyOf(f page.File) string {
	if strings.HasPrefix(f.Type, "text/html") || f.Path == "/sw.js" {
		return page.Policy
	}
	return "default-src 'none'"
}

// takesGzip reports whether the caller takes packed bytes; whoever says no with q=0 is no browser, but is heard.
func takesGzip(r *http.Request) bool {
	for _, offer := range strings.Split(r.Header.Get("Accept-Encoding"), ",") {
		coding, weight, _ := strings.Cut(strings.TrimSpace(offer), ";")
		if strings.EqualFold(strings.TrimSpace(coding), "gzip") {
			return strings.Trim(strings.TrimPrefix(strings.TrimSpace(weight), "q="), "0.") != "" || weight == ""
		}
	}
	return false
}
