package seal

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strconv"
	"unicode/utf16"
)

// write writes a value in the canonical form of RFC 8785.
func write(out *bytes.Buffer, v *value) error {
	switch v.kind {
	case '{':
		members := slices.Clone(v.members)
		slices.SortFunc(members, func(a, b member) int {
			return slices.Compare(utf16.Encode([]rune(a.name)), utf16.Encode([]rune(b.name)))
		})
		out.WriteByte('{')
		for i, m := range members {
			if i > 0 {
				out.WriteByte(',')
			}
			writeString(out, m.name)
			out.WriteByte(':')
			if err := write(out, &m.value); err != nil {
				return err
			}
		}
		out.WriteByte('}')
	case '[':
		out.WriteByte('[')
		for i := range v.items {
			if i > 0 {
				out.WriteByte(',')
			}
			if err := write(out, &v.items[i]); err != nil {
				return err
			}
		}
		out.WriteByte(']')
	case '"':
		s, err := unquote(v.text)
		if err != nil {
			return err
		}
		writeString(out, s)
	case '0':
		x, err := strconv.ParseFloat(string(v.text), 64)
		if err != nil {
			return fmt.Errorf("it holds a number that is too large: %w", err)
		}
		if x == 0 {
			x = 0 // -0 is written 0
		}
		out.Write(number(x))
	default:
		out.Write(v.text)
	}
	return nil
}

// number writes a number as ECMAScript does: RFC 8785, 3.2.2.3.
func number(x float64) []byte {
	if size := math.Abs(x); size != 0 && (size < 1e-6 || size >= 1e21) {
		text := strconv.AppendFloat(nil, x, 'e', -1, 64)
		if n := len(text); n >= 4 && text[n-4] == 'e' && text[n-2] == '0' { // e-07 is written e-7
			text = append(text[:n-2], text[n-1])
		}
		return text
	}
	return strconv.AppendFloat(nil, x, 'f', -1, 64)
}

// short are the characters that have an escape of two letters: RFC 8785, 3.2.2.2.
var short = map[rune]string{'"': `\"`, '\\': `\\`, '\b': `\b`, '\f': `\f`, '\n': `\n`, '\r': `\r`, '\t': `\t`}

func writeString(out *bytes.Buffer, s string) {
	out.WriteByte('"')
	for _, r := range s {
		writeRune(out, r)
	}
	out.WriteByte('"')
}

func writeRune(out *bytes.Buffer, r rune) {
	if escaped := short[r]; escaped != "" {
		out.WriteString(escaped)
	} else if r < ' ' {
		fmt.Fprintf(out, `\u%04x`, r)
	} else {
		out.WriteRune(r)
	}
}
