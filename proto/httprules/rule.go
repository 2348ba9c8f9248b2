package httprules

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"

	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/descriptorpb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// RequestID is the field that makes a write safe to send twice.
const RequestID protoreflect.Name = "request_id"

// wholeRequest as a rule's body: everything that the path leaves.
const wholeRequest = "*"

// Rule is one way in which HTTP reaches a method: its google.api.http option, or one of the additional bindings of it.
type Rule struct {
	Method   protoreflect.MethodDescriptor
	Verb     string // GET, POST, PATCH, …
	Template string // as the contract writes it: /v1/{name=planters/*}:wear
	Body     string // the field that the body holds; "*": all that the path leaves; "": there is no body

	template template
}

// FullMethod is the method as gRPC names it: /rowdatum.v1.PlanterService/GetPlanter.
func (r *Rule) FullMethod() string {
	return "/" + string(r.Method.Parent().FullName()) + "/" + string(r.Method.Name())
}

// Request describes the message that the method takes.
func (r *Rule) Request() protoreflect.MessageDescriptor { return r.Method.Input() }

// Streams says whether the method answers with a stream.
func (r *Rule) Streams() bool { return r.Method.IsStreamingServer() }

// Safe says whether the method changes nothing: it is a GET, or the contract marks it NO_SIDE_EFFECTS.
func (r *Rule) Safe() bool {
	options, _ := r.Method.Options().(*descriptorpb.MethodOptions)
	return r.Verb == http.MethodGet || options.GetIdempotencyLevel() == descriptorpb.MethodOptions_NO_SIDE_EFFECTS
}

// TakesRequestID says whether a request can carry the id that makes it safe to send twice.
func (r *Rule) TakesRequestID() bool { return r.Request().Fields().ByName(RequestID) != nil }

// PathFields are the fields that the path holds, each with its pattern: {"name": "planters/*/jobs/*"}.
func (r *Rule) PathFields() map[string]string {
	out := map[string]string{}
	for _, v := range r.template.variables {
		out[v.field] = strings.Join(r.template.segments[v.first:v.past], "/")
	}
	return out
}

// Bound are the fields that the path or the body holds, as paths into the request: name, planter.name, planter.
func (r *Rule) Bound() []string {
	var out []string
	for _, v := range r.template.variables {
		out = append(out, v.field)
	}
	if r.Body != "" {
		out = append(out, r.Body)
	}
	return out
}

// QueryFields are the fields of the request that a caller gives as query parameters.
func (r *Rule) QueryFields() []protoreflect.FieldDescriptor {
	var out []protoreflect.FieldDescriptor
	bound, fields := r.Bound(), r.Request().Fields()
	for i := range fields.Len() {
		name := string(fields.Get(i).Name())
		if r.Body != wholeRequest && !slices.ContainsFunc(bound, func(b string) bool { return b == name || strings.HasPrefix(b, name+".") }) {
			out = append(out, fields.Get(i))
		}
	}
	return out
}

// Read returns the rules of a method, its additional bindings last; none where the contract gives it none.
func Read(method protoreflect.MethodDescriptor) ([]*Rule, error) {
	option, _ := proto.GetExtension(method.Options(), annotations.E_Http).(*annotations.HttpRule)
	if option == nil {
		return nil, nil
	}
	var rules []*Rule
	for _, o := range append([]*annotations.HttpRule{option}, option.GetAdditionalBindings()...) {
		r := &Rule{Method: method, Body: o.GetBody()}
		r.Verb, r.Template = verbAndTemplate(o)
		var err error
		if r.template, err = parse(r.Template); err == nil {
			err = r.check()
		}
		if err != nil {
			return nil, fmt.Errorf("the HTTP rule of %s: %w", method.FullName(), err)
		}
		rules = append(rules, r)
	}
	return rules, nil
}

func verbAndTemplate(o *annotations.HttpRule) (verb, template string) {
	switch p := o.GetPattern().(type) {
	case *annotations.HttpRule_Get:
		return http.MethodGet, p.Get
	case *annotations.HttpRule_Post:
		return http.MethodPost, p.Post
	case *annotations.HttpRule_Put:
		return http.MethodPut, p.Put
	case *annotations.HttpRule_Patch:
		return http.MethodPatch, p.Patch
	case *annotations.HttpRule_Delete:
		return http.MethodDelete, p.Delete
	case *annotations.HttpRule_Custom:
		return p.Custom.GetKind(), p.Custom.GetPath()
	}
	return "", ""
}

// check wants every field that the rule names in the request.
func (r *Rule) check() error {
	for _, name := range r.Bound() {
		if name == wholeRequest {
			continue
		}
		fields := r.Request().Fields()
		for part := range strings.SplitSeq(name, ".") {
			var fd protoreflect.FieldDescriptor
			if fields != nil {
				fd = fields.ByName(protoreflect.Name(part))
			}
			if fd == nil {
				return fmt.Errorf("%s has no field %s", r.Request().FullName(), name)
			}
			if fields = nil; fd.Message() != nil {
				fields = fd.Message().Fields()
			}
		}
	}
	return nil
}

// contract is what is known of the API's own rules.
type contract struct {
	all       []*Rule // by the method's name
	byVerb    map[string][]*Rule
	byMethod  map[string]*Rule
	byRequest map[protoreflect.FullName]*Rule
}

var ofAPI = sync.OnceValue(func() *contract {
	c := &contract{byVerb: map[string][]*Rule{}, byMethod: map[string]*Rule{}, byRequest: map[protoreflect.FullName]*Rule{}}
	protoregistry.GlobalFiles.RangeFilesByPackage(pb.File_rowdatum_v1_plan_proto.Package(), func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			methods := file.Services().Get(i).Methods()
			for j := range methods.Len() {
				c.add(methods.Get(j))
			}
		}
		return true
	})
	slices.SortStableFunc(c.all, func(a, b *Rule) int { return strings.Compare(a.FullMethod(), b.FullMethod()) })
	for _, r := range c.all {
		c.byVerb[r.Verb] = append(c.byVerb[r.Verb], r)
	}
	for _, rules := range c.byVerb { // planters/p:wear is a planter's wear before it is a planter of that name
		slices.SortStableFunc(rules, func(a, b *Rule) int { return cmp.Compare(len(b.template.action), len(a.template.action)) })
	}
	return c
})

func (c *contract) add(method protoreflect.MethodDescriptor) {
	rules, err := Read(method)
	if err != nil {
		panic(err)
	}
	c.all = append(c.all, rules...)
	for _, r := range rules[:min(1, len(rules))] {
		c.byMethod[r.FullMethod()] = r
		c.byRequest[r.Request().FullName()] = r
	}
}

// All are the rules of every method of the API, by the method's name; what the caller does with the list is its own.
func All() []*Rule { return slices.Clone(ofAPI().all) }

// ForMethod is the first rule of a method, which is named as gRPC does; nil for one that is not of the API.
func ForMethod(fullMethod string) *Rule { return ofAPI().byMethod[fullMethod] }

// For is the first rule of the one method that takes such a request; nil for a message that no method takes.
func For(request proto.Message) *Rule {
	return ofAPI().byRequest[request.ProtoReflect().Descriptor().FullName()]
}

// Match finds the rule of a path, as http.Request.URL.Path has it, and what the path says of the fields that it names. It
// is as generous as the gateway's router: an id may be anything, even empty.
func Match(verb, path string) (*Rule, map[string]string) {
	for _, r := range ofAPI().byVerb[verb] {
		if params, ok := r.template.match(path); ok {
			return r, params
		}
	}
	return nil, nil
}
