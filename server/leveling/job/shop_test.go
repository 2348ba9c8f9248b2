package job_test

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"rowdatum/proto/seal"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
	"rowdatum/server/leveling/plan"
)

// The styles of the invented shop, with the constants of the bundled ones (ours, no source).
func shopStyles() map[string]leveling.Style {
	limit := 3.0
	return map[string]leveling.Style{
		"threaded-handle": {
			ID: "threaded-handle", CountUnit: leveling.CountUnit{One: "turn", Other: "turns"}, SetsPlantingDepth: true,
			ScaleSd: 0.08, SeatingMm: 0.3, SlackMm: 0.6, Approach: leveling.ApproachDeeper, TouchSeconds: 60,
			InspectionPoints: []leveling.InspectionPoint{{ID: "play", Title: "Play of the handle", Unit: "mm", Limit: &limit, WorseWhen: leveling.WorseLarger}},
		},
		"notched-stop": {
			ID: "notched-stop", CountUnit: leveling.CountUnit{One: "notch", Other: "notches"}, SetsPlantingDepth: true, KeepsMarks: true,
			ScaleSd: 0.05, SeatingMm: 0.3, TouchSeconds: 60,
		},
	}
}

func turns(t float64) leveling.JSON { return leveling.JSON(fmt.Sprintf(`{"turns":%g}`, t)) }
func notch(n float64) leveling.JSON { return leveling.JSON(fmt.Sprintf(`{"notch":%g}`, n)) }

// position is where a setting stands in counts; ok is false where nobody knows.
func position(setting leveling.JSON) (at float64, ok bool) {
	if setting == "" {
		return 0, false
	}
	var s struct{ Turns, Notch *float64 }
	if err := json.Unmarshal([]byte(setting), &s); err != nil {
		panic(err)
	}
	if s.Turns != nil {
		return *s.Turns, true
	}
	return *s.Notch, true
}

// travel is that of a mechanism of the shop: 6.35 mm a turn in quarter turns over 16 turns, 4 mm a
// notch over 20 notches.
type travel struct {
	first, last, step, mm float64
	setting               func(float64) leveling.JSON
}

func travelOf(mechanism string) travel {
	if mechanism == "stop" {
		return travel{1, 20, 1, 4, notch}
	}
	return travel{0, 16, 0.25, 6.35, turns}
}

// shopOptions answers as the adjusters of the shop would.
func shopOptions(mechanism string, setting leveling.JSON) []leveling.Option {
	t := travelOf(mechanism)
	at, known := position(setting)
	first, last := t.first, t.last
	if !known {
		at, first, last = 0, t.first-t.last, t.last-t.first
	}
	var out []leveling.Option
	for to := first; to <= last+1e-9; to += t.step {
		o := leveling.Option{Leave: to == at, Count: to - at, EffectMm: (to - at) * t.mm, TravelKnown: known}
		if known {
			o.SettingAfter = t.setting(to)
			o.ShallowerLeftMm, o.DeeperLeftMm = (to-first)*t.mm, (last-to)*t.mm
		}
		out = append(out, o)
	}
	return out
}

// shop is a job as a caller drives it: check, number, append, fold.
type shop struct {
	log   []job.Event
	state *job.State
	now   leveling.Micros
}

// opened is a job on rows of the two mechanisms, in the middle of their travel.
func opened(handles, stops int) *job.Opened {
	o := &job.Opened{
		Planter: leveling.Planter{ID: "north-forty", DisplayName: "North Forty", Revision: 1, Mechanisms: []leveling.Mechanism{
			{ID: "handle", Style: "threaded-handle", Figures: `{"mmPerTurn":6.35,"smallestTurn":0.25,"totalTurns":16}`},
			{ID: "stop", Style: "notched-stop", Figures: `{"mmPerNotch":4,"notches":20}`},
		}},
		Fixture: leveling.ShopFixture{ID: "box", Kind: leveling.Window, Figures: leveling.DefaultFixture(), Revision: 1},
		Styles:  shopStyles(),
		Aim:     leveling.DefaultAim(),
	}
	for i := range handles + stops {
		r := leveling.PlanterRow{Number: i + 1, Mechanism: "handle", Setting: turns(8)}
		if i >= handles {
			r.Mechanism, r.Setting = "stop", notch(10)
		}
		o.Planter.Rows = append(o.Planter.Rows, r)
	}
	return o
}

