package gateway

import (
	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
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
	message, ok := v.(proto.Message)
	if !ok {
		loose, err := m.JSONPb.Marshal(v)
		return tight(loose), err
	}
	loose, err := m.MarshalOptions.Marshal(message) // JSONPb does the same, and copies it
	return tight(loose), err
}

// tight takes the blanks between the parts of a JSON text out of it, in place. The encoder writes no other space.
func tight(text []byte) []byte {
	out, quoted := text[:0], false
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case c == ' ' && !quoted:
			continue
		case c == '"':
			quoted = !quoted
		case c == '\\': // only within quotes
			out = append(out, c)
			i++
		}
		out = append(out, text[i])
	}
	return out
}
