package schema_test

import (
	"fmt"

	"rowdatum/adjusters/schema"
)

func ExampleSchema_Check() {
	s, err := schema.Compile(`{"type": "object", "additionalProperties": false, "required": ["mmPerTurn"],
		"properties": {"mmPerTurn": {"type": "number", "exclusiveMinimum": 0}}}`)
	if err != nil {
		fmt.Println("the schema", err)
		return
	}
	for _, v := range s.Check("figures", `{"mmPerTurn": 0, "pitch": 6.35}`) {
		fmt.Println(v.Field, v.Message)
	}
	// Output:
	// figures.mmPerTurn is 0, must be above 0
	// figures.pitch is not known; known here: mmPerTurn
}
