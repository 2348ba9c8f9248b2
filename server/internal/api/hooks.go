package api

import (
	"context"
	"fmt"
	"strconv"

	"google.golang.org/protobuf/types/known/emptypb"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// Hooks serves rowdatum.v1.HookService.
type Hooks struct {
	pb.UnimplementedHookServiceServer
	Flow *flow.Flow
}

const (
	hookPrefix      = "hooks/"
	hooksScope      = "hooks"
	hookPattern     = "hooks/*"
	deliveryPattern = "hooks/*/deliveries/*"
)

// CreateHook implements HookService.
func (s *Hooks) CreateHook(ctx context.Context, req *pb.CreateHookRequest) (*pb.Hook, error) {
	h, err := hookOf(req.GetHook())
	if err != nil {
		return nil, err
	}
	h, err = s.Flow.CreateHook(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), req.GetHookId(), h)
	if err != nil {
		return nil, err
	}
	return s.withSecret(h), nil
}

// GetHook implements HookService.
func (s *Hooks) GetHook(ctx context.Context, req *pb.GetHookRequest) (*pb.Hook, error) {
	ids, err := parseName("name", req.GetName(), hookPattern)
	if err != nil {
		return nil, err
	}
	h, err := s.Flow.Hook(ctx, callerOf(ctx), ids[0])
	if err != nil {
		return nil, err
	}
	return s.hookProto(h), nil
}

// ListHooks implements HookService.
func (s *Hooks) ListHooks(ctx context.Context, req *pb.ListHooksRequest) (*pb.ListHooksResponse, error) {
	q, err := page(req, fewToAPage, hooksScope)
	if err != nil {
		return nil, err
	}
	hooks, more, err := s.Flow.Hooks(ctx, callerOf(ctx), q)
	if err != nil {
		return nil, err
	}
	out := &pb.ListHooksResponse{Hooks: each(hooks, s.hookProto)}
	if more {
		out.NextPageToken = nextToken(req, hooksScope, hooks[len(hooks)-1].ID)
	}
	return out, nil
}

// UpdateHook implements HookService.
func (s *Hooks) UpdateHook(ctx context.Context, req *pb.UpdateHookRequest) (*pb.Hook, error) {
	ids, err := parseName("hook.name", req.GetHook().GetName(), hookPattern)
	if err != nil {
		return nil, err
	}
	change := func(present flow.Hook) (flow.Hook, error) {
		whole := s.hookProto(present)
		if err := merge(whole, req.GetHook(), req.GetUpdateMask(), "name", "secret", "old_secret_until", "etag", "create_time", "update_time"); err != nil {
			return flow.Hook{}, err
		}
		return hookOf(whole)
	}
	h, err := s.Flow.UpdateHook(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), ids[0], req.GetHook().GetEtag(), change)
	if err != nil {
		return nil, err
	}
	return s.hookProto(h), nil
}

// DeleteHook implements HookService.
func (s *Hooks) DeleteHook(ctx context.Context, req *pb.DeleteHookRequest) (*emptypb.Empty, error) {
	ids, err := parseName("name", req.GetName(), hookPattern)
	if err != nil {
		return nil, err
	}
	if err := s.Flow.DeleteHook(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), ids[0], req.GetEtag()); err != nil {
		return nil, err
	}
	return &emptypb.Empty{}, nil
}

// RotateHookSecret implements HookService.
func (s *Hooks) RotateHookSecret(ctx context.Context, req *pb.RotateHookSecretRequest) (*pb.Hook, error) {
	ids, err := parseName("name", req.GetName(), hookPattern)
	if err != nil {
		return nil, err
	}
	h, err := s.Flow.RotateHookSecret(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), ids[0])
	if err != nil {
		return nil, err
	}
	return s.withSecret(h), nil
}

