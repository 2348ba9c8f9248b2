package api

import (
	"context"

	"google.golang.org/grpc/health"
	"google.golang.org/grpc/health/grpc_health_v1"
)

// Health names beside those of the services.
const (
	StoreService = "store"        // whether it can be written
	StoreIntact  = "store.intact" // whether it is what was written, as far as is known
)

// Health answers the standard health protocol: "" and every service while the process serves, "store"
// by trying the store at each question, "store.intact" by what is known of it.
type Health struct {
	*health.Server
	Probe  func(context.Context) error // nil: there is no store to try
	Damage func() error                // what is known to be wrong with it; nil as above
}

// Check implements grpc.health.v1.Health.
func (h *Health) Check(ctx context.Context, req *grpc_health_v1.HealthCheckRequest) (*grpc_health_v1.HealthCheckResponse, error) {
	switch name := req.GetService(); {
	case name == StoreService && h.Probe != nil:
		h.set(name, h.Probe(ctx))
	case name == StoreIntact && h.Damage != nil:
		h.set(name, h.Damage())
	}
	return h.Server.Check(ctx, req)
}

func (h *Health) set(name string, fault error) {
	state := grpc_health_v1.HealthCheckResponse_SERVING
	if fault != nil {
		state = grpc_health_v1.HealthCheckResponse_NOT_SERVING
	}
	h.SetServingStatus(name, state)
}
