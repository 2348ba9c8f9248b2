package sheet_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
	"rowdatum/server/leveling/plan"
)

// Everything in these stories is invented: people, places, planters and figures.

// mechanism is one of the shop: its style's figures are ours, no source.
type mechanism struct {
	style             leveling.Style
	key               string // of its setting
	first, last, step float64
	mm                float64 // per count
	wider             float64 // mm per count beyond the middle of its travel, more than before it
}

// depth is how deep a position is.
func (m mechanism) depth(at float64) float64 {
	return at*m.mm + max(0, at-(m.first+m.last)/2)*m.wider
}

func mechanisms() map[string]mechanism {
	play, disc := 3.0, 355.0
	return map[string]mechanism{
		"handle": {leveling.Style{ID: "threaded-handle", Title: "Threaded depth handle", CountUnit: leveling.CountUnit{One: "turn", Other: "turns"}, SetsPlantingDepth: true,
			ScaleSd: 0.08, SeatingMm: 0.3, TouchSeconds: 60, InspectionPoints: []leveling.InspectionPoint{
				{ID: "disc", Title: "Opener disc diameter", Unit: "mm", Limit: &disc, WorseWhen: leveling.WorseSmaller},
				{ID: "play", Title: "Play of the gauge wheel arm at its bushing", Unit: "mm", Limit: &play, WorseWhen: leveling.WorseLarger},
				{ID: "face", Title: "Contact face of the stop"},
			}}, "turns", 0, 16, 0.25, 6.35, 0},
		"stop": {leveling.Style{ID: "notched-stop", Title: "Notched depth stop", CountUnit: leveling.CountUnit{One: "notch", Other: "notches"}, SetsPlantingDepth: true, KeepsMarks: true,
			ScaleSd: 0.05, SeatingMm: 0.3, TouchSeconds: 60}, "notch", 1, 20, 1, 2, 0},
		"ladder": {leveling.Style{ID: "uneven-ladder", Title: "Uneven ladder", CountUnit: leveling.CountUnit{One: "rung", Other: "rungs"}, SetsPlantingDepth: true, KeepsMarks: true,
			ScaleSd: 0.05, SeatingMm: 0.3, TouchSeconds: 60}, "rung", 1, 20, 1, 2, 1.4},
		"short": {leveling.Style{ID: "short-rack", Title: "Short rack", CountUnit: leveling.CountUnit{One: "hole", Other: "holes"}, SetsPlantingDepth: true,
			ScaleSd: 0.05, SeatingMm: 0.3, TouchSeconds: 60}, "hole", 1, 3, 1, 3, 0},
	}
}

func (m mechanism) setting(at float64) leveling.JSON {
	return leveling.JSON(fmt.Sprintf(`{"%s":%g}`, m.key, at))
}

func (m mechanism) at(setting leveling.JSON) float64 {
	var s map[string]float64
	if err := json.Unmarshal([]byte(setting), &s); err != nil {
		panic(err)
	}
	return s[m.key]
}

func (m mechanism) options(setting leveling.JSON) []leveling.Option {
	var out []leveling.Option
	at := m.at(setting)
	for to := m.first; to <= m.last+1e-9; to += m.step {
		out = append(out, leveling.Option{Leave: to == at, Count: to - at, EffectMm: m.depth(to) - m.depth(at), TravelKnown: true,
			SettingAfter: m.setting(to), ShallowerLeftMm: m.depth(to) - m.depth(m.first), DeeperLeftMm: m.depth(m.last) - m.depth(to)})
	}
	return out
}

// visit is a job as its technician drives it.
type visit struct {
	t     *testing.T
	head  flow.JobHead
	log   []job.Event
	state *job.State
	now   leveling.Micros
	kinds map[string]mechanism
	luck  *rand.Rand
	truth map[int]float64 // depth of each row, mm
}

