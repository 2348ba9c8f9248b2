// Package proto carries the generated OpenAPI document. The contracts themselves are the .proto files
// beside it; the Go code made from them is in gen.
package proto

import _ "embed"

// OpenAPI is the description of the JSON API, OpenAPI 3.1, as JSON.
//
//go:embed gen/openapi.json
var OpenAPI []byte
