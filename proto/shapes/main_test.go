package main

import (
	"bytes"
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/dynamicpb"
)

func committed(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile("../../clients/js/shapes.d.ts")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// TestShapesAreFresh holds the committed types to the contract.
func TestShapesAreFresh(t *testing.T) {
	text, err := os.ReadFile("../gen/openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	var about description
	if err := json.Unmarshal(text, &about); err != nil {
		t.Fatal(err)
	}
	fresh, err := shapes(about, answers())
	if err != nil || !bytes.Equal(fresh, []byte(committed(t))) {
		t.Errorf("clients/js/shapes.d.ts is not what make proto writes (%v)", err)
	}
}

// TestShapesAgreeWithTheEncoder writes an empty message of each kind as the gateway does: what it holds is what the type
// requires, apart from what the contract marks REQUIRED, and what it leaves out the type may leave out.
func TestShapesAgreeWithTheEncoder(t *testing.T) {
	interfaces := regexp.MustCompile(`(?s)export interface (\w+) \{\n(.*?)\n?\}\n`).FindAllStringSubmatch(committed(t), -1)
	if len(interfaces) < 50 {
		t.Fatalf("only %d types", len(interfaces))
	}
	fieldLine := regexp.MustCompile(`(?m)^  (\w+)(\??): `)
	for _, found := range interfaces {
		md, ok := answers()[found[1]].(protoreflect.MessageDescriptor)
		if !ok {
			t.Errorf("%s is no message", found[1])
			continue
		}
		text, err := protojson.MarshalOptions{EmitDefaultValues: true}.Marshal(dynamicpb.NewMessage(md))
		if err != nil {
			t.Fatal(err)
		}
		var holds map[string]any
		if err := json.Unmarshal(text, &holds); err != nil {
			t.Fatal(err)
		}
		lines := fieldLine.FindAllStringSubmatch(found[2], -1)
		if len(lines) != md.Fields().Len() {
			t.Errorf("%s has %d fields, not %d", found[1], len(lines), md.Fields().Len())
		}
		for _, line := range lines {
			field := md.Fields().ByJSONName(line[1])
			_, held := holds[line[1]]
			if field == nil || (line[2] == "") != (held || isRequired(field)) {
				t.Errorf("%s.%s%s: an empty message holds it: %v", found[1], line[1], line[2], held)
			}
		}
	}
}

func TestCommentsEndWhereTheyEnd(t *testing.T) {
	if got := comment("  ", "planters/*/jobs/*\nand more"); strings.Count(got, "*/") != 1 {
		t.Errorf("%q", got)
	}
}
