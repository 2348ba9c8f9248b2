package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/proto"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// someDig is a dig of rows 1 and 2.
func someDig() *pb.Dig {
	return &pb.Dig{Rows: []*pb.RowSeeds{{Row: 1, DepthsMm: []float64{50, 52, 49}}, {Row: 2, DepthsMm: []float64{51, 50}}}}
}

// someStudy is two people who read two rows twice.
func someStudy() (out []*pb.StudyReading) {
	for _, person := range []string{ada, ben} {
		for row := int32(1); row <= 2; row++ {
			for _, mm := range []float64{50, 51.5} {
				out = append(out, &pb.StudyReading{Row: row, Person: person, ValueMm: &mm})
			}
		}
	}
	return out
}

// fieldMoveOf asks for a field move of a planter's rows as they are described.
func fieldMoveOf(p *pb.Planter, deltaMm float64) *pb.ComputeFieldMoveRequest {
	out := &pb.ComputeFieldMoveRequest{DeltaMm: &deltaMm, Mechanisms: p.Mechanisms}
	for _, row := range p.Rows {
		out.Rows = append(out.Rows, &pb.FieldRow{Row: row.Row, Mechanism: row.Mechanism, Setting: row.Setting, DepthMm: row.AsLeftMm, Scale: row.Scale, ScaleSd: row.ScaleSd})
	}
	return out
}

// TestFieldMove asks for more depth on planters that no job has left yet, and on one that a job has.
func TestFieldMove(t *testing.T) {
	t.Parallel()
	ways := waysTo(t, start(t, bundle()).addresses)
	left := beginSeasons(t, ways[0], "depot-sixteen", 31)
	left.visit(0, nil)
	for i, w := range ways {
		t.Run(w.name, func(t *testing.T) {
			ctx := t.Context()
			move := must[*pb.FieldMove](t)
			p := must[*pb.Planter](t)(w.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: handles(4), PlanterId: []string{"east", "west"}[i]}))
			deeper := move(w.field().GetFieldMove(ctx, &pb.GetFieldMoveRequest{Name: p.Name, DeltaMm: new(12.7)}))
			if len(deeper.Mechanisms) != 1 || !deeper.Reached || deeper.MeanChangeMm != 12.7 || deeper.SpreadAfterMm != 0 {
				t.Fatalf("%v", deeper)
			}
			if g := deeper.Mechanisms[0]; g.Mechanism != "handle" || g.Count != 2 || g.Unit != "turns" || !slices.Equal(g.Rows, []int32{1, 2, 3, 4}) {
				t.Errorf("mechanism %v", g)
			}
			for _, row := range deeper.Rows {
				if row.DepthMm != 12.7 || row.ChangeMm != 12.7 || !proto.Equal(row.SettingAfter, turns(10)) || row.UncertaintyMm <= 0 || row.OutOfTravel {
					t.Errorf("row %v", row)
				}
			}
			if said := strings.Join(deeper.Cautions, " "); !strings.Contains(said, "dig seeds") || !strings.Contains(said, "Lock out the lift") {
				t.Errorf("cautions %q", deeper.Cautions)
			}
			if same := move(w.field().ComputeFieldMove(ctx, fieldMoveOf(p, 12.7))); !proto.Equal(same, deeper) {
				t.Errorf("computed of the same rows it is %v\nnot %v", same, deeper)
			}
			if again := must[*pb.Planter](t)(w.planters().GetPlanter(ctx, &pb.GetPlanterRequest{Name: p.Name})); !proto.Equal(again, p) {
				t.Errorf("a field move changed the planter to %v", again)
			}

			p.Rows[2].Setting = turns(15) // one turn is left of the two
			short := move(w.field().ComputeFieldMove(metadata.AppendToOutgoingContext(ctx, "accept-language", "es"), fieldMoveOf(p, 12.7)))
			if row := short.Rows[2]; !row.OutOfTravel || row.ChangeMm != 6.35 || !proto.Equal(row.SettingAfter, turns(16)) || short.Rows[1].OutOfTravel {
				t.Errorf("at the end of its travel: %v, its neighbour %v", row, short.Rows[1])
			}
			if !strings.HasPrefix(short.Cautions[0], "Surco 3: ") {
				t.Errorf("in Spanish: %q", short.Cautions)
			}
			left.wantFieldMove(t, w)
		})
	}
}

