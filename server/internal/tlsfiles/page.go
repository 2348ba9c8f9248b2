package tlsfiles

import (
	"bytes"
	"crypto/x509"
	_ "embed"
	"fmt"
	"html/template"
	"net/http"

	"rowdatum/server/internal/qrsvg"
)

//go:embed page.html
var pageText string

// pagePolicy lets the page be looked at and nothing else.
const pagePolicy = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// certPath ends as phones expect of a certificate.
const certPath = "/authority.crt"

// Page serves the authority's certificate, and a page with the service's address, and nothing else: it is
// what a phone can read before it trusts the authority.
func Page(authority *x509.Certificate, address string) (http.Handler, error) {
	picture, err := qrsvg.Draw(address)
	if err != nil {
		return nil, err
	}
	t, err := template.New("page").Parse(pageText)
	if err != nil {
		return nil, err
	}
	var page bytes.Buffer
	if err := t.Execute(&page, map[string]any{
		"Address": address, "Fingerprint": Fingerprint(authority), "CertPath": certPath,
		"Ends": authority.NotAfter.Format("2 January 2006"), "Picture": template.HTML(picture), // ours, digits only
	}); err != nil {
		return nil, fmt.Errorf("writing the page: %w", err)
	}
	mux := http.NewServeMux()
	mux.Handle("GET /{$}", fixed("text/html; charset=utf-8", page.Bytes()))
	mux.Handle("GET "+certPath, fixed("application/x-x509-ca-cert", authority.Raw))
	return mux, nil
}

func fixed(media string, body []byte) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		h := w.Header()
		h.Set("Content-Type", media)
		h.Set("Content-Security-Policy", pagePolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-cache")
		_, _ = w.Write(body) // the phone may have left
	})
}
