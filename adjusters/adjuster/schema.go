package adjuster

import (
	"encoding/json"
	"errors"
	"fmt"

	"rowdatum/adjusters/schema"
)

// compile reads an author's schema. Beyond what every schema must be, it names all its properties:
// one that does not would let a misspelt figure through unread.
func compile(text string) (*schema.Schema, error) {
	s, err := schema.Compile(text)
	if err != nil {
		return nil, err
	}
	var top struct {
		Type                 any
		AdditionalProperties any
	}
	if err := json.Unmarshal([]byte(text), &top); err != nil {
		return nil, fmt.Errorf("cannot be read: %w", err)
	}
	if top.Type != "object" || top.AdditionalProperties != false {
		return nil, errors.New(`must say "type": "object" and "additionalProperties": false`)
	}
	return s, nil
}

// check reads text, the JSON of an object, and returns it canonical, or everything that is wrong with
// it. root starts the path of every violation.
func check(s *schema.Schema, root, text string) (string, Violations) {
	if len(text) > schema.MaxBytes {
		return "", Violations{{Field: root, Message: fmt.Sprintf("has %d bytes, must have at most %d", len(text), schema.MaxBytes)}}
	}
	doc, err := schema.Decode(text)
	if err != nil {
		return "", Violations{{Field: root, Message: "is not valid JSON"}}
	}
	if wrong := s.CheckValue(root, doc); len(wrong) > 0 {
		return "", wrong
	}
	canonical, err := schema.Canonical(doc)
	if err != nil {
		return "", Violations{{Field: root, Message: "cannot be written again"}}
	}
	return canonical, nil
}
