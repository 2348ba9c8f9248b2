// Package schema checks figures and settings against the JSON Schemas that a style declares, and says
// what is wrong in words for a person, field by field. The adjuster SDK and the host use the same code,
// so both sides of the wire refuse the same things in the same words.
//
// A schema is untrusted text: its size is capped, it may refer only into itself, nothing is ever loaded
// from elsewhere, and one whose references unfold without bound is refused, so that every check ends
// soon. Patterns are RE2.
//
// The package depends on the standard library and the JSON Schema library alone.
package schema