func newShop(o *job.Opened) *shop {
	s := &shop{now: 1_700_000_000_000_000}
	if err := s.append("Ada", job.Event{Opened: o}); err != nil {
		panic(err)
	}
	return s
}

// append numbers events, and takes them in all or none.
func (s *shop) append(person string, events ...job.Event) error {
	s.now += 60_000_000
	for i := range events {
		events[i].Revision, events[i].CreateTime, events[i].Person = len(s.log)+1+i, s.now, person
	}
	before := s.state
	if before == nil {
		before = &job.State{}
	}
	next, err := before.Apply(events...)
	if err != nil {
		return err
	}
	s.log, s.state = append(s.log, events...), next
	return nil
}

func (s *shop) read(rs ...job.Reading) error {
	if err := s.state.CheckReadings(rs); err != nil {
		return err
	}
	var events []job.Event
	for i := range rs {
		events = append(events, job.Event{Reading: &rs[i]})
	}
	return s.append("Ada", events...)
}

// readMm reads a row in mm, knowing its last move.
func (s *shop) readMm(row int, mm ...float64) error {
	var rs []job.Reading
	for _, y := range mm {
		rs = append(rs, job.Reading{Row: row, Value: y, Unit: leveling.MM, AfterMove: s.state.Row(row).LastMove})
	}
	return s.read(rs...)
}

// move turns a row's mechanism by a count from where m says that it stands.
func (s *shop) move(person string, m job.Move) error {
	if err := s.state.CheckMoves([]job.Move{m}); err != nil {
		return err
	}
	r := s.state.Row(m.Row)
	t := travelOf(r.Mechanism)
	m.EffectMm = m.Count * t.mm
	if at, known := position(m.SettingBefore); known {
		m.SettingAfter = t.setting(at + m.Count)
	}
	return s.append(person, job.Event{Move: &m})
}

// moveNow is move by who knows how things stand.
func (s *shop) moveNow(row int, count float64) error {
	r := s.state.Row(row)
	return s.move("Ada", job.Move{Row: row, SettingBefore: r.Setting, Count: count, AfterMove: &r.LastMove, Plan: s.state.PlanRevision})
}

func (s *shop) problem(ask job.Ask) (plan.Problem, bool) {
	options := map[int][]leveling.Option{}
	for _, r := range s.state.Rows {
		options[r.Row] = shopOptions(r.Mechanism, r.Setting)
	}
	return s.state.Problem(options, ask)
}

func (s *shop) plan(ask job.Ask) error {
	if err := s.state.CheckPlan(ask); err != nil {
		return err
	}
	p, free := s.problem(ask)
	return s.append("Ada", job.Event{Issued: &job.Issued{Plan: plan.Compute(p), Aim: p.Aim, Free: free}})
}

func (s *shop) sign(person string, exceptions ...job.Exception) error {
	if err := s.state.CheckSign(person, exceptions); err != nil {
		return err
	}
	e := job.Event{Revision: len(s.log) + 1, CreateTime: s.now + 60_000_000, Person: person, Signed: &job.Signed{Exceptions: exceptions}}
	if err := e.Seal(sealedJob, stored(s.log)); err != nil {
		return err
	}
	return s.append(person, e)
}

// sealedJob is what the shop's one job is called where it is sealed.
const sealedJob = "planters/p/jobs/j"

// stored are events as a store keeps them.
func stored(log []job.Event) [][]byte {
	out := make([][]byte, len(log))
	for i, e := range log {
		text, err := json.Marshal(e)
		if err != nil {
			panic(err) // of a test's own events
		}
		out[i] = text
	}
	return out
}

// sealHolds is whether a signed log is the one that was signed.
func sealHolds(log []job.Event) bool { return seal.Check(sealedJob, stored(log)).Holds() }

func (s *shop) tickAll(person string) error {
	var events []job.Event
	var ticks []job.Tick
	for _, c := range s.state.Cautions {
		ticks = append(ticks, job.Tick{Caution: c.ID})
	}
	if err := s.state.CheckTicks(person, ticks); err != nil {
		return err
	}
	for i := range ticks {
		events = append(events, job.Event{Tick: &ticks[i]})
	}
	return s.append(person, events...)
}

// must fails the test on an error.
func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// ruled rounds to the ruling of the shop's fixture.
func ruled(mm float64) float64 { return 1.5875 * math.Round(mm/1.5875) }
