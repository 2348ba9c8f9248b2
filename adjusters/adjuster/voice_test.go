package adjuster

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

const spokenSchema = `{"type": "object", "title": "Figures", "additionalProperties": false,
	"properties": {"z": {"title": "Last letter", "type": "number", "x-unit": "mm", "description": "First field."},
	"title": {"type": "array", "examples": [[1, 2.50], {"title": "Part"}], "items": {"title": "Part", "x-unit": "turn", "enum": ["Part"], "x-labels": ["Part", "Figures"]}}}}`

func TestSchemaInALanguage(t *testing.T) {
	words := map[string]string{"Figures": "Datos", "Last letter": "Última letra", "First field.": "Primer <campo>.", "Part": "Parte", "turn": "vuelta"}
	const want = `{"type":"object","title":"Datos","additionalProperties":false,"properties":{"z":{"title":"Última letra","type":"number","x-unit":"mm","description":"Primer \u003ccampo\u003e."},` +
		`"title":{"type":"array","examples":[[1,2.50],{"title":"Part"}],"items":{"title":"Parte","x-unit":"vuelta","enum":["Part"],"x-labels":["Parte","Datos"]}}}}`
	got, err := voice{language: Language{Tag: "es", Words: words}}.worded(spokenSchema)
	if err != nil || got != want {
		t.Errorf("%v\n%s\nwant\n%s", err, got, want)
	}
	if got, err := (voice{language: english}).worded(spokenSchema); err != nil || got != spokenSchema {
		t.Errorf("the English schema is not as its author wrote it: %s, %v", got, err)
	}
	if got, want := schemaTexts(spokenSchema), []string{"Figures", "Last letter", "First field.", "Part", "turn", "Part", "Figures"}; !slices.Equal(got, want) {
		t.Errorf("the schema's words are %q, want %q", got, want)
	}
}

// TestSpeaks asks for languages by tag, of a style with Spanish and of one without.
func TestSpeaks(t *testing.T) {
	bilingual := leverStyle()
	bilingual.Languages = []Language{{Tag: "es", Words: map[string]string{"Lever": "Palanca", "click": "clic", "clicks": "clics", "Pull %s %s.": "Jale %s %s."}}}
	say := func(m Move[leverFigures, leverSetting]) Words {
		return Words{Say: fmt.Sprintf(m.In("Pull %s %s."), m.Counted(), m.Direction())}
	}
	const english, spanish = "Pull 2 clicks deeper. Keep hands clear of pinch points while anything moves.",
		"Jale 2 clics más profundo. Mantenga las manos lejos de donde puedan quedar atrapadas mientras algo se mueva."
	for _, c := range []struct {
		style       Style
		tag         string
		title, said string
	}{
		{bilingual, "", "Lever", english}, {bilingual, "en", "Lever", english}, {bilingual, "pt-BR", "Lever", english}, {bilingual, "est", "Lever", english},
		{bilingual, "es", "Palanca", spanish}, {bilingual, "es-419", "Palanca", spanish}, {bilingual, "ES-mx", "Palanca", spanish},
		{leverStyle(), "es", "Lever", english},
	} {
		s := newLever(t, c.style, lever{travel: positions(0, 2), say: say})
		d, err := s.Describe(t.Context(), &adjusterv1.DescribeRequest{Language: c.tag})
		if err != nil {
			t.Fatal(err)
		}
		if got := d.GetStyle().GetTitle(); got != c.title {
			t.Errorf("%q is described as %q, want %q", c.tag, got, c.title)
		}
		r, err := s.Say(t.Context(), &adjusterv1.SayRequest{Language: c.tag, Mechanisms: []*adjusterv1.MechanismFigures{{Figures: `{"mm": 1}`}},
			Choices: []*adjusterv1.Choice{{Setting: `{"step": 0}`, Option: &adjusterv1.Option{EffectMm: 2, Count: 2, SettingAfter: `{"step": 2}`}}}})
		if err != nil {
			t.Fatal(err)
		}
		if got := r.GetWords()[0].GetSay(); got != c.said {
			t.Errorf("%q is said as %q, want %q", c.tag, got, c.said)
		}
	}
}

func TestCountedInSpanish(t *testing.T) {
	for count, want := range map[float64]string{1: "1 vuelta", 0.25: "1/4 de vuelta", 1.25: "1 y 1/4 vueltas", 3: "3 vueltas", 0.1: "0.1 vueltas"} {
		if got := spanish.counted(count, CountUnit{"vuelta", "vueltas"}); got != want {
			t.Errorf("%v is said as %q, want %q", count, got, want)
		}
	}
}

// TestLanguagesAreWhole: a language has words for all that the style says, and for what the SDK says where
// the SDK does not speak it.
func TestLanguagesAreWhole(t *testing.T) {
	base := leverStyle()
	base.FiguresSchema = `{"type": "object", "title": "Figures", "additionalProperties": false, "properties": {"mm": {"type": "number", "title": "Depth", "x-unit": "mm"}}}`
	base.English.InspectionPoints = []InspectionPoint{{ID: "play", Title: "Play", Unit: "mm", Limit: 2, WorseWhen: WorseLarger, Guidance: "Rock it."}}
	base.English.Cautions = []string{"Mind it."}
	whole := map[string]string{"Lever": "Palanca", "click": "clic", "clicks": "clics", "Mind it.": "Cuidado.", "Play": "Juego", "Rock it.": "Muévalo.",
		"Figures": "Datos", "Depth": "Profundidad"}
	for text := range whole {
		checkLanguage(t, base, Language{Tag: "es", Words: without(whole, text)}, `"es" has no words for "`+text+`"`)
	}
	checkLanguage(t, base, Language{Tag: "es", Words: whole}, "")
	checkLanguage(t, base, Language{Tag: "en", Words: whole}, `"en" must be the tag of another language`)
	checkLanguage(t, base, Language{Tag: "es-MX", Words: whole}, `"es-MX" must be the tag of another language`)
	checkLanguage(t, base, Language{Tag: "pt", Words: whole}, `"pt" has no words for "deeper"`)
	own := maps.Clone(whole)
	for _, text := range ownPhrases {
		own[text] = "pt:" + text
	}
	checkLanguage(t, base, Language{Tag: "pt", Words: own}, "")
}

func without(words map[string]string, text string) map[string]string {
	words = maps.Clone(words)
	delete(words, text)
	return words
}

// checkLanguage looks whether a style with a language is refused with the words wanted, or taken where none are.
func checkLanguage(t *testing.T, style Style, l Language, want string) {
	t.Helper()
	style.Languages = []Language{l}
	_, err := New(style, lever{})
	if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
		t.Errorf("%s: %v, want %q", l.Tag, err, want)
	}
}
