package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// What the made seasons are like, mm and mm a hectare; invented.
const (
	commonWear  = 0.002  // of all rows: drops out
	wearScatter = 0.0005 // between rows, standard deviation
	edgeWear    = 0.003  // that edge rows have more
	oddWear     = 0.02   // that one row has more
	readScatter = 0.5    // of readings, before the ruling
	gives       = 0.94   // real travel over nominal travel
)

// hectaresAt are the planter's hectares at its visits.
var hectaresAt = []float64{0, 150, 300, 450, 600}

// seasons is a planter whose rows wear in a known way, and its shop.
type seasons struct {
	t       *testing.T
	w       way
	rand    *rand.Rand
	planter string
	rows    []wornRow
	ruling  float64
	zero    float64 // of the fixture at this visit
	odd     int32
	aim     *pb.Aim
	reach   *pb.Reach
	job     *pb.Job
}

// wornRow is one row as it really is.
type wornRow struct {
	number        int32
	depthMm, wear float64
}

// beginSeasons describes a planter of testdata, its fixture, and how its rows wear.
func beginSeasons(t *testing.T, w way, name string, seed uint64) *seasons {
	t.Helper()
	from := &pb.ComputePlanRequest{}
	if err := protojson.Unmarshal(testdata(t, "requests/"+name+".json"), from); err != nil {
		t.Fatal(err)
	}
	s := &seasons{t: t, w: w, rand: rand.New(rand.NewPCG(seed, 6)), planter: "planters/" + name, ruling: from.Fixture.GetResolutionMm(), aim: from.Aim, reach: from.Reach}
	p := &pb.Planter{DisplayName: name, Mechanisms: from.Mechanisms, LengthUnit: from.LengthUnit}
	slices.SortFunc(from.Rows, func(a, b *pb.RowReadings) int { return int(a.Row - b.Row) })
	edge := (len(from.Rows) + 5) / 6
	s.odd = from.Rows[len(from.Rows)/2].Row
	for i, row := range from.Rows {
		p.Rows = append(p.Rows, &pb.PlanterRow{Row: row.Row, Mechanism: row.Mechanism, Setting: row.Setting})
		wear := commonWear + wearScatter*s.rand.NormFloat64()
		if i < edge || i >= len(from.Rows)-edge {
			wear += edgeWear
		}
		if row.Row == s.odd {
			wear += oddWear
		}
		s.rows = append(s.rows, wornRow{row.Row, mean(row.ReadingsMm), wear})
	}
	must[*pb.Planter](t)(w.planters().CreatePlanter(t.Context(), &pb.CreatePlanterRequest{Planter: p, PlanterId: name}))
	must[*pb.Fixture](t)(w.fixtures().CreateFixture(t.Context(), &pb.CreateFixtureRequest{FixtureId: "of-" + name,
		Fixture: &pb.Fixture{DisplayName: name, Kind: pb.Fixture_WINDOW, ResolutionMm: from.Fixture.ResolutionMm, RepeatabilityMm: from.Fixture.RepeatabilityMm}}))
	return s
}

func mean(xs []float64) float64 {
	sum := 0.0
	for _, x := range xs {
		sum += x
	}
	return sum / float64(len(xs))
}

// visit is one job: all rows read, whatever the plan says done, signed. between, where not nil, is done once all
// rows are read.
func (s *seasons) visit(season int, between func()) {
	s.t.Helper()
	if season > 0 {
		for i := range s.rows {
			s.rows[i].depthMm += s.rows[i].wear * (hectaresAt[season] - hectaresAt[season-1])
		}
	}
	s.zero = 1.5 * s.rand.NormFloat64()
	s.job = must[*pb.Job](s.t)(s.w.jobs().CreateJob(s.t.Context(), &pb.CreateJobRequest{Parent: s.planter, JobId: fmt.Sprintf("season-%d", season+1), Person: ada,
		Job: &pb.Job{Fixture: "fixtures/of-" + strings.TrimPrefix(s.planter, "planters/"), Aim: s.aim, Reach: s.reach, Hectares: &hectaresAt[season]}}))
	s.read(s.next(pb.NextStep_READ))
	if between != nil {
		between()
	}
	for range stepsMost {
		if rows := s.next(pb.NextStep_READ, pb.NextStep_READ_AGAIN, pb.NextStep_READ_AFTER_MOVE); len(rows) > 0 {
			s.read(rows)
		} else if rows := s.next(pb.NextStep_MOVE); len(rows) > 0 {
			s.move(rows)
		} else if len(s.next(pb.NextStep_PLAN)) > 0 {
			s.append(s.w.jobs().PlanJob(s.t.Context(), &pb.PlanJobRequest{Name: s.job.Name, Etag: s.job.Etag, Person: ada}))
		} else {
			s.sign()
			return
		}
	}
	s.t.Fatalf("season %d does not come to an end: %v", season+1, s.job.State)
}