// wantFieldMove wants a field move of the planter from where its job left it: with its depths and scales.
func (s *seasons) wantFieldMove(t *testing.T, w way) {
	t.Helper()
	p := must[*pb.Planter](t)(w.planters().GetPlanter(t.Context(), &pb.GetPlanterRequest{Name: s.planter}))
	got := must[*pb.FieldMove](t)(w.field().GetFieldMove(t.Context(), &pb.GetFieldMoveRequest{Name: s.planter, DeltaMm: new(-6.35)}))
	if got.LengthUnit != pb.LengthUnit_IN {
		t.Errorf("a planter that was read in inches is told its field move in %v", got.LengthUnit)
	}
	compute := fieldMoveOf(p, -6.35)
	compute.LengthUnit = got.LengthUnit
	if same := must[*pb.FieldMove](t)(w.field().ComputeFieldMove(t.Context(), compute)); !proto.Equal(same, got) {
		t.Errorf("computed of the planter as it was left it is %v\nnot %v", same, got)
	}
	learned := 0
	counts := map[string]float64{}
	for _, g := range got.Mechanisms {
		counts[g.Mechanism] = g.Count
	}
	for i, row := range got.Rows {
		was := p.Rows[i]
		if math.Abs(row.DepthMm-row.ChangeMm-was.GetAsLeftMm()) > 1e-6 {
			t.Errorf("row %d: %v, was left at %g", row.Row, row, was.GetAsLeftMm())
		}
		if was.Mechanism == "handle" && was.Scale != nil && !row.OutOfTravel {
			learned++
			if want := *was.Scale * 6.35 * counts["handle"]; math.Abs(row.ChangeMm-want) > 1e-6 {
				t.Errorf("row %d with the scale %g: changes by %g, want %g", row.Row, *was.Scale, row.ChangeMm, want)
			}
		}
	}
	if learned == 0 || !got.Reached || counts["handle"] >= 0 || got.SpreadBeforeMm == 0 {
		t.Errorf("nothing was learned, or it is not reached: %v", got)
	}
}

// TestIndexCard has the card of a planter before its first signed job, after it, and while the next is open.
func TestIndexCard(t *testing.T) {
	t.Parallel()
	ways := waysTo(t, start(t, bundle()).addresses)
	s := beginSeasons(t, ways[1], "depot-sixteen", 41)
	card := func(w way) *pb.IndexCard {
		return must[*pb.IndexCard](t)(w.field().GetIndexCard(t.Context(), &pb.GetIndexCardRequest{Name: s.planter}))
	}
	if got := card(ways[0]); got.Planter != s.planter || got.Job != "" || len(got.Rows) != 0 || got.DatumMm != nil || len(got.FieldMoves) != 8 || got.FieldMoves[0].DeltaMm != -25.4 {
		t.Errorf("before its first job: %v", got)
	}
	s.visit(0, nil)
	got := card(ways[0])
	state := s.job.State
	if got.Job != s.job.Name || got.Person != ada || !proto.Equal(got.SignTime, state.Signature.SignTime) || got.GetDatumMm() != state.GetDatumMm() || got.GetSpreadMm() != state.GetSpreadMm() {
		t.Errorf("%v", got)
	}
	excepted := 0
	for i, row := range got.Rows {
		was := state.Rows[i]
		if row.Row != was.Row || row.GetOffsetMm() != was.GetFromDatumMm() || row.GetUncertaintyMm() != was.GetUncertaintyMm() || row.Measured != was.Measured ||
			row.Verdict != was.Verdict || row.Exception != was.Exception || !proto.Equal(row.Setting, was.Setting) {
			t.Errorf("row %v, the job has %v", row, was)
		}
		if row.Exception != "" {
			excepted++
		}
	}
	if len(got.Rows) != 16 || excepted == 0 || len(got.Marks) == 0 {
		t.Errorf("%d rows, %d excepted, marks %v", len(got.Rows), excepted, got.Marks)
	}
	if len(got.FieldMoves) != 8 || got.FieldMoves[4].DeltaMm != 6.35 || !slices.ContainsFunc(got.FieldMoves[4].Mechanisms, func(g *pb.GroupMove) bool { return g.Mechanism == "handle" && g.Count > 0 }) {
		t.Errorf("field moves %v", got.FieldMoves)
	}
	if there := card(ways[1]); !proto.Equal(there, got) {
		t.Errorf("HTTP says %v\ngRPC says %v", there, got)
	}
	must[*pb.Job](t)(s.w.jobs().CreateJob(t.Context(), &pb.CreateJobRequest{Parent: s.planter, Job: &pb.Job{}, JobId: "next"}))
	if again := card(ways[0]); !proto.Equal(again, got) {
		t.Errorf("with another job open the card is %v", again)
	}
}

