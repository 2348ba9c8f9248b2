package api

import (
	"slices"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"rowdatum/server/leveling"
)

// merge puts the masked fields of from into to; without a mask, the fields that are set. Fields are
// replaced whole; except are passed over (AIP-203: what only the service sets is ignored, not refused).
func merge(to, from proto.Message, mask *fieldmaskpb.FieldMask, except ...protoreflect.Name) error {
	var v leveling.Violations
	target, source := to.ProtoReflect(), from.ProtoReflect()
	fields := target.Descriptor().Fields()
	paths := mask.GetPaths()
	if len(paths) == 0 {
		source.Range(func(field protoreflect.FieldDescriptor, value protoreflect.Value) bool {
			if !slices.Contains(except, field.Name()) {
				target.Set(field, value)
			}
			return true
		})
		return nil
	}
	for _, path := range paths {
		if path == "*" {
			v.Add("updateMask", "* is not taken; name the fields to change")
			continue
		}
		field := fields.ByName(protoreflect.Name(path))
		switch {
		case field == nil:
			v.Add("updateMask", "%q is not a field; fields are replaced whole, by their names", path)
		case slices.Contains(except, field.Name()):
		case source.Has(field):
			target.Set(field, source.Get(field))
		default:
			target.Clear(field)
		}
	}
	return v.Err()
}
