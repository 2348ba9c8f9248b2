package job

import (
	"fmt"
	"math"
	"strings"

	"rowdatum/server/leveling"
)

// Every sentence about a state stands in this file or beside the step that it explains.

// stands says where a row is.
func (d *deriver) stands(r *RowState, word string) string {
	return fmt.Sprintf("%s: %s mm, %s, %s sure to be within %s mm of it", word, leveling.Mm(r.Estimate.DepthMm), d.fromDatum(r.Estimate.DepthMm), leveling.Percent(r.Chance), leveling.Nominal(d.Aim.ToleranceMm))
}

func (d *deriver) foretold(r *RowState) string {
	return fmt.Sprintf("moved and not read since: foretold %s mm, %s", leveling.Mm(r.Estimate.DepthMm), d.fromDatum(r.Estimate.DepthMm))
}

func (d *deriver) fromDatum(depthMm float64) string {
	const near = 0.005 // less is nothing in hundredths
	switch off := float64(pico(depthMm)-pico(*d.DatumMm)) / 1e9; {
	case off >= near:
		return leveling.Mm(off) + " mm deeper than the datum"
	case off <= -near:
		return leveling.Mm(-off) + " mm shallower than the datum"
	}
	return "at the datum"
}

func surprising(r *RowState, s *stay) string {
	if s.mean.Readings == 0 {
		return fmt.Sprintf("the reading of %s mm is far from the %s mm that was foretold; it does not count until another agrees", leveling.Mm(s.last.depthMm), leveling.Mm(r.Estimate.DepthMm))
	}
	return fmt.Sprintf("the last reading, %s mm, does not agree with the others (%s mm); it does not count until another agrees", leveling.Mm(s.last.depthMm), leveling.Mm(s.mean.MeanMm))
}

func farFromOthers(y, median float64) string {
	return fmt.Sprintf("its only reading, %s mm, is far from the other rows (%s mm in the middle); read it once more", leveling.Mm(y), leveling.Mm(median))
}

func farFromAsLeft(y, asLeft float64) string {
	return fmt.Sprintf("its only reading, %s mm, is far from the %s mm that it was last left at; read it once more", leveling.Mm(y), leveling.Mm(asLeft))
}

func settling(readings int) string {
	if readings == 1 {
		return "1 more reading settles it, if it agrees"
	}
	return fmt.Sprintf("%d more readings settle it, if they agree", readings)
}

func verdictWord(v leveling.Verdict) string { return strings.ToLower(v.String()) }

// warnings says what to mind.
func (d *deriver) warnings() []string {
	var out []string
	about := func(rows []int, what string) {
		if len(rows) > 0 {
			out = append(out, leveling.RowList(rows)+": "+what)
		}
	}
	var surprise, blind, unknown, lopsided, strange, worn []int
	small, read := true, false
	for i := range d.Rows {
		r, l := &d.Rows[i], d.State.rows[i]
		now := &l.stays[len(l.stays)-1]
		if r.Surprising {
			surprise = append(surprise, r.Row)
		}
		if r.AsFound == nil && r.Known {
			blind = append(blind, r.Row)
		}
		if r.Setting == "" {
			unknown = append(unknown, r.Row)
		}
		if now.sides != nil && math.Abs(*now.sides) > d.Aim.ToleranceMm {
			lopsided = append(lopsided, r.Row)
		}
		if r.Moved && !(r.Estimate.Scale >= 0.5 && r.Estimate.Scale <= 1.5) {
			strange = append(strange, r.Row)
		}
		if r.Known {
			read, small = true, small && r.Estimate.DepthMm < 6
		}
	}
	for _, in := range d.Inspections {
		if in.Worn && (len(worn) == 0 || worn[len(worn)-1] != in.Row) {
			worn = append(worn, in.Row)
		}
	}
	about(surprise, "the last reading surprises; read once more.")
	about(blind, "moved, or given a new part, before it was read, so what was found there is not known.")
	about(unknown, "nobody has said where the mechanism stands.")
	about(lopsided, "the left and right sides differ by more than the tolerance; look for worn arms.")
	about(strange, "its moves gave far more or less than they should; check the count, then look for wear.")
	about(worn, "a part was found worn out.")
	if read && small {
		out = append(out, "All rows lie above 6 mm: were inches typed as millimetres?")
	}
	return out
}

// signingNeeds says what stands in the way of signing.
func (d *deriver) signingNeeds() []string {
	var out []string
	for _, c := range d.Cautions {
		if c.Person == "" {
			out = append(out, "This caution is not ticked: "+c.Text)
		}
	}
	var lacking [needPart + 1][]int
	for i := range d.Rows {
		n := d.need(i)
		lacking[n] = append(lacking[n], d.Rows[i].Row)
	}
	for n, what := range [...]string{
		needReading:          "not read.",
		needReadingAfterMove: "moved and not read since.",
		needReadingAgain:     "the last reading surprises; read once more.",
		needPlan:             "no plan has been issued, so there is no datum to be even with.",
		needPart:             "not even; bring it to the datum, read it again, or except it with a reason.",
	} {
		if what != "" && len(lacking[n]) > 0 {
			out = append(out, leveling.RowList(lacking[n])+": "+what)
		}
	}
	return out
}
