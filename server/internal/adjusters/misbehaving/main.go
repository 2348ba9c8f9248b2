// Command misbehaving is an adjuster for the host's tests. It does well unless told otherwise: faults
// of the start by its own file name ("banner", "exit-at-start", …; anything else is a good adjuster of
// that style), faults of a call by the figure "fault" of the first mechanism asked for. Its style is a
// handle in whole turns, 0 to 40.
//
// What is appended to its file as "#test version=2.0.0 style=other fault=banner" makes another version of
// it, whatever its name; from version 2.0.0 on a turn moves twice as far.
//
// It leaves like an adjuster when its parent has died, so that no test leaves a process behind.
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/hashicorp/go-plugin"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"rowdatum/adjusters/adjuster"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// The outputs of the process itself; the plugin library replaces those of package os.
var rawStdout, rawStderr = os.Stdout, os.Stderr

func main() {
	m := itself()
	name := m.name
	go leaveWithParent(os.Getppid())
	handshake := adjuster.Handshake
	switch {
	case name == "exit-at-start":
		fmt.Fprintln(os.Stderr, "no spring today")
		os.Exit(3)
	case name == "banner":
		fmt.Println("Welcome to the banner adjuster")
	case name == "long-banner":
		fmt.Println(strings.Repeat("x", 200<<10))
	case name == "rubbish-first":
		rubbish()
	case name == "rubbish":
		time.AfterFunc(500*time.Millisecond, rubbish) // well after the handshake
	case name == "leak":
		go leak()
	case name == "leak-first":
		leak()
	case name == "forks":
		for range 20 {
			if err := exec.Command("sleep", "3600").Start(); err != nil {
				os.Exit(4)
			}
		}
	case name == "silent":
		time.Sleep(time.Hour)
	case name == "other-version":
		handshake.ProtocolVersion = 7
	case name == "odd-log":
		fmt.Fprintln(os.Stderr, `{"@message":1}`)
		fmt.Fprintln(os.Stderr, `{"@level":"warn","@message":"spring is weak","row":3}`)
		fmt.Fprintln(os.Stderr, `plain words`)
		fmt.Fprintln(os.Stderr, strings.Repeat("y", 200<<10))
		fmt.Fprintln(os.Stderr, `[1,2`)
		defer fmt.Fprint(os.Stderr, "last words without an end")
	case name == "flood":
		go flood()
	case name == "stubborn":
		signal.Ignore(syscall.SIGTERM, syscall.SIGINT)
	case name == "stubborn-children":
		child := exec.Command("sleep", "3600")
		child.Stdout, child.Stderr = os.Stdout, os.Stderr // holds the pipes open
		if err := child.Start(); err != nil {
			os.Exit(4)
		}
	case name == "environment":
		fmt.Fprintf(os.Stderr, "environment: %q\n", os.Environ())
	case name == "net-rpc":
		plugin.Serve(&plugin.ServeConfig{HandshakeConfig: handshake, Plugins: plugin.PluginSet{adjuster.PluginName: served{}}})
		return
	}
	plugin.Serve(&plugin.ServeConfig{
		HandshakeConfig: handshake,
		Plugins:         plugin.PluginSet{adjuster.PluginName: served{adjuster: m}},
		GRPCServer: func(opts []grpc.ServerOption) *grpc.Server {
			return grpc.NewServer(append(opts, grpc.MaxRecvMsgSize(adjuster.MaxMessageBytes), grpc.UnaryInterceptor(health(name)))...)
		},
	})
	if name == "stubborn" { // asked to leave, it stays
		time.Sleep(time.Hour)
	}
}

// itself reads name and file of the program.
func itself() *misbehaving {
	m := &misbehaving{name: filepath.Base(os.Args[0]), version: "1.0.0"}
	m.style, _, _ = strings.Cut(m.name, ".")
	text, err := os.ReadFile("/proc/self/exe")
	if err != nil {
		return m
	}
	const mark = "#test " // as it stands it is in the program as well: the last one counts
	at := bytes.LastIndex(text, []byte(mark))
	for _, part := range strings.Fields(string(text[at+len(mark) : min(len(text), at+200)])) {
		switch what, value, _ := strings.Cut(part, "="); what {
		case "version":
			m.version = value
		case "style":
			m.style = value
		case "fault":
			m.name = value
		}
	}
	return m
}

