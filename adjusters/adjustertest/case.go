package adjustertest

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
)

// Case is one question with what is known of its answer. Whatever is left out is not compared, but
// every rule of the contract is checked on every case.
type Case struct {
	Name    string `json:"name"`
	Source  string `json:"source"` // where the figures come from
	Figures any    `json:"figures"`
	Setting any    `json:"setting"` // absent where nobody knows
	// OneWay says that the row cannot come back to this setting, a stack over its maximum for example.
	OneWay     bool        `json:"oneWay"`
	Count      int         `json:"count"`   // how many options there are; 0 is not compared
	Options    []Expected  `json:"options"` // options that must be there
	Only       bool        `json:"only"`    // Options are all there are, in this order
	Violations []Violation `json:"violations"`

	derived bool // made of the schemas: it may be refused
}

// Expected is an option that must be among the answer's: the one with this effect and, if given, this
// count.
type Expected struct {
	EffectMm        float64  `json:"effectMm"`
	Count           *float64 `json:"count"`
	SettingAfter    any      `json:"settingAfter"`
	ShallowerLeftMm *float64 `json:"shallowerLeftMm"`
	DeeperLeftMm    *float64 `json:"deeperLeftMm"`
	Seconds         *float64 `json:"seconds"` // 0 where the option does not say its own
	Say             *string  `json:"say"`     // in English
	Cautions        []string `json:"cautions"`
}

// Violation is a violation that must be among the answer's; an empty message is not compared.
type Violation struct {
	Field   string `json:"field"`
	Message string `json:"message"`
}

// ReadCases reads every *.json of a folder. A field that no case has is an error.
func ReadCases(folder fs.FS) ([]Case, error) {
	names, err := fs.Glob(folder, "*.json")
	if err != nil {
		return nil, fmt.Errorf("listing case files: %w", err)
	}
	var out []Case
	for _, name := range names {
		text, err := fs.ReadFile(folder, name)
		if err != nil {
			return nil, fmt.Errorf("reading cases: %w", err)
		}
		cases, err := ParseCases(text)
		if err != nil {
			return nil, fmt.Errorf("reading cases of %s: %w", name, err)
		}
		out = append(out, cases...)
	}
	return out, nil
}

// ParseCases reads the text of one case file. A field that no case has is an error.
func ParseCases(text []byte) ([]Case, error) {
	var file struct {
		About string `json:"about"`
		Cases []Case `json:"cases"`
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&file); err != nil {
		return nil, err
	}
	if len(file.Cases) == 0 {
		return nil, errors.New("there are no cases in it")
	}
	return file.Cases, nil
}

// jsonText writes a decoded value canonically: sorted keys, shortest numbers; nothing for nil.
func jsonText(v any) string {
	if v == nil {
		return ""
	}
	text, err := json.Marshal(v)
	if err != nil {
		panic(err) // v was decoded from JSON
	}
	return string(text)
}
