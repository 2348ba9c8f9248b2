package api

import (
	"context"
	"net/url"
	"strconv"

	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/types/known/emptypb"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/qrsvg"
	"rowdatum/server/leveling"
)

// Access serves rowdatum.v1.AccessService.
type Access struct {
	pb.UnimplementedAccessServiceServer
	Flow *flow.Flow
}

// The pages that a phone opens. What stands after # stays on the phone: it is in no log.
const (
	pairPath  = "/pair#"
	sharePath = "/share#"
)

// GetSession implements AccessService.
func (s *Access) GetSession(ctx context.Context, _ *pb.GetSessionRequest) (*pb.Session, error) {
	return sessionProto(keyOf(ctx)), nil
}

// EndSession implements AccessService.
func (s *Access) EndSession(ctx context.Context, _ *pb.EndSessionRequest) (*emptypb.Empty, error) {
	if err := s.Flow.EndSession(ctx, keyOf(ctx), requestID(ctx)); err != nil {
		return nil, err
	}
	return &emptypb.Empty{}, nil
}

func sessionProto(key flow.Key) *pb.Session {
	out := &pb.Session{Shop: key.Shop, Role: pb.Role(key.Role), Label: key.Label, ExpireTime: timeProto(key.ExpireTime)}
	if key.Job != (flow.JobKey{}) {
		out.Job = jobNameOf(key.Job)
	}
	return out
}

// CreatePairing implements AccessService.
func (s *Access) CreatePairing(ctx context.Context, req *pb.CreatePairingRequest) (*pb.Pairing, error) {
	code, expires, err := s.Flow.CreatePairing(ctx, callerOf(ctx), requestID(ctx), flow.Role(req.GetRole()), req.GetLabel())
	if err != nil {
		return nil, err
	}
	out := &pb.Pairing{Code: code, Path: pairPath + code, ExpireTime: timeProto(expires)}
	if site := siteOf(ctx); site != "" {
		if out.QrSvg, err = qrsvg.Draw(site + out.Path); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// siteOf is the address that the caller used, as the gateway tells it; empty without a gateway.
func siteOf(ctx context.Context) string {
	hosts := metadata.ValueFromIncomingContext(ctx, "x-forwarded-host")
	if len(hosts) != 1 {
		return ""
	}
	site := "http://" + hosts[0]
	if schemes := metadata.ValueFromIncomingContext(ctx, "x-forwarded-proto"); len(schemes) == 1 && schemes[0] == "https" {
		site = "https://" + hosts[0]
	}
	// A host with anything else in it would lead the phone elsewhere.
	if u, err := url.Parse(site); err != nil || u.Host != hosts[0] || u.Hostname() == "" || len(hosts[0]) > longestHost {
		return ""
	}
	return site
}

// longestHost is a domain name's most (RFC 1035, 2.3.4) and a port.
const longestHost = 255 + len(":65535")

// RedeemPairing implements AccessService.
func (s *Access) RedeemPairing(ctx context.Context, req *pb.RedeemPairingRequest) (*pb.RedeemPairingResponse, error) {
	secret, key, err := s.Flow.RedeemPairing(ctx, requestID(ctx), req.GetCode())
	if err != nil {
		return nil, err
	}
	return &pb.RedeemPairingResponse{Key: secret, Session: sessionProto(key)}, nil
}

// CreateShare implements AccessService.
func (s *Access) CreateShare(ctx context.Context, req *pb.CreateShareRequest) (*pb.Share, error) {
	who := callerOf(ctx)
	job, err := jobKey(who, "job", req.GetJob())
	if err != nil {
		return nil, err
	}
	var v leveling.Violations
	expires := timeOf("expireTime", req.GetExpireTime(), &v)
	if err := v.Err(); err != nil {
		return nil, err
	}
	secret, key, err := s.Flow.CreateShare(ctx, who, requestID(ctx), job, expires)
	if err != nil {
		return nil, err
	}
	return &pb.Share{Key: secret, Path: sharePath + secret, ExpireTime: timeProto(key.ExpireTime)}, nil
}

const auditScope = "auditEntries"

// ListAuditEntries implements AccessService.
func (s *Access) ListAuditEntries(ctx context.Context, req *pb.ListAuditEntriesRequest) (*pb.ListAuditEntriesResponse, error) {
	q, err := page(req, manyToAPage, auditScope)
	if err != nil {
		return nil, err
	}
	entries, more, err := s.Flow.AuditEntries(ctx, callerOf(ctx), q)
	if err != nil {
		return nil, err
	}
	out := &pb.ListAuditEntriesResponse{}
	for _, e := range entries {
		out.AuditEntries = append(out.AuditEntries, &pb.AuditEntry{CreateTime: timeProto(e.Time), KeyLabel: e.KeyLabel,
			Method: e.Method, Resource: e.Resource, RequestId: e.RequestID})
	}
	if more {
		out.NextPageToken = nextToken(req, auditScope, strconv.FormatInt(entries[len(entries)-1].Serial, 10))
	}
	return out, nil
}
