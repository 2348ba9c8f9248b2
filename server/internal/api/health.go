package api

import (
	"context"

	"google.golang.org/grpc/health"
	"google.golang.org/grpc/health/grpc_health_v1"
)

// StoreService is the health name of the store.
const StoreService = "store"

// Health answers the standard health protocol: "" and every service while the process serves, "store"
// by trying the store at each question.
type Health struct {
	*health.Server
	Probe func(context.Context) error // nil: there is no store to try
}

// Check implements grpc.health.v1.Health.
func (h *Health) Check(ctx context.Context, req *grpc_health_v1.HealthCheckRequest) (*grpc_health_v1.HealthCheckResponse, error) {
	if req.GetService() == StoreService && h.Probe != nil {
		state := grpc_health_v1.HealthCheckResponse_SERVING
		if h.Probe(ctx) != nil {
			state = grpc_health_v1.HealthCheckResponse_NOT_SERVING
		}
		h.SetServingStatus(StoreService, state)
	}
	return h.Server.Check(ctx, req)
}
