package gateway

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
)

// FuzzTight compares with the library's own compacting, which knows of every kind of space.
func FuzzTight(f *testing.F) {
	for _, text := range []string{`{}`, `{"a": 1, "b" : [ 2, 3 ]}`, `{"a b": "c \" d\\", "e": "\\\" f "}`, ` "  " `, `"\\"`, `[ "é ", " ü" ]`} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		var want bytes.Buffer
		if json.Compact(&want, []byte(text)) != nil {
			return // no JSON
		}
		other := strings.NewReplacer("\n", " ", "\r", " ", "\t", " ") // raw, these stand only between the parts
		if got := tight([]byte(other.Replace(text))); string(got) != want.String() {
			t.Errorf("%q becomes %q, want %q", text, got, want.String())
		}
	})
}
