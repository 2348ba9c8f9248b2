package leveling

import (
	"fmt"
	"unicode/utf8"
)

// Micros is a moment: microseconds since 1970, UTC. 0 is no moment. The core has no clock; moments are
// handed in.
type Micros int64

// Planter is a row-crop planter of a shop.
type Planter struct {
	ID            string            `json:"id"`
	DisplayName   string            `json:"displayName"`
	Owner         string            `json:"owner,omitempty"`
	RowSpacingMm  *float64          `json:"rowSpacingMm,omitempty"`
	Mechanisms    []Mechanism       `json:"mechanisms"`
	Rows          []PlanterRow      `json:"rows"`
	Sections      []Section         `json:"sections,omitempty"`
	ExternalIDs   map[string]string `json:"externalIds,omitempty"`
	Reach         Reach             `json:"reach,omitzero"`
	ReferenceRows []int             `json:"referenceRows,omitempty"`
	Revision      int               `json:"revision"` // counts its changes, from 1
	CreateTime    Micros            `json:"createTime"`
	UpdateTime    Micros            `json:"updateTime"`
	LengthUnit    LengthUnit        `json:"lengthUnit,omitempty"` // that its words say lengths in; empty: its newest job's
	AreaUnit      AreaUnit          `json:"areaUnit,omitempty"`   // likewise of areas
}

// PlanterRow is one row of a planter, with what the last signed job taught of it.
type PlanterRow struct {
	Number        int      `json:"row"`
	Mechanism     string   `json:"mechanism"`
	Setting       JSON     `json:"setting,omitempty"`
	Rank          Rank     `json:"rank,omitempty"`
	Scale         *float64 `json:"scale,omitempty"`
	ScaleSd       *float64 `json:"scaleSd,omitempty"`
	AsLeftMm      *float64 `json:"asLeftMm,omitempty"` // in the numbers of the fixture AsLeftFixture
	AsLeftFixture string   `json:"asLeftFixture,omitempty"`
}

// Rank is where a row stands on a frame with two ranks.
type Rank int

// The ranks.
const (
	OneRank Rank = iota
	FrontRank
	RearRank
)

// Section is a section of the frame.
type Section struct {
	Title    string `json:"title"`
	FirstRow int    `json:"firstRow"`
	LastRow  int    `json:"lastRow"`
}

// Limits on what a shop keeps.
const (
	MaxNameSize        = 200
	MaxIDSize          = 63
	MaxExternalIDs     = 20
	MaxExternalIDSize  = 100
	MaxSections        = 12
	MaxRowNumber       = 1000
	MaxRowSpacingMm    = 3000
	MaxWordsSize       = 500
	MaxNoteSize        = 2000
	MaxReadingsPerCall = 500
)

// Check notes what is wrong with p as it stands; the adjusters check figures and settings. path is
// where p stands in the request, with a dot behind it, or empty.
func (p *Planter) Check(path string, v *Violations) {
	v.Words(path+"displayName", p.DisplayName, 1, MaxNameSize)
	v.Words(path+"owner", p.Owner, 0, MaxNameSize)
	if p.RowSpacingMm != nil {
		v.AboveZero(path+"rowSpacingMm", *p.RowSpacingMm, MaxRowSpacingMm, Millimeters)
	}
	CheckExternalIDs(path+"externalIds", p.ExternalIDs, v)
	p.Reach.Check(path+"reach", v)
	ids := CheckMechanisms(path, p.Mechanisms, v)
	p.checkRows(path, ids, v)
	p.checkSections(path, v)
	CheckReferenceRows(path+"referenceRows", p.ReferenceRows, p.MechanismOf, v)
}

// Remember takes over what earlier jobs taught of rows that keep their mechanism.
func (p *Planter) Remember(before Planter) {
	learned := map[int]PlanterRow{}
	for _, row := range before.Rows {
		learned[row.Number] = row
	}
	for i := range p.Rows {
		row := &p.Rows[i]
		if old, known := learned[row.Number]; known && old.Mechanism == row.Mechanism {
			row.Scale, row.ScaleSd, row.AsLeftMm, row.AsLeftFixture = old.Scale, old.ScaleSd, old.AsLeftMm, old.AsLeftFixture
		}
	}
}

// MechanismOf returns the mechanism of a row, and whether there is such a row.
func (p *Planter) MechanismOf(number int) (string, bool) {
	for _, row := range p.Rows {
		if row.Number == number {
			return row.Mechanism, true
		}
	}
	return "", false
}