// What the dug seeds are like, mm; invented.
const (
	dugDeep    = 57.15 // 2 1/4 inches
	dugShallow = 9     // that row 5 is shallower
	dugScatter = 3     // of seeds within a row, standard deviation
	dugSeeds   = 12    // a row
	shallowRow = 5     // has a handle
)

// dug is a dig of the sixteen-row planter as somebody wrote it down, in sixteenths of an inch.
func dug() (text string, rows []*pb.RowSeeds) {
	rnd := rand.New(rand.NewPCG(5, 16))
	var b strings.Builder
	b.WriteString("row;seeds, inches\n")
	for row := int32(1); row <= 16; row++ {
		seeds := &pb.RowSeeds{Row: row}
		fmt.Fprintf(&b, "%d", row)
		for range dugSeeds {
			mm := dugDeep + dugScatter*rnd.NormFloat64()
			if row == shallowRow {
				mm -= dugShallow
			}
			n := int(math.Round(mm / 25.4 * 16))
			seeds.DepthsMm = append(seeds.DepthsMm, float64(n*254)/160)
			fmt.Fprintf(&b, "; %s", inSixteenths(n))
		}
		b.WriteString("\n")
		rows = append(rows, seeds)
	}
	return b.String(), rows
}

// inSixteenths writes n sixteenths as people do: 2 1/4.
func inSixteenths(n int) string {
	whole, over, under := n/16, n%16, 16
	for over > 0 && over%2 == 0 {
		over, under = over/2, under/2
	}
	if over == 0 {
		return fmt.Sprint(whole)
	}
	return fmt.Sprintf("%d %d/%d", whole, over, under)
}