// leak takes memory and uses it, 400 MiB at most: no test machine is to suffer.
func leak() {
	const step = 8 << 20
	var kept [][]byte
	for range 50 {
		more := make([]byte, step)
		for i := 0; i < step; i += 4096 {
			more[i] = 1
		}
		kept = append(kept, more)
		time.Sleep(20 * time.Millisecond)
	}
	time.Sleep(time.Hour)
	fmt.Fprintln(rawStderr, len(kept))
}

// rubbish prints 64 MiB without a line's end.
func rubbish() {
	for range 1024 {
		_, _ = rawStdout.Write(bytes.Repeat([]byte{0xff, 0, '{', 7}, 16<<10))
	}
}

// leaveWithParent ends the program when its parent is another than at the start.
func leaveWithParent(parent int) {
	for os.Getppid() == parent {
		time.Sleep(100 * time.Millisecond)
	}
	os.Exit(0)
}

// health spoils the plugin library's own health service.
func health(name string) grpc.UnaryServerInterceptor {
	return func(ctx context.Context, q any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
		asked := info.FullMethod == grpc_health_v1.Health_Check_FullMethodName
		switch {
		case asked && name == "no-health":
			return nil, status.Error(codes.Unimplemented, "no health service")
		case asked && name == "unwell":
			return &grpc_health_v1.HealthCheckResponse{Status: grpc_health_v1.HealthCheckResponse_NOT_SERVING}, nil
		}
		return next(ctx, q)
	}
}

func flood() {
	for i := 0; ; i++ {
		fmt.Fprintln(rawStderr, "flood", i)
	}
}

type served struct {
	plugin.NetRPCUnsupportedPlugin
	adjuster *misbehaving
}

func (s served) GRPCServer(_ *plugin.GRPCBroker, server *grpc.Server) error {
	adjusterv1.RegisterAdjusterServer(server, s.adjuster)
	return nil
}

func (served) GRPCClient(context.Context, *plugin.GRPCBroker, *grpc.ClientConn) (any, error) {
	return nil, errors.New("served only")
}

type misbehaving struct {
	adjusterv1.UnimplementedAdjusterServer
	name    string // its fault
	style   string
	version string
}

const (
	figuresSchema = `{"type":"object","additionalProperties":false,"required":["mmPerTurn"],"properties":{` +
		`"mmPerTurn":{"type":"number","exclusiveMinimum":0},"turns":{"type":"integer","minimum":1,"maximum":2000},"fault":{"type":"string"}}}`
	settingSchema = `{"type":"object","additionalProperties":false,"required":["turns"],"properties":{"turns":{"type":"integer","minimum":0,"maximum":2000}}}`
)

// Describe gives the style, with the constant wrong that the program is named for.
func (m *misbehaving) Describe(_ context.Context, q *adjusterv1.DescribeRequest) (*adjusterv1.DescribeResponse, error) {
	style := &adjusterv1.Style{
		Id: m.style, Title: "A handle", Version: m.version,
		CountUnit:         &adjusterv1.CountUnit{One: "turn", Other: "turns"},
		SetsPlantingDepth: true, FiguresSchema: figuresSchema, SettingSchema: settingSchema,
		ScaleSd: 0.08, SeatingMm: 0.3, SlackMm: 0.6, Approach: adjusterv1.Approach_APPROACH_DEEPER, TouchSeconds: 60,
		InspectionPoints: []*adjusterv1.InspectionPoint{{Id: "thread", Title: "Thread", Unit: "mm", Limit: new(1.5),
			WorseWhen: adjusterv1.WorseWhen_WORSE_WHEN_LARGER, Guidance: "Rock the handle."}},
		Cautions: []string{"Keep hands clear of the linkage."},
	}
	if q.Language == "es" {
		style.Title = "Una manivela"
	}
	if q.Language == "xx" {
		style.Title = ""
	}
	if q.Language == "yy" {
		style.Title, style.TouchSeconds = "Twisted", 1
	}
	switch m.name {
	case "no-style":
		return &adjusterv1.DescribeResponse{}, nil
	case "slow-describe":
		time.Sleep(time.Hour)
	case "bad-id":
		style.Id = "Bad Id"
	case "touch-zero":
		style.TouchSeconds = 0
	case "negative-sd":
		style.ScaleSd = -0.1
	case "nan-seating":
		style.SeatingMm = math.NaN()
	case "odd-approach":
		style.Approach = 9
	case "escape-title":
		style.Title = "\x1b[2J"
	case "huge-schema":
		style.FiguresSchema = `{"title":"` + strings.Repeat("x", adjuster.MaxSchemaBytes) + `"}`
	case "remote-schema":
		style.SettingSchema = `{"$ref":"https://example.com/setting.json"}`
	case "endless-schema":
		style.SettingSchema = `{"$ref":"#"}`
	case "half-limit":
		style.InspectionPoints[0].Limit = nil
	}
	return &adjusterv1.DescribeResponse{Style: style}, nil
}

