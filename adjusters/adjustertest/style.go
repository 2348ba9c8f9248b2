package adjustertest

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"

	"google.golang.org/protobuf/proto"

	"rowdatum/adjusters/adjuster"
	"rowdatum/adjusters/schema"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// describe asks what the style is and checks it; false where nothing more can be asked.
func (e *exam) describe(ctx context.Context) bool {
	e.made("describe", "style", "schema", "deadline")
	e.style = e.ask(ctx, voice{})
	if e.style == nil {
		return false
	}
	for _, language := range []string{"en", "x-nobody-speaks-this"} {
		if s := e.ask(ctx, voice{language: language}); s != nil && !proto.Equal(s, e.style) {
			e.found("describe", language, "is not answered in English as without a language")
		}
	}
	e.report.Style, e.report.Version, e.report.Title = e.style.GetId(), e.style.GetVersion(), e.style.GetTitle()
	e.asked("Describe", &adjusterv1.DescribeRequest{}) // what is found below shows in any answer
	e.constants(e.style)
	e.peoplesWords("style", e.style)
	e.figures = e.schema("figuresSchema", e.style.GetFiguresSchema())
	e.setting = e.schema("settingSchema", e.style.GetSettingSchema())
	if e.setting != nil {
		e.deeper = e.whichWay(e.style.GetSettingSchema())
	}
	return e.figures != nil && e.setting != nil
}

// id is how styles and inspection points are called.
var id = regexp.MustCompile(`^[a-z][a-z0-9-]{0,62}$`)

// What the service takes, far above what anybody needs; beyond it a style or an answer is refused.
const (
	maxTitle   = 200  // bytes of a title, a unit, a field's path
	maxTexts   = 50   // cautions, inspection points, violations
	maxFigure  = 1e6  // mm, or counts of one move
	maxSetting = 1024 // bytes
)

// constants checks what is the same in every language.
func (e *exam) constants(s *adjusterv1.Style) {
	need := func(ok bool, path, format string, args ...any) {
		if !ok {
			e.foundAt("style", s.GetId(), "style."+path, format, args...)
		}
	}
	within := func(path string, x, most float64) {
		need(x >= 0 && x <= most, path, "is %v, must be from 0 to %v", x, most)
	}
	need(id.MatchString(s.GetId()), "id", "%q must be lower-case letters, digits and hyphens, 1 to 63, starting with a letter", s.GetId())
	need(s.GetVersion() != "" && len(s.GetVersion()) <= maxTitle, "version", "has %d letters, must have 1 to %d", len(s.GetVersion()), maxTitle)
	within("scaleSd", s.GetScaleSd(), maxFigure)
	within("seatingMm", s.GetSeatingMm(), maxFigure)
	within("slackMm", s.GetSlackMm(), maxFigure)
	within("touchSeconds", s.GetTouchSeconds(), adjuster.MaxSeconds)
	need(s.GetTouchSeconds() != 0, "touchSeconds", "is 0, must be above it")
	need(adjusterv1.Approach_name[int32(s.GetApproach())] != "", "approach", "is %d, which is not known", s.GetApproach())
	need(s.GetSlackMm() == 0 || s.GetApproach() != adjusterv1.Approach_APPROACH_UNSPECIFIED, "approach", "is missing, though there is slack")
	need(len(s.GetCautions()) <= maxTexts, "cautions", "are %d, at most %d are taken", len(s.GetCautions()), maxTexts)
	need(len(s.GetInspectionPoints()) <= maxTexts, "inspectionPoints", "are %d, at most %d are taken", len(s.GetInspectionPoints()), maxTexts)
	seen := map[string]bool{}
	for i, p := range s.GetInspectionPoints() {
		at := fmt.Sprintf("inspectionPoints[%d]", i)
		need(id.MatchString(p.GetId()) && !seen[p.GetId()], at+".id", "%q must be an id of its own, written like a style's", p.GetId())
		seen[p.GetId()] = true
		byEye := p.GetWorseWhen() == adjusterv1.WorseWhen_WORSE_WHEN_UNSPECIFIED
		need(byEye == (p.Limit == nil), at, "needs a limit and its worse side, or neither")
		need(adjusterv1.WorseWhen_name[int32(p.GetWorseWhen())] != "", at+".worseWhen", "is %d, which is not known", p.GetWorseWhen())
		need(math.Abs(p.GetLimit()) <= maxFigure, at+".limit", "is %v, must be at most %v", p.GetLimit(), maxFigure)
	}
}

// peoplesWords checks what people read of a style, in any language.
func (e *exam) peoplesWords(check string, s *adjusterv1.Style) {
	title := func(path, text string) {
		e.aloud(check, s.GetId(), "style."+path, text)
		if len(text) > maxTitle {
			e.foundAt(check, s.GetId(), "style."+path, "%d letters are too many, at most %d", len(text), maxTitle)
		}
	}
	title("title", s.GetTitle())
	title("countUnit.one", s.GetCountUnit().GetOne())
	title("countUnit.other", s.GetCountUnit().GetOther())
	for i, p := range s.GetInspectionPoints() {
		title(fmt.Sprintf("inspectionPoints[%d].title", i), p.GetTitle())
		e.aloud(check, s.GetId(), fmt.Sprintf("style.inspectionPoints[%d].guidance", i), p.GetGuidance())
	}
	for i, c := range s.GetCautions() {
		e.aloud(check, s.GetId(), fmt.Sprintf("style.cautions[%d]", i), c)
	}
}

// Which way is deeper, as a property of a setting may say with x-deeper.
const (
	larger  = "LARGER"
	smaller = "SMALLER"
)

// whichWay reads x-deeper of a setting's properties.
func (e *exam) whichWay(text string) map[string]string {
	var top struct {
		Properties map[string]struct {
			Deeper any `json:"x-deeper"`
		}
	}
	if json.Unmarshal([]byte(text), &top) != nil {
		return nil // said already
	}
	out := map[string]string{}
	for name, p := range top.Properties {
		switch p.Deeper {
		case nil:
		case larger, smaller:
			out[name] = p.Deeper.(string)
		default:
			e.foundAt("schema", e.style.GetId(), "style.settingSchema.properties."+name, "x-deeper is %v, must be %q or %q", p.Deeper, larger, smaller)
		}
	}
	return out
}

// schema checks one schema, and that a form can be drawn from it.
func (e *exam) schema(name, text string) *schema.Schema {
	s, err := schema.Compile(text)
	if err != nil {
		e.foundAt("schema", e.style.GetId(), "style."+name, "the schema %v", err)
		return nil
	}
	var top struct {
		Type                 any
		AdditionalProperties any
		Properties           map[string]struct{ Title, Description string }
	}
	if err := json.Unmarshal([]byte(text), &top); err != nil {
		e.foundAt("schema", e.style.GetId(), "style."+name, "its properties cannot be read: %v", err)
		return nil
	}
	if top.Type != "object" || top.AdditionalProperties != false {
		e.foundAt("schema", e.style.GetId(), "style."+name, `does not say "type": "object" and "additionalProperties": false, so a misspelt name would go unnoticed`)
	}
	for _, property := range slices.Sorted(maps.Keys(top.Properties)) {
		p := top.Properties[property]
		if p.Title == "" || p.Description == "" {
			e.foundAt("schema", e.style.GetId(), "style."+name+".properties."+property, "has no title or no description, so no form can be drawn from it")
		}
	}
	return s
}
