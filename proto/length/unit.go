package length

import (
	"math/big"
	"slices"
	"strings"
)

// Unit is a unit of length that people write.
type Unit int

// The units. The zero Unit says that none is known.
const (
	NoUnit Unit = iota
	Millimeter
	Centimeter
	Inch
)

// String returns the unit's symbol.
func (u Unit) String() string {
	return [...]string{"", "mm", "cm", "in"}[u]
}

// mm returns how many mm one u is, exactly (NIST SP 811: 1 in = 25.4 mm, 1 cm = 10 mm).
func (u Unit) mm() *big.Rat {
	return [...]*big.Rat{nil, big.NewRat(1, 1), big.NewRat(10, 1), big.NewRat(254, 10)}[u]
}

// words are how u is written, in lower case.
func (u Unit) words() []string {
	switch u {
	case Millimeter:
		return []string{"mm", "mm.", "millimeter", "millimeters", "millimetre", "millimetres", "milímetro", "milímetros", "milimetro", "milimetros"}
	case Centimeter:
		return []string{"cm", "cm.", "centimeter", "centimeters", "centimetre", "centimetres", "centímetro", "centímetros", "centimetro", "centimetros"}
	case Inch:
		return []string{"in", "in.", "inch", "inches", "pulg", "pulg.", "pulgada", "pulgadas", `"`, "″", "”", "''", "’’", "′′"}
	}
	return nil
}

// ParseUnit reads a unit's symbol or word.
func ParseUnit(text string) (Unit, bool) {
	text = strings.Map(func(c rune) rune {
		if c >= 'A' && c <= 'Z' {
			return c + 'a' - 'A'
		}
		return c
	}, clean(text))
	for _, u := range []Unit{Millimeter, Centimeter, Inch} {
		if slices.Contains(u.words(), text) {
			return u, true
		}
	}
	return NoUnit, false
}