type mechanismFigures struct {
	MmPerTurn float64 `json:"mmPerTurn"`
	Turns     int     `json:"turns"`
	Fault     string  `json:"fault"`
}

func read(ms []*adjusterv1.MechanismFigures) (first mechanismFigures, all []mechanismFigures, err error) {
	for _, m := range ms {
		f := mechanismFigures{Turns: 40}
		if err := json.Unmarshal([]byte(m.Figures), &f); err != nil {
			return first, nil, err
		}
		all = append(all, f)
	}
	if len(all) > 0 {
		first = all[0]
	}
	return first, all, nil
}

// Options answers with the fault that the first mechanism names.
func (m *misbehaving) Options(_ context.Context, q *adjusterv1.OptionsRequest) (*adjusterv1.OptionsResponse, error) {
	first, all, err := read(q.Mechanisms)
	if err != nil {
		return nil, err
	}
	if m.version >= "2.0.0" {
		for i := range all {
			all[i].MmPerTurn *= 2
		}
	}
	switch first.Fault {
	case "exit":
		os.Exit(5)
	case "exit-once": // the mark lies in its own folder, which outlives this run of it
		if mark, err := os.OpenFile("exit-once", os.O_CREATE|os.O_EXCL, 0o600); err == nil {
			mark.Close()
			os.Exit(6)
		}
	case "hang":
		time.Sleep(time.Hour)
	case "slow":
		time.Sleep(300 * time.Millisecond)
	case "error":
		return nil, errors.New("a spring broke")
	case "panic":
		panic("a spring broke")
	case "print":
		fmt.Println("printed on stdout")
		fmt.Fprintln(os.Stderr, "printed on stderr")
	case "big":
		return &adjusterv1.OptionsResponse{Rows: []*adjusterv1.RowOptions{{Options: []*adjusterv1.Option{
			{SettingAfter: strings.Repeat("x", adjuster.MaxMessageBytes+1)}}}}}, nil
	}
	answer := &adjusterv1.OptionsResponse{}
	for _, row := range q.Rows {
		options, err := turnsFrom(all[row.Mechanism], row.Setting)
		if err != nil {
			return nil, err
		}
		answer.Rows = append(answer.Rows, &adjusterv1.RowOptions{Options: options})
	}
	spoil(first.Fault, answer)
	return answer, nil
}

func turnsFrom(f mechanismFigures, setting string) ([]*adjusterv1.Option, error) {
	from := struct {
		Turns int `json:"turns"`
	}{f.Turns / 2}
	if setting != "" {
		d := json.NewDecoder(bytes.NewReader([]byte(setting)))
		if err := d.Decode(&from); err != nil {
			return nil, err
		}
	}
	var options []*adjusterv1.Option
	for to := range f.Turns + 1 {
		o := &adjusterv1.Option{Leave: to == from.Turns, Count: float64(to - from.Turns), EffectMm: float64(to-from.Turns) * f.MmPerTurn}
		if setting != "" {
			o.SettingAfter = fmt.Sprintf(`{ "turns": %d.0 }`, to) // not canonical on purpose
			o.ShallowerLeftMm = new(float64(to) * f.MmPerTurn)
			o.DeeperLeftMm = new(float64(f.Turns-to) * f.MmPerTurn)
		}
		options = append(options, o)
	}
	return options, nil
}