func (s *seasons) append(answer *pb.AppendResponse, err error) {
	s.t.Helper()
	s.job = must[*pb.AppendResponse](s.t)(answer, err).Job
}

func (s *seasons) next(steps ...pb.NextStep) (rows []*pb.RowState) {
	for _, row := range s.job.State.Rows {
		if slices.Contains(steps, row.Next) {
			rows = append(rows, row)
		}
	}
	return rows
}

func (s *seasons) row(number int32) *wornRow {
	return &s.rows[slices.IndexFunc(s.rows, func(r wornRow) bool { return r.number == number })]
}

func (s *seasons) read(rows []*pb.RowState) {
	s.t.Helper()
	var readings []*pb.Reading
	for _, row := range rows {
		seen := s.row(row.Row).depthMm + s.zero + readScatter*s.rand.NormFloat64()
		readings = append(readings, inMM(row.Row, row.LastMove, math.Round(seen/s.ruling)*s.ruling)...)
	}
	s.append(s.w.jobs().AddReadings(s.t.Context(), &pb.AddReadingsRequest{Name: s.job.Name, Readings: readings, Person: ada}))
}

func (s *seasons) move(rows []*pb.RowState) {
	s.t.Helper()
	var moves []*pb.MoveDone
	for _, row := range rows {
		moves = append(moves, &pb.MoveDone{Row: row.Row, SettingBefore: row.Setting, Count: &row.Move.Count, SettingAfter: row.Move.SettingAfter})
		s.row(row.Row).depthMm += gives * row.Move.EffectMm
	}
	s.append(s.w.jobs().AddMoves(s.t.Context(), &pb.AddMovesRequest{Name: s.job.Name, Moves: moves, Person: ada}))
}

func (s *seasons) sign() {
	s.t.Helper()
	s.append(s.w.jobs().TickCautions(s.t.Context(), &pb.TickCautionsRequest{Name: s.job.Name, Ticks: allTicks(s.job), Person: ada}))
	var exceptions []*pb.Exception
	for _, row := range s.next(pb.NextStep_EXCEPT) {
		exceptions = append(exceptions, &pb.Exception{Row: row.Row, Reason: "arm bushing loose, parts on order"})
	}
	s.append(s.w.jobs().SignJob(s.t.Context(), &pb.SignJobRequest{Name: s.job.Name, Etag: s.job.Etag, Person: ada, Exceptions: exceptions}))
}

func (s *seasons) wear() *pb.Wear {
	s.t.Helper()
	return must[*pb.Wear](s.t)(s.w.wear().GetWear(s.t.Context(), &pb.GetWearRequest{Name: s.planter}))
}

// made is the wear of a row relative to the middle half of all.
func (s *seasons) made(row int32) float64 {
	var all []float64
	for _, r := range s.rows {
		all = append(all, r.wear)
	}
	slices.Sort(all)
	cut := len(all) / 3
	return s.row(row).wear - mean(all[cut:len(all)-cut])
}

