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
	if len(req.Rows) == 0 {
		v.Add("rows", "is empty, must hold 1 to %d rows", leveling.MaxRows)
	}
	if len(req.Rows) > leveling.MaxRows {
		v.Add("rows", "has %d rows, at most %d are taken", len(req.Rows), leveling.MaxRows)
		return
	}
	first := map[int]int{}
	for i, row := range req.Rows {
		path := fmt.Sprintf("rows[%d]", i)
		leveling.CheckRowNumber("rows", i, row.Number, first, v)
		if !mechanisms[row.Mechanism] {
			v.Add(path+".mechanism", "%q is not the id of a mechanism of this request", row.Mechanism)
		}
		row.check(path, v)
	}
}

func (row *PlanRow) check(path string, v *leveling.Violations) {
	if n := len(row.ReadingsMm); n == 0 || n > leveling.MaxReadingsPerRow {
		v.Add(path+".readingsMm", "has %d readings, must have 1 to %d", n, leveling.MaxReadingsPerRow)
	} else {
		for k, depth := range row.ReadingsMm {
			v.Within(fmt.Sprintf("%s.readingsMm[%d]", path, k), depth, leveling.MinDepthMm, leveling.MaxDepthMm, " mm")
		}
	}
	if row.Scale != nil && !(*row.Scale > 0 && *row.Scale <= maxScale) {
		v.Add(path+".scale", "is %s, must be above 0 and at most %d", leveling.Figure(*row.Scale), maxScale)
	}
	if row.ScaleSd != nil {
		v.Within(path+".scaleSd", *row.ScaleSd, 0, maxScale, "")
	}
}
