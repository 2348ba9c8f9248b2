package coverage

import (
	"context"

	rowdatum "rowdatum/clients/go"
	"rowdatum/clients/prove/internal/proof"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

// rulings that fixtures have, mm: none (it shows what it reads), half and whole millimetres, 1/16 and 1/8 inch.
var rulings = []float64{0, 0.5, 1, 1.5875, 3.175}

// scatters of readings before they are rounded, mm.
var scatters = []float64{0.3, 0.5, 0.8}

// mostReadings of one row.
const mostReadings = 3

// effort is how much is tried: calls and jobs for each share, calls for each aim, all of 120 rows.
type effort struct{ calls, jobs, chances int }

// Run tries what jobs and plans state, less often in the short form.
func Run(ctx context.Context, setting proof.Setting) ([]proof.Table, error) {
	running, err := setting.Start(ctx)
	if err != nil {
		return nil, err
	}
	defer running.End()
	client := running.Client
	p := prover{client: client, styles: map[string]*pb.Style{}}
	for style, err := range rowdatum.All(ctx, client.Styles.ListStyles, &pb.ListStylesRequest{}, (*pb.ListStylesResponse).GetStyles) {
		if err != nil {
			return nil, err
		}
		p.styles[style.GetName()] = style
	}
	e := effort{calls: 170, jobs: 50, chances: 900}
	if setting.Quick {
		e = effort{calls: 6, jobs: 4, chances: 40}
	}
	return p.tables(ctx, e, setting.Say)
}

func (p prover) tables(ctx context.Context, e effort, say func(string, ...any)) ([]proof.Table, error) {
	say("rows as found")
	asFound, err := p.foundTable(ctx, e.calls)
	if err != nil {
		return nil, err
	}
	say("rows before and after moves")
	visits, err := p.visitTable(ctx, e.jobs)
	if err != nil {
		return nil, err
	}
	say("chances")
	chances, err := p.chanceTable(ctx, e.chances)
	return []proof.Table{asFound, visits, chances}, err
}