// begin opens a job on a planter whose rows stand as truly as truth says; fitted says what each has.
func begin(t *testing.T, by, name, owner string, fitted []string, truth []float64, change func(*job.Opened)) *visit {
	v := &visit{t: t, now: 1_792_999_000_000_000, kinds: mechanisms(), luck: rand.New(rand.NewPCG(7, uint64(len(fitted)))), truth: map[int]float64{}}
	o := &job.Opened{
		Planter: leveling.Planter{ID: "planter", DisplayName: name, Owner: owner, Revision: 1},
		Fixture: leveling.ShopFixture{ID: "box", DisplayName: "Window box by the door", Kind: leveling.Window, Figures: leveling.DefaultFixture(), Revision: 1},
		Styles:  map[string]leveling.Style{}, Aim: leveling.DefaultAim(),
	}
	for i, id := range fitted {
		m := v.kinds[id]
		if _, known := o.Styles[m.style.ID]; !known {
			o.Styles[m.style.ID] = m.style
			o.Planter.Mechanisms = append(o.Planter.Mechanisms, leveling.Mechanism{ID: id, Style: m.style.ID, Figures: leveling.JSON(fmt.Sprintf(`{"mm":%g}`, m.mm))})
		}
		o.Planter.Rows = append(o.Planter.Rows, leveling.PlanterRow{Number: i + 1, Mechanism: id, Setting: m.setting((m.first + m.last) / 2 / m.step * m.step)})
		if id != "handle" {
			o.Planter.Rows[i].Setting = m.setting(10)
		}
		v.truth[i+1] = truth[i]
	}
	if change != nil {
		change(o)
	}
	v.head = flow.JobHead{JobKey: flow.JobKey{Planter: o.Planter.ID, Job: "spring"}, WorkOrder: "WO-1174", Stage: job.StageOpen}
	v.add(by, job.Event{Opened: o})
	return v
}

func (v *visit) add(person string, events ...job.Event) {
	v.t.Helper()
	for i := range events {
		v.now += 40_000_000
		events[i].Revision, events[i].CreateTime, events[i].Person = len(v.log)+1+i, v.now, person
	}
	before := v.state
	if before == nil {
		before = &job.State{}
	}
	next, err := before.Apply(events...)
	if err != nil {
		v.t.Fatal(err)
	}
	v.log, v.state = append(v.log, events...), next
	v.head.Stage, v.head.Revision, v.head.UpdateTime = next.Stage, next.Revision, next.UpdateTime
}

// read reads rows as the fixture would, rounded to its ruling.
func (v *visit) read(person string, rows ...int) {
	f := v.state.Opened.Fixture
	for _, row := range rows {
		y := f.NumberMm(v.truth[row] + v.luck.NormFloat64()*f.Figures.RepeatabilityMm)
		if q := f.Figures.ResolutionMm; q > 0 {
			y = math.Round(y/q) * q
		}
		v.add(person, job.Event{Reading: &job.Reading{Row: row, Value: y, Unit: leveling.MM, AfterMove: v.state.Row(row).LastMove}})
	}
}

// rows are all rows.
func (v *visit) rows() []int {
	var out []int
	for _, r := range v.state.Rows {
		out = append(out, r.Row)
	}
	return out
}

// surprising reads again what surprised, until nothing does.
func (v *visit) surprising(person string) {
	for range 5 {
		for _, r := range v.state.Rows {
			if r.Next == job.NextReadAgain {
				v.read(person, r.Row)
			}
		}
	}
}

func (v *visit) plan() {
	options := map[int][]leveling.Option{}
	for _, r := range v.state.Rows {
		options[r.Row] = v.kinds[r.Mechanism].options(r.Setting)
	}
	if err := v.state.CheckPlan(job.Ask{}); err != nil {
		v.t.Fatal(err)
	}
	p, free := v.state.Problem(options, job.Ask{})
	v.add("Ada Mere", job.Event{Issued: &job.Issued{Plan: plan.Compute(p), Aim: p.Aim, Free: free}})
}

// move does the plan's moves; each gives a little less than it should.
func (v *visit) move(person string) (moved []int) {
	for _, r := range slices.Clone(v.state.Rows) {
		if r.Move == nil {
			continue
		}
		m, o, last := v.kinds[r.Mechanism], r.Move.Option, r.LastMove
		v.truth[r.Row] += 0.97 * o.EffectMm
		v.add(person, job.Event{Move: &job.Move{Row: r.Row, SettingBefore: r.Setting, SettingAfter: m.setting(m.at(r.Setting) + o.Count),
			Count: o.Count, EffectMm: o.EffectMm, Plan: v.state.PlanRevision, AfterMove: &last}})
		moved = append(moved, r.Row)
	}
	return moved
}

