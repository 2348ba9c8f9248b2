package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/alecthomas/kong"
	"google.golang.org/genproto/googleapis/rpc/code"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/cli/sheet"
	"rowdatum/clients/internal/service"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// The exit codes.
const (
	exitOK     = 0
	exitFailed = 1 // refused, or failed
	exitUsage  = 2
)

// flags are the commands and their flags, as kong reads them.
type flags struct {
	Service   string `placeholder:"URL" help:"Address of a running service, like http://127.0.0.1:7480. With none named, plan and styles run a private one for as long as they take; what is kept is asked of http://127.0.0.1:7480."`
	Key       string `placeholder:"KEY" help:"The key that the service asks for; better given as ROWDATUM_KEY, which others on this machine do not see."`
	Adjusters string `placeholder:"DIR" help:"Folder of adjusters for a private service; else the folder adjusters beside rowdatumd."`
	JSON      bool   `name:"json" help:"Print the service's answer as JSON."`
	Language  string `enum:",es,en" default:"" placeholder:"es|en" help:"The language of what the service says: reasons, moves, cautions, refusals. Of LC_ALL, LC_MESSAGES or LANG otherwise. This program's own labels are English."`

	Plan     planCommand      `cmd:"" help:"Plan which rows to touch, from a file of readings."`
	Job      jobCommands      `cmd:"" help:"One visit of one planter, first reading to sign-off, kept by a running service."`
	Planter  planterCommands  `cmd:"" help:"The planters that a running service keeps."`
	Fixture  fixtureCommands  `cmd:"" help:"The fixtures that a running service keeps."`
	Sheet    sheetCommand     `cmd:"" help:"Write the sheet that is handed over with a planter: as found, as left, marks, exceptions, signature."`
	Field    fieldCommands    `cmd:"" help:"A level planter in the field: another planting depth by one count on every row."`
	Dig      digCommands      `cmd:"" help:"Seeds dug in the field, row by row: which rows differ, and what to correct."`
	Wear     wearCommand      `cmd:"" help:"What the seasons did to a planter: how its rows drift, and how long travel and parts last."`
	Hook     hookCommands     `cmd:"" help:"Addresses that hear of a shop's jobs, and what they were sent."`
	Styles   stylesCommand    `cmd:"" help:"List the styles of depth mechanism that the service knows, and how a file names them."`
	Adjuster adjusterCommands `cmd:"" help:"For who makes an adjuster: write a new one, examine any."`
	Demo     demoCommand      `cmd:"" help:"Plan an invented planter on a running service and say where the service is."`
}

// app is what commands work with.
type app struct {
	flags          *flags
	stdin          io.Reader
	stdout, stderr io.Writer
}

// run is the whole program; it returns the exit code.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	a := &app{flags: &flags{}, stdin: stdin, stdout: &screen{to: stdout}, stderr: &screen{to: stderr}}
	answered := false // by kong itself: --help
	parser, err := kong.New(a.flags, kong.Name("rowdatum"),
		kong.Description("Brings every row unit of a row-crop planter to one depth: from readings to which rows to touch, and by how much."),
		kong.Writers(stdout, stderr), kong.Exit(func(int) { answered = true }), kong.DefaultEnvars("ROWDATUM"))
	if err != nil {
		return a.fail(err)
	}
	command, err := parser.Parse(plainMinus(args))
	switch {
	case answered:
		return exitOK
	case err != nil:
		fmt.Fprintf(a.stderr, "rowdatum: %v\nTry rowdatum --help.\n", err)
		return exitUsage
	}
	command.BindTo(ctx, (*context.Context)(nil))
	if err := command.Run(a); err != nil {
		return a.fail(err)
	}
	return exitOK
}

// plainMinus writes the sign of negative numbers as the minus of print: the parser takes -3/4 for flags.
func plainMinus(args []string) []string {
	out := slices.Clone(args)
	for i, arg := range out {
		if rest, ok := strings.CutPrefix(arg, "-"); ok && strings.IndexAny(rest, "0123456789.¼½¾⅛⅜⅝⅞") == 0 {
			out[i] = "−" + rest
		}
	}
	return out
}

