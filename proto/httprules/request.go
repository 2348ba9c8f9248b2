package httprules

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/url"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// Request is one call of a method as HTTP carries it.
type Request struct {
	Verb  string
	Path  string // escaped
	Query url.Values
	Body  []byte // JSON; nil where the method takes none
}

// Target is the path with the query.
func (r *Request) Target() string {
	if len(r.Query) == 0 {
		return r.Path
	}
	return r.Path + "?" + r.Query.Encode()
}

// Path is the path, escaped, whose fields have these values: {"name": "planters/creek"}.
func (r *Rule) Path(params map[string]string) (string, error) { return r.template.fill(params) }

// Build makes the HTTP request of a message, which must be of the kind that the method takes.
func (r *Rule) Build(message proto.Message) (*Request, error) {
	fields, err := jsonFields(message)
	if err != nil {
		return nil, err
	}
	params := map[string]string{}
	for _, v := range r.template.variables {
		params[v.field], _ = take(fields, r.Request(), v.field).(string)
	}
	out := &Request{Verb: r.Verb, Query: url.Values{}}
	if out.Path, err = r.Path(params); err != nil {
		return nil, err
	}
	switch r.Body {
	case "":
	case wholeRequest:
		out.Body, err = json.Marshal(fields)
		return out, err
	default:
		body := take(fields, r.Request(), r.Body)
		if body == nil { // not given: a body is sent all the same
			body = struct{}{}
		}
		if out.Body, err = json.Marshal(body); err != nil {
			return nil, err
		}
	}
	addParameters(out.Query, "", fields)
	return out, nil
}

// jsonFields are the fields of a message by their JSON names, its numbers as they are written.
func jsonFields(message proto.Message) (map[string]any, error) {
	text, err := protojson.Marshal(message)
	if err != nil {
		return nil, err
	}
	var fields map[string]any
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	err = d.Decode(&fields)
	return fields, err
}

// take takes the field at a path, as planter.name, out of the fields of a message; nil where it is not given.
func take(fields map[string]any, message protoreflect.MessageDescriptor, path string) any {
	first, rest, deeper := strings.Cut(path, ".")
	field := message.Fields().ByName(protoreflect.Name(first))
	if deeper {
		inner, _ := fields[field.JSONName()].(map[string]any)
		return take(inner, field.Message(), rest)
	}
	value := fields[field.JSONName()]
	delete(fields, field.JSONName())
	return value
}

// addParameters writes fields as query parameters: those of a message by their path, as aim.toleranceMm, each item of a
// list by itself.
func addParameters(query url.Values, path string, fields map[string]any) {
	for name, value := range fields {
		switch v := value.(type) {
		case map[string]any:
			addParameters(query, path+name+".", v)
		case []any:
			for _, item := range v {
				query.Add(path+name, fmt.Sprint(item))
			}
		default:
			query.Set(path+name, fmt.Sprint(v))
		}
	}
}