// ListDeliveries implements HookService.
func (s *Hooks) ListDeliveries(ctx context.Context, req *pb.ListDeliveriesRequest) (*pb.ListDeliveriesResponse, error) {
	ids, err := parseName("parent", req.GetParent(), hookPattern)
	if err != nil {
		return nil, err
	}
	scope := "deliveries of " + ids[0]
	q, err := page(req, fewToAPage, scope, "state")
	if err != nil {
		return nil, err
	}
	if err := words(q, "state", map[string]flow.DeliveryState{"WAITING": flow.Waiting, "DELIVERED": flow.Delivered, "DEAD": flow.Dead}); err != nil {
		return nil, err
	}
	all, more, err := s.Flow.Deliveries(ctx, callerOf(ctx), ids[0], q)
	if err != nil {
		return nil, err
	}
	out := &pb.ListDeliveriesResponse{Deliveries: each(all, deliveryProto)}
	if more {
		out.NextPageToken = nextToken(req, scope, strconv.FormatInt(all[len(all)-1].Serial, 10))
	}
	return out, nil
}

// ResendDelivery implements HookService.
func (s *Hooks) ResendDelivery(ctx context.Context, req *pb.ResendDeliveryRequest) (*pb.Delivery, error) {
	ids, err := parseName("name", req.GetName(), deliveryPattern)
	if err != nil {
		return nil, err
	}
	d, err := s.Flow.ResendDelivery(ctx, callerOf(ctx), requestOf(ctx, req.GetRequestId(), req), ids[0], ids[1])
	if err != nil {
		return nil, err
	}
	return deliveryProto(d), nil
}

var hookEvent = map[pb.HookEvent]flow.HookEvent{pb.HookEvent_JOB_OPENED: flow.JobOpened, pb.HookEvent_JOB_PLAN: flow.JobPlan,
	pb.HookEvent_JOB_SIGNED: flow.JobSigned, pb.HookEvent_PART_LIMIT: flow.PartLimit}

func hookEventProto(event flow.HookEvent) pb.HookEvent {
	for word, e := range hookEvent {
		if e == event {
			return word
		}
	}
	return pb.HookEvent_HOOK_EVENT_UNSPECIFIED
}

// hookOf reads what a caller may set of a hook.
func hookOf(h *pb.Hook) (flow.Hook, error) {
	var v leveling.Violations
	out := flow.Hook{URL: h.GetUrl(), Paused: h.GetPaused()}
	for i, word := range h.GetEvents() {
		event, known := hookEvent[word]
		if !known {
			v.Add(fmt.Sprintf("hook.events[%d]", i), "is %d, must be JOB_OPENED, JOB_PLAN, JOB_SIGNED or PART_LIMIT", word)
		}
		out.Events = append(out.Events, event)
	}
	return out, v.Err()
}

// hookProto is a hook without its secret.
func (s *Hooks) hookProto(h flow.Hook) *pb.Hook {
	out := &pb.Hook{Name: hookPrefix + h.ID, Url: h.URL, Events: each(h.Events, hookEventProto), Paused: h.Paused, Etag: flow.Etag(h.Revision),
		CreateTime: timeProto(h.CreateTime), UpdateTime: timeProto(h.UpdateTime)}
	if h.OldUntil > s.Flow.Now() {
		out.OldSecretUntil = timeProto(h.OldUntil)
	}
	return out
}

func (s *Hooks) withSecret(h flow.Hook) *pb.Hook {
	out := s.hookProto(h)
	out.Secret = h.Secret
	return out
}

func deliveryProto(d flow.Delivery) *pb.Delivery {
	return &pb.Delivery{Name: hookPrefix + d.Hook + "/deliveries/" + d.ID, Event: hookEventProto(d.Event), Job: d.Job, State: pb.Delivery_State(d.State),
		Attempts: int32(d.Attempts), NextAttemptTime: timeProto(d.DueTime), LastStatus: int32(d.LastStatus), Problem: d.LastProblem, Body: d.Body,
		CreateTime: timeProto(d.CreateTime), EndTime: timeProto(d.EndTime)}
}
