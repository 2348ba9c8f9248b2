// Command shapes writes the JSON of the API's answers as TypeScript types, for the page and for clients in JavaScript.
//
//	shapes OPENAPI FILE
//
// The shapes are those of the descriptors, the words those of the API's description. A type here is what an answer holds: every
// field that an answer always has is required, and what protobuf can leave out is optional, unless the contract marks it REQUIRED. Road not taken: a public
// generator that reads the description. There one schema serves what is sent and what is answered, so it can require nothing, and
// whoever reads an answer would have to ask of each field whether it is there.
package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"log"
	"os"
	"slices"
	"strings"

	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"rowdatum/proto/httprules"
)

func main() {
	if len(os.Args) != 3 {
		log.Fatal("usage: shapes OPENAPI FILE")
	}
	if err := write(os.Args[1], os.Args[2]); err != nil {
		log.Fatal(err)
	}
}

func write(openapi, file string) error {
	text, err := os.ReadFile(openapi)
	if err != nil {
		return err
	}
	var about description
	if err := json.Unmarshal(text, &about); err != nil {
		return fmt.Errorf("%s: %w", openapi, err)
	}
	out, err := shapes(about, answers())
	if err != nil {
		return err
	}
	return os.WriteFile(file, out, 0o644)
}

// description is what is read of the API's description.
type description struct {
	Components struct {
		Schemas map[protoreflect.FullName]struct {
			Description string
			Properties  map[string]struct{ Description string }
		}
	}
}

// answers are the messages and enums of the API that an answer can hold, by their names here.
func answers() map[string]protoreflect.Descriptor {
	found := map[string]protoreflect.Descriptor{}
	for _, rule := range httprules.All() {
		gather(rule.Method.Output(), found)
	}
	return found
}

func gather(d protoreflect.Descriptor, found map[string]protoreflect.Descriptor) {
	if d.ParentFile().Package() != apiPackage || found[nameOf(d)] == d {
		return
	}
	if other := found[nameOf(d)]; other != nil {
		panic(fmt.Sprintf("%s and %s have one name here", d.FullName(), other.FullName()))
	}
	found[nameOf(d)] = d
	m, ok := d.(protoreflect.MessageDescriptor)
	if !ok {
		return
	}
	for i := range m.Fields().Len() {
		switch field := valueOf(m.Fields().Get(i)); {
		case field.Enum() != nil:
			gather(field.Enum(), found)
		case field.Message() != nil:
			gather(field.Message(), found)
		}
	}
}

const apiPackage = "rowdatum.v1"

// nameOf is a type's name: what stands inside another is named after both, as JobStage.
func nameOf(d protoreflect.Descriptor) string {
	return strings.ReplaceAll(strings.TrimPrefix(string(d.FullName()), apiPackage+"."), ".", "")
}

// valueOf is the field itself, or what a map holds.
func valueOf(field protoreflect.FieldDescriptor) protoreflect.FieldDescriptor {
	if field.IsMap() {
		return field.MapValue()
	}
	return field
}

const beginning = `// What the service answers, as JSON. Made from the contract by ` + "`make proto`" + `; do not edit.
// A field without ? is in every answer. A caller may leave out what the service fills in; /docs/api of a service tells.

/** An object whose shape the schema of its style has. */
export type Values = Record<string, unknown>;
`

func shapes(about description, found map[string]protoreflect.Descriptor) ([]byte, error) {
	var out bytes.Buffer
	out.WriteString(beginning)
	names := make([]string, 0, len(found))
	for name := range found {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		schema := about.Components.Schemas[found[name].FullName()]
		fmt.Fprintf(&out, "\n%s", comment("", schema.Description))
		switch d := found[name].(type) {
		case protoreflect.EnumDescriptor:
			fmt.Fprintf(&out, "export type %s = %s;\n", name, words(d))
		case protoreflect.MessageDescriptor:
			fmt.Fprintf(&out, "export interface %s {\n", name)
			for i := range d.Fields().Len() {
				field := d.Fields().Get(i)
				text, err := typeOf(field)
				if err != nil {
					return nil, err
				}
				optional := ""
				if field.HasPresence() && !isRequired(field) {
					optional = "?"
				}
				fmt.Fprintf(&out, "%s  %s%s: %s;\n", comment("  ", schema.Properties[field.JSONName()].Description), field.JSONName(), optional, text)
			}
			out.WriteString("}\n")
		}
	}
	return out.Bytes(), nil
}

func isRequired(field protoreflect.FieldDescriptor) bool {
	behavior, _ := proto.GetExtension(field.Options(), annotations.E_FieldBehavior).([]annotations.FieldBehavior)
	return slices.Contains(behavior, annotations.FieldBehavior_REQUIRED)
}

// comment is what the description says, before what it says it of.
func comment(indent, text string) string {
	if text == "" {
		return ""
	}
	text = strings.ReplaceAll(strings.TrimSpace(text), "*/", "* /")
	return indent + "/** " + strings.ReplaceAll(text, "\n", "\n"+indent+" * ") + " */\n"
}

func words(d protoreflect.EnumDescriptor) string {
	var out []string
	for i := range d.Values().Len() {
		out = append(out, fmt.Sprintf("%q", d.Values().Get(i).Name()))
	}
	return strings.Join(out, " | ")
}

func typeOf(field protoreflect.FieldDescriptor) (string, error) {
	text, err := singleTypeOf(valueOf(field))
	switch {
	case field.IsMap():
		text = "Record<string, " + text + ">"
	case field.IsList():
		text += "[]"
	}
	return text, err
}

// singleTypeOf is what protobuf's JSON mapping makes of one value.
func singleTypeOf(field protoreflect.FieldDescriptor) (string, error) {
	switch field.Kind() {
	case protoreflect.BoolKind:
		return "boolean", nil
	case protoreflect.DoubleKind, protoreflect.FloatKind, protoreflect.Int32Kind, protoreflect.Uint32Kind, protoreflect.Sint32Kind:
		return "number", nil
	case protoreflect.StringKind, protoreflect.BytesKind, protoreflect.Int64Kind, protoreflect.Uint64Kind, protoreflect.Sint64Kind: // 64 bits are more than a number of JavaScript holds
		return "string", nil
	case protoreflect.EnumKind:
		return nameOf(field.Enum()), nil
	case protoreflect.MessageKind:
		switch name := field.Message().FullName(); {
		case field.Message().ParentFile().Package() == apiPackage:
			return nameOf(field.Message()), nil
		case name == "google.protobuf.Timestamp":
			return "string", nil
		case name == "google.protobuf.Struct":
			return "Values", nil
		}
	}
	return "", fmt.Errorf("%s: nobody has said yet what its JSON is", field.FullName())
}