// TestDig digs the mixed planter after one row was made 9 mm shallow: that row is corrected, by as many turns as
// its seeds say, and what differs by chance is left.
func TestDig(t *testing.T) {
	t.Parallel()
	ways := waysTo(t, start(t, bundle()).addresses)
	text, rows := dug()
	var first *pb.DigAnalysis
	for i, w := range ways {
		t.Run(w.name, func(t *testing.T) {
			ctx := t.Context()
			p := must[*pb.Planter](t)(w.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: depot(t), PlanterId: []string{"east", "west"}[i]}))
			create := &pb.CreateDigRequest{Parent: p.Name, DigId: "corner", RequestId: newRequestID(),
				Dig: &pb.Dig{Title: "Low corner", Person: ben, TargetMm: with(dugDeep), Comment: "8 km/h", Pasted: &pb.PastedSeeds{Text: text, Unit: pb.LengthUnit_IN}}}
			kept := must[*pb.Dig](t)(w.digs().CreateDig(ctx, create))
			if kept.Name != p.Name+"/digs/corner" || kept.Pasted != nil || kept.CreateTime == nil || kept.Title != "Low corner" || kept.Person != ben || kept.GetTargetMm() != dugDeep ||
				!slices.EqualFunc(kept.Rows, rows, func(a, b *pb.RowSeeds) bool { return proto.Equal(a, b) }) {
				t.Errorf("kept %v", kept)
			}
			if again := must[*pb.Dig](t)(ways[1-i].digs().CreateDig(ctx, create)); !proto.Equal(again, kept) {
				t.Errorf("sent again: %v", again)
			}
			if read := must[*pb.Dig](t)(w.digs().GetDig(ctx, &pb.GetDigRequest{Name: kept.Name})); !proto.Equal(read, kept) {
				t.Errorf("read back: %v", read)
			}
			aim := &pb.DigAim{DailyDegreeDays: with(8.0)}
			got := must[*pb.DigAnalysis](t)(w.digs().AnalyzeDig(ctx, &pb.AnalyzeDigRequest{Name: kept.Name, Aim: aim}))
			wantCorrection(t, got)
			if first == nil {
				first = got
			} else if !proto.Equal(first, got) {
				t.Errorf("%s says %v\n%s says %v", ways[0].name, first, w.name, got)
			}
			alone := must[*pb.DigAnalysis](t)(w.digs().AnalyzeSeeds(ctx, &pb.AnalyzeSeedsRequest{Pasted: create.Dig.Pasted, TargetMm: create.Dig.TargetMm, Aim: aim, LengthUnit: got.LengthUnit}))
			if alone.Plan != nil {
				t.Errorf("seeds of no planter have a plan: %v", alone.Plan)
			}
			if alone.Plan = got.Plan; !proto.Equal(alone, got) {
				t.Errorf("the seeds alone say %v", alone)
			}
			es := must[*pb.DigAnalysis](t)(w.digs().AnalyzeDig(metadata.AppendToOutgoingContext(ctx, "accept-language", "es"), &pb.AnalyzeDigRequest{Name: kept.Name}))
			if r := es.Rows[shallowRow-1]; !strings.HasPrefix(r.Why, "por corregir: ") || es.Plan.Rows[shallowRow-1].Move.GetSay() == got.Plan.Rows[shallowRow-1].Move.GetSay() || es.Emergence.Days != nil {
				t.Errorf("in Spanish: %v, %v", r, es.Plan.Rows[shallowRow-1])
			}
			wantPagesOfDigs(t, w, p.Name)
		})
	}
}

func wantCorrection(t *testing.T, got *pb.DigAnalysis) {
	t.Helper()
	if got.Seeds != 16*dugSeeds || math.Abs(got.MeanMm-(dugDeep-dugShallow/16.0)) > 1 || math.Abs(math.Sqrt(got.WithinVarianceMm2)-dugScatter) > 0.5 || got.P > 1e-6 || got.GetF() < 5 ||
		got.GetShareWithin() < 0.8 || got.WithinMm != 6.35 || math.Abs(got.GetCvPercent()-100*got.SdMm/got.MeanMm) > 1e-6 {
		t.Errorf("%v", got)
	}
	for _, row := range got.Rows {
		if row.MeanFromMm >= row.MeanMm || row.MeanToMm <= row.MeanMm || math.Abs(row.EffectMm) > math.Abs(row.MeanMm-got.MeanMm)+1 {
			t.Errorf("row %v", row)
		}
		if off := row.Verdict == pb.Verdict_OFF; off != (row.Row == shallowRow) {
			t.Errorf("row %d: %v", row.Row, row)
		}
	}
	shallow := got.Rows[shallowRow-1]
	if shallow.EffectMm > -6 || shallow.EffectMm < -11 || !strings.HasPrefix(shallow.Why, "to be corrected: ") {
		t.Errorf("the shallow row: %v", shallow)
	}
	for _, row := range got.Plan.Rows {
		if row.Row != shallowRow {
			if row.Move != nil {
				t.Errorf("row %d is moved: %v", row.Row, row)
			}
			continue
		}
		// The handle takes quarter turns of 6.35 mm: the nearest to what the seeds say.
		if row.Move == nil || math.Abs(row.Move.EffectMm+shallow.EffectMm) > 6.35/4 || row.Move.EffectMm != 6.35*row.Move.Count || row.Move.Unit == "" || row.Move.Say == "" {
			t.Errorf("the shallow row, which lies %g mm off, is moved by %v", shallow.EffectMm, row.Move)
		}
	}
	e := got.Emergence
	if e.SpreadMm < 6 || e.CountedMm <= 0 || e.CountedMm > e.SpreadMm || math.Abs(e.DegreeDays-e.CountedMm*e.DegreeDaysPerMm) > 1e-3 || math.Abs(e.GetDays()-e.DegreeDays/8) > 1e-3 ||
		len(e.Sources) == 0 || !strings.Contains(e.Guide, "about") || len(e.Cautions) == 0 {
		t.Errorf("emergence %v", e)
	}
}

