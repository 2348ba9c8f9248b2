package schema

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

const (
	// MaxBytes is the largest schema.
	MaxBytes = 64 << 10
	// maxUnfolded bounds the parts of a schema after every reference has been followed; 64 KiB without
	// references hold fewer.
	maxUnfolded = 40_000
	// maxDepth bounds how deep a schema nests, references followed.
	maxDepth = 64
	// location is where the schema is said to live; no loader is set, so nothing is read from there.
	location = "style:///schema"
)

// Schema is one compiled schema; it may be used from many goroutines.
type Schema struct {
	text     string
	doc      any // as decoded, to name what is allowed
	compiled *jsonschema.Schema
}

// Compile reads a JSON Schema (draft 2020-12, an object). The error is one sentence that goes on from
// "the schema".
func Compile(text string) (*Schema, error) {
	if len(text) > MaxBytes {
		return nil, fmt.Errorf("is %d bytes, at most %d are taken", len(text), MaxBytes)
	}
	doc, err := Decode(text)
	if err != nil {
		return nil, fmt.Errorf("is not valid JSON: %w", err)
	}
	if _, ok := doc.(map[string]any); !ok {
		return nil, errors.New("is not an object")
	}
	left := maxUnfolded
	if err := unfold(doc, doc, 0, &left); err != nil {
		return nil, err
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	c.UseLoader(noLoader{})
	if err := c.AddResource(location, doc); err != nil {
		return nil, fmt.Errorf("cannot be used: %w", err)
	}
	compiled, err := c.Compile(location)
	if err != nil {
		return nil, fmt.Errorf("is not a valid JSON Schema: %w", err)
	}
	return &Schema{text: text, doc: doc, compiled: compiled}, nil
}

// Text returns the schema as it was given to Compile.
func (s *Schema) Text() string { return s.text }

// noLoader refuses to fetch whatever the compiler still asks for.
type noLoader struct{}

func (noLoader) Load(url string) (any, error) {
	return nil, fmt.Errorf("%s is outside the schema", url)
}

// unfold walks a schema as a check would at worst, following references, and gives up on one that
// refers outside itself or has no end.
func unfold(root, at any, depth int, left *int) error {
	if *left--; *left < 0 || depth > maxDepth {
		return errors.New("refers to itself without end or nests too deep")
	}
	switch at := at.(type) {
	case map[string]any:
		for _, key := range slices.Sorted(maps.Keys(at)) { // so that the same schema is refused in the same words
			target, err := refers(root, key, at[key])
			if err != nil {
				return err
			}
			if err := unfold(root, target, depth+1, left); err != nil {
				return err
			}
		}
	case []any:
		for _, value := range at {
			if err := unfold(root, value, depth+1, left); err != nil {
				return err
			}
		}
	}
	return nil
}

// refers returns what a keyword's value stands for: the part referred to, or the value itself.
func refers(root any, key string, value any) (any, error) {
	ref, isText := value.(string)
	switch key {
	case "$dynamicRef", "$recursiveRef", "$id", "$anchor", "$dynamicAnchor":
		if isText {
			return nil, fmt.Errorf("uses %s, which is not taken; refer by #/$defs/…", key)
		}
	case "$schema":
		if isText && strings.TrimSuffix(ref, "#") != "https://json-schema.org/draft/2020-12/schema" {
			return nil, fmt.Errorf("is written for %s, must be draft 2020-12", brief(ref))
		}
	case "$ref":
		if !isText {
			return value, nil
		}
		pointer, inside := strings.CutPrefix(ref, "#")
		if !inside || pointer != "" && pointer[0] != '/' {
			return nil, fmt.Errorf("refers to %s, which is outside itself", brief(ref))
		}
		target, ok := lookup(root, pointer)
		if !ok {
			return nil, fmt.Errorf("refers to %s, which is not there", brief(ref))
		}
		return target, nil
	}
	return value, nil
}

// lookup follows a JSON pointer.
func lookup(at any, pointer string) (any, bool) {
	if pointer == "" {
		return at, true
	}
	for _, token := range strings.Split(pointer, "/")[1:] {
		var ok bool
		if at, ok = step(at, unescape.Replace(token)); !ok {
			return nil, false
		}
	}
	return at, true
}

var unescape = strings.NewReplacer("~1", "/", "~0", "~", "%25", "%", "%24", "$")

// step goes one token down into a decoded document.
func step(at any, token string) (any, bool) {
	switch at := at.(type) {
	case map[string]any:
		v, ok := at[token]
		return v, ok
	case []any:
		i, err := strconv.Atoi(token)
		if err != nil || i < 0 || i >= len(at) {
			return nil, false
		}
		return at[i], true
	}
	return nil, false
}

// Decode reads one JSON text, numbers as float64: a number outside its range is an error, which keeps
// texts like 1e999999999 from the exact arithmetic of the JSON Schema library.
func Decode(text string) (any, error) {
	var doc any
	err := json.Unmarshal([]byte(text), &doc)
	return doc, err
}

// Canonical writes a decoded document so that equal documents are equal texts: keys sorted, no spare
// white space, shortest numbers.
func Canonical(doc any) (string, error) {
	b, err := json.Marshal(doc)
	return string(b), err
}
