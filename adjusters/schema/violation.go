package schema

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math/big"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/santhosh-tekuri/jsonschema/v6/kind"
)

// Violation is one thing wrong with a document.
type Violation struct {
	Field   string // figures.kitMm[2]
	Message string // goes on from the field: "is 0, must be above 0"
}

const (
	maxViolations = 50 // nobody reads more
	maxShown      = 60 // characters of one value or name in a message
)

// Check returns what is wrong with a JSON text, sorted by field; field is what the whole text is called
// ("figures").
func (s *Schema) Check(field, text string) []Violation {
	doc, err := Decode(text)
	if err != nil {
		return []Violation{{field, "is not valid JSON"}}
	}
	return s.CheckValue(field, doc)
}

// CheckValue is Check for a document that is already decoded (map[string]any, []any, string, float64,
// bool or nil). Figures and settings are objects, whatever else the schema would take.
func (s *Schema) CheckValue(field string, doc any) []Violation {
	if _, ok := doc.(map[string]any); !ok {
		return []Violation{{field, "is " + show(doc) + ", must be an object"}}
	}
	err := s.compiled.Validate(doc)
	if err == nil {
		return nil
	}
	failed, ok := errors.AsType[*jsonschema.ValidationError](err)
	if !ok {
		return []Violation{{field, "cannot be checked"}}
	}
	t := translation{schema: s.doc, doc: doc, field: field}
	t.add(failed)
	slices.SortFunc(t.found, func(a, b Violation) int {
		return cmp.Or(strings.Compare(a.Field, b.Field), strings.Compare(a.Message, b.Message))
	})
	t.found = slices.Compact(t.found)
	return t.found[:min(len(t.found), maxViolations)]
}

// translation turns the library's tree of causes into violations.
type translation struct {
	schema, doc any
	field       string
	found       []Violation
}

func (t *translation) add(e *jsonschema.ValidationError) {
	path, value := t.at(e.InstanceLocation)
	switch k := e.ErrorKind.(type) {
	case *kind.Schema, *kind.Group, *kind.Reference, *kind.AllOf:
		for _, cause := range e.Causes {
			t.add(cause)
		}
	case *kind.Required:
		t.missing(path, k.Missing, "")
	case *kind.DependentRequired:
		t.missing(path, k.Missing, ", needed with "+brief(k.Prop))
	case *kind.Dependency:
		t.missing(path, k.Missing, ", needed with "+brief(k.Prop))
	case *kind.AdditionalProperties:
		for _, name := range k.Properties {
			t.say(path+"."+brief(name), "is not known"+t.known(e))
		}
	case *kind.OneOf:
		t.alternatives(path, e, k.Subschemas)
	case *kind.AnyOf:
		t.alternatives(path, e, nil)
	default:
		t.say(path, wording(e.ErrorKind, value))
	}
}

func (t *translation) say(path, message string) {
	t.found = append(t.found, Violation{path, message})
}

func (t *translation) missing(path string, names []string, because string) {
	for _, name := range names {
		t.say(path+"."+brief(name), "is missing"+because)
	}
}

// at gives a location's path as people read it and the value there.
func (t *translation) at(location []string) (string, any) {
	path, value := t.field, t.doc
	for _, token := range location {
		if _, list := value.([]any); list {
			path += "[" + token + "]"
		} else {
			path += "." + brief(token)
		}
		value, _ = step(value, token)
	}
	return path, value
}

// known names the properties that are allowed where an unknown one was found.
func (t *translation) known(e *jsonschema.ValidationError) string {
	properties, _ := t.keyword(e, "properties").(map[string]any)
	if len(properties) == 0 {
		return ""
	}
	return "; known here: " + strings.Join(slices.Sorted(maps.Keys(properties)), ", ")
}

// keyword returns the value of a keyword of the schema that e failed.
func (t *translation) keyword(e *jsonschema.ValidationError, name string) any {
	_, fragment, _ := strings.Cut(e.SchemaURL, "#")
	if plain, err := url.PathUnescape(fragment); err == nil {
		fragment = plain
	}
	at, _ := lookup(t.schema, fragment)
	value, _ := step(at, name)
	return value
}

// alternatives says which of several forms were possible. Two matched: they exclude each other.
func (t *translation) alternatives(path string, e *jsonschema.ValidationError, matched []int) {
	if len(matched) > 1 {
		t.say(path, "must have only one of "+t.demanded(e, matched))
		return
	}
	if names, ok := onlyRequired(e); ok {
		t.say(path, "must have "+strings.Join(names, " or "))
		return
	}
	var inner []string
	for _, cause := range e.Causes {
		sub := translation{schema: t.schema, doc: t.doc, field: t.field}
		sub.add(cause)
		for _, v := range sub.found {
			inner = append(inner, strings.TrimPrefix(v.Field+" "+v.Message, path+" "))
		}
	}
	slices.Sort(inner)
	t.say(path, "fits none of the allowed forms: "+clip(strings.Join(slices.Compact(inner), "; or "), 300))
}

