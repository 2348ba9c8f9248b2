package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"google.golang.org/genproto/googleapis/rpc/code"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/cli/sheet"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// The invented planter as it is kept, and who keeps it.
const (
	demoID     = "depot-sixteen"
	demoName   = "planters/" + demoID
	demoPerson = "Tam Orlow"
)

// season is one visit of the invented planter.
type season struct {
	id       string
	hectares float64 // planted in all by then
}

// demoSeasons are as many as wear is told from.
func demoSeasons() []season {
	return []season{{"first-season", 0}, {"second-season", 420}, {"third-season", 905}}
}

// demoDrift is how an invented row wears, mm deeper a hundred hectares: the edge rows most, and row 11 with its
// loose bushing the other way.
func demoDrift(row int32) float64 {
	switch row {
	case 1, 2, 15, 16:
		return 0.45
	case 11:
		return -0.8
	}
	return 0.1
}

// fillHistory keeps the invented planter with signed seasons and a dig, so that there is something to look at.
// It says what is there; where the planter is kept already, nothing is changed.
func fillHistory(ctx context.Context, client *api.Client, styles []*rowdatumv1.Style) (string, error) {
	file, err := sheet.ParsePlanter(demoPlanter, styles, nil)
	if err != nil {
		return "", err
	}
	planter := file.AsPlanter()
	body, err := protojson.Marshal(planter)
	if err != nil {
		return "", err
	}
	_, _, err = client.CreatePlanter(ctx, demoID, body)
	var refused *api.RefusedError
	if errors.As(err, &refused) && refused.Code == int(code.Code_ALREADY_EXISTS) {
		return demoName + " is kept already; its history was left as it is.", nil
	}
	if err != nil {
		return "", err
	}
	iron := newIron(planter)
	before := 0.0
	for _, s := range demoSeasons() {
		iron.wear(s.hectares - before)
		before = s.hectares
		if err := iron.visit(ctx, client, s); err != nil {
			return "", fmt.Errorf("the invented job %s: %w", s.id, err)
		}
	}
	if _, _, err := client.CreateDig(ctx, demoName, "slope-field", iron.dig()); err != nil {
		return "", err
	}
	return fmt.Sprintf("Kept as %s: %d signed seasons and a dig, for\n  rowdatum wear %s\n  rowdatum field card %s\n  rowdatum dig show %s/slope-field",
		demoName, len(demoSeasons()), demoID, demoID, demoID), nil
}

// iron is the invented planter itself: where its rows really are, which only readings tell.
type iron struct {
	depthMm map[int32]float64
	rows    []int32
	luck    *rand.Rand // fixed: every demonstration is the same
}

func newIron(planter *rowdatumv1.Planter) *iron {
	i := &iron{depthMm: map[int32]float64{}, luck: rand.New(rand.NewPCG(16, 2027))}
	for _, row := range planter.GetRows() {
		const levelMm, spreadMm = 50.8, 1.6
		i.rows = append(i.rows, row.GetRow())
		i.depthMm[row.GetRow()] = levelMm + spreadMm*i.luck.NormFloat64()
	}
	return i
}

func (i *iron) wear(hectares float64) {
	for _, row := range i.rows {
		i.depthMm[row] += demoDrift(row) * hectares / 100
	}
}

// read is what a window fixture ruled to 1/16 inch says of a row.
func (i *iron) read(row *rowdatumv1.RowState) *rowdatumv1.Reading {
	const ruling, scatterMm = 16, 0.4
	inches := (i.depthMm[row.GetRow()] + scatterMm*i.luck.NormFloat64()) / 25.4
	return &rowdatumv1.Reading{Row: row.GetRow(), Value: new(math.Round(inches*ruling) / ruling), Unit: rowdatumv1.LengthUnit_IN, AfterMove: row.GetLastMove()}
}

