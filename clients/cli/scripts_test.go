package main

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/internal/service"
)

// TestScripts runs the terminal sessions of testdata/scripts with the programs as they are shipped.
// UPDATE_SCRIPTS=1 records their outputs anew.
func TestScripts(t *testing.T) {
	bin := buildAll(t)
	scenario, err := filepath.Abs("../../testdata")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "../../testdata/scripts",
		RequireExplicitExec: true,
		UpdateScripts:       os.Getenv("UPDATE_SCRIPTS") != "",
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"service": startService, "masked": masked},
		Setup: func(env *testscript.Env) error {
			env.Setenv("PATH", bin+string(os.PathListSeparator)+env.Getenv("PATH"))
			env.Setenv("BIN", bin)
			env.Setenv("TMPDIR", os.TempDir()) // the script's own is too deep for the path of a socket
			for _, folder := range []string{"planters", "requests", "seal"} {
				if err := os.CopyFS(filepath.Join(env.WorkDir, folder), os.DirFS(filepath.Join(scenario, folder))); err != nil {
					return err
				}
			}
			return nil
		},
	})
}

// startService starts a service that keeps what it is told until the script ends, and names it to the program. Arguments are
// flags of the service.
func startService(ts *testscript.TestScript, neg bool, args []string) {
	if neg {
		ts.Fatalf("usage: service [FLAG…]")
	}
	running, err := service.Start(context.Background(), service.Options{Program: filepath.Join(ts.Getenv("BIN"), "rowdatumd"), Flags: args})
	ts.Check(err)
	ts.Defer(running.End)
	_, err = (&api.Client{Base: running.URL()}).WaitReady(context.Background(), maxSettle)
	ts.Check(err)
	ts.Setenv("ROWDATUM_SERVICE", running.URL())
}

// masked writes a file, or stdout, to another with times, hashes and addresses of a run made alike.
func masked(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: masked FROM TO")
	}
	text := ts.ReadFile(args[0])
	for _, mask := range []struct{ pattern, with string }{
		{`\d{4}-\d\d-\d\d \d\d:\d\d`, "2027-03-14 09:26"},
		{`\d{4}-\d\d-\d\d`, "2027-03-14"},
		{`\b[0-9a-f]{64}\b`, strings.Repeat("0123456789abcdef", 4)},
		{`\b[0-9a-f]{12}…`, "0123456789ab…"},
	} {
		text = regexp.MustCompile(mask.pattern).ReplaceAllString(text, mask.with)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(text), 0o666))
}

// buildAll builds the programs side by side, as they are installed, and returns their folder.
func buildAll(t *testing.T) string {
	t.Helper()
	bin := t.TempDir()
	if err := service.Build(t.Context(), bin, "threadedhandle", "notchedstop", "shimmedarm", "cambolt", "pinplate", "table"); err != nil {
		t.Fatal(err)
	}
	if err := service.BuildProgram(t.Context(), bin, "rowdatum", "rowdatum/clients/cli"); err != nil {
		t.Fatal(err)
	}
	return bin
}
