package rowdatum

import (
	"context"
	"iter"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// All gives everything that a list holds, page by page as it is read:
//
//	rowdatum.All(ctx, client.Planters.ListPlanters, &rowdatumv1.ListPlantersRequest{}, (*rowdatumv1.ListPlantersResponse).GetPlanters)
//
// An error is the last thing given.
func All[Q proto.Message, P interface{ GetNextPageToken() string }, T any](
	ctx context.Context, list func(context.Context, Q, ...grpc.CallOption) (P, error), request Q, items func(P) []T,
) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		asked := proto.CloneOf(request)
		token := asked.ProtoReflect().Descriptor().Fields().ByName("page_token")
		for {
			page, err := list(ctx, asked)
			if err != nil {
				var none T
				yield(none, err)
				return
			}
			for _, item := range items(page) {
				if !yield(item, nil) {
					return
				}
			}
			if page.GetNextPageToken() == "" {
				return
			}
			asked.ProtoReflect().Set(token, protoreflect.ValueOfString(page.GetNextPageToken()))
		}
	}
}
