package adjustertest

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"rowdatum/adjusters/adjuster"
	"rowdatum/adjusters/schema"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// Finding is one thing that an adjuster got wrong.
type Finding struct {
	Check   string // which rule: "order", "travel", "hostile figures"
	Where   string // the case or the question
	Message string // what was wrong
}

// String is the finding as one line.
func (f Finding) String() string { return f.Check + ": " + f.Where + ": " + f.Message }

// limits are how long the exam waits.
type limits struct {
	call   time.Duration // for one call; the service waits no longer
	orphan time.Duration // for a program whose service is gone: the contract's 10 s, and some for a busy machine; 0 does not try
}

// Run starts program, examines it and returns everything it found. Without a case whose figures are
// right the exam cannot ask for options, and says so. An error is a fault of the exam, not of the
// program.
func Run(ctx context.Context, program string, cases []Case) ([]Finding, error) {
	return run(ctx, program, cases, limits{call: 5 * time.Second, orphan: 12 * time.Second})
}

func run(ctx context.Context, program string, cases []Case, l limits) ([]Finding, error) {
	e := &exam{cases: cases, limits: l}
	p, err := start(program)
	if err != nil {
		e.found("start", program, "%v", err)
		return e.findings, nil
	}
	e.client = p.client
	e.sit(ctx)
	if err := p.stop(); err != nil {
		e.found("stop", "asked to stop", "%v", err)
	}
	if ctx.Err() != nil {
		return e.findings, ctx.Err()
	}
	if l.orphan > 0 {
		e.abandon(program)
	}
	return e.findings, nil
}

// exam is one sitting.
type exam struct {
	limits
	cases            []Case
	client           adjusterv1.AdjusterClient
	style            *adjusterv1.Style
	figures, setting *schema.Schema
	good             *Case // the first with options
	findings         []Finding
}

func (e *exam) found(check, where, format string, args ...any) {
	e.findings = append(e.findings, Finding{check, where, fmt.Sprintf(format, args...)})
}

func (e *exam) sit(ctx context.Context) {
	if !e.describe(ctx) {
		return
	}
	for i := range e.cases {
		if e.sitCase(ctx, &e.cases[i]) && e.good == nil {
			e.good = &e.cases[i]
		}
	}
	if e.good == nil {
		e.found("cases", e.style.GetId(), "no case with right figures was given, so no options were asked for")
		return
	}
	e.manyRows(ctx)
	e.hostile(ctx)
	again := e.ask(ctx, "")
	if again == nil || !proto.Equal(again, e.style) {
		e.found("pure", "describe", "the style is not what it was at the start")
	}
}

// ask describes the style in a language; nil where it failed.
func (e *exam) ask(ctx context.Context, language string) *adjusterv1.Style {
	ctx, cancel := context.WithTimeout(ctx, e.call)
	defer cancel()
	r, err := e.client.Describe(ctx, &adjusterv1.DescribeRequest{Language: language})
	if err != nil {
		e.found("describe", fmt.Sprintf("language %q", language), "the call failed: %v", err)
		return nil
	}
	return r.GetStyle()
}

// options asks for options; nil where the call failed, which is found unless refusing is allowed.
func (e *exam) options(ctx context.Context, check, where string, mayRefuse bool, r *adjusterv1.OptionsRequest) []*adjusterv1.RowOptions {
	ctx, cancel := context.WithTimeout(ctx, e.call)
	defer cancel()
	out, err := e.client.Options(ctx, r, grpc.MaxCallRecvMsgSize(adjuster.MaxMessageBytes))
	switch {
	case err == nil && len(out.GetRows()) != len(r.GetRows()):
		e.found(check, where, "%d rows were asked for, %d were answered", len(r.GetRows()), len(out.GetRows()))
		return nil
	case err == nil:
		return out.GetRows()
	case mayRefuse && status.Code(err) == codes.InvalidArgument:
	default:
		e.found(check, where, "the call failed: %v", err)
	}
	return nil
}

// question asks for one row.
func question(figures, setting string) *adjusterv1.OptionsRequest {
	return &adjusterv1.OptionsRequest{
		Mechanisms: []*adjusterv1.MechanismFigures{{Figures: figures}},
		Rows:       []*adjusterv1.RowSetting{{Setting: setting}},
	}
}

// manyRows asks for as many rows as one call may have, and compares with asking one by one.
func (e *exam) manyRows(ctx context.Context) {
	r := &adjusterv1.OptionsRequest{}
	for i := range e.cases {
		r.Mechanisms = append(r.Mechanisms, &adjusterv1.MechanismFigures{Figures: jsonText(e.cases[i].Figures)})
	}
	for i := range adjuster.MaxRows {
		m := i % len(e.cases)
		r.Rows = append(r.Rows, &adjusterv1.RowSetting{Mechanism: int32(m), Setting: jsonText(e.cases[m].Setting)})
	}
	where := fmt.Sprintf("%d rows in one call", adjuster.MaxRows)
	rows := e.options(ctx, "many rows", where, false, r)
	for i, row := range rows {
		if i >= len(e.cases) {
			if !proto.Equal(row, rows[i%len(e.cases)]) {
				e.found("pure", where, "two rows with one figure set and setting are answered differently")
				return
			}
			continue
		}
		c := &e.cases[i]
		alone := e.options(ctx, "many rows", c.Name, false, question(jsonText(c.Figures), jsonText(c.Setting)))
		if alone != nil && !proto.Equal(row, alone[0]) {
			e.found("pure", c.Name, "the answer differs when other rows are asked for in the same call")
		}
	}
}

// abandon starts the program once more and drops the connection as a service does that was killed.
func (e *exam) abandon(program string) {
	p, err := start(program)
	if err != nil {
		e.found("start", "a second time", "%v", err)
		return
	}
	if err := p.abandon(e.orphan); err != nil {
		e.found("orphan", "the service is gone", "%v", err)
	}
}