// wantPagesOfDigs adds digs and lists them one a page.
func wantPagesOfDigs(t *testing.T, w way, planter string) {
	t.Helper()
	want := []string{planter + "/digs/aisle", planter + "/digs/corner", planter + "/digs/hill"}
	for _, id := range []string{"hill", "aisle"} {
		must[*pb.Dig](t)(w.digs().CreateDig(t.Context(), &pb.CreateDigRequest{Parent: planter, Dig: someDig(), DigId: id}))
	}
	var got []string
	for token := ""; ; {
		page := must[*pb.ListDigsResponse](t)(w.digs().ListDigs(t.Context(), &pb.ListDigsRequest{Parent: planter, PageSize: 1, PageToken: token}))
		for _, d := range page.Digs {
			got = append(got, d.Name)
		}
		if token = page.NextPageToken; token == "" {
			break
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("listed %q, want %q", got, want)
	}
}

// TestDigTurnsNoHandleForChance digs rows that lie alike, one that bounces and one that is too near to call: nothing is
// turned for either, and each is told what it needs.
func TestDigTurnsNoHandleForChance(t *testing.T) {
	t.Parallel()
	w := waysTo(t, start(t, bundle()).addresses)[0]
	ctx := t.Context()
	const bounces, near = 7, 8
	p := must[*pb.Planter](t)(w.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: handles(8), PlanterId: "south"}))
	d := &pb.Dig{}
	for row := int32(1); row <= 8; row++ {
		seeds := &pb.RowSeeds{Row: row}
		for _, away := range []float64{-3, -2, -1, 0, 0, 1, 2, 3} {
			mm := 50 + float64(row%3-1)/2 + away
			switch row {
			case bounces:
				mm = 53 + 6*away
			case near:
				mm = 54.4 + away
			}
			seeds.DepthsMm = append(seeds.DepthsMm, mm)
		}
		d.Rows = append(d.Rows, seeds)
	}
	kept := must[*pb.Dig](t)(w.digs().CreateDig(ctx, &pb.CreateDigRequest{Parent: p.Name, Dig: d}))
	got := must[*pb.DigAnalysis](t)(w.digs().AnalyzeDig(ctx, &pb.AnalyzeDigRequest{Name: kept.Name}))
	bouncing, unsure := got.Rows[bounces-1], got.Rows[near-1]
	if !bouncing.SetApart || !bouncing.Bounces || bouncing.Verdict == pb.Verdict_OFF || bouncing.GetScatterMm() < 10 || bouncing.GetScatterF() < 20 || bouncing.GetScatterP() > 1e-6 ||
		!strings.Contains(bouncing.Why, "look at down force, closing and the seed's way into the trench, not at the handle") {
		t.Errorf("the row that bounces: %v", bouncing)
	}
	if unsure.Verdict != pb.Verdict_UNSURE || unsure.SetApart || unsure.GetScatterFromMm() >= 2 || unsure.GetScatterToMm() <= 2 {
		t.Errorf("the row that is too near to call: %v", unsure)
	}
	if got.GetScatterF() < 2 || got.GetScatterP() > 0.05 {
		t.Errorf("scatter alike: F %v, p %v", got.GetScatterF(), got.GetScatterP())
	}
	for _, row := range got.Plan.Rows {
		if row.Move != nil || row.Row == bounces || row.Row == near && row.Why != unsure.Why {
			t.Errorf("the plan has %v", row)
		}
	}
}

