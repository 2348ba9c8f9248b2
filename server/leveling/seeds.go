package leveling

import "fmt"

// Dig is what was dug by hand at one place of one field. It is never changed.
type Dig struct {
	ID         string     `json:"id"`
	Planter    string     `json:"planter"`
	Title      string     `json:"title,omitempty"` // the field and the place in it
	Person     string     `json:"person,omitempty"`
	DigTime    Micros     `json:"digTime,omitempty"` // by the digger's clock
	Rows       []RowSeeds `json:"rows"`
	TargetMm   *float64   `json:"targetMm,omitempty"` // wanted planting depth
	Comment    string     `json:"comment,omitempty"`
	CreateTime Micros     `json:"createTime"`
}

// RowSeeds are the seeds of one row: depths below the soil's surface.
type RowSeeds struct {
	Row      int       `json:"row"`
	DepthsMm []float64 `json:"depthsMm"`
}

// Limits on a dig.
const (
	MaxSeedsARow   = 200
	MaxSeedDepthMm = 300
	MinTargetMm    = 1
	MaxCommentSize = 1000
)

// Check notes what is wrong with d as it stands; path is where it stands in the request, with a dot behind
// it, or empty. known says which rows the planter has.
func (d *Dig) Check(path string, known func(row int) bool, v *Violations) {
	v.Words(path+"title", d.Title, 0, MaxNameSize)
	v.Words(path+"person", d.Person, 0, MaxExternalIDSize)
	v.Words(path+"comment", d.Comment, 0, MaxCommentSize)
	CheckTarget(path+"targetMm", d.TargetMm, v)
	CheckSeeds(path+"rows", d.Rows, v)
	for i, r := range d.Rows {
		if !known(r.Row) {
			v.say(fmt.Sprintf("%srows[%d].row", path, i), func(p *phrases) string { return p.notOfPlanter }, r.Row)
		}
	}
}

// CheckTarget notes a planting depth that cannot be.
func CheckTarget(field string, mm *float64, v *Violations) {
	if mm != nil {
		v.Within(field, *mm, MinTargetMm, MaxSeedDepthMm, Millimeters)
	}
}

// CheckSeeds notes what is wrong with seeds; field is where the rows stand in the request.
func CheckSeeds(field string, rows []RowSeeds, v *Violations) {
	if n := len(rows); n < 2 || n > MaxRows {
		v.say(field, func(p *phrases) string { return p.fewRows }, n, 2, MaxRows)
		return
	}
	first, seeds := map[int]int{}, 0
	for i, r := range rows {
		CheckRowNumber(field, i, r.Row, first, v)
		at := fmt.Sprintf("%s[%d].depthsMm", field, i)
		if n := len(r.DepthsMm); n < 1 || n > MaxSeedsARow {
			v.say(at, func(p *phrases) string { return p.seedsWrong }, n, MaxSeedsARow)
		}
		for j, mm := range r.DepthsMm {
			v.Within(fmt.Sprintf("%s[%d]", at, j), mm, 0, MaxSeedDepthMm, Millimeters)
		}
		seeds += len(r.DepthsMm)
	}
	if seeds <= len(rows) {
		v.say(field, func(p *phrases) string { return p.oneSeedEach })
	}
}
