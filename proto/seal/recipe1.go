package seal

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// table1 is all that recipe 1 knows of a log: one object a line, its fields by their stored names. Recipe 1 calls a field by the same name
// with a capital, or as it says behind >. Behind that stands what the field holds where it is no plain value: another object of the
// table, a list [] or a map {} of plain values or of objects, or text, which is hashed as a string of the JSON as it is stored. A field
// with ? may be there and be 0, false or empty; others are then left out.
const table1 = `
Event           revision createTime eventTime person request?:Request opened?:Opened reading?:Reading move?:Move partChange?:PartChange inspection?:Inspection note?:Note strike?:Strike tick?:Tick issued?:Issued signed?:Signed voided?:Voided
Request         id>ID hash
Opened          planter:Planter fixture:ShopFixture styles:{}Style aim:Aim reach:Reach verify workOrder hectares? alsoOpen
Planter         id>ID displayName owner rowSpacingMm? mechanisms:[]Mechanism rows:[]PlanterRow sections:[]Section externalIds>ExternalIDs:{} reach:Reach referenceRows:[] revision createTime updateTime
Mechanism       id>ID style figures:text
PlanterRow      row>Number mechanism setting:text rank scale? scaleSd? asLeftMm? asLeftFixture
Section         title firstRow lastRow
Reach           shallowerMm deeperMm
ShopFixture     id>ID displayName kind figures:Fixture zeroMm revision createTime updateTime
Fixture         resolutionMm repeatabilityMm floorMm
Style           id>ID title version countUnit:CountUnit keepsMarks setsPlantingDepth figuresSchema settingSchema scaleSd seatingMm slackMm approach touchSeconds inspectionPoints:[]InspectionPoint cautions:[] state stateReason
CountUnit       one other
InspectionPoint id>ID title unit limit? worseWhen guidance
Aim             kind toleranceMm confidence missSeconds row datumMm? zeroUncertaintyMm
Reading         row value unit side afterMove
Move            row settingBefore:text settingAfter:text count effectMm plan afterMove?
PartChange      row part
Inspection      row point value? worn comment
Note            row text
Strike          revision reason
Tick            caution
Issued          plan:Plan says:[]IssuedMove aim:Aim free
Plan            aim:Aim datumMm spreadBeforeMm spreadAfterMm touchedRows rereadRows touchSeconds provableToleranceMm rows:[]RowPlan tradeoff:[]TradeoffPoint marks:[]MechanismMarks cautions:[]
RowPlan         row estimateMm uncertaintyMm verdict chance part option:Option predictedMm predictedChance readingsToSettle why
Option          leave effectMm count settingAfter:text travelKnown shallowerLeftMm deeperLeftMm
TradeoffPoint   touchedRows spreadMm
MechanismMarks  mechanism referenceRow rows:[]RowMark
RowMark         row count residualMm table:[]TableEntry
TableEntry      depthMm setting:text
IssuedMove      unit say
Signed          exceptions:[]Exception contentHash
Exception       row unproven reason
Voided          reason
`

// objects1 are the objects of table1, each with its fields by their stored names.
type objects1 map[string]map[string]field1

type field1 struct {
	name     string // in the hash
	holds    string // what stands behind the colon
	optional bool
}

// readTable1 reads table1.
func readTable1() objects1 {
	all := objects1{}
	for line := range strings.Lines(table1) {
		words := strings.Fields(line)
		if len(words) == 0 {
			continue
		}
		fields := map[string]field1{}
		for _, word := range words[1:] {
			word, holds, _ := strings.Cut(word, ":")
			word, optional := strings.CutSuffix(word, "?")
			stored, name, renamed := strings.Cut(word, ">")
			if !renamed {
				name = strings.ToUpper(stored[:1]) + stored[1:]
			}
			fields[stored] = field1{name, holds, optional}
		}
		all[words[0]] = fields
	}
	return all
}

// write writes a value as recipe 1 has it.
func (all objects1) write(out *bytes.Buffer, v *value, holds string) error {
	switch {
	case holds == "text":
		writeString1(out, string(v.text))
	case strings.HasPrefix(holds, "[]"):
		return all.list(out, v, holds[2:])
	case strings.HasPrefix(holds, "{}"):
		return all.mapping(out, v, holds[2:])
	case holds != "":
		return all.object(out, v, holds)
	default:
		return plain1(out, v)
	}
	return nil
}

