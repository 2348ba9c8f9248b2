package strictjson

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/dynamicpb"
)

// Body is the field of a violation that concerns the text as a whole.
const Body = "body"

const (
	maxDepth = 64  // far above what any request nests, far below what a stack feels
	maxFound = 100 // an answer must not outgrow its question
)

// Violation is one thing wrong with a request.
type Violation struct {
	Field   string // path in the request: rows[3].readingsMm[0]
	Message string // what is wrong and what is allowed
}

// Check returns everything that is wrong with text as the JSON of a message; nothing means that it can
// be decoded.
func Check(text []byte, message protoreflect.MessageDescriptor) []Violation {
	c := checker{scanner: scanner{in: text}}
	return c.whole(message)
}

// CheckBody is Check for the body of a call with the given request. body is "*" where the text is the
// whole request, else the name of the field that it is; paths begin at the request either way. What the
// address says already, by the descriptor's own path, the body may repeat and not contradict.
func CheckBody(text []byte, request protoreflect.MessageDescriptor, body string, address map[string]string) []Violation {
	c := checker{scanner: scanner{in: text}, address: map[string]string{}}
	for own, value := range address {
		_, _, path := parameter(request, own)
		c.address[path] = value
	}
	if body == "*" {
		return c.whole(request)
	}
	field := request.Fields().ByName(protoreflect.Name(body))
	c.root = len(field.JSONName())
	c.enterField(field.JSONName())
	return c.whole(field.Message())
}

// checker walks the text. Its methods return false where the text cannot be read any further.
type checker struct {
	scanner
	path    []byte
	root    int               // how much of path stands for the text as a whole
	address map[string]string // by path: what is said already
	depth   int
	mute    bool // only what ends the reading is noted
	found   []Violation
}

func (c *checker) whole(md protoreflect.MessageDescriptor) []Violation {
	if c.message(md) && c.peek() != 0 {
		c.leave(c.root)
		c.broken("the end of the text")
	}
	return c.found
}

func (c *checker) message(md protoreflect.MessageDescriptor) bool {
	switch md.FullName() {
	case "google.protobuf.Struct":
		return c.only(isObject, c.free)
	case "google.protobuf.ListValue":
		return c.only(isList, c.free)
	case "google.protobuf.Value":
		return c.free()
	}
	if isWrapper(md) {
		return c.scalar(md.Fields().ByNumber(1))
	}
	if md.ParentFile().Package() == "google.protobuf" {
		return c.wellKnown(md)
	}
	m := members{checker: c, md: md}
	return c.only(isObject, func() bool { return c.object(m.member) })
}

// members checks the fields of one message.
type members struct {
	*checker
	md     protoreflect.MessageDescriptor
	seen   []protoreflect.FieldNumber
	oneofs []int
}

func (m *members) member(key string) bool {
	fields := m.md.Fields()
	fd := fields.ByJSONName(key)
	if fd == nil {
		fd = fields.ByTextName(key)
	}
	if fd == nil {
		defer m.leave(m.enterKey(key))
		m.note("%s", unknownField(key, m.md))
		return m.skip()
	}
	defer m.leave(m.enterField(fd.JSONName()))
	if slices.Contains(m.seen, fd.Number()) {
		m.note("is given more than once")
		return m.skip()
	}
	m.seen = append(m.seen, fd.Number())
	if m.kind() == isNull && !takesNull(fd) {
		return m.word() // null leaves a field out
	}
	if of := fd.ContainingOneof(); of != nil {
		if slices.Contains(m.oneofs, of.Index()) {
			m.note("only one of %s can be given", oneofNames(of))
			return m.skip()
		}
		m.oneofs = append(m.oneofs, of.Index())
	}
	return m.field(fd)
}

func (c *checker) field(fd protoreflect.FieldDescriptor) bool {
	switch {
	case fd.IsMap():
		return c.mapping(fd)
	case fd.IsList():
		return c.only(isList, func() bool {
			return c.list(func() bool { return c.single(fd) })
		})
	}
	return c.single(fd)
}

func (c *checker) single(fd protoreflect.FieldDescriptor) bool {
	if md := fd.Message(); md != nil {
		return c.message(md)
	}
	return c.scalar(fd)
}

func (c *checker) mapping(fd protoreflect.FieldDescriptor) bool {
	seen := map[string]bool{}
	entry := func(key string) bool {
		defer c.leave(c.enterKey(key))
		canonical, ok := mapKey(fd.MapKey(), key)
		switch {
		case !ok:
			c.note("is no key here; keys are %s", allowed(fd.MapKey()))
		case seen[canonical]:
			c.note("is given more than once")
		}
		seen[canonical] = true
		return c.single(fd.MapValue())
	}
	return c.only(isObject, func() bool { return c.object(entry) })
}

func (c *checker) scalar(fd protoreflect.FieldDescriptor) bool {
	var problem string
	switch kind := c.kind(); kind {
	case isNumber:
		raw, ok := c.number()
		if !ok {
			return false
		}
		problem = numberProblem(fd, raw)
	case isText:
		text, ok := c.text()
		if !ok {
			return false
		}
		problem = textProblem(fd, text)
		if said, ok := c.address[string(c.path)]; ok && text != "" && text != said {
			problem = fmt.Sprintf("is %q, but the address says %q", crop(text), crop(said))
		}
	case isBool, isNull:
		fits := kind == isBool && fd.Kind() == protoreflect.BoolKind || kind == isNull && takesNull(fd)
		if !fits {
			problem = fmt.Sprintf("is %s, must be %s", kind, allowed(fd))
		}
		if !c.word() {
			return false
		}
	default:
		return c.mismatch(kind, allowed(fd))
	}
	if problem != "" {
		c.note("%s", problem)
	}
	return true
}