// finish asks for further plans, and does what they say, while any row waits for one.
func (v *visit) finish(technician, helper string) {
	for range 4 {
		v.surprising(technician)
		if !slices.ContainsFunc(v.state.Rows, func(r job.RowState) bool { return r.Next == job.NextPlan }) {
			return
		}
		v.plan()
		v.read(technician, v.move(helper)...)
	}
}

func (v *visit) inspect(row int, point string, value float64, comment string) {
	in := job.Inspection{Row: row, Point: point, Comment: comment}
	if value > 0 {
		in.Value = &value
	}
	in = v.state.JudgeInspection(in)
	v.add("Ben Holt", job.Event{Inspection: &in})
}

func (v *visit) tick(person string) {
	for _, c := range v.state.Cautions {
		v.add(person, job.Event{Tick: &job.Tick{Caution: c.ID}})
	}
}

// sign signs with the exceptions that are still needed, each for a reason.
func (v *visit) sign(person, reason string) {
	v.t.Helper()
	var exceptions []job.Exception
	for _, r := range v.state.Rows {
		if r.Verdict != leveling.Even || !r.Measured {
			exceptions = append(exceptions, job.Exception{Row: r.Row, Reason: reason})
		}
	}
	if err := v.state.CheckSign(person, exceptions); err != nil {
		v.t.Fatal(err)
	}
	e := job.Event{Revision: len(v.log) + 1, CreateTime: v.now + 40_000_000, Person: person, Signed: &job.Signed{Exceptions: exceptions}}
	var log [][]byte
	for _, e := range v.log {
		text, err := json.Marshal(e)
		if err != nil {
			v.t.Fatal(err)
		}
		log = append(log, text)
	}
	if err := e.Seal("planters/p/jobs/j", log); err != nil {
		v.t.Fatal(err)
	}
	v.add(person, e)
}

func times(id string, n int) []string { return slices.Repeat([]string{id}, n) }

// worn makes depths around 50 mm, the edges worn most.
func worn(n int) []float64 {
	luck := rand.New(rand.NewPCG(11, uint64(n)))
	out := make([]float64, n)
	for i := range out {
		edge := math.Abs(float64(2*i+1-n)) / float64(n)
		out[i] = 50 - 7*math.Pow(edge, 4) + luck.NormFloat64()*0.7
	}
	return out
}

// depot is a finished job with something of everything: two mechanisms, an exception, a changed part,
// inspections, notes.
func depot(t *testing.T) *visit {
	truth := worn(16)
	truth[5], truth[8], truth[13] = 55.2, 44.1, 57.6
	spacing := 762.0
	v := begin(t, "Ada Mere", "Depot sixteen", "Larkfield Farms", slices.Concat(times("handle", 8), times("stop", 5), times("ladder", 3)), truth, func(o *job.Opened) {
		planted := 1240.0
		o.Hectares = &planted
		o.Planter.RowSpacingMm, o.Reach = &spacing, leveling.Reach{ShallowerMm: 6, DeeperMm: 6}
		o.Planter.Sections = []leveling.Section{{Title: "left wing", FirstRow: 1, LastRow: 5}, {Title: "middle", FirstRow: 6, LastRow: 11}, {Title: "right wing", FirstRow: 12, LastRow: 16}}
		o.Planter.ExternalIDs = map[string]string{"fleet": "P-0031"}
	})
	v.head.ExternalIDs = map[string]string{"dealer": "77120"}
	v.tick("Ada Mere")
	v.inspect(3, "play", 3.4, "left arm, bushing oval")
	v.inspect(3, "disc", 361, "")
	v.inspect(9-4, "face", 0, "polished, no step")
	v.read("Ada Mere", v.rows()...)
	v.surprising("Ada Mere")
	v.add("Ben Holt", job.Event{PartChange: &job.PartChange{Row: 3, Part: "gauge wheel arm, left"}})
	v.read("Ben Holt", 3)
	v.surprising("Ada Mere")
	v.plan()
	v.read("Ada Mere", v.move("Ben Holt")...)
	v.add("Ben Holt", job.Event{Note: &job.Note{Row: 14, Text: "Handle was stiff; greased."}}, job.Event{Note: &job.Note{Text: "Owner will dig rows 1, 8 and 16 in the first field."}})
	v.finish("Ada Mere", "Ben Holt")
	v.sign("Ada Mere", "owner agrees; opener blades are due in summer")
	return v
}

