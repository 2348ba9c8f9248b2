package leveling

import (
	"fmt"
	"math"
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

// Message is a phrase with what it takes.
func (c Catalogue[T]) Message(phrase func(*T) string, args ...any) Message {
	args = Short(args)
	return func(v Voice) string { return fmt.Sprintf(phrase(c.In(v.Language)), args...) }
}

// Voice is how the service speaks to one reader. The zero Voice speaks English and mm.
type Voice struct {
	Language Language
	PerInch  int // lines of the ruling to an inch, a power of two: lengths are said in inches; 0: in mm
}

const mmPerInch = 25.4

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