// move does what the plan asks of a row; threads and stops give a little less than they should.
func (i *iron) move(row *rowdatumv1.RowState) (*rowdatumv1.MoveDone, error) {
	const real = 0.97
	i.depthMm[row.GetRow()] += real * row.GetMove().GetEffectMm()
	return asPlanned(row)
}

// visit opens a job, does what it asks for until it may be signed, and signs it.
func (i *iron) visit(ctx context.Context, client *api.Client, s season) error {
	job, _, err := client.CreateJob(ctx, demoName, s.id, demoPerson, &rowdatumv1.Job{WorkOrder: "invented", Hectares: &s.hectares})
	if err != nil {
		return err
	}
	v := visited{iron: i, client: client, job: job}
	ticks := &rowdatumv1.TickCautionsRequest{Person: demoPerson}
	for _, caution := range openCautions(job) {
		ticks.Ticks = append(ticks.Ticks, &rowdatumv1.CautionTick{Caution: caution.GetId()})
	}
	if err := v.append(ctx, ticks); err != nil {
		return err
	}
	const most = 30 // rounds; a visit takes about six
	for range most {
		if done, err := v.round(ctx); done || err != nil {
			return err
		}
	}
	return errors.New("it comes to no end")
}

// visited is a job that is being worked.
type visited struct {
	*iron
	client *api.Client
	job    *rowdatumv1.Job
}

func (v *visited) append(ctx context.Context, request proto.Message) error {
	done, _, err := v.client.Append(ctx, v.job.GetName(), request)
	if err == nil {
		v.job = done.GetJob()
	}
	return err
}

// round does what all rows ask for now: readings before moves, a plan where there is neither, the signature in
// the end.
func (v *visited) round(ctx context.Context) (done bool, err error) {
	reads, moves := &rowdatumv1.AddReadingsRequest{Person: demoPerson}, &rowdatumv1.AddMovesRequest{Person: demoPerson}
	sign := &rowdatumv1.SignJobRequest{Person: demoPerson, Etag: v.job.GetEtag()}
	plan := false
	for _, row := range v.job.GetState().GetRows() {
		switch row.GetNext() {
		case rowdatumv1.NextStep_READ, rowdatumv1.NextStep_READ_AFTER_MOVE:
			reads.Readings = append(reads.Readings, v.read(row), v.read(row))
		case rowdatumv1.NextStep_READ_AGAIN:
			reads.Readings = append(reads.Readings, v.read(row))
		case rowdatumv1.NextStep_MOVE:
			move, err := v.move(row)
			if err != nil {
				return false, err
			}
			moves.Moves = append(moves.Moves, move)
		case rowdatumv1.NextStep_PLAN:
			plan = true
		case rowdatumv1.NextStep_EXCEPT:
			sign.Exceptions = append(sign.Exceptions, &rowdatumv1.Exception{Row: row.GetRow(), Reason: "worn, parts on order"})
		}
	}
	switch {
	case len(reads.Readings) > 0:
		return false, v.append(ctx, reads)
	case len(moves.Moves) > 0:
		return false, v.append(ctx, moves)
	case plan:
		return false, v.append(ctx, &rowdatumv1.PlanJobRequest{Person: demoPerson, Etag: v.job.GetEtag()})
	}
	return true, v.append(ctx, sign)
}

// dig is what was dug behind the planter in its last season: seeds lie as deep as the rows plant, give or take
// the soil.
func (i *iron) dig() *rowdatumv1.Dig {
	const seeds, soilMm, targetMm = 8, 4.0, 50.8
	dig := &rowdatumv1.Dig{Title: "Field on the slope, invented", Person: demoPerson, TargetMm: proto.Float64(targetMm)}
	for _, number := range i.rows {
		row := &rowdatumv1.RowSeeds{Row: number}
		for range seeds {
			row.DepthsMm = append(row.DepthsMm, math.Max(0, math.Round(i.depthMm[number]+soilMm*i.luck.NormFloat64())))
		}
		dig.Rows = append(dig.Rows, row)
	}
	return dig
}
