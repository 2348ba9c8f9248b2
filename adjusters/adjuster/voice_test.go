package adjuster

import (
	"strings"
	"testing"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

const spokenSchema = `{"type": "object", "title": "Figures", "x-es": {"title": "Datos"}, "additionalProperties": false,
	"properties": {"z": {"title": "Last letter", "type": "number", "description": "First field.", "x-es": {"description": "Primer <campo>.", "title": "Última letra"}},
	"a": {"type": "array", "examples": [[1, 2.50]], "items": {"title": "Part", "x-es": {"title": "Parte"}}}}}`

func TestWordsIn(t *testing.T) {
	for language, want := range map[string]string{
		"en": `{"type":"object","title":"Figures","additionalProperties":false,"properties":{"z":{"title":"Last letter","type":"number","description":"First field."},"a":{"type":"array","examples":[[1,2.50]],"items":{"title":"Part"}}}}`,
		"es": `{"type":"object","title":"Datos","additionalProperties":false,"properties":{"z":{"title":"Última letra","type":"number","description":"Primer \u003ccampo\u003e."},"a":{"type":"array","examples":[[1,2.50]],"items":{"title":"Parte"}}}}`,
	} {
		if got, err := wordsIn(spokenSchema, voice{language: language}); err != nil || got != want {
			t.Errorf("in %s: %v\n%s\nwant\n%s", language, err, got, want)
		}
	}
	if got, err := wordsIn(leverFiguresSchema, voice{language: "es"}); err != nil || got != leverFiguresSchema {
		t.Errorf("a schema with one language is not as its author wrote it: %s, %v", got, err)
	}
}

func TestWordsInRefuses(t *testing.T) {
	for schema, want := range map[string]string{
		`{"x-es": "Datos"}`:                            "not a title and a description",
		`{"title": "A", "x-es": {"titel": "B"}}`:       "not a title and a description",
		`{"title": "A", "x-es": {"description": "B"}}`: "that English lacks",
		`{"items": [{"x-es": {"title": "B"}}]}`:        "that English lacks",
	} {
		if _, err := wordsIn(schema, voice{language: "es"}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", schema, err, want)
		}
	}
}

// TestSpeaks asks for languages by tag, of a style with Spanish and of one without.
func TestSpeaks(t *testing.T) {
	bilingual := leverStyle()
	bilingual.Spanish = Text{Title: "Palanca", CountUnit: CountUnit{"clic", "clics"}}
	say := func(m Move[leverFigures, leverSetting]) Words {
		return Words{Say: m.In("Pull ", "Jale ") + m.Counted() + " " + m.Direction() + "."}
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

// TestSpanishMustMatch: what is Spanish differs from English in words only.
func TestSpanishMustMatch(t *testing.T) {
	base := leverStyle()
	base.English.InspectionPoints = []InspectionPoint{{ID: "play", Title: "Play", Unit: "mm", Limit: 2, WorseWhen: WorseLarger, Guidance: "Rock it."}}
	base.English.Cautions = []string{"Mind it."}
	good := func() Text {
		return Text{Title: "Palanca", CountUnit: CountUnit{"clic", "clics"}, Cautions: []string{"Cuidado."},
			InspectionPoints: []InspectionPoint{{ID: "play", Title: "Juego", Unit: "mm", Limit: 2, WorseWhen: WorseLarger, Guidance: "Muévalo."}}}
	}
	for name, c := range map[string]struct {
		spoil func(*Text)
		want  string
	}{
		"good":              {func(*Text) {}, ""},
		"another limit":     {func(x *Text) { x.InspectionPoints[0].Limit = 3 }, "Spanish.InspectionPoints"},
		"no guidance":       {func(x *Text) { x.InspectionPoints[0].Guidance = "" }, "Spanish.InspectionPoints"},
		"a caution is lost": {func(x *Text) { x.Cautions = nil }, "Spanish.Cautions"},
		"no unit":           {func(x *Text) { x.CountUnit = CountUnit{} }, "Spanish.CountUnit"},
	} {
		s := base
		s.Spanish = good()
		c.spoil(&s.Spanish)
		_, err := New(s, lever{})
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}
