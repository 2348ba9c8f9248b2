package adjuster

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// voice is a style in one language and one unit of lengths.
type voice struct {
	language                     Language
	inches                       bool
	text                         Text
	figuresSchema, settingSchema string
}

// voices are the languages that a style speaks, English first, each in mm and in inches.
func (s *Style) voices() ([]voice, error) {
	var out []voice
	for _, language := range append([]Language{english}, s.Languages...) {
		for _, inches := range []bool{false, true} {
			v, err := s.voice(language, inches)
			if err != nil {
				return nil, err
			}
			out = append(out, v)
		}
	}
	return out, nil
}

// voice puts a style's words into a language and a unit.
func (s *Style) voice(language Language, inches bool) (voice, error) {
	v := voice{language: language, inches: inches}
	v.text = s.English.reword(func(text string) string { return inUnit(language.in(text), inches) })
	var err error
	if v.figuresSchema, err = v.worded(s.FiguresSchema); err != nil {
		return v, fmt.Errorf("the figures' schema of %s: %w", s.ID, err)
	}
	if v.settingSchema, err = v.worded(s.SettingSchema); err != nil {
		return v, fmt.Errorf("the setting's schema of %s: %w", s.ID, err)
	}
	return v, nil
}

// worded gives a schema in the voice's language and unit; in English it stays as its author wrote it.
func (v voice) worded(schema string) (string, error) {
	if v.language.Words != nil {
		var err error
		if schema, err = reword(schema, v.language.in); err != nil {
			return "", err
		}
	}
	return inUnit(schema, v.inches), nil
}

// speak chooses the voice for a BCP 47 tag, English where the style does not speak that language, and a unit.
func (s *server[F, S]) speak(tag string, unit adjusterv1.LengthUnit) *voice {
	language, _, _ := strings.Cut(strings.ToLower(tag), "-")
	inches := unit == adjusterv1.LengthUnit_LENGTH_UNIT_IN
	in := func(language string) int {
		return slices.IndexFunc(s.voices, func(v voice) bool { return v.language.Tag == language && v.inches == inches })
	}
	if i := in(language); i >= 0 {
		return &s.voices[i]
	}
	return &s.voices[in(english.Tag)]
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