// TestDigTurnsOnlyRowsThatAreOff digs rows that lie at random: no plan moves a row that its seeds do not call off, and no
// word of one is of a fixture or of readings.
func TestDigTurnsOnlyRowsThatAreOff(t *testing.T) {
	t.Parallel()
	w := waysTo(t, start(t, bundle()).addresses)[0]
	rng := rand.New(rand.NewPCG(81, 82))
	p := must[*pb.Planter](t)(w.planters().CreatePlanter(t.Context(), &pb.CreatePlanterRequest{Planter: handles(12), PlanterId: "random"}))
	moved, stayed := 0, map[pb.Verdict]int{}
	for i := range 60 {
		d := &pb.Dig{}
		apart, scatter := 1+5*rng.Float64(), 1+4*rng.Float64()
		for row := int32(1); row <= 12; row++ {
			depth, seeds := 50+apart*rng.NormFloat64(), &pb.RowSeeds{Row: row}
			for range 1 + rng.IntN(10) {
				seeds.DepthsMm = append(seeds.DepthsMm, max(0, depth+scatter*rng.NormFloat64()))
			}
			d.Rows = append(d.Rows, seeds)
		}
		kept := must[*pb.Dig](t)(w.digs().CreateDig(t.Context(), &pb.CreateDigRequest{Parent: p.Name, Dig: d}))
		ctx, unfit := t.Context(), regexp.MustCompile(`(?i)\bread|fixture`)
		if i%2 == 1 {
			ctx, unfit = metadata.AppendToOutgoingContext(ctx, "accept-language", "es"), regexp.MustCompile(`(?i)calibre|lectura|léa`)
		}
		got := must[*pb.DigAnalysis](t)(w.digs().AnalyzeDig(ctx, &pb.AnalyzeDigRequest{Name: kept.Name}))
		verdict := map[int32]pb.Verdict{}
		for _, row := range got.Rows {
			verdict[row.Row] = row.Verdict
		}
		for _, row := range got.Plan.GetRows() {
			switch v := verdict[row.Row]; {
			case row.Move == nil:
				stayed[v]++
			case v != pb.Verdict_OFF:
				t.Errorf("dig %d: row %d is %v and moved: %s", i, row.Row, v, row.Why)
			default:
				moved++
			}
			if unfit.MatchString(row.Why) {
				t.Errorf("dig %d, row %d: %s", i, row.Row, row.Why)
			}
		}
		for _, c := range got.Plan.GetCautions() {
			if ofRows := strings.HasPrefix(c, "Row") || strings.HasPrefix(c, "Surco"); ofRows && unfit.MatchString(c) { // else the style's own
				t.Errorf("dig %d: %s", i, c)
			}
		}
	}
	if moved < 50 || stayed[pb.Verdict_EVEN] < 50 || stayed[pb.Verdict_UNSURE] < 50 {
		t.Errorf("moved %d, stayed %v", moved, stayed)
	}
}

// TestDigOfOtherRows has a dig of a planter that was rebuilt since: rows that are gone are analyzed, and not
// planned.
func TestDigOfOtherRows(t *testing.T) {
	t.Parallel()
	w := waysTo(t, start(t, bundle()).addresses)[0]
	ctx := t.Context()
	p := must[*pb.Planter](t)(w.planters().CreatePlanter(ctx, &pb.CreatePlanterRequest{Planter: handles(3), PlanterId: "north"}))
	d := someDig()
	d.Rows[1].Row = 3
	kept := must[*pb.Dig](t)(w.digs().CreateDig(ctx, &pb.CreateDigRequest{Parent: p.Name, Dig: d}))
	p.Rows = p.Rows[:2]
	must[*pb.Planter](t)(w.planters().UpdatePlanter(ctx, &pb.UpdatePlanterRequest{Planter: p}))
	got := must[*pb.DigAnalysis](t)(w.digs().AnalyzeDig(ctx, &pb.AnalyzeDigRequest{Name: kept.Name}))
	if len(got.Rows) != 2 || len(got.Plan.Rows) != 1 || got.Plan.Rows[0].Row != 1 {
		t.Errorf("%v", got)
	}
}

