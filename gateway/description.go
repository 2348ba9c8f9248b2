package gateway

import (
	"encoding/json"
	"slices"
	"strings"
)

// description is the part of the OpenAPI document that the page for people shows.
type description struct {
	Paths      map[string]map[string]operation `json:"paths"`
	Components struct {
		Schemas map[string]schema `json:"schemas"`
	} `json:"components"`
}

type operation struct {
	Summary     string `json:"summary"`
	Description string `json:"description"`
	Parameters  []struct {
		Name        string `json:"name"`
		In          string `json:"in"`
		Description string `json:"description"`
		Required    bool   `json:"required"`
		Schema      schema `json:"schema"`
	} `json:"parameters"`
	RequestBody content            `json:"requestBody"`
	Responses   map[string]content `json:"responses"`
}

type content struct {
	Content map[string]struct {
		Schema schema `json:"schema"`
	} `json:"content"`
}

// JSON returns the schema of the JSON form.
func (c content) JSON() schema { return c.Content["application/json"].Schema }

// Answer returns the schema of a call that went well.
func (o operation) Answer() schema { return o.Responses["200"].JSON() }

type schema struct {
	Ref         string            `json:"$ref"`
	Type        string            `json:"type"`
	Format      string            `json:"format"`
	Description string            `json:"description"`
	Properties  map[string]schema `json:"properties"`
	Required    []string          `json:"required"`
	Items       *schema           `json:"items"`
	Enum        []string          `json:"enum"`
	Additional  json.RawMessage   `json:"additionalProperties"`
}

// Of names the schema that s, or each of its items, refers to, "" for a plain one.
func (s schema) Of() string {
	if s.Items != nil {
		return s.Items.Of()
	}
	return strings.TrimPrefix(s.Ref, "#/components/schemas/")
}

// Kind is the word for what s holds; Of is shown beside it.
func (s schema) Kind() string {
	switch {
	case s.Items != nil && s.Of() != "":
		return "list of"
	case s.Items != nil:
		return "list of " + s.Items.Kind()
	case s.Ref != "":
		return ""
	case s.Format == "int32":
		return "whole number"
	case s.Type == "string":
		return "text"
	case s.Type == "boolean":
		return "true or false"
	}
	return s.Type
}

// Needs reports whether the field must be given.
func (s schema) Needs(field string) bool { return slices.Contains(s.Required, field) }

// anchor is the place of a path or schema on the page.
func anchor(parts ...string) string {
	return strings.NewReplacer("/", "-", ":", "-", "{", "", "}", "", ".", "-").Replace(strings.ToLower(strings.Join(parts, "-")))
}