func (all objects1) list(out *bytes.Buffer, v *value, holds string) error {
	if v.kind != '[' {
		return errors.New("it has something else where a list was")
	}
	out.WriteByte('[')
	for i := range v.items {
		if i > 0 {
			out.WriteByte(',')
		}
		if err := all.write(out, &v.items[i], holds); err != nil {
			return err
		}
	}
	out.WriteByte(']')
	return nil
}

func (all objects1) mapping(out *bytes.Buffer, v *value, holds string) error {
	if v.kind != '{' {
		return errors.New("it has something else where names with values were")
	}
	return all.members(out, v.members, func(member) string { return holds })
}

func (all objects1) object(out *bytes.Buffer, v *value, kind string) error {
	if v.kind != '{' {
		return errors.New("it has something else where an object was")
	}
	var said []member
	holds := map[string]string{}
	for _, m := range v.members {
		f, known := all[kind][m.name]
		if !known {
			return fmt.Errorf("it has a field %q, which recipe 1 does not know", m.name)
		}
		if all.said(&m.value, f) {
			said, holds[f.name] = append(said, member{f.name, m.value}), f.holds
		}
	}
	return all.members(out, said, func(m member) string { return holds[m.name] })
}

func (all objects1) members(out *bytes.Buffer, members []member, holds func(member) string) error {
	members = slices.SortedFunc(slices.Values(members), func(a, b member) int { return cmp.Compare(a.name, b.name) })
	out.WriteByte('{')
	for i, m := range members {
		if i > 0 {
			out.WriteByte(',')
		}
		writeString1(out, m.name)
		out.WriteByte(':')
		if err := all.write(out, &m.value, holds(m)); err != nil {
			return err
		}
	}
	out.WriteByte('}')
	return nil
}

// said is whether a field is hashed.
func (all objects1) said(v *value, f field1) bool {
	switch {
	case v.kind == 'n':
		return false
	case f.optional:
		return true
	case v.kind == '[' || strings.HasPrefix(f.holds, "{}"):
		return len(v.items)+len(v.members) > 0
	}
	return !all.zero(v, f)
}

// zero is whether a value is what its field was before anything was put there: an empty list is not.
func (all objects1) zero(v *value, f field1) bool {
	switch {
	case v.kind == 'n':
		return true
	case f.optional || f.holds == "text" || v.kind == '[' || strings.HasPrefix(f.holds, "{}"):
		return false
	case v.kind == '{':
		for _, m := range v.members {
			if field, known := all[f.holds][m.name]; !known || !all.zero(&m.value, field) {
				return false
			}
		}
		return true
	case v.kind == '0':
		x, err := strconv.ParseFloat(string(v.text), 64)
		return err == nil && x == 0
	}
	return v.kind == 'f' || string(v.text) == `""`
}

// plain1 writes a plain value. Whole numbers keep their digits: some were 64 bits wide.
func plain1(out *bytes.Buffer, v *value) error {
	switch v.kind {
	case '"':
		s, err := unquote(v.text)
		if err != nil {
			return err
		}
		writeString1(out, s)
	case '0':
		if !bytes.ContainsAny(v.text, ".eE") {
			out.Write(v.text)
			return nil
		}
		x, err := strconv.ParseFloat(string(v.text), 64)
		if err != nil {
			return fmt.Errorf("it holds a number that is too large: %w", err)
		}
		out.Write(number(x))
	case '{', '[':
		return errors.New("it has something else where a plain value was")
	default:
		out.Write(v.text)
	}
	return nil
}

// writeString1 writes a string as Go's encoding/json did, with < > & as they are: two separators of lines were escaped.
func writeString1(out *bytes.Buffer, s string) {
	out.WriteByte('"')
	for _, r := range s {
		switch r {
		case '\u2028', '\u2029':
			fmt.Fprintf(out, `\u%x`, r)
		default:
			writeRune(out, r)
		}
	}
	out.WriteByte('"')
}
