package strictjson

import (
	"bytes"
	"fmt"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"
)

// kind of a JSON value, in the words that a message uses for it.
type kind string

const (
	isNothing kind = "" // no value can begin like this
	isObject  kind = "an object"
	isList    kind = "a list"
	isText    kind = "text"
	isNumber  kind = "a number"
	isBool    kind = "true or false"
	isNull    kind = "null"
)

// scanner reads the parts of a JSON text (RFC 8259). What it cannot read it describes, with pos at the
// place.
type scanner struct {
	in  []byte
	pos int
}

// peek skips white space and returns the next byte, 0 at the end.
func (s *scanner) peek() byte {
	for ; s.pos < len(s.in); s.pos++ {
		switch c := s.in[s.pos]; c {
		case ' ', '\t', '\r', '\n':
		case 0: // would look like the end
			return 1
		default:
			return c
		}
	}
	return 0
}

func (s *scanner) kind() kind {
	switch c := s.peek(); {
	case c == '{':
		return isObject
	case c == '[':
		return isList
	case c == '"':
		return isText
	case c == '-' || digit(c):
		return isNumber
	case c == 't' || c == 'f':
		return isBool
	case c == 'n':
		return isNull
	}
	return isNothing
}

// scanWord reads true, false or null.
func (s *scanner) scanWord() (fault string) {
	s.peek()
	rest := s.in[s.pos:]
	for _, word := range []string{"true", "false", "null"} {
		if bytes.HasPrefix(rest, []byte(word)) && !joins(rest[len(word):]) {
			s.pos += len(word)
			return ""
		}
	}
	return fmt.Sprintf("found %s, expected a value", s.here())
}

func (s *scanner) scanNumber() (raw []byte, fault string) {
	rest := s.in[s.pos:]
	n := numberLength(rest)
	if n == 0 || joins(rest[n:]) {
		return nil, fmt.Sprintf("found %s, expected a number such as 57.15", s.here())
	}
	s.pos += n
	return rest[:n], ""
}

// numberLength returns the length of the number that b begins with, 0 where there is none.
func numberLength(b []byte) int {
	i := 0
	digits := func() int {
		start := i
		for i < len(b) && digit(b[i]) {
			i++
		}
		return i - start
	}
	at := func(set string) bool { return i < len(b) && bytes.IndexByte([]byte(set), b[i]) >= 0 }
	if at("-") {
		i++
	}
	if at("0") {
		i++
	} else if digits() == 0 {
		return 0
	}
	if at(".") {
		i++
		if digits() == 0 {
			return 0
		}
	}
	if at("eE") {
		i++
		if at("+-") {
			i++
		}
		if digits() == 0 {
			return 0
		}
	}
	return i
}

// scanText reads a string in double quotes and returns what it says.
func (s *scanner) scanText() (text, fault string) {
	s.pos++ // the opening quote
	var out []byte
	start := s.pos // of what is not yet in out
	for s.pos < len(s.in) {
		switch c := s.in[s.pos]; {
		case c == '"':
			plain := s.in[start:s.pos]
			s.pos++
			if out == nil {
				return string(plain), ""
			}
			return string(append(out, plain...)), ""
		case c == '\\':
			out = append(out, s.in[start:s.pos]...)
			r, n := escape(s.in[s.pos:])
			if n == 0 {
				return "", `an escape in a text must be one of \" \\ \/ \b \f \n \r \t or \u with four hexadecimal digits, characters beyond them as a pair`
			}
			out = utf8.AppendRune(out, r)
			s.pos += n
			start = s.pos
		case c < ' ':
			return "", `a text must be closed with a double quote before the line ends; write a line break in it as \n`
		case c < utf8.RuneSelf:
			s.pos++
		default:
			r, n := utf8.DecodeRune(s.in[s.pos:])
			if r == utf8.RuneError && n == 1 {
				return "", "the text is not UTF-8 here"
			}
			s.pos += n
		}
	}
	return "", "the text ends inside double quotes"
}

// escape returns what the escape that b begins with stands for, and its length, 0 where it is none.
func escape(b []byte) (rune, int) {
	if len(b) < 2 {
		return 0, 0
	}
	switch b[1] {
	case '"', '\\', '/':
		return rune(b[1]), 2
	case 'b':
		return '\b', 2
	case 'f':
		return '\f', 2
	case 'n':
		return '\n', 2
	case 'r':
		return '\r', 2
	case 't':
		return '\t', 2
	}
	first, ok := unit(b)
	if !ok || !utf16.IsSurrogate(first) {
		return first, 6 * oneIf(ok)
	}
	second, ok := unit(b[6:])
	pair := utf16.DecodeRune(first, second)
	return pair, 12 * oneIf(ok && pair != utf8.RuneError)
}

// unit returns the UTF-16 unit of an escape \uXXXX.
func unit(b []byte) (rune, bool) {
	if len(b) < 6 || b[0] != '\\' || b[1] != 'u' {
		return 0, false
	}
	v, err := strconv.ParseUint(string(b[2:6]), 16, 16)
	return rune(v), err == nil
}

func oneIf(ok bool) int {
	if ok {
		return 1
	}
	return 0
}

// here describes what stands at pos.
func (s *scanner) here() string {
	s.peek()
	rest := s.in[s.pos:]
	if len(rest) == 0 {
		return "the end"
	}
	n := 0
	for n < len(rest) && joins(rest[n:]) {
		n++
	}
	if n == 0 {
		_, n = utf8.DecodeRune(rest)
	}
	return strconv.Quote(crop(string(rest[:n])))
}

// position returns line and column of pos, both from 1, in characters.
func (s *scanner) position() (line, column int) {
	before := s.in[:s.pos]
	line = bytes.Count(before, []byte("\n")) + 1
	if i := bytes.LastIndexByte(before, '\n'); i >= 0 {
		before = before[i+1:]
	}
	return line, utf8.RuneCount(before) + 1
}

func digit(c byte) bool { return '0' <= c && c <= '9' }

// joins reports whether b goes on with a character that cannot follow a finished word or number.
func joins(b []byte) bool {
	if len(b) == 0 {
		return false
	}
	c := b[0]
	return digit(c) || 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || c == '_' || c == '.' || c == '+' || c == '-'
}