// yard is a planter of 24 rows, of which one is worn out.
func yard(t *testing.T) *visit {
	truth := worn(24)
	truth[8] = 38
	v := begin(t, "Íñigo Orduña", "Veinticuatro del patio", "Nuria Peñalosa Ibáñez", times("handle", 24), truth, func(o *job.Opened) {
		o.Planter.Rows[8].Setting = `{"turns":16}`
	})
	v.tick("Íñigo Orduña")
	v.read("Íñigo Orduña", v.rows()...)
	v.surprising("Íñigo Orduña")
	v.plan()
	v.read("Íñigo Orduña", v.move("Íñigo Orduña")...)
	v.finish("Íñigo Orduña", "Íñigo Orduña")
	v.sign("Íñigo Orduña", "gastada: se cambia en otoño")
	return v
}

// wings is a planter of 36 rows on blocks, in mm; its moved rows are left unread where the plan's foresight
// is enough.
func wings(t *testing.T) *visit {
	v := begin(t, "Tam Orlow", "Wings thirty-six", "", times("stop", 36), worn(36), func(o *job.Opened) {
		o.Verify = job.VerifyWhenNeeded
		o.Aim.ToleranceMm = 4
		o.Fixture = leveling.ShopFixture{ID: "blocks", Kind: leveling.Blocks, ZeroMm: 300, Figures: leveling.Fixture{ResolutionMm: 1, RepeatabilityMm: 0.4, FloorMm: 0.5}, Revision: 1}
		o.Planter.Sections = []leveling.Section{{Title: "left", FirstRow: 1, LastRow: 12}, {Title: "middle", FirstRow: 13, LastRow: 24}, {Title: "right", FirstRow: 25, LastRow: 36}}
	})
	v.tick("Tam Orlow")
	v.read("Tam Orlow", v.rows()...)
	v.surprising("Tam Orlow")
	v.plan()
	v.move("Tam Orlow")
	v.sign("Tam Orlow", "not read again")
	return v
}

// coarse is a planter on a fixture that can prove little: rows that stay unsure, and one that is stuck.
func coarse(t *testing.T) *visit {
	v := begin(t, "Tam Orlow", "Rebuilt eight", "Marrowbend seed co-op", slices.Concat(times("handle", 4), times("short", 1), times("stop", 3)), []float64{50, 50, 57, 50, 42, 50, 58, 50}, func(o *job.Opened) {
		o.Fixture.Figures = leveling.Fixture{ResolutionMm: 25.4 / 8, RepeatabilityMm: 1.5}
		o.Reach = leveling.Reach{ShallowerMm: 6, DeeperMm: 6}
		o.Planter.Rows[4].Setting = `{"hole":2}`
		o.Aim.ToleranceMm = 25.4 / 16
	})
	v.tick("Tam Orlow")
	v.read("Tam Orlow", v.rows()...)
	v.surprising("Tam Orlow")
	v.plan()
	v.read("Tam Orlow", v.move("Tam Orlow")...)
	v.surprising("Tam Orlow")
	v.sign("Tam Orlow", "the fixture is too coarse; a finer one is on order")
	return v
}

// single is a planter of one row whose job has just been opened and read.
func single(t *testing.T) *visit {
	v := begin(t, "Ada Mere", "Plot cone", "Test field", times("handle", 1), []float64{41}, nil)
	v.read("Ada Mere", 1)
	return v
}

// given is a job that came to nothing, under names as long as they may be.
func given(t *testing.T) *visit {
	long := "Long-named planter of the Marrowbend seed co-op, the one with the blue hitch that stood behind the old barn until the roof came down, not the other one of which nobody knows any more where it has been!"
	v := begin(t, "Ada Mere", long[:leveling.MaxNameSize], long[:leveling.MaxNameSize], times("stop", 6), worn(6), nil)
	v.read("Ada Mere", 1, 2)
	v.add("Ada Mere", job.Event{Voided: &job.Voided{Reason: "the owner came for it"}})
	return v
}

// named takes a note and a changed part of a name into the log.
func (v *visit) named(text string) {
	v.add("Ada Mere", job.Event{Note: &job.Note{Row: 1, Text: text}}, job.Event{PartChange: &job.PartChange{Row: 2, Part: text}})
	v.read("Ada Mere", 2)
}
