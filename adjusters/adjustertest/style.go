package adjustertest

import (
	"context"
	"encoding/json"
	"math"
	"regexp"

	"google.golang.org/protobuf/proto"

	"rowdatum/adjusters/schema"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// describe asks what the style is and checks it; false where nothing more can be asked.
func (e *exam) describe(ctx context.Context) bool {
	e.style = e.ask(ctx, "")
	if e.style == nil {
		return false
	}
	for _, language := range []string{"en", "x-nobody-speaks-this"} {
		if s := e.ask(ctx, language); s != nil && !proto.Equal(s, e.style) {
			e.found("describe", language, "is not answered in English as without a language")
		}
	}
	s := e.style
	need := func(ok bool, format string, args ...any) {
		if !ok {
			e.found("style", s.GetId(), format, args...)
		}
	}
	id := regexp.MustCompile(`^[a-z][a-z0-9-]{0,62}$`)
	need(id.MatchString(s.GetId()), "the id %q must be lower-case letters, digits and hyphens, 1 to 63, starting with a letter", s.GetId())
	need(s.GetTitle() != "", "has no title")
	need(s.GetVersion() != "", "has no version")
	need(s.GetCountUnit().GetOne() != "" && s.GetCountUnit().GetOther() != "", "has no word for what is counted")
	need(s.GetScaleSd() >= 0 && finite(s.GetScaleSd()), "scale_sd is %v, must be 0 or more", s.GetScaleSd())
	need(s.GetSeatingMm() >= 0 && finite(s.GetSeatingMm()), "seating_mm is %v, must be 0 or more", s.GetSeatingMm())
	need(s.GetSlackMm() >= 0 && finite(s.GetSlackMm()), "slack_mm is %v, must be 0 or more", s.GetSlackMm())
	need(s.GetTouchSeconds() > 0 && finite(s.GetTouchSeconds()), "touch_seconds is %v, must be above 0", s.GetTouchSeconds())
	need(s.GetSlackMm() == 0 || s.GetApproach() != adjusterv1.Approach_APPROACH_UNSPECIFIED, "has slack but no approach")
	for _, p := range s.GetInspectionPoints() {
		need(id.MatchString(p.GetId()) && p.GetTitle() != "" && p.GetGuidance() != "", "the inspection point %q needs an id, a title and guidance", p.GetId())
		byEye := p.GetWorseWhen() == adjusterv1.WorseWhen_WORSE_WHEN_UNSPECIFIED
		need(byEye == (p.Limit == nil), "the inspection point %q needs a limit and its worse side, or neither", p.GetId())
	}
	for _, c := range s.GetCautions() {
		e.aloud("style", s.GetId(), c)
	}
	e.figures = e.schema("figures_schema", s.GetFiguresSchema())
	e.setting = e.schema("setting_schema", s.GetSettingSchema())
	return e.figures != nil && e.setting != nil
}

// schema checks one schema, and that a form can be drawn from it.
func (e *exam) schema(name, text string) *schema.Schema {
	s, err := schema.Compile(text)
	if err != nil {
		e.found("schema", name, "it %v", err)
		return nil
	}
	var top struct {
		Type                 any
		AdditionalProperties any
		Properties           map[string]struct{ Title, Description string }
	}
	if err := json.Unmarshal([]byte(text), &top); err != nil {
		e.found("schema", name, "its properties cannot be read: %v", err)
		return nil
	}
	if top.Type != "object" || top.AdditionalProperties != false {
		e.found("schema", name, `does not say "type": "object" and "additionalProperties": false, so a misspelt name would go unnoticed`)
	}
	for property, p := range top.Properties {
		if p.Title == "" || p.Description == "" {
			e.found("schema", name+"."+property, "has no title or no description, so no form can be drawn from it")
		}
	}
	return s
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