// TestStudy has two people read rows in a fixture that scatters in a known way: the study finds it, tells what
// it proves, and with apply the fixture keeps it, once.
func TestStudy(t *testing.T) {
	t.Parallel()
	for i, w := range waysTo(t, start(t, bundle()).addresses) {
		t.Run(w.name, func(t *testing.T) {
			ctx := t.Context()
			x := must[*pb.Fixture](t)(w.fixtures().CreateFixture(ctx, &pb.CreateFixtureRequest{Fixture: &pb.Fixture{DisplayName: "Box", Kind: pb.Fixture_WINDOW, ResolutionMm: with(0.1)}, FixtureId: []string{"east", "west"}[i]}))
			const scatter = 0.8
			rnd := rand.New(rand.NewPCG(8, 8))
			req := &pb.StudyFixtureRequest{Name: x.Name}
			for row := int32(1); row <= 12; row++ {
				depth := 50 + 2*rnd.NormFloat64()
				for _, person := range []string{ada, ben, "Cleo Marsh"} {
					for range 4 {
						req.Readings = append(req.Readings, &pb.StudyReading{Row: row, Person: person, ValueMm: new(math.Round(10*(depth+scatter*rnd.NormFloat64())) / 10)})
					}
				}
			}
			study := must[*pb.FixtureStudy](t)
			got := study(w.fixtures().StudyFixture(ctx, req))
			if math.Abs(got.RepeatabilityMm-scatter) > 0.15*scatter || math.Abs(got.ScatterMm-scatter) > 0.15*scatter || got.ReproducibilityMm > 0.4 || got.RowToRowMm < 1 || got.DegreesOfFreedom < 72 ||
				got.Method == "" || got.Verdict == "" || got.Fixture != nil {
				t.Errorf("%v", got)
			}
			for k, p := range got.Provable {
				if int(p.Readings) != k+1 || p.SeveralPeopleMm == nil || p.GetSeveralPeopleMm() < p.ToleranceMm || k > 0 && p.ToleranceMm >= got.Provable[k-1].ToleranceMm {
					t.Errorf("provable %v", got.Provable)
				}
			}
			if n := got.ReadingsNeeded; len(got.Provable) != 5 || n < 1 || got.Provable[n-1].ToleranceMm > 3.175 {
				t.Errorf("needs %d readings: %v", n, got.Provable)
			}
			tight := proto.CloneOf(req)
			tight.ToleranceMm = with(0.01)
			if poor := study(w.fixtures().StudyFixture(ctx, tight)); poor.ReadingsNeeded != 0 || !strings.HasPrefix(poor.Verdict, "Not good enough") {
				t.Errorf("for 0.01 mm: %v", poor)
			}
			if same := must[*pb.Fixture](t)(w.fixtures().GetFixture(ctx, &pb.GetFixtureRequest{Name: x.Name})); !proto.Equal(same, x) {
				t.Errorf("without apply the fixture is %v", same)
			}

			req.Apply, req.Etag, req.RequestId = true, x.Etag, newRequestID()
			applied := study(w.fixtures().StudyFixture(ctx, req))
			if f := applied.Fixture; f == nil || math.Abs(f.GetRepeatabilityMm()-got.ScatterMm) > 1e-6 || f.ReproducibilityMm == nil || math.Abs(f.GetReproducibilityMm()-got.ReproducibilityMm) > 1e-6 || f.Etag == x.Etag {
				t.Errorf("applied: %v", f)
			}
			if again := study(w.fixtures().StudyFixture(ctx, req)); !proto.Equal(again, applied) {
				t.Errorf("sent again: %v", again)
			}
			if now := must[*pb.Fixture](t)(w.fixtures().GetFixture(ctx, &pb.GetFixtureRequest{Name: x.Name})); !proto.Equal(now, applied.Fixture) {
				t.Errorf("the fixture is %v", now)
			}
		})
	}
}
