package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"

	"google.golang.org/protobuf/proto"

	"rowdatum/server/internal/flow"
)

type keyOfCall struct{}

func withKey(ctx context.Context, key flow.Key) context.Context {
	return context.WithValue(ctx, keyOfCall{}, key)
}

// keyOf tells which key a call carries, as the gate has made out. A method that needs no key has the zero
// Key, whose shop is nobody's.
func keyOf(ctx context.Context) flow.Key {
	key, _ := ctx.Value(keyOfCall{}).(flow.Key)
	return key
}

// callerOf tells whose call it is.
func callerOf(ctx context.Context) flow.Caller { return keyOf(ctx).Caller() }

// requestOf is what makes the write req safe to send twice; id is req's own request_id.
func requestOf(ctx context.Context, id string, req proto.Message) flow.Request {
	return flow.Request{ID: id, BodyHash: bodyHash(req), LogID: requestID(ctx)}
}

// bodyHash tells two requests apart, of one method or of two. A message that came off the wire always
// encodes again, so that there is no error to return.
func bodyHash(req proto.Message) string {
	text, err := proto.MarshalOptions{Deterministic: true}.MarshalAppend([]byte(req.ProtoReflect().Descriptor().FullName()), req)
	if err != nil {
		return ""
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}
