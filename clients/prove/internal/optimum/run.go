package optimum

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"time"

	"golang.org/x/sync/errgroup"

	rowdatum "rowdatum/clients/go"
	"rowdatum/clients/prove/internal/proof"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

// ErrNoSolver is why nothing was proven where the solver is missing.
var ErrNoSolver = errors.New(solverName + " is not installed (Debian: glpk-utils): NO PLAN WAS HELD AGAINST A MIXED-INTEGER PROGRAM")

// atOnce is how many plans are held against programs at one time.
const atOnce = 2

// Run asks 300 planters with each aim, fewer in the short form, and holds every plan against a program.
func Run(ctx context.Context, setting proof.Setting) ([]proof.Table, error) {
	if _, err := exec.LookPath(solverName); err != nil {
		return nil, ErrNoSolver
	}
	running, err := setting.Start(ctx)
	if err != nil {
		return nil, err
	}
	defer running.End()
	client := running.Client
	a := asker{client: client}
	if a.styles, err = styles(ctx, client); err != nil {
		return nil, err
	}
	each := 100
	if setting.Quick {
		each = 24
	}
	trials, err := a.askAll(ctx, each)
	if err != nil {
		return nil, err
	}
	tell(trials, setting.Say)
	return []proof.Table{tabulate(trials)}, nil
}

// asker asks plans and holds them against programs.
type asker struct {
	client *rowdatum.Client
	styles map[string]*pb.Style
}

// trial is one planter asked with both aims.
type trial struct {
	class              int // of its size
	leastWork, closest outcome
}

// askAll asks so many planters of each class of size.
func (a asker) askAll(ctx context.Context, each int) ([]trial, error) {
	trials := make([]trial, each*len(sizes))
	group, ctx := errgroup.WithContext(ctx)
	for worker := range atOnce {
		group.Go(func() error {
			folder, err := os.MkdirTemp("", "rowdatum-optimum-")
			if err != nil {
				return err
			}
			defer os.RemoveAll(folder)
			for i := worker; i < len(trials); i += atOnce {
				if trials[i], err = a.ask(ctx, solver{folder}, i); err != nil {
					return fmt.Errorf("planter %d: %w", i, err)
				}
			}
			return nil
		})
	}
	return trials, group.Wait()
}

// ask asks one planter, the same one for the same number.
func (a asker) ask(ctx context.Context, s solver, number int) (trial, error) {
	rng := rand.New(rand.NewPCG(8, uint64(number)))
	out := trial{class: number % len(sizes)}
	size := sizes[out.class]
	p := invent(rng, size[0]+rng.IntN(size[1]-size[0]+1))
	p.styled(a.styles)
	rows := p.figure()
	var err error
	if out.leastWork, err = a.holdLeastWork(ctx, s, p, rows); err != nil {
		return trial{}, err
	}
	out.closest, err = a.holdClosest(ctx, s, p, rows)
	return out, err
}

// outcome is what came of holding one plan against a program.
type outcome struct {
	wrong           error   // nil: the two agree
	ends            bool    // the optimum hangs on less than what acceptance was grown and shrunk by
	over            float64 // by how much the answer costs more than the optimum, seconds
	worst           float64 // largest difference of a length, mm
	service, solver time.Duration
}

// holdLeastWork holds the plan of least work against the optimum with acceptance grown, and with it shrunk.
func (a asker) holdLeastWork(ctx context.Context, s solver, p problem, rows []figured) (out outcome, err error) {
	answer, err := a.plan(ctx, p, rows, pb.Aim_LEAST_WORK, &out)
	if err != nil || out.wrong != nil {
		return out, err
	}
	begun := time.Now()
	grown, err := s.leastCost(ctx, p.allChoices(rows, near))
	if err != nil {
		return out, err
	}
	shrunk, err := s.leastCost(ctx, p.allChoices(rows, -near))
	if err != nil {
		return out, err
	}
	out.solver = time.Since(begun)
	out.ends, out.over = shrunk-grown > near, max(answer.cost-shrunk, grown-answer.cost)
	if out.over > near {
		out.wrong = fmt.Errorf("it costs %v s, the optimum lies from %v to %v s", answer.cost, grown, shrunk)
	}
	return out, nil
}

// holdClosest holds the closest plan against the smallest spread.
func (a asker) holdClosest(ctx context.Context, s solver, p problem, rows []figured) (out outcome, err error) {
	answer, err := a.plan(ctx, p, rows, pb.Aim_CLOSEST, &out)
	if err != nil || out.wrong != nil {
		return out, err
	}
	begun := time.Now()
	spread, err := s.leastSpread(ctx, allReached(rows))
	if err != nil {
		return out, err
	}
	out.solver = time.Since(begun)
	out.worst = max(out.worst, math.Abs(answer.spread-spread))
	if out.worst > near {
		out.wrong = fmt.Errorf("it leaves a spread of %.9f mm, the smallest is %.9f mm", answer.spread, spread)
	}
	return out, nil
}

// plan asks a plan and judges it.
func (a asker) plan(ctx context.Context, p problem, rows []figured, aim pb.Aim_Kind, out *outcome) (judged, error) {
	request := p.request(aim)
	begun := time.Now()
	plan, err := a.client.Plans.ComputePlan(ctx, request)
	if err != nil {
		return judged{}, err
	}
	out.service = time.Since(begun)
	answer, wrong := p.judge(rows, plan, aim)
	out.worst, out.wrong = answer.worst, wrong
	return answer, nil
}

func (p problem) allChoices(rows []figured, grown float64) [][]choice {
	out := make([][]choice, len(rows))
	for i, f := range rows {
		out[i] = p.choices(f, grown)
	}
	return out
}

// allReached are the options in reach of the rows that are not stuck.
func allReached(rows []figured) (out [][]option) {
	for _, f := range rows {
		if reached := f.reached(); len(reached) > 0 {
			out = append(out, reached)
		}
	}
	return out
}
