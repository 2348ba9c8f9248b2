package gateway

import (
	"context"
	"encoding/json"
	"net/http"
	"time"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// readyTimeout keeps a probe shorter than what asks it usually waits.
const readyTimeout = 2 * time.Second

// The health names that the service gives its store: whether it can be written, and whether it is what was written.
const (
	storeService = "store"
	storeIntact  = "store.intact"
)

type readiness struct {
	Ready        bool    `json:"ready"`
	Service      state   `json:"service"`
	Store        state   `json:"store"`
	Styles       []style `json:"styles"`
	StylesReason string  `json:"stylesReason,omitempty"`
}

type state struct {
	State  string `json:"state"`
	Reason string `json:"reason,omitempty"`
}

type style struct {
	Name string `json:"name"`
	state
}

// healthz answers while the process runs, whatever the service does.
func (g *gateway) healthz(w http.ResponseWriter, _ *http.Request) {
	writeJSON(w, http.StatusOK, map[string]string{"status": grpc_health_v1.HealthCheckResponse_SERVING.String()})
}

// readyz answers whether work can be done: the service is there and its store can be written. A style
// that is down stops only its own plans, so it is told but does not count.
func (g *gateway) readyz(w http.ResponseWriter, r *http.Request) {
	c := callOf(r.Context())
	ctx, cancel := context.WithTimeout(metadata.AppendToOutgoingContext(r.Context(), "x-request-id", c.id), readyTimeout)
	defer cancel()
	answer := readiness{
		Service: g.state(ctx, "", "The service is not serving; its log says why."),
		Store:   g.state(ctx, storeService, "The store cannot be written; the service's log says why."),
		Styles:  []style{},
	}
	if answer.Store.Reason != "" && g.state(ctx, storeIntact, "damaged").Reason == "damaged" {
		answer.Store.Reason = "The store is damaged: nothing is written to it any more. The service's log names the newest backup."
	}
	answer.Ready = answer.Service.Reason == "" && answer.Store.Reason == ""
	g.askStyles(ctx, r, &answer)
	if answer.Ready {
		writeJSON(w, http.StatusOK, answer)
		return
	}
	writeJSON(w, http.StatusServiceUnavailable, answer)
}

// askStyles adds each style's state, where the caller may know it: a probe that carries no key is not
// refused for that, and the service is not asked in vain.
func (g *gateway) askStyles(ctx context.Context, r *http.Request, answer *readiness) {
	if authorization(r) == "" && !g.open(r) {
		answer.StylesReason = "The styles are told to who has a key."
		return
	}
	ctx, err := runtime.AnnotateContext(ctx, g.api, trimmed(r, callOf(ctx)), pb.StyleService_ListStyles_FullMethodName)
	var list *pb.ListStylesResponse
	if err == nil {
		list, err = g.styles.ListStyles(ctx, &pb.ListStylesRequest{PageSize: 1000})
	}
	if err != nil {
		callOf(ctx).cause = err
		answer.StylesReason = "The styles could not be asked."
	}
	for _, s := range list.GetStyles() {
		answer.Styles = append(answer.Styles, style{s.GetName(), state{s.GetState().String(), s.GetStateReason()}})
	}
}

// state asks one health name; a reason stands exactly where it does not serve.
func (g *gateway) state(ctx context.Context, name, whyNot string) state {
	answer, err := g.health.Check(ctx, &grpc_health_v1.HealthCheckRequest{Service: name})
	if err != nil {
		callOf(ctx).cause = err
		return state{State: "UNREACHABLE", Reason: "The service did not answer."}
	}
	if answer.GetStatus() != grpc_health_v1.HealthCheckResponse_SERVING {
		return state{State: answer.GetStatus().String(), Reason: whyNot}
	}
	return state{State: answer.GetStatus().String()}
}

func writeJSON(w http.ResponseWriter, status int, v any) {
	text, _ := json.Marshal(v) // plain texts and booleans
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_, _ = w.Write(text) // the caller may have left
}
