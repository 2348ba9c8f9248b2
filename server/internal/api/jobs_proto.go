package api

import (
	"cmp"
	"fmt"
	"math"

	"google.golang.org/protobuf/proto"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// appending is what every request has that appends to a job.
type appending interface {
	proto.Message
	GetName() string
	GetPerson() string
	GetRequestId() string
}

func each[A, B any](all []A, to func(A) B) []B {
	out := make([]B, len(all))
	for i, one := range all {
		out[i] = to(one)
	}
	return out
}

// eachOr is each for what may fail.
func eachOr[A, B any](all []A, to func(A) (B, error)) ([]B, error) {
	out := make([]B, len(all))
	for i, one := range all {
		var err error
		if out[i], err = to(one); err != nil {
			return nil, err
		}
	}
	return out, nil
}

var sideOf = map[pb.Side]job.Side{pb.Side_SIDE_UNSPECIFIED: job.WholeRow, pb.Side_LEFT: job.Left, pb.Side_RIGHT: job.Right}

func readingsOf(readings []*pb.Reading, v *leveling.Violations) []job.Reading {
	var out []job.Reading
	for i, r := range readings {
		unit, known := unitOf[r.GetUnit()]
		if !known {
			v.Add(fmt.Sprintf("readings[%d].unit", i), "is missing, must be MM or IN")
		}
		side, known := sideOf[r.GetSide()]
		if !known {
			v.Add(fmt.Sprintf("readings[%d].side", i), "is %d, must be LEFT or RIGHT, or left out", r.GetSide())
		}
		value := given(fmt.Sprintf("readings[%d].value", i), r.Value, v)
		out = append(out, job.Reading{Row: int(r.GetRow()), Value: value, Unit: unit, Side: side, AfterMove: int(r.GetAfterMove())})
	}
	return out
}

// given is a number that must be given: 0 is one, and nothing is not 0.
func given(field string, x *float64, v *leveling.Violations) float64 {
	if x == nil {
		v.Add(field, "is missing, must be a number")
		return 0
	}
	return *x
}

func appendedProto(a flow.Appended, l leveling.Language) (*pb.AppendResponse, error) {
	whole, err := jobProto(a.JobView, l)
	if err != nil {
		return nil, err
	}
	events, err := happenedProto(a)
	return &pb.AppendResponse{Events: events, Job: whole}, err
}

// happenedProto is the events alone.
func happenedProto(a flow.Appended) ([]*pb.JobEvent, error) {
	struck := map[int]int{}
	for _, e := range a.Events {
		struck[e.Revision] = a.State.StruckBy(e.Revision)
	}
	return eventsProto(a.Events, a.State.Opened, struck)
}

var stageProto = map[job.Stage]pb.Job_Stage{job.StageOpen: pb.Job_OPEN, job.StageSigned: pb.Job_SIGNED, job.StageVoided: pb.Job_VOIDED}

// headProto is a job without its state.
func headProto(h flow.JobHead) *pb.Job {
	out := &pb.Job{Name: jobNameOf(h.JobKey), WorkOrder: h.WorkOrder, ExternalIds: h.ExternalIDs, Stage: stageProto[h.Stage],
		Revision: int32(h.Revision), Etag: flow.Etag(h.Revision), CreateTime: timeProto(h.CreateTime), UpdateTime: timeProto(h.UpdateTime)}
	if h.Changed {
		out.Stage = pb.Job_CONTENT_CHANGED
	}
	if h.Fixture != "" {
		out.Fixture = fixturePrefix + h.Fixture
	}
	return out
}

func jobProto(view flow.JobView, l leveling.Language) (*pb.Job, error) {
	out := headProto(view.Head)
	opened := view.State.Opened
	out.Aim, out.Reach, out.Hectares = aimProto(opened.Aim), reachProto(opened.Reach), opened.Hectares
	voice := view.State.Voice(l)
	out.LengthUnit, out.AreaUnit, out.PlantedArea = lengthUnitProto(voice.LengthUnit()), areaUnitProto(cmp.Or(voice.AreaUnit, leveling.Hectare)), opened.PlantedArea
	out.Verify = pb.Job_MOVED
	if opened.Verify == job.VerifyWhenNeeded {
		out.Verify = pb.Job_WHEN_NEEDED
	}
	state, err := stateProto(view.State.In(l))
	out.State = state
	return out, err
}

func aimProto(a leveling.Aim) *pb.Aim {
	out := &pb.Aim{Kind: pb.Aim_Kind(pb.Aim_Kind_value[a.Kind.String()]), ToleranceMm: &a.ToleranceMm, Confidence: &a.Confidence, MissSeconds: &a.MissSeconds,
		ReadSeconds: &a.ReadSeconds, DatumMm: a.DatumMm, ConfidenceOf: pb.Aim_ConfidenceOf(pb.Aim_ConfidenceOf_value[a.ConfidenceOf.String()])}
	if a.Kind == leveling.MatchRow {
		out.Row = proto.Int32(int32(a.Row))
	}
	if a.Kind == leveling.SetDepth {
		out.ZeroUncertaintyMm = &a.ZeroUncertaintyMm
	}
	return out
}

func stateProto(s *job.State) (*pb.JobState, error) {
	out := &pb.JobState{DatumMm: s.DatumMm, ToleranceMm: s.Aim.ToleranceMm, SpreadMm: roundedOr(s.SpreadMm), ProvableToleranceMm: roundedOr(s.ProvableToleranceMm),
		RepeatabilityMm: *rounded(s.RepeatabilityMm), PlanRevision: int32(s.PlanRevision), Warnings: s.Warnings, VoidReason: s.VoidReason,
		SigningNeeds: s.SigningNeeds, Signature: signatureProto(s.Signature)}
	if w := s.Now; w != nil {
		out.PlanterChance, out.TrueSpreadMm = w.Chance, trueSpreadProto(w.TrueSpread)
	}
	if w := s.Found; w != nil {
		out.PlanterChanceFound, out.TrueSpreadFoundMm = w.Chance, trueSpreadProto(w.TrueSpread)
	}
	var err error
	if out.Rows, err = eachOr(s.Rows, rowStateProto); err != nil {
		return nil, err
	}
	if out.Plan, err = issuedProto(s.Issued); err != nil {
		return nil, err
	}
	if out.Marks, err = eachOr(s.Marks, marksProto); err != nil {
		return nil, err
	}
	out.Cautions = each(s.Cautions, func(c job.CautionState) *pb.CautionState {
		return &pb.CautionState{Id: c.ID, Text: c.Text, Person: c.Person, TickTime: timeProto(c.TickTime)}
	})
	out.Inspections = each(s.Inspections, inspectionProto)
	return out, nil
}

func rowStateProto(r job.RowState) (*pb.RowState, error) {
	setting, err := structOf(r.Setting)
	if err != nil {
		return nil, fmt.Errorf("row %d: setting: %w", r.Row, err)
	}
	out := &pb.RowState{Row: int32(r.Row), Mechanism: r.Mechanism, Setting: setting, LastMove: int32(r.LastMove), Measured: r.Measured,
		Scale: *rounded(r.Estimate.Scale), ScaleSd: *rounded(r.Estimate.ScaleSd), Readings: int32(r.Estimate.Readings), Verdict: pb.Verdict(r.Verdict),
		Next: pb.NextStep(r.Next), Why: r.Why, SideDifferenceMm: roundedOr(r.SideDifferenceMm), Exception: r.Exception}
	if r.AsFound != nil {
		out.AsFoundMm, out.AsFoundUncertaintyMm = rounded(r.AsFound.Mm), rounded(r.AsFound.UncertaintyMm)
	}
	if r.Known {
		out.EstimateMm, out.UncertaintyMm = rounded(r.Estimate.DepthMm), rounded(r.Estimate.UncertaintyMm)
	}
	if r.Verdict != 0 {
		out.Chance = rounded(r.Chance)
	}
	if r.Even != nil {
		out.EvenFromMm, out.EvenToMm = rounded(r.Even.FromMm), rounded(r.Even.ToMm)
	}
	if r.EvenNumber != nil {
		out.EvenNumberFromMm, out.EvenNumberToMm = rounded(r.EvenNumber.FromMm), rounded(r.EvenNumber.ToMm)
	}
	out.FromOthersMm, out.FromDatumMm = roundedOr(r.FromOthersMm), roundedOr(r.FromDatumMm)
	if r.Move != nil {
		if out.Move, err = moveProto(r.Row, r.Move.Option, flow.Move{Unit: r.Move.Unit, Say: r.Move.Say}); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// rounded is x to nine decimals: the last bits of an estimate differ from one processor to the next, and
// no answer should.
func rounded(x float64) *float64 {
	const decimals = 1e9
	if x = math.Round(x*decimals) / decimals; x == 0 {
		x = 0 // never -0
	}
	return &x
}

func roundedOr(x *float64) *float64 {
	if x == nil {
		return nil
	}
	return rounded(*x)
}

// issuedProto is the plan of an event, nil for none.
func issuedProto(issued *job.Issued) (*pb.Plan, error) {
	if issued == nil {
		return nil, nil
	}
	return planProto(flow.PlanAnswer{Plan: issued.Plan, Moves: each(issued.Says, func(m job.IssuedMove) flow.Move { return flow.Move(m) })})
}

func signatureProto(s *job.Signature) *pb.Signature {
	if s == nil {
		return nil
	}
	return &pb.Signature{Person: s.Person, SignTime: timeProto(s.SignTime), ContentHash: s.ContentHash, Exceptions: each(s.Exceptions, exceptionProto)}
}

func exceptionProto(x job.Exception) *pb.Exception {
	return &pb.Exception{Row: int32(x.Row), Unproven: x.Unproven, Reason: x.Reason}
}

func inspectionProto(i job.Inspection) *pb.Inspection {
	return &pb.Inspection{Row: int32(i.Row), Point: i.Point, Value: i.Value, Worn: i.Worn, Comment: i.Comment}
}

// eventsProto writes events; opened is what their readings are converted by.
func eventsProto(events []job.Event, opened *job.Opened, struckBy map[int]int) ([]*pb.JobEvent, error) {
	return eachOr(events, func(e job.Event) (*pb.JobEvent, error) {
		out := &pb.JobEvent{Revision: int32(e.Revision), CreateTime: timeProto(e.CreateTime), EventTime: timeProto(e.EventTime),
			Person: e.Person, StruckBy: int32(struckBy[e.Revision])}
		if err := happened(out, e, opened); err != nil {
			return nil, fmt.Errorf("event %d: %w", e.Revision, err)
		}
		return out, nil
	})
}

// happened fills in what an event is.
func happened(out *pb.JobEvent, e job.Event, opened *job.Opened) error {
	switch {
	case e.Opened != nil:
		planter, err := planterProto(e.Opened.Planter)
		out.Event = &pb.JobEvent_Opened{Opened: &pb.Opened{Planter: planter, Fixture: fixtureProto(e.Opened.Fixture)}}
		return err
	case e.Reading != nil:
		r := e.Reading
		out.Event = &pb.JobEvent_Reading{Reading: &pb.Reading{Row: int32(r.Row), Value: &r.Value, Unit: lengthUnitProto(r.Unit),
			Side: pb.Side(pb.Side_value[string(r.Side)]), AfterMove: int32(r.AfterMove), DepthMm: *rounded(opened.DepthMm(*r))}}
	case e.Move != nil:
		move, err := moveDoneProto(*e.Move)
		out.Event = &pb.JobEvent_Move{Move: move}
		return err
	case e.PartChange != nil:
		out.Event = &pb.JobEvent_PartChange{PartChange: &pb.PartChange{Row: int32(e.PartChange.Row), Part: e.PartChange.Part}}
	case e.Inspection != nil:
		out.Event = &pb.JobEvent_Inspection{Inspection: inspectionProto(*e.Inspection)}
	case e.Note != nil:
		out.Event = &pb.JobEvent_Note{Note: &pb.Note{Row: int32(e.Note.Row), Text: e.Note.Text}}
	case e.Strike != nil:
		out.Event = &pb.JobEvent_Strike{Strike: &pb.Strike{Revision: int32(e.Strike.Revision), Reason: e.Strike.Reason}}
	case e.Tick != nil:
		out.Event = &pb.JobEvent_CautionTick{CautionTick: &pb.CautionTick{Caution: e.Tick.Caution}}
	case e.Issued != nil:
		issued, err := issuedProto(e.Issued)
		out.Event = &pb.JobEvent_PlanIssued{PlanIssued: &pb.PlanIssued{Plan: issued, Free: e.Issued.Free}}
		return err
	case e.Signed != nil:
		out.Event = &pb.JobEvent_Signature{Signature: &pb.Signature{Person: e.Person, SignTime: timeProto(e.CreateTime),
			ContentHash: e.Signed.ContentHash, Exceptions: each(e.Signed.Exceptions, exceptionProto)}}
	case e.Voided != nil:
		out.Event = &pb.JobEvent_Voided{Voided: &pb.Voided{Reason: e.Voided.Reason}}
	}
	return nil
}

func moveDoneProto(m job.Move) (*pb.MoveDone, error) {
	before, err := structOf(m.SettingBefore)
	if err != nil {
		return nil, err
	}
	after, err := structOf(m.SettingAfter)
	if err != nil {
		return nil, err
	}
	out := &pb.MoveDone{Row: int32(m.Row), SettingBefore: before, SettingAfter: after, Count: &m.Count, EffectMm: m.EffectMm}
	if m.AfterMove != nil {
		out.AfterMove = proto.Int32(int32(*m.AfterMove))
	}
	return out, nil
}
