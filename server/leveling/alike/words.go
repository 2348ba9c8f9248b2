package alike

import (
	"fmt"
	"math"

	"rowdatum/server/leveling"
)

// phrases are the sentences of this package in one language.
type phrases struct {
	deeper, shallower string // rows, length
	readAgain         string
}

var (
	english = phrases{
		deeper:    "%s read %s deeper than the rest, together: they are worn alike, or the planter or the fixture stood otherwise there.",
		shallower: "%s read %s shallower than the rest, together: they are worn alike, or the planter or the fixture stood otherwise there.",
		readAgain: "Set one of them down anew and read it again.",
	}
	spanish = phrases{
		deeper:    "%s: dan %s más profundo que los demás, todos ellos: están gastados por igual, o la sembradora o el calibre estaba ahí de otro modo.",
		shallower: "%s: dan %s menos profundo que los demás, todos ellos: están gastados por igual, o la sembradora o el calibre estaba ahí de otro modo.",
		readAgain: "Vuelva a apoyar uno de ellos y léalo otra vez.",
	}
	catalogue = leveling.Catalogue[phrases]{leveling.English: &english, leveling.Spanish: &spanish}
)

// Say tells a technician what was found, and what to do about it.
func (f *Finding) Say(v leveling.Voice) string {
	return f.Fact(v) + " " + catalogue.In(v.Language).readAgain
}

// Fact tells what was found, to whoever reads of work that is done.
func (f *Finding) Fact(v leveling.Voice) string {
	p := catalogue.In(v.Language)
	phrase := p.deeper
	if f.ApartMm < 0 {
		phrase = p.shallower
	}
	return fmt.Sprintf(phrase, v.RowList(f.Rows), v.Length(math.Abs(f.ApartMm)))
}
