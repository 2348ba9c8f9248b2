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
			v.Add(fmt.Sprintf("%srows[%d].row", path, i), "is %d, which this planter does not have", r.Row)
		}
	}
}

// CheckTarget notes a planting depth that cannot be.
func CheckTarget(field string, mm *float64, v *Violations) {
	if mm != nil && !(*mm >= MinTargetMm && *mm <= MaxSeedDepthMm) {
		v.Add(field, "is %s, must be from %d to %d mm", Figure(*mm), MinTargetMm, MaxSeedDepthMm)
	}
}

// CheckSeeds notes what is wrong with seeds; field is where the rows stand in the request.
func CheckSeeds(field string, rows []RowSeeds, v *Violations) {
	if n := len(rows); n < 2 || n > MaxRows {
		v.Add(field, "has %d rows, must have 2 to %d", n, MaxRows)
		return
	}
	first, seeds := map[int]int{}, 0
	for i, r := range rows {
		CheckRowNumber(field, i, r.Row, first, v)
		at := fmt.Sprintf("%s[%d].depthsMm", field, i)
		if n := len(r.DepthsMm); n < 1 || n > MaxSeedsARow {
			v.Add(at, "has %d seeds, must have 1 to %d", n, MaxSeedsARow)
		}
		for j, mm := range r.DepthsMm {
			if !(mm >= 0 && mm <= MaxSeedDepthMm) {
				v.Add(fmt.Sprintf("%s[%d]", at, j), "is %s, must be from 0 to %d mm", Figure(mm), MaxSeedDepthMm)
			}
		}
		seeds += len(r.DepthsMm)
	}
	if seeds <= len(rows) {
		v.Add(field, "have one seed each; at least one row needs two or more, so that seeds of one row can be told from rows")
	}
}
