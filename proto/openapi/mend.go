package main

import (
	"encoding/json"
	"fmt"
	"strings"
)

// mend adds what the generator cannot know of the service, and takes out what it gets wrong.
func (whole *document) mend() error {
	whole.Servers = json.RawMessage(servers)
	whole.Security = json.RawMessage(security)
	whole.Components["securitySchemes"] = map[string]json.RawMessage{"key": json.RawMessage(bearer), "cookie": json.RawMessage(cookie)}
	whole.Components["responses"] = map[string]json.RawMessage{"Refused": json.RawMessage(refused), "Failed": json.RawMessage(failed)}
	for route, item := range whole.Paths {
		for _, operation := range item {
			mendOperation(route, operation.(map[string]any))
		}
	}
	delete(whole.Components["schemas"], body)
	for name, schema := range whole.Components["schemas"] {
		mended, err := mendSchema(schema)
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		whole.Components["schemas"][name] = mended
	}
	return nil
}

const servers = `[{"url": "/", "description": "The service that this description came from."}]`

// security: a key, a browser's cookie, or neither at a service that only its own machine reaches.
const (
	security = `[{"key": []}, {"cookie": []}, {}]`
	bearer   = `{"type": "http", "scheme": "bearer", "description": "A key of the shop."}`
	cookie   = `{"type": "apiKey", "in": "cookie", "name": "rowdatum", "description": "The key of a paired phone, kept by its browser."}`
)

// refused and failed are the answers of every operation that did not go well.
const (
	refused = `{"description": "Refused; nothing was changed. ErrorInfo among the details has the reason, BadRequest every violation.", "content": {"application/json": {"schema": {"$ref": "#/components/schemas/google.rpc.Status"}}}}`
	failed  = `{"description": "Failed, with the same shape. What is UNAVAILABLE may be sent again, with the same request id, after Retry-After seconds.", "content": {"application/json": {"schema": {"$ref": "#/components/schemas/google.rpc.Status"}}}}`
)

// body is the message of answers that are no JSON.
const body = "google.api.HttpBody"

func mendOperation(route string, operation map[string]any) {
	responses, _ := operation["responses"].(map[string]any)
	delete(responses, "default")
	responses["4XX"] = map[string]any{"$ref": "#/components/responses/Refused"}
	responses["5XX"] = map[string]any{"$ref": "#/components/responses/Failed"}
	switch {
	case strings.HasSuffix(route, ":redeem"): // the code is all that a phone has
		operation["security"] = []any{}
	case strings.HasSuffix(route, ":sheet"):
		setContent(responses, "text/html", "application/pdf", "text/csv")
	case strings.HasSuffix(route, ":watch"):
		answer := responses["200"].(map[string]any)
		answer["content"].(map[string]any)["text/event-stream"] = map[string]any{"schema": map[string]any{"type": "string"}}
	}
}

// setContent makes an answer that is text or bytes of one of the media types.
func setContent(responses map[string]any, mediaTypes ...string) {
	content := map[string]any{}
	for _, mediaType := range mediaTypes {
		content[mediaType] = map[string]any{"schema": map[string]any{"type": "string", "contentMediaType": mediaType}}
	}
	responses["200"].(map[string]any)["content"] = content
}

func mendSchema(text json.RawMessage) (json.RawMessage, error) {
	var schema map[string]any
	if err := json.Unmarshal(text, &schema); err != nil {
		return nil, err
	}
	sayChoice(schema)
	openObjects(schema)
	return json.Marshal(schema)
}

// sayChoice says in words which fields of a schema exclude each other. The generator says it in a oneOf with an alternative
// for none of them, which has names where no property is, makes generators write unions of everything, and refuses an
// answer of a newer service.
func sayChoice(schema map[string]any) {
	alternatives, _ := schema["oneOf"].([]any)
	var names []string
	for _, alternative := range alternatives {
		for _, name := range asList(alternative.(map[string]any)["required"]) {
			names = append(names, "`"+name.(string)+"`")
		}
	}
	if len(names) > 0 {
		delete(schema, "oneOf")
		schema["description"] = fmt.Sprintf("%v One of %s.", schema["description"], strings.Join(names, ", "))
	}
}

// openObjects tells of each object whose fields are not named, a style's figures for instance, that it may have any: to a
// generator an object without properties is an empty one.
func openObjects(schema any) {
	switch s := schema.(type) {
	case map[string]any:
		if s["type"] == "object" && s["properties"] == nil && s["additionalProperties"] == nil {
			s["additionalProperties"] = true
		}
		for _, part := range s {
			openObjects(part)
		}
	case []any:
		for _, part := range s {
			openObjects(part)
		}
	}
}

func asList(v any) []any {
	list, _ := v.([]any)
	return list
}
