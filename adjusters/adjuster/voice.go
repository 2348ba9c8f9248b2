package adjuster

import (
	"bytes"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

const (
	languageEnglish = "en"
	languageSpanish = "es"
	// spanishWords is the keyword of a schema that holds its words in Spanish.
	spanishWords = "x-es"
)

// voice is a style in one language and one unit of lengths.
type voice struct {
	language                     string
	inches                       bool
	text                         Text
	phrases                      phrases
	figuresSchema, settingSchema string
}

// voices are the languages that a style speaks, English first, each in mm and in inches.
func (s *Style) voices() ([]voice, error) {
	languages := []voice{{language: languageEnglish, text: s.English, phrases: english}}
	if s.Spanish.Title != "" {
		languages = append(languages, voice{language: languageSpanish, text: s.Spanish, phrases: spanish})
	}
	var out []voice
	for _, v := range languages {
		for _, inches := range []bool{false, true} {
			v.inches = inches
			one, err := v.of(s)
			if err != nil {
				return nil, err
			}
			out = append(out, one)
		}
	}
	return out, nil
}

// of puts a style's words into the voice's language and unit.
func (v voice) of(s *Style) (voice, error) {
	v.text = v.text.in(v.inches)
	var err error
	if v.figuresSchema, err = wordsIn(s.FiguresSchema, v); err != nil {
		return v, fmt.Errorf("the figures' schema of %s %w", s.ID, err)
	}
	if v.settingSchema, err = wordsIn(s.SettingSchema, v); err != nil {
		return v, fmt.Errorf("the setting's schema of %s %w", s.ID, err)
	}
	return v, nil
}

// speak chooses the voice for a BCP 47 tag, English where the style does not speak that language, and a unit.
func (s *server[F, S]) speak(tag string, unit adjusterv1.LengthUnit) *voice {
	language, _, _ := strings.Cut(strings.ToLower(tag), "-")
	inches := unit == adjusterv1.LengthUnit_LENGTH_UNIT_IN
	in := func(language string) int {
		return slices.IndexFunc(s.voices, func(v voice) bool { return v.language == language && v.inches == inches })
	}
	if i := in(language); i >= 0 {
		return &s.voices[i]
	}
	return &s.voices[in(languageEnglish)]
}

// lengths are the places of a text that say a length: "{6.35 mm|1/4 in}", in mm and in inches.
var lengths = regexp.MustCompile(`\{([^{}|]*)\|([^{}|]*)\}`)

// inUnit gives a text with its lengths in one unit.
func inUnit(text string, inches bool) string {
	if inches {
		return lengths.ReplaceAllString(text, "$2")
	}
	return lengths.ReplaceAllString(text, "$1")
}

func (t Text) in(inches bool) Text {
	t.Title = inUnit(t.Title, inches)
	t.InspectionPoints = slices.Clone(t.InspectionPoints)
	for i := range t.InspectionPoints {
		p := &t.InspectionPoints[i]
		p.Title, p.Guidance = inUnit(p.Title, inches), inUnit(p.Guidance, inches)
	}
	t.Cautions = slices.Clone(t.Cautions)
	for i, c := range t.Cautions {
		t.Cautions[i] = inUnit(c, inches)
	}
	return t
}

// wordsIn gives a schema with the words of one language only, their lengths in one unit: the Spanish ones take the
// place of the others or go. The order of everything stays, since a form is drawn in that order.
func wordsIn(schema string, v voice) (string, error) {
	schema = inUnit(schema, v.inches)
	if !strings.Contains(schema, `"`+spanishWords+`"`) {
		return schema, nil
	}
	var out bytes.Buffer
	if err := translate(&out, json.RawMessage(schema), v.language); err != nil {
		return "", err
	}
	return out.String(), nil
}

// member is one entry of a JSON object, in its place.
type member struct {
	name  string
	value json.RawMessage
}

// translate writes value in one language.
func translate(out *bytes.Buffer, value json.RawMessage, language string) error {
	switch bytes.TrimSpace(value)[0] {
	case '{':
		members, err := inOrder(value)
		if err != nil {
			return err
		}
		if members, err = fold(members, language); err != nil {
			return err
		}
		out.WriteByte('{')
		for i, m := range members {
			if i > 0 {
				out.WriteByte(',')
			}
			name, err := json.Marshal(m.name)
			if err != nil {
				return err
			}
			out.Write(name)
			out.WriteByte(':')
			if err := translate(out, m.value, language); err != nil {
				return err
			}
		}
		out.WriteByte('}')
	case '[':
		var list []json.RawMessage
		if err := json.Unmarshal(value, &list); err != nil {
			return err
		}
		out.WriteByte('[')
		for i, v := range list {
			if i > 0 {
				out.WriteByte(',')
			}
			if err := translate(out, v, language); err != nil {
				return err
			}
		}
		out.WriteByte(']')
	default:
		return json.Compact(out, value)
	}
	return nil
}

// inOrder reads an object as it stands.
func inOrder(object json.RawMessage) ([]member, error) {
	d := json.NewDecoder(bytes.NewReader(object))
	if _, err := d.Token(); err != nil {
		return nil, err
	}
	var out []member
	for d.More() {
		name, err := d.Token()
		if err != nil {
			return nil, err
		}
		var m member
		if err := d.Decode(&m.value); err != nil {
			return nil, err
		}
		m.name, _ = name.(string)
		out = append(out, m)
	}
	return out, nil
}

// fold takes the Spanish words out of an object and, where they are asked for, puts them in place.
func fold(members []member, language string) ([]member, error) {
	at := slices.IndexFunc(members, func(m member) bool { return m.name == spanishWords })
	if at < 0 {
		return members, nil
	}
	var words struct {
		Title       *string  `json:"title"`
		Description *string  `json:"description"`
		Unit        *string  `json:"x-unit"`
		Labels      []string `json:"x-labels"` // of an "enum", in its order
	}
	d := json.NewDecoder(bytes.NewReader(members[at].value))
	d.DisallowUnknownFields()
	if err := d.Decode(&words); err != nil {
		return nil, fmt.Errorf("has an %s that is not a title and a description, x-unit or x-labels: %w", spanishWords, err)
	}
	members = slices.Delete(members, at, at+1)
	if language != languageSpanish {
		return members, nil
	}
	given := map[string]any{}
	for name, text := range map[string]*string{"title": words.Title, "description": words.Description, "x-unit": words.Unit} {
		if text != nil {
			given[name] = *text
		}
	}
	if words.Labels != nil {
		given["x-labels"] = words.Labels
	}
	for name, text := range given {
		i := slices.IndexFunc(members, func(m member) bool { return m.name == name })
		if i < 0 {
			return nil, fmt.Errorf("has a %s in %s that English lacks", name, spanishWords)
		}
		value, err := json.Marshal(text)
		if err != nil {
			return nil, err
		}
		members[i].value = value
	}
	return members, nil
}