// demanded names what the matched forms of a oneOf ask for.
func (t *translation) demanded(e *jsonschema.ValidationError, matched []int) string {
	forms, _ := t.keyword(e, "oneOf").([]any)
	var names []string
	for _, i := range matched {
		if i >= len(forms) {
			continue
		}
		required, _ := step(forms[i], "required")
		list, _ := required.([]any)
		for _, name := range list {
			names = append(names, fmt.Sprint(name))
		}
	}
	if len(names) < 2 {
		return "the allowed forms"
	}
	return clip(strings.Join(names, " and "), 300)
}

// onlyRequired returns the missing names where every form failed for want of a property.
func onlyRequired(e *jsonschema.ValidationError) ([]string, bool) {
	var names []string
	for _, cause := range e.Causes {
		k, ok := cause.ErrorKind.(*kind.Required)
		if !ok || len(cause.InstanceLocation) != len(e.InstanceLocation) {
			return nil, false
		}
		names = append(names, strings.Join(k.Missing, " and "))
	}
	return names, len(names) > 0
}

// wording says what is wrong with one value.
func wording(k jsonschema.ErrorKind, value any) string {
	is := "is " + show(value) + ", must be "
	switch k := k.(type) {
	case *kind.Type:
		return is + typeWords(k.Want)
	case *kind.Enum:
		return is + oneOf(k.Want)
	case *kind.Const:
		return is + show(k.Want)
	case *kind.Minimum:
		return is + number(k.Want) + " or more"
	case *kind.Maximum:
		return is + "at most " + number(k.Want)
	case *kind.ExclusiveMinimum:
		return is + "above " + number(k.Want)
	case *kind.ExclusiveMaximum:
		return is + "below " + number(k.Want)
	case *kind.MultipleOf:
		return is + "a multiple of " + number(k.Want)
	case *kind.MinItems:
		return size(k.Got, "entry", "entries") + fmt.Sprintf(", must have %d or more", k.Want)
	case *kind.MaxItems:
		return size(k.Got, "entry", "entries") + fmt.Sprintf(", must have at most %d", k.Want)
	case *kind.UniqueItems:
		return fmt.Sprintf("has the same entry twice, at [%d] and [%d]", k.Duplicates[0], k.Duplicates[1])
	case *kind.MinLength:
		return size(k.Got, "character", "characters") + fmt.Sprintf(", must have %d or more", k.Want)
	case *kind.MaxLength:
		return size(k.Got, "character", "characters") + fmt.Sprintf(", must have at most %d", k.Want)
	case *kind.Pattern:
		return is + "of the form " + brief(k.Want)
	case *kind.MinProperties:
		return size(k.Got, "entry", "entries") + fmt.Sprintf(", must have %d or more", k.Want)
	case *kind.MaxProperties:
		return size(k.Got, "entry", "entries") + fmt.Sprintf(", must have at most %d", k.Want)
	case *kind.PropertyNames:
		return "has an entry named " + brief(k.Property) + ", which is not allowed"
	case *kind.FalseSchema, *kind.Not:
		return "is " + show(value) + ", which is not allowed"
	}
	keyword := strings.Join(k.KeywordPath(), "/")
	return "is " + show(value) + ", which the style does not allow (" + brief(keyword) + ")"
}

func size(n int, one, other string) string {
	if n == 1 {
		return "has 1 " + one
	}
	return fmt.Sprintf("has %d %s", n, other)
}

// typeWords names JSON types for people.
func typeWords(types []string) string {
	words := map[string]string{"null": "null", "boolean": "true or false", "number": "a number",
		"integer": "a whole number", "string": "a text", "array": "a list", "object": "an object"}
	var said []string
	for _, t := range types {
		said = append(said, words[t])
	}
	return strings.Join(said, " or ")
}

func oneOf(values []any) string {
	var said []string
	for _, v := range values {
		said = append(said, show(v))
	}
	return clip(strings.Join(said, " or "), 300)
}

// show writes a value as short as a message can bear.
func show(v any) string {
	switch v := v.(type) {
	case float64:
		return figure(v)
	case string:
		return strconv.Quote(brief(v))
	case map[string]any:
		return "an object"
	case []any:
		return "a list"
	}
	b, _ := json.Marshal(v)
	return brief(string(b))
}

func number(r *big.Rat) string {
	f, _ := r.Float64()
	return figure(f)
}

// figure writes everyday numbers without an exponent.
func figure(f float64) string {
	if a := max(f, -f); a != 0 && (a >= 1e15 || a < 1e-6) {
		return strconv.FormatFloat(f, 'g', -1, 64)
	}
	return strconv.FormatFloat(f+0, 'f', -1, 64) // +0 turns -0 into 0
}

func brief(s string) string { return clip(s, maxShown) }

// clip shortens s to n characters and drops what does not print.
func clip(s string, n int) string {
	s = strings.Map(func(r rune) rune {
		if !strconv.IsPrint(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, ""))
	if utf8.RuneCountInString(s) <= n {
		return s
	}
	return string([]rune(s)[:n]) + "…"
}
