// Package requestid makes the ids that make a write safe to send twice.
package requestid

import (
	"crypto/rand"
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"rowdatum/proto/httprules"
)

// New returns a random UUID (RFC 9562, version 4).
func New() string {
	var b [16]byte
	rand.Read(b[:]) // never fails
	b[6], b[8] = b[6]&0x0F|0x40, b[8]&0x3F|0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", b[:4], b[4:6], b[6:8], b[8:10], b[10:])
}

// Add gives a request an id of its own, in a copy, where it takes one and has none.
func Add(request proto.Message) proto.Message {
	m := request.ProtoReflect()
	field := m.Descriptor().Fields().ByName(httprules.RequestID)
	if field == nil || m.Get(field).String() != "" {
		return request
	}
	request = proto.Clone(request)
	request.ProtoReflect().Set(field, protoreflect.ValueOfString(New()))
	return request
}
