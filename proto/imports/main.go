//go:build ignore

// Command imports prints the google/api files that rowdatum's protos import, from the descriptors that
// are linked into the Go packages, so that proto tools need neither a registry nor a copy in the tree.
package main

import (
	"log"
	"os"
	"path/filepath"

	"github.com/jhump/protoreflect/v2/protoprint"
	_ "google.golang.org/genproto/googleapis/api/annotations"
	_ "google.golang.org/genproto/googleapis/api/httpbody"
	"google.golang.org/protobuf/reflect/protoregistry"
)

var files = []string{
	"google/api/annotations.proto",
	"google/api/client.proto",
	"google/api/field_behavior.proto",
	"google/api/http.proto",
	"google/api/httpbody.proto",
	"google/api/launch_stage.proto",
	"google/api/resource.proto",
}

func main() {
	if len(os.Args) != 2 {
		log.Fatal("usage: imports DIR")
	}
	for _, name := range files {
		if err := print(os.Args[1], name); err != nil {
			log.Fatal(err)
		}
	}
}

func print(dir, name string) error {
	file, err := protoregistry.GlobalFiles.FindFileByPath(name)
	if err != nil {
		return err
	}
	text, err := new(protoprint.Printer).PrintProtoToString(file)
	if err != nil {
		return err
	}
	path := filepath.Join(dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	return os.WriteFile(path, []byte(text), 0o644)
}
