package strictjson

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strings"
	"unicode/utf8"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// CheckQuery returns everything that is wrong with the query parameters of a call with the given
// request. What bound names (a field's own path, as in "planter.name") comes from elsewhere, the
// address or the body, and cannot be a parameter; "*" binds everything.
func CheckQuery(query url.Values, request protoreflect.MessageDescriptor, bound []string) []Violation {
	c := checker{}
	seen := map[string]bool{}
	for _, key := range slices.Sorted(maps.Keys(query)) {
		fd, own, path := parameter(request, key)
		if fd == nil || isBound(own, bound) {
			c.enterKey(key)
			c.note("%s", unknownParameter(key, request, bound))
		} else {
			c.enterField(path)
			c.parameter(fd, query[key], seen[path])
			seen[path] = true
		}
		c.leave(0)
	}
	return c.found
}

func (c *checker) parameter(fd protoreflect.FieldDescriptor, values []string, again bool) {
	if again || len(values) > 1 && !fd.IsList() {
		c.note("is given more than once")
		return
	}
	for _, v := range values {
		if problem := parameterProblem(fd, v); problem != "" {
			c.note("%s", problem)
		}
	}
}

// parameter finds the field that a dotted key names, its path in the descriptor's spelling and in the
// API's.
func parameter(md protoreflect.MessageDescriptor, key string) (fd protoreflect.FieldDescriptor, own, path string) {
	var owns, paths []string
	for name := range strings.SplitSeq(key, ".") {
		if fd != nil {
			if md = fd.Message(); md == nil || fd.IsList() || fd.IsMap() {
				return nil, "", ""
			}
		}
		if fd = md.Fields().ByJSONName(name); fd == nil {
			fd = md.Fields().ByTextName(name)
		}
		if fd == nil {
			return nil, "", ""
		}
		owns, paths = append(owns, string(fd.Name())), append(paths, fd.JSONName())
	}
	return fd, strings.Join(owns, "."), strings.Join(paths, ".")
}

func isBound(own string, bound []string) bool {
	return slices.ContainsFunc(bound, func(b string) bool {
		return b == "*" || own == b || strings.HasPrefix(own, b+".") || strings.HasPrefix(b, own+".")
	})
}

func unknownParameter(key string, md protoreflect.MessageDescriptor, bound []string) string {
	var free []string
	for i := range md.Fields().Len() {
		if fd := md.Fields().Get(i); !isBound(string(fd.Name()), bound) {
			free = append(free, parameterNames(fd)...)
		}
	}
	if len(free) == 0 {
		return "unknown query parameter; this call takes none"
	}
	if hint := didYouMean(key, free); hint != "" {
		return "unknown query parameter" + hint
	}
	return fmt.Sprintf("unknown query parameter; known here: %s", strings.Join(free, ", "))
}

// parameterNames are what a field is given as: a message of the API's own field by field.
func parameterNames(fd protoreflect.FieldDescriptor) []string {
	md := fd.Message()
	if md == nil || fd.IsList() || fd.IsMap() || md.ParentFile().Package() == "google.protobuf" {
		return []string{fd.JSONName()}
	}
	names := jsonNames(md.Fields())
	for i := range names {
		names[i] = fd.JSONName() + "." + names[i]
	}
	return names
}

func parameterProblem(fd protoreflect.FieldDescriptor, text string) string {
	bits, _ := width(fd)
	switch {
	case !utf8.ValidString(text):
		return "is not UTF-8 text"
	case fd.Message() != nil:
		return messageParameterProblem(fd, text)
	case fd.Kind() == protoreflect.BoolKind && (text == "true" || text == "false"):
		return ""
	}
	problem := textProblem(fd, text)
	if problem == "" && bits > 0 && strings.ContainsAny(text, ".eE") { // no whole number is read from 1e1 here
		return fmt.Sprintf("is %q, must be %s in digits alone", crop(text), allowed(fd))
	}
	return problem
}

// messageParameterProblem takes what is written as one text: a time, a duration, a mask.
func messageParameterProblem(fd protoreflect.FieldDescriptor, text string) string {
	if isMask(fd) {
		return maskProblem(text)
	}
	quoted, _ := json.Marshal(text) // a string always marshals
	if fd.IsMap() || len(Check(quoted, fd.Message())) > 0 {
		return fmt.Sprintf("is %q, must be %s", crop(text), wellKnownForm(fd.Message()))
	}
	return ""
}

func isMask(fd protoreflect.FieldDescriptor) bool {
	return fd.Message() != nil && fd.Message().FullName() == "google.protobuf.FieldMask"
}

func maskProblem(text string) string {
	for path := range strings.SplitSeq(text, ",") {
		for name := range strings.SplitSeq(path, ".") {
			if !plainName(name) && path != "*" {
				return fmt.Sprintf("is %q, must be field names with commas between them", crop(text))
			}
		}
	}
	return ""
}

// OwnMasks writes the field masks of a checked query in the descriptor's spelling, the only one that
// the gateway library reads.
func OwnMasks(query url.Values, request protoreflect.MessageDescriptor) {
	for key, values := range query {
		if fd, _, _ := parameter(request, key); fd != nil && isMask(fd) {
			for i := range values {
				values[i] = ownSpelling(values[i])
			}
		}
	}
}

// ownSpelling turns displayName into display_name.
func ownSpelling(names string) string {
	var out strings.Builder
	for _, r := range names {
		if 'A' <= r && r <= 'Z' {
			out.WriteByte('_')
			r += 'a' - 'A'
		}
		out.WriteRune(r)
	}
	return out.String()
}

// BodyMask names the fields that a checked body gives, in the descriptor's spelling and in order.
func BodyMask(text []byte, md protoreflect.MessageDescriptor) string {
	var given map[string]json.RawMessage
	if json.Unmarshal(text, &given) != nil {
		return "" // no object: no names
	}
	var names []string
	for key := range given {
		if fd, own, _ := parameter(md, key); fd != nil {
			names = append(names, own)
		}
	}
	slices.Sort(names)
	return strings.Join(names, ",")
}
