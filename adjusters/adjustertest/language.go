package adjustertest

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"google.golang.org/protobuf/proto"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// languages tries the languages of those who may use a style. A program that describes itself in one of
// them speaks it, and must do so throughout.
func (e *exam) languages(ctx context.Context) {
	e.made("language")
	e.report.Languages = []string{"en"}
	for _, language := range []string{"es", "pt", "fr", "de"} {
		s := e.ask(ctx, voice{language: language})
		if s == nil || proto.Equal(s, e.style) {
			continue
		}
		e.report.Languages = append(e.report.Languages, language)
		e.translated(language, s)
		if region := e.ask(ctx, voice{language: language + "-419"}); region != nil && !proto.Equal(region, s) {
			e.found("language", language+"-419", "is not answered as %s is", language)
		}
		e.translatedWords(ctx, language)
	}
}

// translated compares a style in two languages: other words for people, and nothing else.
func (e *exam) translated(language string, s *adjusterv1.Style) {
	if !proto.Equal(wordless(s), wordless(e.style)) {
		e.foundAt("language", language, "style", "more than the words differs from English")
	}
	e.peoplesWords("language", s)
	same := func(path, a, b string) {
		if a == b {
			e.foundAt("language", language, path, "is the English one: %.60q", a)
		}
	}
	same("style.title", s.GetTitle(), e.style.GetTitle())
	same("style.figuresSchema", s.GetFiguresSchema(), e.style.GetFiguresSchema())
	same("style.settingSchema", s.GetSettingSchema(), e.style.GetSettingSchema())
	for i, p := range s.GetInspectionPoints() {
		if english := e.style.GetInspectionPoints(); i < len(english) {
			same(fmt.Sprintf("style.inspectionPoints[%d].guidance", i), p.GetGuidance(), english[i].GetGuidance())
		}
	}
	for i, c := range s.GetCautions() {
		if english := e.style.GetCautions(); i < len(english) {
			same(fmt.Sprintf("style.cautions[%d]", i), c, english[i])
		}
	}
}

// wordless is a style without what is translated.
func wordless(s *adjusterv1.Style) *adjusterv1.Style {
	s = proto.CloneOf(s)
	s.Title, s.CountUnit = "", nil
	s.Cautions = slices.Repeat([]string{""}, len(s.GetCautions()))
	for _, p := range s.GetInspectionPoints() {
		p.Title, p.Guidance = "", ""
	}
	s.FiguresSchema, s.SettingSchema = wordlessSchema(s.GetFiguresSchema()), wordlessSchema(s.GetSettingSchema())
	return s
}

// schemaWords are the keywords of a schema that hold words for people.
var schemaWords = []string{"title", "description", "x-unit", "x-labels"}

// wordlessSchema is a schema without its words, a property of such a name left alone.
func wordlessSchema(text string) string {
	var doc any
	if json.Unmarshal([]byte(text), &doc) != nil {
		return text
	}
	return jsonText(unworded(doc))
}

func unworded(v any) any {
	switch v := v.(type) {
	case map[string]any:
		for key, inner := range v {
			if _, property := inner.(map[string]any); !property && slices.Contains(schemaWords, key) {
				delete(v, key)
				continue
			}
			v[key] = unworded(inner)
		}
	case []any:
		for i := range v {
			v[i] = unworded(v[i])
		}
	}
	return v
}

// translatedWords checks the words of moves: there in the language, and not in English.
func (e *exam) translatedWords(ctx context.Context, language string) {
	options := sampled(e.goodRow.GetOptions())
	english := e.say(ctx, e.good, voice{}, options)
	words := e.say(ctx, e.good, voice{language: language}, options)
	if english == nil || words == nil {
		return
	}
	e.sayable("language", language, options, words)
	for i, w := range words {
		if w.GetSay() != "" && w.GetSay() == english[i].GetSay() {
			e.foundAt("language", language, fmt.Sprintf("words[%d].say", i), "is English: %q", w.GetSay())
		}
	}
}