func (p *Planter) checkRows(path string, mechanisms map[string]bool, v *Violations) {
	if n := len(p.Rows); n == 0 || n > MaxRows {
		v.say(path+"rows", func(p *phrases) string { return p.rowsWrong }, n, MaxRows)
		return
	}
	first := map[int]int{}
	for i, row := range p.Rows {
		CheckRowNumber(path+"rows", i, row.Number, first, v)
		if !mechanisms[row.Mechanism] {
			v.say(fmt.Sprintf("%srows[%d].mechanism", path, i), func(p *phrases) string { return p.noMechanism }, row.Mechanism)
		}
	}
}

func (p *Planter) checkSections(path string, v *Violations) {
	if len(p.Sections) > MaxSections {
		v.say(path+"sections", func(p *phrases) string { return p.manySections }, len(p.Sections), MaxSections)
		return
	}
	for i, s := range p.Sections {
		at := fmt.Sprintf("%ssections[%d]", path, i)
		v.Words(at+".title", s.Title, 1, MaxExternalIDSize)
		if s.FirstRow < 1 || s.LastRow < s.FirstRow || s.LastRow > MaxRowNumber {
			v.say(at, func(p *phrases) string { return p.sectionBackwards }, s.FirstRow, s.LastRow)
		}
		for j, other := range p.Sections[:i] {
			if s.FirstRow <= other.LastRow && other.FirstRow <= s.LastRow {
				v.say(at, func(p *phrases) string { return p.sectionShares }, j)
			}
		}
	}
}

// CheckMechanisms notes what is wrong with a list of mechanisms and returns their ids.
func CheckMechanisms(path string, mechanisms []Mechanism, v *Violations) map[string]bool {
	ids := map[string]bool{}
	if len(mechanisms) == 0 {
		v.say(path+"mechanisms", func(p *phrases) string { return p.noMechanisms })
	}
	if len(mechanisms) > MaxRows {
		v.say(path+"mechanisms", func(p *phrases) string { return p.manyMechanisms }, len(mechanisms), MaxRows)
	}
	for i, m := range mechanisms[:min(len(mechanisms), MaxRows)] {
		at := fmt.Sprintf("%smechanisms[%d]", path, i)
		v.Words(at+".id", m.ID, 1, MaxIDSize)
		if ids[m.ID] {
			v.say(at+".id", func(p *phrases) string { return p.idTwice }, m.ID)
		}
		if m.Style == "" {
			v.say(at+".style", func(p *phrases) string { return p.noStyle })
		}
		ids[m.ID] = true
	}
	return ids
}

// CheckRowNumber notes what is wrong with the number of the i-th row; first remembers where each number
// stood first.
func CheckRowNumber(path string, i, number int, first map[int]int, v *Violations) {
	v.Of(path, i, func() {
		if number < 1 || number > MaxRowNumber {
			v.say("row", func(p *phrases) string { return p.rowNumber }, number, MaxRowNumber)
		} else if before, twice := first[number]; twice {
			v.say("row", func(p *phrases) string { return p.rowTwice }, number, path, before)
		} else {
			first[number] = i
		}
	})
}

// CheckReferenceRows notes rows that are not there and a second one of a mechanism.
func CheckReferenceRows(path string, rows []int, mechanismOf func(int) (string, bool), v *Violations) {
	if len(rows) > MaxRows {
		v.say(path, func(p *phrases) string { return p.manyReferences }, len(rows), MaxRows)
		return
	}
	taken := map[string]int{}
	for i, number := range rows {
		at := fmt.Sprintf("%s[%d]", path, i)
		id, known := mechanismOf(number)
		if !known {
			v.say(at, func(p *phrases) string { return p.notGiven }, number)
			continue
		}
		if other, twice := taken[id]; twice {
			v.say(at, func(p *phrases) string { return p.secondReference }, number, other, id)
			continue
		}
		taken[id] = number
	}
}

// CheckExternalIDs notes what is wrong with ids of a shop's own systems.
func CheckExternalIDs(path string, ids map[string]string, v *Violations) {
	if len(ids) > MaxExternalIDs {
		v.say(path, func(p *phrases) string { return p.manyIDs }, len(ids), MaxExternalIDs)
		return
	}
	for key, value := range ids {
		v.Words(path+"."+key, key, 1, MaxExternalIDSize)
		v.Words(path+"."+key, value, 1, MaxExternalIDSize)
	}
}

// Words notes a text that is shorter or longer than allowed, counted in characters.
func (v *Violations) Words(field, text string, least, most int) {
	switch n := utf8.RuneCountInString(text); {
	case !utf8.ValidString(text):
		v.say(field, func(p *phrases) string { return p.unreadable })
	case n == 0 && least > 0:
		v.say(field, func(p *phrases) string { return p.missing }, least, most)
	case n < least || n > most:
		v.say(field, func(p *phrases) string { return p.wrongSize }, n, least, most)
	}
}
