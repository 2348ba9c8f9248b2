package adjuster

import (
	"bytes"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
)

// Language is what a style says in one language besides English.
type Language struct {
	// Tag is the language's own subtag of BCP 47: "es". Every region of it is answered alike.
	Tag string
	// Words are by the English text, as it stands in the style, in its schemas and in Move.In: each title, description,
	// x-unit other than mm, x-label, guidance, caution and word of a count has some. Verbs (%s) and lengths in both units
	// ("{6.35 mm|1/4 in}") stay.
	Words map[string]string
}

// in gives a text in the language; a text that neither it nor the SDK has words for stays English.
func (l Language) in(english string) string {
	words, ok := l.words(english)
	if !ok {
		return english
	}
	return words
}

func (l Language) words(english string) (string, bool) {
	if words, ok := l.Words[english]; ok || l.Tag != spanish.Tag {
		return words, ok
	}
	words, ok := spanish.Words[english]
	return words, ok
}

// What the SDK itself says.
const (
	sayDeeper    = "deeper"
	sayShallower = "shallower"
	sayPart      = "%d/%d %s"          // a fraction of one: "1/4 turn"
	sayWholePart = "%.0f and %d/%d %s" // more than one: "1 and 1/4 turns"
	sayInches    = "%s in"
	sayPast      = "Go at least %s past it and come back, so that the move ends going %s."
	sayNoPast    = "The travel ends here, so it cannot go past it and back to take up the slack; read this row with care afterwards."
	sayPinch     = "Keep hands clear of pinch points while anything moves."
)

var (
	english    = Language{Tag: "en"}
	ownPhrases = []string{sayDeeper, sayShallower, sayPart, sayWholePart, sayInches, sayPast, sayNoPast, sayPinch}
)

// checkLanguages returns what the style's languages lack. In a language that the SDK does not speak, a style says what
// the SDK says, too.
func (s *Style) checkLanguages() []string {
	texts := slices.Concat(ownPhrases, s.English.texts(), schemaTexts(s.FiguresSchema), schemaTexts(s.SettingSchema))
	var wrong []string
	seen := map[string]bool{english.Tag: true}
	for _, l := range s.Languages {
		if seen[l.Tag] || !regexp.MustCompile(`^[a-z]{2,3}$`).MatchString(l.Tag) {
			wrong = append(wrong, fmt.Sprintf("the language %q must be the tag of another language than English, each once", l.Tag))
		}
		seen[l.Tag] = true
		for _, text := range texts {
			if words, _ := l.words(text); words == "" {
				wrong = append(wrong, fmt.Sprintf("the language %q has no words for %q", l.Tag, text))
			}
		}
	}
	return wrong
}

// texts are all that people read of a style apart from its schemas.
func (t Text) texts() []string {
	var out []string
	t.reword(func(text string) string {
		out = append(out, text)
		return text
	})
	return out
}

// reword gives the texts with each of them changed.
func (t Text) reword(change func(string) string) Text {
	t.Title = change(t.Title)
	t.CountUnit = CountUnit{One: change(t.CountUnit.One), Other: change(t.CountUnit.Other)}
	t.InspectionPoints = slices.Clone(t.InspectionPoints)
	for i := range t.InspectionPoints {
		p := &t.InspectionPoints[i]
		p.Title, p.Guidance = change(p.Title), change(p.Guidance)
	}
	t.Cautions = slices.Clone(t.Cautions)
	for i, c := range t.Cautions {
		t.Cautions[i] = change(c)
	}
	return t
}

// schemaTexts are the words of a schema for people. A schema that is no JSON has none; compile refuses it.
func schemaTexts(schema string) []string {
	var out []string
	_, err := reword(schema, func(text string) string {
		out = append(out, text)
		return text
	})
	if err != nil {
		return nil
	}
	return out
}

// reword gives a schema with each of its words for people changed. The order of everything stays, since a form
// is drawn in that order.
func reword(schema string, change func(string) string) (string, error) {
	var out bytes.Buffer
	err := rewordValue(&out, json.RawMessage(schema), change)
	return out.String(), err
}

func rewordValue(out *bytes.Buffer, value json.RawMessage, change func(string) string) error {
	if trimmed := bytes.TrimSpace(value); len(trimmed) == 0 || trimmed[0] != '{' && trimmed[0] != '[' {
		return json.Compact(out, value)
	}
	d := json.NewDecoder(bytes.NewReader(value))
	open, err := d.Token()
	if err != nil {
		return err
	}
	object := open == json.Delim('{')
	fmt.Fprint(out, open)
	for first := true; d.More(); first = false {
		if !first {
			out.WriteByte(',')
		}
		var name string
		if object {
			key, err := d.Token()
			if err != nil {
				return err
			}
			name, _ = key.(string)
			writeText(out, name)
			out.WriteByte(':')
		}
		var inner json.RawMessage
		if err := d.Decode(&inner); err != nil {
			return err
		}
		if err := rewordMember(out, name, inner, change); err != nil {
			return err
		}
	}
	shut, err := d.Token()
	fmt.Fprint(out, shut)
	return err
}

// rewordMember writes one value of an object or a list, by what its keyword is for.
func rewordMember(out *bytes.Buffer, keyword string, value json.RawMessage, change func(string) string) error {
	switch keyword {
	case "title", "description", "x-unit":
		var text string
		if json.Unmarshal(value, &text) == nil && text != "mm" {
			writeText(out, change(text))
			return nil
		}
	case "x-labels":
		var labels []string
		if json.Unmarshal(value, &labels) == nil {
			for i := range labels {
				labels[i] = change(labels[i])
			}
			text, err := json.Marshal(labels)
			out.Write(text)
			return err
		}
	case "examples", "default", "const", "enum":
		return json.Compact(out, value)
	}
	return rewordValue(out, value, change)
}

func writeText(out *bytes.Buffer, text string) {
	quoted, _ := json.Marshal(text) // a string always can be
	out.Write(quoted)
}
