package seal

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"unicode/utf8"
)

// value is a JSON value: its text, and what is in it where it is an object or a list.
type value struct {
	text    []byte
	kind    byte // '{', '[', '"', 'n' for null, 't' or 'f' for a boolean, '0' for a number
	members []member
	items   []value
}

// member is one name and value of an object.
type member struct {
	name string
	value
}

// deepest is how far values may lie in one another: an event needs ten.
const deepest = 100

var errTwice = errors.New("an object has one name twice")

// parse reads a JSON value. An object that has a name twice is refused: readers take one or the other of the two, or mix them.
func parse(text []byte) (value, error) {
	if !json.Valid(text) || !utf8.Valid(text) {
		return value{}, errors.New("it is not JSON")
	}
	p := parser{rest: text}
	return p.value(0)
}

// parser reads what is known to be JSON.
type parser struct{ rest []byte }

// next is the first byte that is no space.
func (p *parser) next() byte {
	p.rest = bytes.TrimLeft(p.rest, " \t\r\n")
	return p.rest[0]
}

func (p *parser) value(depth int) (v value, err error) {
	if depth > deepest {
		return v, fmt.Errorf("it is more than %d levels deep", deepest)
	}
	v.kind = p.next()
	whole := p.rest
	switch v.kind {
	case '{':
		err = p.object(&v, depth)
	case '[':
		err = p.list(&v, depth)
	case '"':
		p.rest = p.rest[endOfString(p.rest):]
	default:
		end := bytes.IndexAny(p.rest, ",]} \t\r\n")
		if end < 0 {
			end = len(p.rest)
		}
		p.rest = p.rest[end:]
		if v.kind == '-' || v.kind >= '0' && v.kind <= '9' {
			v.kind = '0'
		}
	}
	v.text = whole[:len(whole)-len(p.rest)]
	return v, err
}

func (p *parser) object(v *value, depth int) error {
	names := map[string]bool{}
	for p.rest = p.rest[1:]; p.next() != '}'; {
		end := endOfString(p.rest)
		name, err := unquote(p.rest[:end])
		if err != nil {
			return err
		}
		if names[name] {
			return errTwice
		}
		names[name] = true
		p.rest = p.rest[end:]
		p.next()
		p.rest = p.rest[1:] // the colon
		one, err := p.value(depth + 1)
		if err != nil {
			return err
		}
		v.members = append(v.members, member{name, one})
		if p.next() == ',' {
			p.rest = p.rest[1:]
		}
	}
	p.rest = p.rest[1:]
	return nil
}

func (p *parser) list(v *value, depth int) error {
	for p.rest = p.rest[1:]; p.next() != ']'; {
		one, err := p.value(depth + 1)
		if err != nil {
			return err
		}
		v.items = append(v.items, one)
		if p.next() == ',' {
			p.rest = p.rest[1:]
		}
	}
	p.rest = p.rest[1:]
	return nil
}

// endOfString is where the string that text begins with has ended.
func endOfString(text []byte) int {
	for i := 1; ; i++ {
		switch text[i] {
		case '\\':
			i++
		case '"':
			return i + 1
		}
	}
}

// unquote is the text of a JSON string.
func unquote(text []byte) (s string, err error) {
	if bytes.IndexByte(text, '\\') < 0 {
		return string(text[1 : len(text)-1]), nil
	}
	err = json.Unmarshal(text, &s)
	return s, err
}

// member returns the value of a name, a value of no kind where there is none.
func (v *value) member(name string) *value {
	for i := range v.members {
		if v.members[i].name == name {
			return &v.members[i].value
		}
	}
	return &value{}
}

// without is an object without one of its names.
func (v *value) without(name string) value {
	out := *v
	out.members = nil
	for _, m := range v.members {
		if m.name != name {
			out.members = append(out.members, m)
		}
	}
	return out
}

// with is an object with another value under one of its names.
func (v *value) with(name string, other value) value {
	out := *v
	out.members = append([]member(nil), v.members...)
	for i := range out.members {
		if out.members[i].name == name {
			out.members[i].value = other
		}
	}
	return out
}
