package api

import (
	"context"

	"google.golang.org/protobuf/types/known/emptypb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// CreateHook registers a hook; id may be empty.
func (c *Client) CreateHook(ctx context.Context, id string, hook *pb.Hook) (*pb.Hook, []byte, error) {
	return ask[pb.Hook](ctx, c, &pb.CreateHookRequest{HookId: id, Hook: hook})
}

// Hooks lists all hooks, by id.
func (c *Client) Hooks(ctx context.Context) ([]*pb.Hook, error) {
	return pages(ctx, c, &pb.ListHooksRequest{PageSize: 200}, (*pb.ListHooksResponse).GetHooks)
}

// DeleteHook removes a hook; what waits for it is not sent.
func (c *Client) DeleteHook(ctx context.Context, name string) ([]byte, error) {
	_, answer, err := ask[emptypb.Empty](ctx, c, &pb.DeleteHookRequest{Name: name})
	return answer, err
}

// RotateHookSecret gives a hook a new secret, which is in the answer.
func (c *Client) RotateHookSecret(ctx context.Context, name string) (*pb.Hook, []byte, error) {
	return ask[pb.Hook](ctx, c, &pb.RotateHookSecretRequest{Name: name})
}

// Deliveries lists the deliveries of a hook, newest first; filter is as state = DEAD, or empty.
func (c *Client) Deliveries(ctx context.Context, hook, filter string) ([]*pb.Delivery, error) {
	return pages(ctx, c, &pb.ListDeliveriesRequest{Parent: hook, PageSize: 200, Filter: filter}, (*pb.ListDeliveriesResponse).GetDeliveries)
}

// ResendDelivery has a delivery that ended sent again.
func (c *Client) ResendDelivery(ctx context.Context, name string) (*pb.Delivery, []byte, error) {
	return ask[pb.Delivery](ctx, c, &pb.ResendDeliveryRequest{Name: name})
}