// TestFiveSeasons wears the planters of testdata down in a known way over five seasons: the service, which sees
// nothing but readings rounded to a ruling, in a fixture whose zero is another at each visit, and moved rows,
// tells the wear that they were made with.
func TestFiveSeasons(t *testing.T) {
	t.Parallel()
	ways := waysTo(t, start(t, bundle()).addresses)
	rows, covered, surprises := 0, 0, 0
	for i, name := range []string{"creek-six", "ridge-twelve", "depot-sixteen", "yard-twenty-four", "wings-thirty-six"} {
		t.Run(name, func(t *testing.T) {
			s := beginSeasons(t, ways[i%2], name, uint64(i))
			for season := range hectaresAt {
				s.visit(season, nil)
				if season == 1 {
					s.wantNoHistory()
				}
			}
			got := s.wear()
			if there := must[*pb.Wear](t)(ways[1-i%2].wear().GetWear(t.Context(), &pb.GetWearRequest{Name: s.planter})); !proto.Equal(there, got) {
				t.Errorf("%s says %v\n%s says %v", ways[1-i%2].name, there, s.w.name, got)
			}
			if len(got.Visits) != len(hectaresAt) || got.Visits[4].Hectares != 600 || got.Visits[4].Job != s.job.Name || got.Visits[0].SignTime == nil {
				t.Errorf("visits %v", got.Visits)
			}
			for _, row := range got.Rows {
				rows++
				if s.covers(row) {
					covered++
				}
				if row.Unlike && row.Row != s.odd && !slices.Contains(got.Edge.Rows, row.Row) {
					surprises++
				}
			}
			s.wantOdd(got)
			s.wantEdge(got.Edge)
		})
	}
	if rows != 94 || float64(covered) < 0.85*float64(rows) {
		t.Errorf("the 90 %% intervals of %d of %d rows cover the wear that was made", covered, rows)
	}
	if surprises > 1 { // a planter has one with a chance of 10 %
		t.Errorf("%d rows that wear like the rest are called unlike", surprises)
	}
}

func (s *seasons) covers(row *pb.RowWear) bool {
	made := s.made(row.Row)
	return row.DriftMmPerHectare != nil && *row.DriftFromMmPerHectare <= made && made <= *row.DriftToMmPerHectare
}

// wantEdge wants the edge rows' own wear told, and told from none where the planter has rows enough.
func (s *seasons) wantEdge(e *pb.EdgeWear) {
	s.t.Helper()
	if e == nil || len(e.Rows) != 2*((len(s.rows)+5)/6) {
		s.t.Fatalf("edge %v", e)
	}
	var edge, others []float64
	for _, r := range s.rows {
		if slices.Contains(e.Rows, r.number) {
			edge = append(edge, r.wear)
		} else {
			others = append(others, r.wear)
		}
	}
	// A 90 % interval misses now and then; twice as wide, hardly ever.
	if made := mean(edge) - mean(others); math.Abs(made-e.DifferenceMmPerHectare) > e.DifferenceToMmPerHectare-e.DifferenceFromMmPerHectare {
		s.t.Errorf("edge rows were made to differ by %g, told %v", made, e)
	}
	// Among fewer rows the odd one, which is among the others, makes up for most of what the edge has more.
	if len(s.rows) >= 24 && !(e.DifferenceFromMmPerHectare > 0 && e.P < 0.05) {
		s.t.Errorf("the edge rows are not told apart: %v", e)
	}
}

