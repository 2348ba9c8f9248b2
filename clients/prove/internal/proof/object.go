package proof

import "google.golang.org/protobuf/types/known/structpb"

// Object makes the JSON object of a style, of plain values; anything else is a mistake of its caller.
func Object(fields map[string]any) *structpb.Struct {
	made, err := structpb.NewStruct(fields)
	if err != nil {
		panic(err)
	}
	return made
}
