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
			free = append(free, fd.JSONName())
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
	quoted, _ := json.Marshal(text) // a string always marshals
	if fd.IsMap() || len(Check(quoted, fd.Message())) > 0 {
		return fmt.Sprintf("is %q, must be %s", crop(text), wellKnownForm(fd.Message()))
	}
	return ""
}
