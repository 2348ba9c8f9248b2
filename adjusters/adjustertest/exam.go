package adjustertest

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"sync"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"rowdatum/adjusters/adjuster"
	"rowdatum/adjusters/schema"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// Program is what is examined: an executable file, by its full path or by a name on the search path, and
// what it is started with.
type Program struct {
	Path string
	Args []string
}

// limits are how long the exam waits.
type limits struct {
	call   time.Duration // for one call; the service waits no longer
	orphan time.Duration // for a program whose service is gone: the contract's 10 s, and some for a busy machine; 0 does not try
}

// Run starts a program, examines it and reports everything it found. With no cases it makes questions of
// its own from the style's schemas. An error is a fault of the exam, not of the program.
func Run(ctx context.Context, p Program, cases []Case) (*Report, error) {
	return run(ctx, p, cases, limits{call: 5 * time.Second, orphan: 12 * time.Second})
}

func run(ctx context.Context, what Program, cases []Case, l limits) (*Report, error) {
	e := &exam{cases: cases, limits: l, report: &Report{Checks: checks(), Findings: []Finding{}}}
	p, err := start(what)
	e.made("start", "health")
	if err != nil {
		e.notStarted(what.Path, err)
		return e.report, nil
	}
	e.program, e.client = p, p.client
	e.made("tls")
	if err := p.strangers(ctx); err != nil {
		e.found("tls", "a stranger", "%v", err)
	}
	e.sit(ctx)
	e.made("stop")
	if err := p.stop(); err != nil && !e.ended {
		e.request = ""
		e.found("stop", "asked to stop", "%v", err)
	}
	if ctx.Err() != nil {
		return e.report, ctx.Err()
	}
	if l.orphan > 0 {
		e.abandon(ctx, what)
	}
	return e.report, nil
}

// exam is one sitting.
type exam struct {
	limits
	cases            []Case
	program          *program
	client           adjusterv1.AdjusterClient
	style            *adjusterv1.Style
	figures, setting *schema.Schema
	deeper           map[string]string // of the setting's properties, which way is deeper
	good             *Case             // the first with options
	goodRow          *adjusterv1.RowOptions
	request          string // the last call, as a finding shows it
	dead             bool   // nothing more is asked: the program has ended, or is silent again and again
	ended            bool   // the program has ended before it was asked to
	report           *Report
}

// made notes that checks are being made.
func (e *exam) made(names ...string) {
	for _, name := range names {
		e.check(name).Made = true
	}
}

func (e *exam) check(name string) *Check {
	for i := range e.report.Checks {
		if c := &e.report.Checks[i]; c.Name == name {
			return c
		}
	}
	panic("there is no check " + name)
}

func (e *exam) found(check, where, format string, args ...any) {
	e.foundAt(check, where, "", format, args...)
}

// foundAt names the place in the answer.
func (e *exam) foundAt(check, where, path, format string, args ...any) {
	c := e.check(check)
	c.Made = true
	c.Failed++
	e.report.Findings = append(e.report.Findings, Finding{check, where, path, fmt.Sprintf(format, args...), e.request})
}

func (e *exam) sit(ctx context.Context) {
	if !e.describe(ctx) {
		return
	}
	if len(e.cases) == 0 {
		e.cases = derive(e.style.GetFiguresSchema(), e.style.GetSettingSchema(), e.figures, e.setting)
	}
	e.made("cases")
	for i := range e.cases {
		if e.sitCase(ctx, &e.cases[i]) {
			e.report.Questions++
		}
	}
	if e.good == nil && !e.dead {
		e.found("cases", e.style.GetId(), "none of %d questions was answered with options; give the schemas' properties examples that fit together, or give the exam cases", len(e.cases))
	}
	for _, stage := range []func(context.Context){e.languages, e.units, e.manyRows, e.atOnce, e.hostile} {
		if e.good == nil || e.dead {
			return
		}
		stage(ctx)
	}
	e.sameStyle(ctx, "at the end")
}

// sameStyle asks for the style once more.
func (e *exam) sameStyle(ctx context.Context, when string) {
	if again := e.ask(ctx, voice{}); again != nil && !proto.Equal(again, e.style) {
		e.found("pure", "describe", "the style %s is not what it was at the start", when)
	}
}

// voice is what words are asked in: a language, none where it is empty, and a unit of lengths, mm where it is unspecified.
type voice struct {
	language string
	unit     adjusterv1.LengthUnit
}

// ask describes the style in a voice; nil where it failed.
func (e *exam) ask(ctx context.Context, in voice) *adjusterv1.Style {
	if e.dead {
		return nil
	}
	r, where := &adjusterv1.DescribeRequest{Language: in.language, LengthUnit: in.unit}, fmt.Sprintf("language %q", in.language)
	e.asked("Describe", r)
	ctx, cancel := context.WithTimeout(ctx, e.call)
	defer cancel()
	out, err := e.client.Describe(ctx, r)
	if err != nil {
		e.failed("describe", where, err)
		return nil
	}
	if out.GetStyle() == nil {
		e.foundAt("describe", where, "style", "is missing")
	}
	return out.GetStyle()
}

