package api

import (
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"rowdatum/server/leveling"
)

// severalLines are the fields in which a person writes more than a line, or pastes a list. Every other text of every request
// is of one line, one that is added to the contract tomorrow too.
var severalLines = map[protoreflect.FullName]bool{
	"rowdatum.v1.Note.text":          true,
	"rowdatum.v1.Inspection.comment": true,
	"rowdatum.v1.Dig.comment":        true,
	"rowdatum.v1.PastedSeeds.text":   true,
}

// printable refuses control characters in the texts of a request, and names each field.
func printable(req any) error {
	message, ok := req.(proto.Message)
	if !ok {
		return nil
	}
	var v leveling.Violations
	checkTexts(&v, "", message.ProtoReflect())
	return v.Err()
}

func checkTexts(v *leveling.Violations, path string, m protoreflect.Message) {
	m.Range(func(f protoreflect.FieldDescriptor, value protoreflect.Value) bool {
		at := f.JSONName()
		if path != "" {
			at = path + "." + at
		}
		switch {
		case f.IsMap():
			value.Map().Range(func(key protoreflect.MapKey, each protoreflect.Value) bool {
				if f.MapKey().Kind() == protoreflect.StringKind {
					v.OneLine(at, key.String())
				}
				checkText(v, at+"."+leveling.Escaped(key.String()), f.MapValue(), each)
				return true
			})
		case f.IsList():
			if kind := f.Kind(); kind != protoreflect.StringKind && kind != protoreflect.MessageKind {
				return true
			}
			for i := range value.List().Len() {
				checkText(v, fmt.Sprintf("%s[%d]", at, i), f, value.List().Get(i))
			}
		default:
			checkText(v, at, f, value)
		}
		return true
	})
}

func checkText(v *leveling.Violations, at string, f protoreflect.FieldDescriptor, value protoreflect.Value) {
	switch f.Kind() {
	case protoreflect.StringKind:
		if severalLines[f.FullName()] {
			v.Lines(at, value.String())
		} else {
			v.OneLine(at, value.String())
		}
	case protoreflect.MessageKind:
		checkTexts(v, at, value.Message())
	}
}
