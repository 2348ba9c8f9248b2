// Command broken is a set of adjusters with one fault each, named by its only argument, to examine the
// exam with. "honest" has none, "stuck" never answers. "--list" prints the names.
package main

import (
	"context"
	"crypto/tls"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"github.com/hashicorp/go-plugin"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/protobuf/proto"

	"rowdatum/adjusters/adjuster"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "one argument is needed: the name of a fault, or --list")
		os.Exit(2)
	}
	name := os.Args[1]
	os.Args = os.Args[:1] // the honest serve takes arguments for questions of a person
	liars := liars()
	liar, ok := liars[name]
	switch {
	case name == "--list":
		fmt.Println(strings.Join(slices.Sorted(maps.Keys(liars)), "\n"))
	case name == "honest":
		adjuster.Serve(rodStyle(), rod{})
	case name == "stuck":
		adjuster.Serve(rodStyle(), stuckRod{})
	case ok:
		liar.serve()
	default:
		fmt.Fprintf(os.Stderr, "there is no fault %q\n", name)
		os.Exit(2)
	}
}

// liar is an adjuster with one fault.
type liar struct {
	adjusterv1.AdjusterServer // the honest one
	describe                  func(*adjusterv1.Style)
	translate                 func(*adjusterv1.Style) // in Spanish only
	options                   func(*adjusterv1.OptionsRequest, *adjusterv1.OptionsResponse)
	say                       func(*adjusterv1.SayRequest, *adjusterv1.SayResponse)
	before, after             func() // around serving
	noStyle                   bool
	own                       *door // served without the library
}

func (l *liar) Describe(ctx context.Context, r *adjusterv1.DescribeRequest) (*adjusterv1.DescribeResponse, error) {
	out, err := l.AdjusterServer.Describe(ctx, r)
	if err == nil && l.describe != nil {
		l.describe(out.GetStyle())
	}
	if l.noStyle {
		out = &adjusterv1.DescribeResponse{}
	}
	if err == nil && l.translate != nil && strings.HasPrefix(r.GetLanguage(), "es") {
		l.translate(out.GetStyle())
	}
	return out, err
}

func (l *liar) Options(ctx context.Context, r *adjusterv1.OptionsRequest) (*adjusterv1.OptionsResponse, error) {
	out, err := l.AdjusterServer.Options(ctx, r)
	if err == nil && l.options != nil {
		l.options(r, out)
	}
	return out, err
}

func (l *liar) Say(ctx context.Context, r *adjusterv1.SayRequest) (*adjusterv1.SayResponse, error) {
	out, err := l.AdjusterServer.Say(ctx, r)
	if err == nil && l.say != nil {
		l.say(r, out)
	}
	return out, err
}

// serve goes past the SDK's Serve: a liar does not leave when its host is gone.
func (l *liar) serve() {
	honest, err := adjuster.New(rodStyle(), rod{})
	if err != nil {
		panic(err)
	}
	l.AdjusterServer = honest
	if l.before != nil {
		l.before()
	}
	if l.own != nil {
		l.own.serve(l)
		return
	}
	plugin.Serve(&plugin.ServeConfig{
		HandshakeConfig: adjuster.Handshake,
		Plugins:         plugin.PluginSet{adjuster.PluginName: &adjuster.Plugin{Impl: l}},
		GRPCServer:      plugin.DefaultGRPCServer,
	})
	if l.after != nil {
		l.after()
	}
}

// each spoils every row that has options.
func each(spoil func(row *adjusterv1.RowOptions)) func(*adjusterv1.OptionsRequest, *adjusterv1.OptionsResponse) {
	return func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
		for _, row := range out.GetRows() {
			if len(row.GetOptions()) > 2 {
				spoil(row)
			}
		}
	}
}

