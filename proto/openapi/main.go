// Command openapi joins the OpenAPI parts that the generator writes, one a proto file, into the one
// document that the service serves, and removes the parts.
package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"regexp"
)

type document struct {
	OpenAPI    string                                `json:"openapi"`
	Info       json.RawMessage                       `json:"info"`
	Servers    json.RawMessage                       `json:"servers,omitempty"`
	Security   json.RawMessage                       `json:"security,omitempty"`
	Paths      map[string]map[string]any             `json:"paths"` // path → verb → operation
	Components map[string]map[string]json.RawMessage `json:"components"`
	Tags       []json.RawMessage                     `json:"tags,omitempty"`
}

const info = `{
  "title": "rowdatum",
  "version": "v1",
  "license": {"name": "Apache License 2.0", "identifier": "Apache-2.0"},
  "description": "Brings every row unit of a row-crop planter to one depth. All lengths are millimetres, depth is positive downwards. Unknown fields are errors. Errors have one shape, google.rpc.Status."
}`

func main() {
	if len(os.Args) != 3 {
		log.Fatal("usage: openapi DIR FILE")
	}
	if err := join(os.Args[1], os.Args[2]); err != nil {
		log.Fatal(err)
	}
}

func join(dir, file string) error {
	parts, err := filepath.Glob(filepath.Join(dir, "*.openapi.json"))
	if err != nil {
		return err
	}
	whole := document{Info: json.RawMessage(info), Paths: map[string]map[string]any{}, Components: map[string]map[string]json.RawMessage{}}
	for _, path := range parts {
		if err := whole.add(path); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
	}
	if err := whole.mend(); err != nil {
		return err
	}
	text, err := json.MarshalIndent(whole, "", "  ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(file, append(text, '\n'), 0o644); err != nil {
		return err
	}
	for _, path := range parts {
		if err := os.Remove(path); err != nil {
			return err
		}
	}
	return nil
}

// add joins one part. Where two parts describe the same component the generator wrote the same text.
func (whole *document) add(path string) error {
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	var part document
	if err := json.Unmarshal(protoName.ReplaceAllFunc(text, inJSON), &part); err != nil {
		return err
	}
	whole.OpenAPI = part.OpenAPI
	whole.Tags = append(whole.Tags, part.Tags...)
	for route, item := range part.Paths {
		route, ids := readable(route)
		if whole.Paths[route] == nil {
			whole.Paths[route] = map[string]any{}
		}
		for verb, operation := range item {
			whole.Paths[route][verb] = withIDs(operation, ids)
		}
	}
	for kind, items := range part.Components {
		if whole.Components[kind] == nil {
			whole.Components[kind] = map[string]json.RawMessage{}
		}
		for name, item := range items {
			whole.Components[kind][name] = item
		}
	}
	return nil
}

// protoName is a field as comments of a contract name it: `next_page_token`.
var protoName = regexp.MustCompile("`[a-z]+(_[a-z]+)+`")

// inJSON is the name that callers of this description know.
func inJSON(name []byte) []byte {
	return regexp.MustCompile("_[a-z]").ReplaceAllFunc(name, func(found []byte) []byte { return bytes.ToUpper(found[1:]) })
}

// parameter is a collection and the id in it, as the generator names that: planters/{name_1}.
var parameter = regexp.MustCompile(`([a-z]+)s/\{([^}]+)\}`)

// readable names every id of a path after its collection, and tells what each was called before.
func readable(route string) (string, map[string]string) {
	ids := map[string]string{}
	return parameter.ReplaceAllStringFunc(route, func(found string) string {
		parts := parameter.FindStringSubmatch(found)
		ids[parts[2]] = parts[1]
		return parts[1] + "s/{" + parts[1] + "}"
	}), ids
}

// withIDs renames the ids among an operation's parameters.
func withIDs(operation any, ids map[string]string) any {
	fields, _ := operation.(map[string]any)
	parameters, _ := fields["parameters"].([]any)
	for _, p := range parameters {
		about, _ := p.(map[string]any)
		name, _ := about["name"].(string)
		if id := ids[name]; about["in"] == "path" && id != "" {
			about["name"], about["description"] = id, "Id of the "+id+"."
		}
	}
	return operation
}