// options asks for options; nil where the call failed, which is found unless refusing is allowed.
func (e *exam) options(ctx context.Context, check, where string, mayRefuse bool, r *adjusterv1.OptionsRequest) []*adjusterv1.RowOptions {
	if e.dead {
		return nil
	}
	e.asked("Options", r)
	ctx, cancel := context.WithTimeout(ctx, e.call)
	defer cancel()
	out, err := e.client.Options(ctx, r, grpc.MaxCallRecvMsgSize(adjuster.MaxMessageBytes))
	switch {
	case err == nil && len(out.GetRows()) != len(r.GetRows()):
		e.foundAt(check, where, "rows", "%d rows were asked for, %d were answered", len(r.GetRows()), len(out.GetRows()))
		return nil
	case err == nil:
		return out.GetRows()
	case mayRefuse && status.Code(err) == codes.InvalidArgument:
	default:
		e.failed(check, where, err)
	}
	return nil
}

// maxSilences is after how many calls without an answer no more are made.
const maxSilences = 3

// failed is a call that came to nothing: too late, at the end of the program, or refused.
func (e *exam) failed(check, where string, err error) {
	switch {
	case status.Code(err) == codes.DeadlineExceeded:
		e.found("deadline", where, "there was no answer within %v", e.call)
		e.dead = e.check("deadline").Failed >= maxSilences
	case status.Code(err) == codes.Unavailable && e.program.ended():
		e.dead, e.ended = true, true
		e.found(check, where, "the program ended: %s", e.program.ending())
	default:
		e.found(check, where, "the call failed: %v", err)
	}
}

// maxRequest is how much of a request a finding shows.
const maxRequest = 2000

// asked keeps a request for the findings that come of it.
func (e *exam) asked(method string, r proto.Message) {
	text, err := protojson.Marshal(r)
	var compact bytes.Buffer
	if err != nil || json.Compact(&compact, text) != nil { // what the library writes varies in white space
		e.request = method
		return
	}
	e.request = method + " " + compact.String()
	if n := len(e.request); n > maxRequest {
		e.request = fmt.Sprintf("%s… (%d bytes)", strings.ToValidUTF8(e.request[:maxRequest], ""), n)
	}
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
	e.made("many rows")
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
		if i < len(e.cases) {
			e.alone(ctx, &e.cases[i], row)
		} else if !proto.Equal(row, rows[i%len(e.cases)]) {
			e.foundAt("pure", where, fmt.Sprintf("rows[%d]", i), "two rows with one figure set and setting are answered differently")
			return
		}
	}
}

// alone asks a case by itself and compares with its answer among others.
func (e *exam) alone(ctx context.Context, c *Case, row *adjusterv1.RowOptions) {
	alone := e.options(ctx, "many rows", c.Name, false, question(jsonText(c.Figures), jsonText(c.Setting)))
	if alone != nil && !proto.Equal(row, alone[0]) {
		e.found("pure", c.Name, "the answer differs when other rows are asked for in the same call")
	}
}

// atOnce asks one question many times at once.
func (e *exam) atOnce(ctx context.Context) {
	const times = 16
	ask := question(jsonText(e.good.Figures), jsonText(e.good.Setting))
	e.asked("Options", ask)
	ctx, cancel := context.WithTimeout(ctx, e.call)
	defer cancel()
	answers, errs := make([]*adjusterv1.OptionsResponse, times), make([]error, times)
	var all sync.WaitGroup
	for i := range times {
		all.Go(func() {
			answers[i], errs[i] = e.client.Options(ctx, ask, grpc.MaxCallRecvMsgSize(adjuster.MaxMessageBytes))
		})
	}
	all.Wait()
	for i, answer := range answers {
		if errs[i] != nil {
			e.failed("pure", fmt.Sprintf("%d calls at once", times), errs[i])
			return
		}
		if len(answer.GetRows()) != 1 || !proto.Equal(answer.GetRows()[0], e.goodRow) {
			e.found("pure", fmt.Sprintf("%d calls at once", times), "the answer differs when the question is asked many times at once")
			return
		}
	}
}

// abandon starts the program once more, compares the two copies, and drops the connection as a service
// does that was killed.
func (e *exam) abandon(ctx context.Context, what Program) {
	e.request = ""
	p, err := start(what)
	if err != nil {
		e.found("start", "a second time", "%v", err)
		return
	}
	e.program, e.client, e.dead = p, p.client, e.dead && !e.ended
	e.another(ctx)
	e.made("orphan")
	e.request = ""
	if err := p.abandon(e.orphan); err != nil {
		e.found("orphan", "the service is gone", "%v", err)
	}
}

// another asks a second copy what the first one was asked.
func (e *exam) another(ctx context.Context) {
	if e.good == nil {
		return
	}
	e.sameStyle(ctx, "in another copy of the program")
	rows := e.options(ctx, "pure", e.good.Name, false, question(jsonText(e.good.Figures), jsonText(e.good.Setting)))
	if rows != nil && !proto.Equal(rows[0], e.goodRow) {
		e.found("pure", e.good.Name, "another copy of the program answers differently")
	}
}
