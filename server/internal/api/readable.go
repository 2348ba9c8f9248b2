package api

import (
	"bytes"
	"errors"

	"google.golang.org/grpc/encoding"
	_ "google.golang.org/grpc/encoding/proto" // the codec that is wrapped
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	"rowdatum/server/leveling"
)

// tolerant reads requests as usual, but where bytes are no request it hands on an empty one with a mark. The library would
// answer that with INTERNAL, a fault of the service, before gate, log and meter see the call.
type tolerant struct{ encoding.CodecV2 }

func newTolerant() tolerant { return tolerant{encoding.GetCodecV2("proto")} }

// Unmarshal implements encoding.CodecV2.
func (t tolerant) Unmarshal(data mem.BufferSlice, v any) error {
	err := t.CodecV2.Unmarshal(data, v)
	request, ok := v.(proto.Message)
	if err == nil || !ok {
		return err
	}
	proto.Reset(request)
	request.ProtoReflect().SetUnknown(append(garbled(), err.Error()...))
	return nil
}

// garbled begins the mark: a field that no message has. A caller who sends it himself is told that it cannot be read.
func garbled() []byte { return protowire.AppendTag(nil, protowire.MaxValidNumber, protowire.BytesType) }

// readable tells the caller of a request that could not be read.
func readable(req any) error {
	request, ok := req.(proto.Message)
	if !ok {
		return nil
	}
	cause, is := bytes.CutPrefix(request.ProtoReflect().GetUnknown(), garbled())
	if !is {
		return nil
	}
	return &leveling.Error{Kind: leveling.Invalid, Reason: "NOT_READABLE", Message: "The request is garbled or cut off: it is not what this method takes.",
		Err: errors.New(string(cause))}
}