// spoil puts one fault into a good answer.
func spoil(fault string, a *adjusterv1.OptionsResponse) {
	if len(a.Rows) == 0 {
		return
	}
	row := a.Rows[0]
	o := row.Options[len(row.Options)-1]
	switch fault {
	case "nan-effect":
		o.EffectMm = math.NaN()
	case "infinite-count":
		o.Count = math.Inf(1)
	case "no-leave":
		for _, o := range row.Options {
			o.Leave = false
		}
	case "two-leaves":
		row.Options = append([]*adjusterv1.Option{}, row.Options...)
		for i, o := range row.Options {
			if o.Leave {
				row.Options = append(row.Options[:i+1], row.Options[i:]...)
				break
			}
		}
	case "leave-moves":
		for _, o := range row.Options {
			o.Leave = false
		}
		o.Leave = true
	case "no-options":
		row.Options = nil
	case "too-many-options":
		for len(row.Options) <= adjuster.MaxOptions {
			row.Options = append(row.Options, o)
		}
	case "wrong-order":
		row.Options[0], row.Options[1] = row.Options[1], row.Options[0]
	case "too-few-rows":
		a.Rows = a.Rows[1:]
	case "too-many-rows":
		a.Rows = append(a.Rows, row)
	case "off-schema":
		o.SettingAfter = `{"turns":-1}`
	case "part-of-a-count":
		o.SettingAfter = `{"turns":1.5}`
	case "malformed":
		o.SettingAfter = `{"turns":`
	case "no-setting":
		o.SettingAfter = ""
	case "long-setting":
		o.SettingAfter = `{"turns":1` + strings.Repeat(" ", 2000) + `}`
	case "negative-travel":
		o.DeeperLeftMm = new(-1.0)
	case "nan-travel":
		o.ShallowerLeftMm = new(math.NaN())
	case "nan-seconds":
		o.Seconds = new(math.NaN())
	case "endless-seconds":
		o.Seconds = new(1e9)
	case "negative-seconds":
		o.Seconds = new(-1.0)
	case "leave-takes-time":
		for _, o := range row.Options {
			if o.Leave {
				o.Seconds = new(10.0)
			}
		}
	case "two-controls": // the long way named first, on purpose: its setting's text sorts last
		at := len(row.Options) - 1
		long, short := proto.CloneOf(o), proto.CloneOf(o)
		long.Seconds, short.Seconds = new(120.0), new(45.0)
		long.SettingAfter, short.SettingAfter, short.Count = `{"turns":9}`, `{"turns":10}`, o.Count-1
		row.Options = append(row.Options[:at:at], long, short)
	case "no-travel":
		o.ShallowerLeftMm = nil
	case "violations":
		*row = adjusterv1.RowOptions{Violations: []*adjusterv1.Violation{{Field: "setting.turns", Message: "is past the last turn"}}}
	case "both":
		row.Violations = []*adjusterv1.Violation{{Field: "setting.turns", Message: "is past the last turn"}}
	case "odd-violation":
		*row = adjusterv1.RowOptions{Violations: []*adjusterv1.Violation{{Field: "settings", Message: "is past the last turn"}}}
	case "mute-violation":
		*row = adjusterv1.RowOptions{Violations: []*adjusterv1.Violation{{Field: "setting"}}}
	}
}

// Say words every choice, with the fault that the first mechanism names.
func (m *misbehaving) Say(_ context.Context, q *adjusterv1.SayRequest) (*adjusterv1.SayResponse, error) {
	first, _, err := read(q.Mechanisms)
	if err != nil {
		return nil, err
	}
	answer := &adjusterv1.SayResponse{}
	for _, c := range q.Choices {
		w := &adjusterv1.Words{Cautions: []string{"Both gauge wheels down."}}
		if !c.Option.Leave {
			w.Say = fmt.Sprintf("Turn the handle %g turns.", c.Option.Count)
			if m.version != "1.0.0" {
				w.Say += " Version " + m.version + "."
			}
		}
		answer.Words = append(answer.Words, w)
	}
	switch first.Fault {
	case "mute":
		answer.Words[0].Say = " "
	case "long-words":
		answer.Words[0].Say = strings.Repeat("turn ", 1000)
	case "escape-words":
		answer.Words[0].Say = "\x1b[2J"
	case "many-cautions":
		answer.Words[0].Cautions = make([]string, 1000)
	case "too-few-words":
		answer.Words = answer.Words[1:]
	case "talks-of-leaving":
		answer.Words[0].Say = "Leave it."
	}
	return answer, nil
}
