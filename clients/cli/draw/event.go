package draw

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// Events draws a job's log, what happened once to a line.
func Events(v Visit, events []*rowdatumv1.JobEvent) string {
	var p page
	for _, e := range events {
		p.WriteString(Event(v, e))
	}
	return p.String()
}

// Event draws one event: its number, when, who, what.
func Event(v Visit, e *rowdatumv1.JobEvent) string {
	var p page
	at := e.GetCreateTime()
	if e.GetEventTime() != nil {
		at = e.GetEventTime()
	}
	text := v.what(e)
	if e.GetPerson() != "" {
		text = e.GetPerson() + ": " + text
	}
	if e.GetStruckBy() > 0 {
		text += fmt.Sprintf(" [struck by %d]", e.GetStruckBy())
	}
	p.wrapped(fmt.Sprintf("%4d  %s  ", e.GetRevision(), moment(at)), text)
	return p.String()
}

// what says what an event is.
func (v Visit) what(e *rowdatumv1.JobEvent) string {
	switch e := e.GetEvent().(type) {
	case *rowdatumv1.JobEvent_Opened:
		return "opened on " + e.Opened.GetPlanter().GetDisplayName()
	case *rowdatumv1.JobEvent_Reading:
		return v.reading(e.Reading)
	case *rowdatumv1.JobEvent_Move:
		return v.moved(e.Move)
	case *rowdatumv1.JobEvent_PartChange:
		return fmt.Sprintf("row %d: changed %s", e.PartChange.GetRow(), e.PartChange.GetPart())
	case *rowdatumv1.JobEvent_Inspection:
		return inspected(e.Inspection)
	case *rowdatumv1.JobEvent_Note:
		if e.Note.GetRow() == 0 {
			return "noted: " + e.Note.GetText()
		}
		return fmt.Sprintf("row %d: noted: %s", e.Note.GetRow(), e.Note.GetText())
	case *rowdatumv1.JobEvent_Strike:
		return strings.TrimSuffix(fmt.Sprintf("struck %d: %s", e.Strike.GetRevision(), e.Strike.GetReason()), ": ")
	case *rowdatumv1.JobEvent_CautionTick:
		return "ticked the caution: " + v.caution(e.CautionTick.GetCaution())
	case *rowdatumv1.JobEvent_PlanIssued:
		plan := e.PlanIssued.GetPlan()
		return fmt.Sprintf("plan: bring rows to %s, touch %s", v.scale().both(plan.GetDatumMm()), number(int(plan.GetTouchedRows()), "row", "rows"))
	case *rowdatumv1.JobEvent_Signature:
		const most = 12 // characters: enough to tell sheets apart; the job shows it whole
		hash := e.Signature.GetContentHash()
		return "signed; content " + hash[:min(most, len(hash))] + "…"
	case *rowdatumv1.JobEvent_Voided:
		return "voided: " + e.Voided.GetReason()
	}
	return "something that this program does not know; a newer one does"
}

// reading writes the number as it was typed, and the depth where that is another one.
func (v Visit) reading(r *rowdatumv1.Reading) string {
	typed, mm := length.Mm(r.GetValue())+" mm", r.GetValue()
	if r.GetUnit() == rowdatumv1.LengthUnit_IN {
		mm = r.GetValue() * 25.4
		typed = inches(r.GetValue()) + " in"
	}
	if s := v.scale(); s.inches != (r.GetUnit() == rowdatumv1.LengthUnit_IN) { // typed in the other unit than is read here
		typed = fmt.Sprintf("%s %s (%s)", s.short(mm), s.unit(), typed)
	}
	text := fmt.Sprintf("row %d: read %s", r.GetRow(), typed)
	if r.GetSide() != rowdatumv1.Side_SIDE_UNSPECIFIED {
		text += " on the " + strings.ToLower(r.GetSide().String()) + " side"
	}
	const same = 1e-9
	if math.Abs(r.GetDepthMm()-mm) > same {
		text += ", which is " + v.scale().both(r.GetDepthMm()) + " deep"
	}
	return text
}

// inches writes a number of inches: as a fraction of the finest ruling that there is, or in decimals.
func inches(x float64) string {
	const finest = 128
	if n := x * finest; n == math.Trunc(n) {
		return length.Inches(x*25.4, finest)
	}
	return fmt.Sprint(x)
}

func (v Visit) moved(m *rowdatumv1.MoveDone) string {
	mechanism := ""
	for _, row := range v.Opened.GetPlanter().GetRows() {
		if row.GetRow() == m.GetRow() {
			mechanism = row.GetMechanism()
		}
	}
	way := "deeper"
	if m.GetEffectMm() < 0 {
		way = "shallower"
	}
	text := fmt.Sprintf("row %d: moved %s %s", m.GetRow(), v.wording().counts(m.GetCount(), mechanism), way)
	if m.GetSettingAfter() != nil {
		text += ", now at " + v.scale().setting(m.GetSettingAfter())
	}
	return text
}

func inspected(in *rowdatumv1.Inspection) string {
	text := fmt.Sprintf("row %d: inspected %s", in.GetRow(), in.GetPoint())
	if in.Value != nil {
		text += fmt.Sprintf(", %v", in.GetValue())
	}
	if in.GetWorn() {
		text += ", WORN OUT"
	}
	return strings.TrimSuffix(text+": "+in.GetComment(), ": ")
}

// caution is the sentence of a caution, or its id where the job does not know it.
func (v Visit) caution(id string) string {
	for _, c := range v.Job.GetState().GetCautions() {
		if c.GetId() == id {
			return c.GetText()
		}
	}
	return cmp.Or(id, "one without a name")
}
