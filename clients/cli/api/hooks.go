package api

import (
	"context"
	"fmt"
	"net/http"
	"net/url"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/types/known/emptypb"

	"rowdatum/clients/internal/requestid"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// CreateHook registers a hook; id may be empty.
func (c *Client) CreateHook(ctx context.Context, id string, hook *rowdatumv1.Hook) (*rowdatumv1.Hook, []byte, error) {
	body, err := protojson.Marshal(hook)
	if err != nil {
		return nil, nil, err
	}
	made := &rowdatumv1.Hook{}
	answer, err := c.create(ctx, "/v1/hooks", url.Values{"hookId": {id}}, body, made)
	return made, answer, err
}

// Hooks lists all hooks, by id.
func (c *Client) Hooks(ctx context.Context) ([]*rowdatumv1.Hook, error) {
	return pages(ctx, c, "/v1/hooks", url.Values{"pageSize": {"200"}}, (*rowdatumv1.ListHooksResponse).GetHooks)
}

// DeleteHook removes a hook; what waits for it is not sent.
func (c *Client) DeleteHook(ctx context.Context, name string) ([]byte, error) {
	return c.call(ctx, http.MethodDelete, "/v1/"+name+"?requestId="+requestid.New(), nil, &emptypb.Empty{})
}

// RotateHookSecret gives a hook a new secret, which is in the answer.
func (c *Client) RotateHookSecret(ctx context.Context, name string) (*rowdatumv1.Hook, []byte, error) {
	hook := &rowdatumv1.Hook{}
	answer, err := c.write(ctx, "/v1/"+name+":rotateSecret", fmt.Appendf(nil, `{"requestId":%q}`, requestid.New()), hook)
	return hook, answer, err
}

// Deliveries lists the deliveries of a hook, newest first; filter is as state = DEAD, or empty.
func (c *Client) Deliveries(ctx context.Context, hook, filter string) ([]*rowdatumv1.Delivery, error) {
	query := url.Values{"pageSize": {"200"}}
	if filter != "" {
		query.Set("filter", filter)
	}
	return pages(ctx, c, "/v1/"+hook+"/deliveries", query, (*rowdatumv1.ListDeliveriesResponse).GetDeliveries)
}

// ResendDelivery has a delivery that ended sent again.
func (c *Client) ResendDelivery(ctx context.Context, name string) (*rowdatumv1.Delivery, []byte, error) {
	delivery := &rowdatumv1.Delivery{}
	answer, err := c.write(ctx, "/v1/"+name+":resend", fmt.Appendf(nil, `{"requestId":%q}`, requestid.New()), delivery)
	return delivery, answer, err
}
