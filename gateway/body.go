package gateway

import (
	"context"
	"net/http"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/api/httpbody"
	"google.golang.org/protobuf/proto"
)

// bodyHeaders are what the service may say of an answer that is not JSON.
var bodyHeaders = []string{"Content-Security-Policy", "Content-Disposition"}

// ownHeaders lets an answer that is no JSON, a sheet, bring its own policy and its name.
func ownHeaders(ctx context.Context, w http.ResponseWriter, answer proto.Message) error {
	if _, ok := answer.(*httpbody.HttpBody); !ok {
		return nil
	}
	said, _ := runtime.ServerMetadataFromContext(ctx)
	for _, name := range bodyHeaders {
		if values := said.HeaderMD.Get(name); len(values) == 1 {
			w.Header().Set(name, values[0])
		}
	}
	return nil
}
