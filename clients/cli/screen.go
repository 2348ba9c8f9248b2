package main

import (
	"bytes"
	"fmt"
	"io"
	"unicode/utf8"

	"rowdatum/clients/cli/draw"
)

// screen is an output that people read. What a service, a file or a program says must not write to the terminal what it
// likes: characters that do not show, or turn around what is shown, are written as \u and a number.
type screen struct {
	to   io.Writer
	half []byte // the beginning of a character whose rest comes with the next write
}

// Write implements io.Writer.
func (s *screen) Write(text []byte) (int, error) {
	var out bytes.Buffer
	rest := append(s.half, text...)
	s.half = nil
	for len(rest) > 0 {
		if !utf8.FullRune(rest) {
			s.half = rest
			break
		}
		r, size := utf8.DecodeRune(rest)
		switch {
		case r == utf8.RuneError && size == 1:
			fmt.Fprintf(&out, `\x%02x`, rest[0])
		case r == '\r' && bytes.HasPrefix(rest, []byte("\r\n")), r == '\n', r == '\t', !draw.Unprintable(r):
			out.Write(rest[:size])
		default:
			fmt.Fprintf(&out, `\u%04x`, r)
		}
		rest = rest[size:]
	}
	if _, err := s.to.Write(out.Bytes()); err != nil {
		return 0, err
	}
	return len(text), nil
}