// TestPartsOverSeasons has two parts measured at each visit, one of them changed at the third: its history, and
// that of its row, begin there. A job without hectares, and one that came to nothing, are no visits.
func TestPartsOverSeasons(t *testing.T) {
	t.Parallel()
	for i, w := range waysTo(t, start(t, bundle()).addresses) {
		t.Run(w.name, func(t *testing.T) {
			s := beginSeasons(t, w, []string{"depot-sixteen", "creek-six"}[i], uint64(20+i))
			named := []string{"contact-wear", "desgaste de las caras de contacto del mecanismo de profundidad"}[i] // by id, and as a person says it
			hollow := [][2]float64{{2.0, 0.5}, {2.5, 1.0}, {0.4, 1.5}, {0.8, 2.0}, {1.2, 2.5}}                     // of rows 2 and 3, by visit
			for season := range hectaresAt {
				s.visit(season, func() {
					if season == 2 {
						s.append(w.jobs().ChangeParts(t.Context(), &pb.ChangePartsRequest{Name: s.job.Name, Person: ada, PartChanges: []*pb.PartChange{{Row: 2, Part: named}}}))
						s.row(2).depthMm += 2.5
					}
					s.append(w.jobs().AddInspections(t.Context(), &pb.AddInspectionsRequest{Name: s.job.Name, Person: ada, Inspections: []*pb.Inspection{
						{Row: 2, Point: "contact-wear", Value: &hollow[season][0]}, {Row: 3, Point: "contact-wear", Value: &hollow[season][1]}}}))
				})
			}
			for _, id := range []string{"unknown", "nothing"} {
				job := must[*pb.Job](t)(w.jobs().CreateJob(t.Context(), &pb.CreateJobRequest{Parent: s.planter, Job: &pb.Job{}, JobId: id}))
				if id == "nothing" {
					must[*pb.AppendResponse](t)(w.jobs().VoidJob(t.Context(), &pb.VoidJobRequest{Name: job.Name, Reason: "rain"}))
				}
			}
			got := s.wear()
			if len(got.Visits) != len(hectaresAt) || got.Rows[1].Visits != 3 || got.Rows[2].Visits != 5 || !s.covers(got.Rows[1]) {
				t.Errorf("%d visits, rows %v and %v, made %g", len(got.Visits), got.Rows[1], got.Rows[2], s.made(2))
			}
			if len(got.Parts) != 2 {
				t.Fatalf("parts %v", got.Parts)
			}
			changed, kept := got.Parts[0], got.Parts[1]
			if changed.Row != 2 || changed.Visits != 3 || changed.Last != 1.2 || changed.Worn || !changed.Enough {
				t.Errorf("the changed part: %v", changed)
			}
			// 0.5 mm in 150 hectares, and 0.5 mm to go.
			if kept.Row != 3 || kept.Visits != 5 || kept.Last != 2.5 || kept.GetLimit() != 3 || kept.Unit != "mm" || kept.HectaresLeftFrom == nil || kept.HectaresLeftTo == nil ||
				!(*kept.HectaresLeftFrom < 150 && 150 < *kept.HectaresLeftTo) {
				t.Errorf("the kept part: %v", kept)
			}
			es := must[*pb.Wear](t)(w.wear().GetWear(metadata.AppendToOutgoingContext(t.Context(), "accept-language", "es"), &pb.GetWearRequest{Name: s.planter, Confidence: with(0.5)}))
			if title := es.Parts[1].Title; title == kept.Title || !strings.HasPrefix(title, "Desgaste de las caras de contacto") {
				t.Errorf("in Spanish the part is %q", title)
			}
			if a, b := es.Rows[0], got.Rows[0]; *a.DriftToMmPerHectare-*a.DriftFromMmPerHectare >= *b.DriftToMmPerHectare-*b.DriftFromMmPerHectare {
				t.Errorf("less sure, the interval is not narrower: %v, %v", a, b)
			}
		})
	}
}

// wantNoHistory wants nothing told but that.
func (s *seasons) wantNoHistory() {
	s.t.Helper()
	got := s.wear()
	if len(got.Visits) != 2 || len(got.Rows) != len(s.rows) || got.Edge != nil || len(got.Cautions) == 0 {
		s.t.Errorf("after two seasons: %v", got)
	}
	for _, row := range got.Rows {
		if !strings.Contains(row.Why, "not enough history") || row.DriftMmPerHectare != nil || row.HectaresLeftFrom != nil || row.Unlike {
			s.t.Errorf("after two seasons row %d: %v", row.Row, row)
		}
	}
	es := must[*pb.Wear](s.t)(s.w.wear().GetWear(metadata.AppendToOutgoingContext(s.t.Context(), "accept-language", "es"), &pb.GetWearRequest{Name: s.planter}))
	if !strings.Contains(es.Rows[0].Why, "historia insuficiente") {
		s.t.Errorf("in Spanish: %q", es.Rows[0].Why)
	}
}

// wantOdd wants the odd row's travel told as an interval, and its caution.
func (s *seasons) wantOdd(got *pb.Wear) {
	s.t.Helper()
	odd := got.Rows[slices.IndexFunc(got.Rows, func(r *pb.RowWear) bool { return r.Row == s.odd })]
	if odd.HectaresLeftFrom == nil || odd.HectaresLeftTo == nil || !(0 <= *odd.HectaresLeftFrom && *odd.HectaresLeftFrom <= *odd.HectaresLeftTo) ||
		*odd.HectaresLeftTo == 0 && !strings.Contains(odd.Why, "used up") { // 0 to 0: the reach leaves nothing over
		s.t.Errorf("the odd row: %v", odd)
	}
	if made := s.made(s.odd); !odd.Unlike || *odd.DriftFromMmPerHectare < made/2 || *odd.DriftToMmPerHectare > 2*made {
		s.t.Errorf("the odd row was made to drift by %g, told %v", made, odd)
	}
	named := func(c string) bool {
		return strings.Contains(c, "unlike the rest in wear") && strings.Contains(c, fmt.Sprint(s.odd))
	}
	if !slices.ContainsFunc(got.Cautions, named) {
		s.t.Errorf("no caution names the odd row %d: %q", s.odd, got.Cautions)
	}
}
