package adjustertest

import (
	"slices"
	"testing"

	"rowdatum/adjusters/schema"
)

// TestDerive makes objects of schemas: every one passes, and bounds, examples and alternatives are used.
func TestDerive(t *testing.T) {
	tests := []struct {
		name, schema string
		want         []string // among others
	}{
		{"bounds", `{"required": ["a"], "properties": {"a": {"type": "integer", "minimum": 1, "maximum": 4}}}`, []string{`{"a":2}`, `{"a":1}`, `{"a":4}`}},
		{"examples first", `{"properties": {"a": {"type": "number", "minimum": 1, "examples": [7, 8]}}}`, []string{`{"a":7}`, `{"a":8}`, `{"a":1}`, `{}`}},
		{"one of two", `{"required": ["n"], "oneOf": [{"required": ["x"]}, {"required": ["y"]}], "properties":
			{"n": {"default": 3}, "x": {"enum": ["A", "B"]}, "y": {"type": "boolean"}}}`, []string{`{"n":3,"x":"A"}`, `{"n":3,"x":"B"}`, `{"n":3,"y":true}`, `{"n":3,"y":false}`}},
		{"a rising list", `{"required": ["a"], "properties": {"a": {"type": "array", "minItems": 3, "items": {"type": "number", "minimum": 5}}}}`, []string{`{"a":[5,6,7]}`}},
		{"only what is let through", `{"required": ["a"], "properties": {"a": {"const": 2, "maximum": 1}}}`, nil},
	}
	for _, tt := range tests {
		s, err := schema.Compile(tt.schema)
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		var got []string
		for _, o := range objects(tt.schema, s, 20) {
			got = append(got, jsonText(o))
			if wrong := s.CheckValue("", o); wrong != nil {
				t.Errorf("%s: %s is not let through: %v", tt.name, jsonText(o), wrong)
			}
		}
		for _, want := range tt.want {
			if !slices.Contains(got, want) {
				t.Errorf("%s: made %v, want %s among them", tt.name, got, want)
			}
		}
		if tt.want == nil && got != nil {
			t.Errorf("%s: made %v", tt.name, got)
		}
	}
}

func FuzzDerive(f *testing.F) {
	f.Add(`{"required": ["a"], "properties": {"a": {"type": "array", "minItems": 3, "items": {"type": "number", "minimum": 5}}}}`)
	f.Add(`{"oneOf": [{"required": ["x"]}, {"required": ["y"]}], "properties": {"x": {"enum": [null]}, "y": {"type": "integer", "minimum": -1e300, "maximum": 1e300}}}`)
	f.Fuzz(func(t *testing.T, text string) {
		s, err := schema.Compile(text)
		if err != nil {
			return
		}
		for _, c := range derive(text, text, s, s) {
			if c.Figures == nil || s.Check("figures", jsonText(c.Figures)) != nil {
				t.Errorf("%s: made %v", text, c.Figures)
			}
		}
	})
}