// wellKnown leaves the few types that have a text form of their own (times, durations, masks) to the
// decoder itself.
func (c *checker) wellKnown(md protoreflect.MessageDescriptor) bool {
	c.peek()
	start := c.pos
	if !c.skip() {
		return false
	}
	if protojson.Unmarshal(c.in[start:c.pos], dynamicpb.NewMessage(md)) != nil {
		c.note("is not understood, must be %s", wellKnownForm(md))
	}
	return true
}

// free walks a value whose shape no descriptor gives.
func (c *checker) free() bool {
	switch c.kind() {
	case isObject:
		seen := map[string]bool{}
		return c.object(func(key string) bool {
			defer c.leave(c.enterKey(key))
			if seen[key] {
				c.note("is given more than once")
			}
			seen[key] = true
			return c.free()
		})
	case isList:
		return c.list(c.free)
	case isNumber:
		raw, ok := c.number()
		if !ok {
			return false
		}
		if _, err := strconv.ParseFloat(string(raw), 64); err != nil {
			c.note("is %s, which is too large", crop(string(raw)))
		}
		return true
	case isText:
		_, ok := c.text()
		return ok
	}
	return c.word()
}

// skip reads one value past without noting anything about it.
func (c *checker) skip() bool {
	before := c.mute
	c.mute = true
	ok := c.free()
	c.mute = before
	return ok
}

// only walks a value of the wanted kind; any other is noted and skipped.
func (c *checker) only(want kind, walk func() bool) bool {
	if kind := c.kind(); kind != want {
		return c.mismatch(kind, string(want))
	}
	return walk()
}

func (c *checker) mismatch(kind kind, want string) bool {
	if kind == isNothing {
		return c.broken(want)
	}
	c.note("is %s, must be %s", kind, want)
	return c.skip()
}

// object walks an object; member is called with the reading at each value.
func (c *checker) object(member func(key string) bool) bool {
	if !c.deeper() {
		return false
	}
	defer func() { c.depth-- }()
	c.pos++
	if c.peek() == '}' {
		c.pos++
		return true
	}
	for {
		if c.peek() != '"' {
			return c.broken("a field name in double quotes")
		}
		key, ok := c.text()
		if !ok {
			return false
		}
		if c.peek() != ':' {
			return c.broken(`":" after the field name`)
		}
		c.pos++
		if !member(key) || c.full() {
			return false
		}
		switch c.peek() {
		case ',':
			c.pos++
		case '}':
			c.pos++
			return true
		default:
			return c.broken(`"," or "}"`)
		}
	}
}

// list walks a list; element is called with the reading at each value.
func (c *checker) list(element func() bool) bool {
	if !c.deeper() {
		return false
	}
	defer func() { c.depth-- }()
	c.pos++
	if c.peek() == ']' {
		c.pos++
		return true
	}
	for i := 0; ; i++ {
		n := c.enterIndex(i)
		if !element() || c.full() {
			return false
		}
		c.leave(n)
		switch c.peek() {
		case ',':
			c.pos++
		case ']':
			c.pos++
			return true
		default:
			return c.broken(`"," or "]"`)
		}
	}
}

func (c *checker) deeper() bool {
	if c.depth++; c.depth <= maxDepth {
		return true
	}
	c.noteLast("is nested deeper than %d levels", maxDepth)
	return false
}

func (c *checker) note(format string, args ...any) {
	if !c.mute && len(c.found) < maxFound {
		c.noteLast(format, args...)
	}
}

// full reports whether enough is wrong to stop reading.
func (c *checker) full() bool {
	if len(c.found) == maxFound {
		c.found = append(c.found, Violation{Body, fmt.Sprintf("is not read on after %d faults", maxFound)})
	}
	return len(c.found) > maxFound
}

// noteLast notes what ends the reading.
func (c *checker) noteLast(format string, args ...any) {
	field := Body
	if len(c.path) > c.root {
		field = string(c.path)
	}
	c.found = append(c.found, Violation{field, fmt.Sprintf(format, args...)})
}

// text, number and word read one value of their kind; broken notes where and why it cannot be read.

func (c *checker) text() (string, bool) {
	s, fault := c.scanText()
	return s, c.sound(fault)
}

func (c *checker) number() ([]byte, bool) {
	raw, fault := c.scanNumber()
	return raw, c.sound(fault)
}

func (c *checker) word() bool { return c.sound(c.scanWord()) }

func (c *checker) sound(fault string) bool {
	if fault == "" {
		return true
	}
	line, column := c.position()
	c.noteLast("line %d, column %d: %s", line, column, fault)
	return false
}

func (c *checker) broken(expected string) bool {
	return c.sound(fmt.Sprintf("found %s, expected %s", c.here(), expected))
}

// The path grows with the reading; enter… returns what leave needs to take it back.

func (c *checker) enterField(name string) int {
	n := len(c.path)
	if n > 0 {
		c.path = append(c.path, '.')
	}
	c.path = append(c.path, name...)
	return n
}

func (c *checker) enterIndex(i int) int {
	n := len(c.path)
	c.path = append(c.path, '[')
	c.path = strconv.AppendInt(c.path, int64(i), 10)
	c.path = append(c.path, ']')
	return n
}

// enterKey takes a key of the caller's own making: anything but a plain name stands in brackets.
func (c *checker) enterKey(key string) int {
	if plainName(key) {
		return c.enterField(key)
	}
	n := len(c.path)
	quoted, _ := json.Marshal(crop(key)) // a string always marshals
	c.path = append(append(append(c.path, '['), quoted...), ']')
	return n
}

func (c *checker) leave(n int) { c.path = c.path[:n] }
