package schema_test

import (
	"fmt"
	"strings"
	"testing"

	"rowdatum/adjusters/schema"
)

// mechanism has every sort of figure that a style may ask for.
const mechanism = `{
	"$schema": "https://json-schema.org/draft/2020-12/schema",
	"type": "object", "additionalProperties": false, "required": ["mm", "count"],
	"properties": {
		"mm": {"type": "number", "exclusiveMinimum": 0, "maximum": 300},
		"count": {"type": "integer", "minimum": 1},
		"makes": {"enum": ["DEEPER", "SHALLOWER"]},
		"kitMm": {"type": "array", "minItems": 1, "maxItems": 3, "uniqueItems": true, "items": {"$ref": "#/$defs/shim"}},
		"step": {"type": "number", "multipleOf": 0.25},
		"name": {"type": "string", "minLength": 2, "maxLength": 3, "pattern": "^[a-z]+$"},
		"nested": {"type": "object", "additionalProperties": false, "properties": {"a": {"type": "boolean"}}}
	},
	"$defs": {"shim": {"type": "number", "minimum": 0.1}}}`

// either asks for exactly one of two figures.
const either = `{"type": "object", "additionalProperties": false,
	"properties": {"mmPerNotch": {"type": "number"}, "depthsMm": {"type": "array"}},
	"oneOf": [{"required": ["mmPerNotch"]}, {"required": ["depthsMm"]}]}`

func TestCheck(t *testing.T) {
	for _, c := range []struct{ name, schema, doc, want string }{
		{"good", mechanism, `{"mm": 6.35, "count": 4, "makes": "DEEPER", "kitMm": [0.5, 1], "step": 0.75, "name": "abc", "nested": {"a": true}}`, ""},
		{"whole number written with a point", mechanism, `{"mm": 6.35, "count": 4.0}`, ""},
		{"zero", mechanism, `{"mm": 0, "count": 4}`, "figures.mm: is 0, must be above 0"},
		{"negative zero", mechanism, `{"mm": -0, "count": 4}`, "figures.mm: is 0, must be above 0"},
		{"too large", mechanism, `{"mm": 301, "count": 4}`, "figures.mm: is 301, must be at most 300"},
		{"part of a count", mechanism, `{"mm": 1, "count": 4.5}`, "figures.count: is 4.5, must be a whole number"},
		{"no count", mechanism, `{"mm": 1, "count": 0}`, "figures.count: is 0, must be 1 or more"},
		{"text for a number", mechanism, `{"mm": "1", "count": 4}`, `figures.mm: is "1", must be a number`},
		{"missing and unknown at once", mechanism, `{"mn": 1}`, "figures.count: is missing\nfigures.mm: is missing\nfigures.mn: is not known; known here: count, kitMm, makes, mm, name, nested, step"},
		{"off the list", mechanism, `{"mm": 1, "count": 4, "makes": "UP"}`, `figures.makes: is "UP", must be "DEEPER" or "SHALLOWER"`},
		{"an entry of a list", mechanism, `{"mm": 1, "count": 4, "kitMm": [1, 0, 2]}`, "figures.kitMm[1]: is 0, must be 0.1 or more"},
		{"list too short", mechanism, `{"mm": 1, "count": 4, "kitMm": []}`, "figures.kitMm: has 0 entries, must have 1 or more"},
		{"list too long", mechanism, `{"mm": 1, "count": 4, "kitMm": [1, 2, 3, 4]}`, "figures.kitMm: has 4 entries, must have at most 3"},
		{"list with twins", mechanism, `{"mm": 1, "count": 4, "kitMm": [1, 2, 1]}`, "figures.kitMm: has the same entry twice, at [0] and [2]"},
		{"off the step", mechanism, `{"mm": 1, "count": 4, "step": 0.3}`, "figures.step: is 0.3, must be a multiple of 0.25"},
		{"text too short", mechanism, `{"mm": 1, "count": 4, "name": "a"}`, "figures.name: has 1 character, must have 2 or more"},
		{"text too long", mechanism, `{"mm": 1, "count": 4, "name": "abcd"}`, "figures.name: has 4 characters, must have at most 3"},
		{"text of another form", mechanism, `{"mm": 1, "count": 4, "name": "AB"}`, `figures.name: is "AB", must be of the form ^[a-z]+$`},
		{"nested", mechanism, `{"mm": 1, "count": 4, "nested": {"a": 1, "b": 2}}`, "figures.nested.a: is 1, must be true or false\nfigures.nested.b: is not known; known here: a"},
		{"not an object", mechanism, `[]`, "figures: is a list, must be an object"},
		{"null", mechanism, `null`, "figures: is null, must be an object"},
		{"no object, where the schema takes all", `{}`, `7`, "figures: is 7, must be an object"},
		{"empty", mechanism, ``, "figures: is not valid JSON"},
		{"two texts", mechanism, `{} {}`, "figures: is not valid JSON"},
		{"a number beyond all range", mechanism, `{"mm": 1e999999999, "count": 4}`, "figures: is not valid JSON"},
		{"neither of two", either, `{}`, "figures: must have mmPerNotch or depthsMm"},
		{"one of two", either, `{"mmPerNotch": 4}`, ""},
		{"both of two", either, `{"mmPerNotch": 4, "depthsMm": []}`, "figures: must have only one of mmPerNotch and depthsMm"},
		{"any of two forms", `{"properties": {"a": {"anyOf": [{"type": "number", "minimum": 1}, {"const": "x"}]}}}`, `{"a": 0}`, `figures.a: fits none of the allowed forms: is 0, must be "x"; or is 0, must be 1 or more`},
		{"one needs another", `{"dependentRequired": {"a": ["b"]}}`, `{"a": 0}`, "figures.b: is missing, needed with a"},
		{"never allowed", `{"properties": {"a": false}}`, `{"a": 0}`, "figures.a: is 0, which is not allowed"},
		{"a keyword without words of its own", `{"properties": {"a": {"contains": {"type": "string"}}}}`, `{"a": [1]}`, "figures.a: is a list, which the style does not allow (contains)"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := schema.Compile(c.schema)
			if err != nil {
				t.Fatal(err)
			}
			if got := text(s.Check("figures", c.doc)); got != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", got, c.want)
			}
		})
	}
}

