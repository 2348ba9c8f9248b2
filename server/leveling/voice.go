package leveling

import (
	"fmt"
	"math"
	"slices"
)

// Language is a language that the service speaks: the tag that goes to adjusters. The zero Language is
// English.
type Language string

// The languages.
const (
	English Language = ""
	Spanish Language = "es" // as spoken in the workshops of the Americas
)

// Languages lists them, English first.
func Languages() []Language { return []Language{English, Spanish} }

// Tag is the language's BCP 47 tag.
func (l Language) Tag() string {
	if l == English {
		return "en"
	}
	return string(l)
}

// Catalogue has the phrases of a package in each language. wordstest.Complete holds it complete.
type Catalogue[T any] map[Language]*T

// In gives the phrases of a language, in English where the language has none.
func (c Catalogue[T]) In(l Language) *T {
	if p, ok := c[l]; ok {
		return p
	}
	return c[English]
}

// Message is a phrase with what it takes; a Message among that is said to the same reader.
func (c Catalogue[T]) Message(phrase func(*T) string, args ...any) Message {
	args = Short(args)
	return func(v Voice) string { return fmt.Sprintf(phrase(c.In(v.Language)), said(args, v)...) }
}

// said puts the messages among what a phrase takes into a reader's words.
func said(args []any, v Voice) []any {
	out := slices.Clone(args)
	for i, arg := range out {
		if m, ok := arg.(Message); ok {
			out[i] = m(v)
		}
	}
	return out
}

// LengthUnit is the unit that somebody types lengths in and reads them in. Empty: nobody has said.
type LengthUnit string

// The units of length.
const (
	MM   LengthUnit = "MM"
	Inch LengthUnit = "IN"
)

// AreaUnit is the unit that somebody types areas in and reads them in. Empty: nobody has said.
type AreaUnit string

// The units of area.
const (
	Hectare AreaUnit = "HECTARE"
	Acre    AreaUnit = "ACRE"
)

// haPerAcre is an acre: 43,560 square feet of 0.3048 m.
const haPerAcre = 0.40468564224

// Hectares is an area in u in hectares.
func (u AreaUnit) Hectares(area float64) float64 {
	if u == Acre {
		return area * haPerAcre
	}
	return area
}

// Area is an area in hectares in u.
func (u AreaUnit) Area(hectares float64) float64 {
	if u == Acre {
		return hectares / haPerAcre
	}
	return hectares
}

// Voice is how the service speaks to one reader. The zero Voice speaks English, mm and hectares.
type Voice struct {
	Language Language
	PerInch  int      // lines of the ruling to an inch, a power of two: lengths are said in inches; 0: in mm
	AreaUnit AreaUnit // empty: hectares
}

// VoiceFor is the voice for a reader of a language and a unit of lengths that f measures.
func VoiceFor(l Language, u LengthUnit, f Fixture) Voice {
	v := Voice{Language: l}
	if u == Inch {
		v.PerInch = f.linesPerInch()
	}
	return v
}

// LengthUnit is the unit that v says lengths in.
func (v Voice) LengthUnit() LengthUnit {
	if v.PerInch > 0 {
		return Inch
	}
	return MM
}

const mmPerInch = 25.4

// linesPerInch is how finely its readings are told in inches: by its own ruling, or where that is not one of
// inches by the coarsest lines that are no coarser. A ruling that is not known counts as the default one.
func (f Fixture) linesPerInch() int {
	ruling := f.ResolutionMm
	if !(ruling > 0) {
		ruling = DefaultFixture().ResolutionMm
	}
	n := 1
	for n < 64 && mmPerInch/float64(n) > ruling+1e-6 {
		n *= 2
	}
	return n
}

// LengthUnit is the unit that f is ruled in.
func (f Fixture) LengthUnit() LengthUnit {
	if f.InchRuling() > 0 {
		return Inch
	}
	return MM
}

// InchRuling is how many lines a ruling has to an inch: a power of two up to 64, 0 where it is not one of
// inches.
func (f Fixture) InchRuling() int {
	for n := 1; n <= 64; n *= 2 {
		if math.Abs(f.ResolutionMm*float64(n)-mmPerInch) < 1e-6 {
			return n
		}
	}
	return 0
}
