package tracing

import (
	"net/http"
	"testing"
)

// TestStart: nothing is traced unless asked for, and what cannot be sent to is refused at once.
func TestStart(t *testing.T) {
	none, err := Start(t.Context(), "")
	if none != nil || err != nil {
		t.Fatal(none, err)
	}
	mux := http.NewServeMux()
	if none.Edge(mux, true) != http.Handler(mux) || none.Server() != nil || none.Client() != nil || none.Inside() != nil || none.Close(t.Context()) != nil {
		t.Error("the nil Tracing does something")
	}
	none.Name(t.Context(), "GET", "/v1/styles", "id")
	for _, endpoint := range []string{"127.0.0.1:4318", "grpc://127.0.0.1:4317", "http://", "://"} {
		if _, err := Start(t.Context(), endpoint); err == nil {
			t.Errorf("%q was taken", endpoint)
		}
	}
	some, err := Start(t.Context(), "http://127.0.0.1:4318/")
	if err != nil {
		t.Fatal(err)
	}
	if err := some.Close(t.Context()); err != nil {
		t.Error(err)
	}
	t.Setenv("OTEL_EXPORTER_OTLP_PROTOCOL", "grpc")
	if _, err := Start(t.Context(), "http://127.0.0.1:4317"); err == nil {
		t.Error("a protocol that is not spoken was taken")
	}
}
