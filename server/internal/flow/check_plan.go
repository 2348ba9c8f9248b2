package flow

import (
	"fmt"

	"rowdatum/server/leveling"
)

// maxScale bounds a row's scale: far outside anything on a planter, and small enough that every depth
// computed from it stays finite.
const maxScale = 10

// check tells everything that is wrong with the request as it stands, before any adjuster is asked.
func (req *PlanRequest) check() leveling.Violations {
	var v leveling.Violations
	numbers := map[int]bool{}
	for _, row := range req.Rows {
		numbers[row.Number] = true
	}
	req.Fixture.Check("fixture.", &v)
	req.Aim.Check("aim", func(n int) bool { return numbers[n] }, &v)
	req.Reach.Check("reach", &v)
	req.checkRows(leveling.CheckMechanisms("", req.Mechanisms, &v), &v)
	leveling.CheckReferenceRows("referenceRows", req.ReferenceRows, req.mechanismOf, &v)
	return v
}

func (req *PlanRequest) mechanismOf(number int) (string, bool) {
	for _, row := range req.Rows {
		if row.Number == number {
			return row.Mechanism, true
		}
	}
	return "", false
}

func (req *PlanRequest) checkRows(mechanisms map[string]bool, v *leveling.Violations) {
	if !checkFitted(req.fitted(), mechanisms, v) {
		return
	}
	for i, row := range req.Rows {
		v.Of("rows", i, func() { row.check(v) })
	}
}

// checkFitted notes what is wrong with a request's rows as such; it returns whether a closer look is of use.
func checkFitted(rows []fittedRow, mechanisms map[string]bool, v *leveling.Violations) bool {
	if len(rows) == 0 {
		say(v, "rows", func(p *phrases) string { return p.noRows }, leveling.MaxRows)
	}
	if len(rows) > leveling.MaxRows {
		say(v, "rows", func(p *phrases) string { return p.manyRows }, len(rows), leveling.MaxRows)
		return false
	}
	first := map[int]int{}
	for i, row := range rows {
		leveling.CheckRowNumber("rows", i, row.number, first, v)
		if !mechanisms[row.mechanism] {
			say(v, fmt.Sprintf("rows[%d].mechanism", i), func(p *phrases) string { return p.noMechanism }, row.mechanism)
		}
	}
	return true
}

func (row *PlanRow) check(v *leveling.Violations) {
	if n := len(row.ReadingsMm); n == 0 || n > leveling.MaxReadingsPerRow {
		say(v, "readingsMm", func(p *phrases) string { return p.readingsWrong }, n, leveling.MaxReadingsPerRow)
	} else {
		for k, depth := range row.ReadingsMm {
			v.Of("readingsMm", k, func() { v.Within("", depth, leveling.MinDepthMm, leveling.MaxDepthMm, leveling.Millimeters) })
		}
	}
	checkScale(row.Scale, row.ScaleSd, v)
}

// checkScale notes a scale that cannot be; nil is not said.
func checkScale(scale, sd *float64, v *leveling.Violations) {
	if scale != nil {
		v.AboveZero("scale", *scale, maxScale, "")
	}
	if sd != nil {
		v.Within("scaleSd", *sd, 0, maxScale, "")
	}
}