// liars are named by their fault.
func liars() map[string]*liar {
	calls, busy := &atomic.Int64{}, &atomic.Int64{}
	return map[string]*liar{
		"stays":            {},
		"lingers":          {after: func() { time.Sleep(time.Minute) }},
		"fails":            {after: func() { os.Exit(4) }},
		"banner":           {before: func() { os.Stdout.WriteString("Welcome!\n") }},
		"exits":            {before: func() { os.Exit(3) }},
		"bad-id":           {describe: func(s *adjusterv1.Style) { s.Id = "Rod with a pin" }},
		"no-touch":         {describe: func(s *adjusterv1.Style) { s.TouchSeconds = 0 }},
		"nan-style":        {describe: func(s *adjusterv1.Style) { s.ScaleSd = math.NaN() }},
		"bad-schema":       {describe: func(s *adjusterv1.Style) { s.FiguresSchema = `{"type": "objct"}` }},
		"bare-schema":      {describe: func(s *adjusterv1.Style) { s.FiguresSchema = strings.ReplaceAll(s.FiguresSchema, "title", "x-title") }},
		"fickle-style":     {describe: func(s *adjusterv1.Style) { s.Title = strings.Repeat("x", int(calls.Add(1))) }},
		"two-leaves":       {options: each(func(r *adjusterv1.RowOptions) { r.Options[0].Leave, r.Options[1].Leave = true, true })},
		"no-leave":         {options: each(func(r *adjusterv1.RowOptions) { leave(r).Leave = false })},
		"moving-leave":     {options: each(func(r *adjusterv1.RowOptions) { leave(r).Count = 1 })},
		"not-finite":       {options: each(func(r *adjusterv1.RowOptions) { r.Options[0].EffectMm = math.Inf(-1) })},
		"not-a-number":     {options: each(func(r *adjusterv1.RowOptions) { r.Options[0].Count = math.NaN() })},
		"unordered":        {options: each(func(r *adjusterv1.RowOptions) { r.Options[0], r.Options[1] = r.Options[1], r.Options[0] })},
		"nan-seconds":      {options: each(func(r *adjusterv1.RowOptions) { r.Options[0].Seconds = proto.Float64(math.NaN()) })},
		"endless-seconds":  {options: each(func(r *adjusterv1.RowOptions) { r.Options[0].Seconds = proto.Float64(1e9) })},
		"leave-takes-time": {options: each(func(r *adjusterv1.RowOptions) { leave(r).Seconds = proto.Float64(60) })},
		"off-travel":       {options: each(func(r *adjusterv1.RowOptions) { r.Options[0].DeeperLeftMm = proto.Float64(1) })},
		"no-travel":        {options: each(func(r *adjusterv1.RowOptions) { r.Options[0].ShallowerLeftMm = nil })},
		"odd-setting":      {options: each(func(r *adjusterv1.RowOptions) { r.Options[0].SettingAfter = `{"hole": 1}` })},
		"wrong-setting":    {options: each(func(r *adjusterv1.RowOptions) { r.Options[0].SettingAfter = `{"hole":"one"}` })},
		"no-way-back": {options: func(r *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			if len(r.GetRows()) > 1 {
				for _, row := range out.GetRows() {
					row.Options = []*adjusterv1.Option{leave(row)}
				}
			}
		}},
		"fickle":  {options: each(func(r *adjusterv1.RowOptions) { r.Options[0].Count -= float64(calls.Add(1)) })},
		"no-rows": {options: func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) { out.Rows = nil }},
		"few-rows": {options: func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			out.Rows = out.Rows[:min(len(out.Rows), 100)]
		}},
		"mixes-rows": {options: func(r *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			if len(r.GetRows()) == adjuster.MaxRows {
				out.Rows[0], out.Rows[1] = out.Rows[1], out.Rows[0]
			}
		}},
		"wrong-answer": {options: each(func(r *adjusterv1.RowOptions) { r.Options[0].EffectMm -= 0.1 })},
		"silent":       {say: func(_ *adjusterv1.SayRequest, out *adjusterv1.SayResponse) { out.Words[len(out.Words)-1].Say = "" }},
		"unreadable":   {say: func(_ *adjusterv1.SayRequest, out *adjusterv1.SayResponse) { out.Words[0].Say = "<b>Do it</b>" }},
		"odd-words": {describe: func(s *adjusterv1.Style) {
			s.SettingSchema = strings.ReplaceAll(s.SettingSchema, "LARGER", "DOWN")
		}},
		"forgetful": {describe: func(s *adjusterv1.Style) { s.SlackMm, s.Approach = 1, adjusterv1.Approach_APPROACH_DEEPER }},
		"wordless-refusal": {options: func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			for _, v := range out.GetRows()[0].GetViolations() {
				v.Message = ""
			}
		}},
		"dies": {options: func(r *adjusterv1.OptionsRequest, _ *adjusterv1.OptionsResponse) {
			if strings.Contains(r.GetMechanisms()[0].GetFigures(), "1e+300") {
				os.Exit(2)
			}
		}},
		"hangs": {options: func(r *adjusterv1.OptionsRequest, _ *adjusterv1.OptionsResponse) {
			if r.GetRows()[0].GetSetting() == "null" {
				time.Sleep(4 * time.Second)
			}
		}},
		"no-style": {noStyle: true},
		"refuses-all": {options: func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			for i := range out.GetRows() {
				out.Rows[i] = &adjusterv1.RowOptions{Violations: []*adjusterv1.Violation{{Field: "figures.holes", Message: "are too many"}}}
			}
		}},
		"takes-any-setting": {options: func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			if row := out.GetRows()[0]; len(row.GetViolations()) > 0 && strings.HasPrefix(row.GetViolations()[0].GetField(), "setting") {
				row.Violations, row.Options = nil, []*adjusterv1.Option{{Leave: true}}
			}
		}},
		"far-away":        {describe: func(s *adjusterv1.Style) { s.TouchSeconds = 1e9 }},
		"talks-on":        {describe: func(s *adjusterv1.Style) { s.Title = strings.Repeat("rod ", 100) }},
		"half-spanish":    {translate: func(s *adjusterv1.Style) { s.Title = "Barra con pasador" }},
		"spanish-figures": {translate: func(s *adjusterv1.Style) { s.Title, s.ScaleSd = "Barra con pasador", 0.5 }},
		"metric": {say: func(_ *adjusterv1.SayRequest, out *adjusterv1.SayResponse) {
			out.Words[0].Cautions = append(out.Words[0].Cautions, "A hole is 12.7 mm.")
		}},
		"metric-figures": {describe: func(s *adjusterv1.Style) {
			s.FiguresSchema = strings.Replace(s.FiguresSchema, "At the opener.", "12.7 mm is common.", 1)
		}},
		"imperial":  {describe: func(s *adjusterv1.Style) { s.Cautions = append(s.Cautions, "A hole is half an inch.") }},
		"wrong-way": {describe: func(s *adjusterv1.Style) { s.SettingSchema = strings.ReplaceAll(s.SettingSchema, "LARGER", "SMALLER") }},
		"backwards-count": {options: each(func(r *adjusterv1.RowOptions) {
			for _, o := range r.GetOptions() {
				o.Count = -o.Count
			}
		})},
		"too-many": {options: each(func(r *adjusterv1.RowOptions) {
			r.Options = append(slices.Repeat(r.Options[:1], adjuster.MaxOptions), r.Options...)
		})},
		"points-nowhere": {options: func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			for _, v := range out.GetRows()[0].GetViolations() {
				v.Field, _, _ = strings.Cut(v.GetField(), ".")
			}
		}},
		"not-at-once": {options: func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			if busy.Add(1) > 1 {
				out.Rows[0].Options = out.Rows[0].Options[:1]
			}
			time.Sleep(2 * time.Millisecond)
			busy.Add(-1)
		}},
		"another-copy":    {describe: func(s *adjusterv1.Style) { s.Version = fmt.Sprint(os.Getpid()) }},
		"odd-log":         {before: func() { os.Stderr.WriteString("{\"@message\":1}\n") }},
		"open-door":       {own: &door{lets: tls.NoClientCert, says: grpc_health_v1.HealthCheckResponse_SERVING}},
		"any-certificate": {own: &door{lets: tls.RequireAnyClientCert, says: grpc_health_v1.HealthCheckResponse_SERVING}},
		"unwell":          {own: &door{lets: tls.NoClientCert, says: grpc_health_v1.HealthCheckResponse_NOT_SERVING}},
		"takes-anything": {options: func(_ *adjusterv1.OptionsRequest, out *adjusterv1.OptionsResponse) {
			if row := out.GetRows()[0]; len(row.GetViolations()) > 0 && strings.HasPrefix(row.GetViolations()[0].GetField(), "figures") {
				row.Violations, row.Options = nil, []*adjusterv1.Option{{Leave: true}}
			}
		}},
	}
}

func leave(r *adjusterv1.RowOptions) *adjusterv1.Option {
	for _, o := range r.GetOptions() {
		if o.GetLeave() {
			return o
		}
	}
	return r.GetOptions()[0]
}