func (a *app) fail(err error) int {
	fmt.Fprintf(a.stderr, "rowdatum: %v\n", err)
	return exitFailed
}

// maxSettle is how long the adjusters of a service just started are given.
const maxSettle = 5 * time.Second

// withService calls use with the named service, or with a private one, and with its styles, whose words say
// lengths in a unit.
func (a *app) withService(ctx context.Context, unit unitFlag, use func(*api.Client, []*rowdatumv1.Style) error) error {
	if a.flags.Service != "" {
		client := a.client(a.flags.Service)
		client.LengthUnit = unit.spoken()
		styles, err := client.Styles(ctx)
		if err != nil {
			return err
		}
		return use(client, styles)
	}
	running, err := service.Start(ctx, service.Options{Adjusters: a.flags.Adjusters})
	if err != nil {
		return err
	}
	defer running.End()
	client := &api.Client{Base: running.URL(), Language: a.language(), LengthUnit: unit.spoken()}
	styles, err := client.WaitReady(ctx, maxSettle)
	if err != nil {
		return err
	}
	return use(client, styles)
}

// kept calls use with the named service, or with the one that runs on this machine: what is kept is kept
// there.
func (a *app) kept(use func(*api.Client) error) error {
	client := a.client(cmp.Or(a.flags.Service, defaultService))
	err := use(client)
	var unreachable *api.UnreachableError
	var refused *api.RefusedError
	switch {
	case errors.As(err, &unreachable) && !errors.Is(err, context.Canceled):
		return fmt.Errorf("%w\nPlanters and jobs are kept by a service that stays. Start one here with\n  rowdatumd\nor name one that runs with --service URL or ROWDATUM_SERVICE", err)
	case errors.As(err, &refused) && refused.Code == int(code.Code_UNAUTHENTICATED):
		return fmt.Errorf("%w\nGive the key as ROWDATUM_KEY or with --key", err)
	}
	return err
}

// client speaks to the service at an address.
func (a *app) client(base string) *api.Client {
	return &api.Client{Base: base, Key: a.flags.Key, Language: a.language()}
}

// language is what the service is asked to speak: the flag's, else that of the environment as POSIX ranks
// its variables, as far as the service speaks it.
func (a *app) language() string {
	locale := cmp.Or(os.Getenv("LC_ALL"), os.Getenv("LC_MESSAGES"), os.Getenv("LANG"))
	if a.flags.Language == "" && strings.HasPrefix(strings.ToLower(locale), "es") {
		return "es"
	}
	return cmp.Or(a.flags.Language, "en")
}

// beside opens the files that the file of a name names: those that lie beside it.
func (a *app) beside(name string) sheet.Opener {
	return func(other string) ([]byte, error) {
		if other == "-" || other == "" {
			return nil, errors.New("a file beside this one is meant; write its name, like figures=@stop.csv")
		}
		if !filepath.IsAbs(other) && name != "-" {
			other = filepath.Join(filepath.Dir(name), other)
		}
		return a.read(other)
	}
}

// maxFile is what the service takes in one request.
const maxFile = 1 << 20

// read reads a file, or standard input for "-".
func (a *app) read(name string) ([]byte, error) {
	from, err := a.open(name)
	if err != nil {
		return nil, err
	}
	defer from.Close()
	text, err := io.ReadAll(io.LimitReader(from, maxFile+1))
	if err != nil {
		return nil, cannotRead(name, err)
	}
	if len(text) > maxFile {
		return nil, fmt.Errorf("%s is larger than 1 MiB; is it the right file?", name)
	}
	return text, nil
}

// open opens a file, or standard input for "-".
func (a *app) open(name string) (io.ReadCloser, error) {
	if name == "-" {
		return io.NopCloser(a.stdin), nil
	}
	file, err := os.Open(name)
	if err != nil {
		return nil, cannotRead(name, err)
	}
	return file, nil
}

func cannotRead(name string, err error) error {
	if errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("there is no file %s", name)
	}
	var path *os.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	return fmt.Errorf("%s cannot be read: %w", name, err)
}
