package adjustertest

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"

	"rowdatum/adjusters/schema"
)

const (
	maxFigures  = 8 // figure sets and settings that are made of schemas
	maxSettings = 6
	maxItems    = 1000 // of a list; a longer one needs an example
)

// derive makes questions out of a style's schemas: figures and settings that the schemas let through,
// every figure set with every setting and with none. Nothing is known of the answers, and some may be
// refused: a schema cannot say that a setting lies within its own mechanism.
func derive(figuresText, settingText string, figures, setting *schema.Schema) []Case {
	var out []Case
	for i, f := range objects(figuresText, figures, maxFigures) {
		for j, s := range append(objects(settingText, setting, maxSettings), nil) {
			c := Case{Name: fmt.Sprintf("figures %d, setting %d of the schemas", i+1, j+1), Figures: f, Setting: s, derived: true}
			if s == nil {
				c.Setting = nil // a nil map is not a missing setting
				c.Name = fmt.Sprintf("figures %d of the schemas, setting unknown", i+1)
			}
			out = append(out, c)
		}
	}
	return out
}

// property is what an example can be made of.
type property struct {
	Type             any
	Default          any
	Const            any
	Enum, Examples   []any
	Minimum, Maximum *float64
	MinItems         int
	Items            *property
}

// objects makes up to most different objects that s lets through, from the examples and bounds of its
// properties: the i-th object has the i-th candidate of every property.
func objects(text string, s *schema.Schema, most int) []map[string]any {
	var top struct {
		Required     []string
		Properties   map[string]property
		OneOf, AnyOf []struct{ Required []string }
	}
	if json.Unmarshal([]byte(text), &top) != nil {
		return nil
	}
	forms := [][]string{slices.Sorted(maps.Keys(top.Properties)), top.Required}
	for _, form := range append(top.OneOf, top.AnyOf...) {
		forms = append(forms, append(slices.Clone(top.Required), form.Required...))
	}
	var out []map[string]any
	seen := map[string]bool{}
	for i := range most {
		for _, form := range forms {
			o := map[string]any{}
			for _, name := range form {
				if c := top.Properties[name].candidates(); len(c) > 0 {
					o[name] = c[min(i, len(c)-1)]
				}
			}
			text := jsonText(o)
			if !seen[text] && s.CheckValue("", o) == nil && len(out) < most {
				out = append(out, o)
			}
			seen[text] = true
		}
	}
	return out
}

// candidates are values worth trying, the likeliest first.
func (p property) candidates() []any {
	var out []any
	if p.Const != nil {
		return []any{p.Const}
	}
	if p.Default != nil {
		out = append(out, p.Default)
	}
	out = append(append(out, p.Examples...), p.Enum...)
	out = append(out, p.numbers()...)
	if p.Type == "boolean" {
		out = append(out, true, false)
	}
	if p.Type == "array" && p.Items != nil {
		out = append(out, p.list())
	}
	return out
}

// numbers are the bounds and what is between them.
func (p property) numbers() []any {
	if p.Type != "number" && p.Type != "integer" || p.Minimum == nil {
		return nil
	}
	if p.Maximum == nil {
		return []any{*p.Minimum}
	}
	middle := (*p.Minimum + *p.Maximum) / 2
	if p.Type == "integer" {
		middle = math.Trunc(middle)
	}
	return []any{middle, *p.Minimum, *p.Maximum}
}

// list is the shortest list of what its entries may be, rising where they are numbers.
func (p property) list() any {
	c := p.Items.candidates()
	if len(c) == 0 {
		return []any{}
	}
	out := []any{}
	if p.Items.Type == "array" {
		return out // a list of lists needs examples
	}
	for i := range min(max(1, p.MinItems), maxItems) {
		if x, ok := c[0].(float64); ok {
			out = append(out, x+float64(i))
			continue
		}
		out = append(out, c[0])
	}
	return out
}
