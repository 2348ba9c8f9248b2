package gateway

import (
	"bytes"
	"encoding/json"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/protobuf/encoding/protojson"
)

// marshaler writes proto3 JSON as the contract has it: lowerCamelCase, zero values present, and not a
// blank too many, because the encoder's own spacing changes from build to build.
type marshaler struct{ *runtime.JSONPb }

func newMarshaler() marshaler {
	return marshaler{&runtime.JSONPb{
		MarshalOptions:   protojson.MarshalOptions{EmitDefaultValues: true},
		UnmarshalOptions: protojson.UnmarshalOptions{DiscardUnknown: false},
	}}
}

// Marshal implements runtime.Marshaler.
func (m marshaler) Marshal(v any) ([]byte, error) {
	loose, err := m.JSONPb.Marshal(v)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = json.Compact(&out, loose)
	return out.Bytes(), err
}
