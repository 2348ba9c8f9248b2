package adjuster

import (
	"fmt"
	"math"
	"regexp"
	"strings"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// Style is what an adjuster says of the kind of mechanism it serves. Constants and schemas are the
// same in every language; what people read is English, with its words in other languages beside it.
type Style struct {
	ID                string // lower-case letters, digits, hyphens, from a letter: "threaded-handle"
	Version           string // as its maker counts: "1.0.0"
	KeepsMarks        bool   // handles are marked, so that every row moves the same count in the field
	SetsPlantingDepth bool   // false where it only trims a row

	// FiguresSchema and SettingSchema are JSON Schemas (draft 2020-12) of an object, as JSON text: at
	// most 64 KiB, additionalProperties false. A form is drawn from them, so give every property a
	// title, a description, an "x-unit", a minimum and a maximum.
	FiguresSchema, SettingSchema string
	// SettingOptional says that Travel can answer without a setting. Otherwise a missing setting is
	// refused before Travel is called.
	SettingOptional bool

	ScaleSd      float64  // prior sd of real over nominal travel, 0 or more
	SeatingMm    float64  // sd of how a row seats after a move, 0 or more
	SlackMm      float64  // lost motion on reversing, 0 or more; above 0 needs an Approach
	Approach     Approach // how every move ends; needed with SlackMm, and nothing without it
	TouchSeconds float64  // getting at one row, moving it, reading it once; above 0
	CountStep    float64  // the smallest part of a count that people say; 0 means whole counts
	HandsStayOut bool     // true leaves the pinch-point caution out of the words

	// English is what people read of the style. A length in a text, or in a title or description of a schema, stands in
	// both units, "{6.35 mm|1/4 in}", and each reader is given their own; numbers, limits and x-unit stay in mm. The
	// values of an enum are read by their "x-labels", in their order, where it has some.
	English Text
	// Languages are what it is in others. A reader of any other language is answered in English.
	Languages []Language
}

// Text is what people read of a style. Its cautions and guidance are full sentences.
type Text struct {
	Title            string
	CountUnit        CountUnit
	InspectionPoints []InspectionPoint
	Cautions         []string
}

// CountUnit is the word for one and for several of what is counted.
type CountUnit struct{ One, Other string }

// Approach is the direction in which every move ends.
type Approach int

// The approaches.
const (
	AnyApproach       = Approach(adjusterv1.Approach_APPROACH_UNSPECIFIED)
	ApproachShallower = Approach(adjusterv1.Approach_APPROACH_SHALLOWER)
	ApproachDeeper    = Approach(adjusterv1.Approach_APPROACH_DEEPER)
)

// InspectionPoint is what a technician inspects on such a row unit.
type InspectionPoint struct {
	ID        string
	Title     string
	Unit      string    // "mm", or empty for a point judged by eye
	Limit     float64   // in Unit
	WorseWhen WorseWhen // ByEye has no limit
	Guidance  string
}

// WorseWhen says on which side of its limit a part is worn out.
type WorseWhen int

// The sides.
const (
	ByEye        = WorseWhen(adjusterv1.WorseWhen_WORSE_WHEN_UNSPECIFIED)
	WorseLarger  = WorseWhen(adjusterv1.WorseWhen_WORSE_WHEN_LARGER)
	WorseSmaller = WorseWhen(adjusterv1.WorseWhen_WORSE_WHEN_SMALLER)
)

// check returns what is wrong with the style itself, for its author.
func (s *Style) check() error {
	var wrong []string
	need := func(ok bool, what string) {
		if !ok {
			wrong = append(wrong, what)
		}
	}
	id := regexp.MustCompile(`^[a-z][a-z0-9-]{0,62}$`)
	need(id.MatchString(s.ID), "ID must be lower-case letters, digits and hyphens, 1 to 63, starting with a letter")
	need(s.Version != "", "Version is missing")
	need(s.English.Title != "", "English.Title is missing")
	need(s.English.CountUnit.One != "" && s.English.CountUnit.Other != "", "English.CountUnit is missing")
	need(notNegative(s.ScaleSd), "ScaleSd must be 0 or more")
	need(notNegative(s.SeatingMm), "SeatingMm must be 0 or more")
	need(notNegative(s.SlackMm), "SlackMm must be 0 or more")
	need(notNegative(s.CountStep), "CountStep must be 0 or more")
	need(notNegative(s.TouchSeconds) && s.TouchSeconds > 0, "TouchSeconds must be above 0")
	need((s.SlackMm > 0) == (s.Approach != AnyApproach), "SlackMm and Approach go together")
	seen := map[string]bool{}
	for _, p := range s.English.InspectionPoints {
		need(id.MatchString(p.ID) && !seen[p.ID], fmt.Sprintf("inspection point %q needs an id of its own, written like a style's", p.ID))
		need(p.Title != "" && p.Guidance != "", fmt.Sprintf("inspection point %q needs a title and guidance", p.ID))
		seen[p.ID] = true
	}
	wrong = append(wrong, s.checkLanguages()...)
	if wrong != nil {
		return fmt.Errorf("the style %q is not complete: %s", s.ID, strings.Join(wrong, "; "))
	}
	return nil
}

func notNegative(x float64) bool { return x >= 0 && !math.IsInf(x, 1) }

// describe puts the style into the contract's message, in one voice.
func (s *Style) describe(v *voice) *adjusterv1.Style {
	text := v.text
	out := &adjusterv1.Style{
		Id: s.ID, Title: text.Title, Version: s.Version,
		CountUnit:  &adjusterv1.CountUnit{One: text.CountUnit.One, Other: text.CountUnit.Other},
		KeepsMarks: s.KeepsMarks, SetsPlantingDepth: s.SetsPlantingDepth,
		FiguresSchema: v.figuresSchema, SettingSchema: v.settingSchema,
		ScaleSd: s.ScaleSd, SeatingMm: s.SeatingMm, SlackMm: s.SlackMm,
		Approach: adjusterv1.Approach(s.Approach), TouchSeconds: s.TouchSeconds,
		Cautions: text.Cautions,
	}
	for _, p := range text.InspectionPoints {
		point := &adjusterv1.InspectionPoint{Id: p.ID, Title: p.Title, Unit: p.Unit,
			WorseWhen: adjusterv1.WorseWhen(p.WorseWhen), Guidance: p.Guidance}
		if p.WorseWhen != ByEye {
			point.Limit = &p.Limit
		}
		out.InspectionPoints = append(out.InspectionPoints, point)
	}
	return out
}
