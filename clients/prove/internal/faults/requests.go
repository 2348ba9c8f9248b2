package faults

import (
	"cmp"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"rowdatum/clients/internal/requestid"
	"rowdatum/clients/prove/internal/proof"
	"rowdatum/proto/httprules"

	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
)

// filler thinks of a request that is right, or nearly: every field that a caller may fill holds something of its kind.
type filler struct {
	random *rand.Rand
	target string // planters/x/jobs/y
}

// request fills the request of a method.
func (f *filler) request(rule *httprules.Rule) proto.Message {
	kind, err := protoregistry.GlobalTypes.FindMessageByName(rule.Request().FullName())
	if err != nil {
		panic(err) // the contract's own messages are linked in
	}
	out := kind.New()
	f.fill(out, 0)
	for field, pattern := range rule.PathFields() {
		f.name(out, strings.Split(field, "."), pattern)
	}
	return out.Interface()
}

// name puts the name of a resource where the address has it.
func (f *filler) name(m protoreflect.Message, path []string, pattern string) {
	field := m.Descriptor().Fields().ByName(protoreflect.Name(path[0]))
	if len(path) > 1 {
		f.name(m.Mutable(field).Message(), path[1:], pattern)
		return
	}
	parts := strings.Split(pattern, "/")
	for i, part := range parts {
		if part != "*" {
			continue
		}
		target := strings.Split(f.target, "/")
		parts[i] = "first"
		if at := slices.Index(target, parts[max(i-1, 0)]); at >= 0 {
			parts[i] = target[at+1]
		}
	}
	m.Set(field, protoreflect.ValueOfString(strings.Join(parts, "/")))
}

// maxDeep is how deep messages are filled.
const maxDeep = 6

func (f *filler) fill(m protoreflect.Message, deep int) {
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		if isOutput(field) || field.ContainingOneof() != nil && !field.HasOptionalKeyword() && f.random.IntN(2) == 0 {
			continue
		}
		switch {
		case field.IsMap():
			if field.MapValue().Kind() == protoreflect.StringKind {
				m.Mutable(field).Map().Set(protoreflect.ValueOfString("order").MapKey(), protoreflect.ValueOfString("WO-7"))
			}
		case field.IsList():
			for range 1 + f.random.IntN(2) {
				if field.Message() == nil {
					m.Mutable(field).List().Append(f.value(field))
				} else if deep < maxDeep {
					f.fill(m.Mutable(field).List().AppendMutable().Message(), deep+1)
				}
			}
		case field.Message() != nil && field.Message().FullName() == "google.protobuf.Struct":
			m.Set(field, protoreflect.ValueOfMessage(f.object(field).ProtoReflect()))
		case field.Message() != nil && field.Message().FullName() == "google.protobuf.FieldMask":
			continue
		case field.Message() != nil:
			if deep < maxDeep {
				f.fill(m.Mutable(field).Message(), deep+1)
			}
		default:
			m.Set(field, f.value(field))
		}
	}
}

func (f *filler) object(field protoreflect.FieldDescriptor) proto.Message {
	if field.Name() == "figures" {
		return proof.Object(map[string]any{"mmPerTurn": 4.0, "smallestTurn": 0.25, "totalTurns": 16.0})
	}
	return proof.Object(map[string]any{"turns": 8.0})
}

func isOutput(field protoreflect.FieldDescriptor) bool {
	behavior, _ := proto.GetExtension(field.Options(), annotations.E_FieldBehavior).([]annotations.FieldBehavior)
	return slices.Contains(behavior, annotations.FieldBehavior_OUTPUT_ONLY)
}

// value is one of a field's kind that its name lets expect.
func (f *filler) value(field protoreflect.FieldDescriptor) protoreflect.Value {
	switch field.Kind() {
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(f.text(string(field.Name())))
	case protoreflect.DoubleKind:
		return protoreflect.ValueOfFloat64([]float64{50, 2, 0.9, 0.5}[f.random.IntN(4)])
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(f.random.IntN(2) == 0)
	case protoreflect.EnumKind:
		values := field.Enum().Values()
		return protoreflect.ValueOfEnum(values.Get(f.random.IntN(values.Len())).Number())
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(int32(1 + f.random.IntN(3)))
	case protoreflect.Int64Kind:
		if field.Name() == "seconds" {
			return protoreflect.ValueOfInt64(time.Date(2026, 4, 1, 8, 0, 0, 0, time.UTC).Unix())
		}
		return protoreflect.ValueOfInt64(int64(1 + f.random.IntN(3)))
	case protoreflect.BytesKind:
		return protoreflect.ValueOfBytes([]byte("bytes"))
	default:
		return field.Default()
	}
}

func (f *filler) text(name string) string {
	planter, _, _ := strings.Cut(f.target, "/jobs/")
	known := map[string]string{"request_id": requestid.New(), "style": handle, "mechanism": "m", "id": "m", "name": f.target, "job": f.target, "parent": planter, "planter": planter,
		"person": "Ada", "fixture": "", "page_token": "", "cursor": "", "filter": "stage=OPEN", "etag": `"1"`, "caution": "stands", "point": "handle-play",
		"url": "https://receiver.invalid/", "planter_id": "", "job_id": "", "find_by": "", "language": "en"}
	if text, ok := known[name]; ok {
		return text
	}
	if strings.HasSuffix(name, "_id") {
		return fmt.Sprintf("x%d", f.random.IntN(1000))
	}
	return "looked at it"
}

// counted names what was counted, the most frequent first.
func counted(counts map[string]int) string {
	names := slices.SortedFunc(maps.Keys(counts), func(a, b string) int {
		return cmp.Or(counts[b]-counts[a], strings.Compare(a, b))
	})
	for i, name := range names {
		names[i] = fmt.Sprintf("%s × %d", name, counts[name])
	}
	return strings.Join(names, ", ")
}
