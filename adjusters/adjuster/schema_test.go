package adjuster

import (
	"strings"
	"testing"

	"rowdatum/adjusters/schema"
)

func TestCompileWantsClosedObjects(t *testing.T) {
	for text, ok := range map[string]bool{
		leverFiguresSchema: true,
		`{"type": "object", "additionalProperties": false}`: true,
		`{"type": "object"}`:                                                          false,
		`{"additionalProperties": false}`:                                             false,
		`{"type": "array", "additionalProperties": false}`:                            false,
		`{"type": "object", "additionalProperties": true}`:                            false,
		`{"type": "object", "additionalProperties": false, "$ref": "https://x.test"}`: false,
		`{`: false,
	} {
		if _, err := compile(text); (err == nil) != ok {
			t.Errorf("%s: %v", text, err)
		}
	}
}

func TestCheckIsCanonical(t *testing.T) {
	s, err := compile(leverSettingSchema)
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		` { "step" : 1.50e0, "a":"b" } `: `{"a":"b","step":1.5}`,
		`{"step": 8.0}`:                  `{"step":8}`,
	} {
		if got, wrong := check(s, "setting", text); got != want || wrong != nil {
			t.Errorf("%s is written %s (%v), want %s", text, got, wrong, want)
		}
	}
	for text, want := range map[string]string{
		`{"step": "x", "b": 1}`: "setting.b", // and setting.step
		`{"step": 1e999999999}`: "setting",
		`[]`:                    "setting",
		strings.Repeat(" ", schema.MaxBytes) + `{}`: "setting",
	} {
		if got, wrong := check(s, "setting", text); got != "" || len(wrong) == 0 || wrong[0].Field != want {
			t.Errorf("%.40s: %q, %v", text, got, wrong)
		}
	}
}