func TestCompileRefuses(t *testing.T) {
	// Each level asks for the next one twice: 2^40 checks of one small document.
	var doubling strings.Builder
	for i := range 40 {
		fmt.Fprintf(&doubling, `"d%d": {"allOf": [{"$ref": "#/$defs/d%d"}, {"$ref": "#/$defs/d%d"}]},`, i, i+1, i+1)
	}
	for _, c := range []struct{ name, schema, want string }{
		{"nothing", ``, "is not valid JSON"},
		{"cut off", `{"type": `, "is not valid JSON"},
		{"not an object", `true`, "is not an object"},
		{"too large", `{"title": "` + strings.Repeat("x", schema.MaxBytes) + `"}`, "at most 65536 are taken"},
		{"no such type", `{"type": "length"}`, "is not a valid JSON Schema"},
		{"another draft", `{"$schema": "http://json-schema.org/draft-07/schema#"}`, "must be draft 2020-12"},
		{"refers to the net", `{"$ref": "https://example.com/x.json"}`, "outside itself"},
		{"refers to a file", `{"properties": {"a": {"$ref": "file:///etc/hosts"}}}`, "outside itself"},
		{"a base elsewhere", `{"$id": "https://example.com/", "$ref": "#/$defs/a"}`, "uses $id"},
		{"refers to nothing", `{"$ref": "#/$defs/a"}`, "not there"},
		{"refers to itself", `{"$ref": "#"}`, "without end"},
		{"unfolds to no end", `{` + `"$defs": {` + doubling.String() + `"d40": {"type": "object"}}, "$ref": "#/$defs/d0"}`, "without end"},
		{"a pattern that cannot be read", `{"pattern": "("}`, "is not a valid JSON Schema"},
		{"a figure beyond all range", `{"minimum": 1e999999999}`, "is not valid JSON"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := schema.Compile(c.schema)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

func TestCanonical(t *testing.T) {
	doc, err := schema.Decode(` {"b": 1.50, "a": [8.0, 1e2], "c": {}} `)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := schema.Canonical(doc); err != nil || got != `{"a":[8,100],"b":1.5,"c":{}}` {
		t.Errorf("got %s, %v", got, err)
	}
}

func text(vs []schema.Violation) string {
	var lines []string
	for _, v := range vs {
		lines = append(lines, v.Field+": "+v.Message)
	}
	return strings.Join(lines, "\n")
}

// FuzzCheck: no document is too strange to be told what is wrong with it in printable words.
func FuzzCheck(f *testing.F) {
	s, err := schema.Compile(mechanism)
	if err != nil {
		f.Fatal(err)
	}
	for _, doc := range []string{`{}`, `{"mm": 1, "count": 2}`, `{"kitMm": [[], {}, null]}`, `{"\u0000": 1}`, `1e400`, `[`} {
		f.Add(doc)
	}
	f.Fuzz(func(t *testing.T, doc string) {
		for _, v := range s.Check("figures", doc) {
			if !strings.HasPrefix(v.Field, "figures") || v.Message == "" || len(v.Message) > 2000 {
				t.Errorf("%q: %q", v.Field, v.Message)
			}
		}
	})
}

// FuzzCompile: no text of a schema is too strange to be refused or used.
func FuzzCompile(f *testing.F) {
	f.Add(mechanism, `{"mm": 1}`)
	f.Add(either, `{}`)
	f.Add(`{"$ref": "#/a/b", "a": {"b": {"not": {}}}}`, `{"a": 1}`)
	f.Fuzz(func(t *testing.T, text, doc string) {
		if s, err := schema.Compile(text); err == nil {
			s.Check("figures", doc)
		}
	})
}
