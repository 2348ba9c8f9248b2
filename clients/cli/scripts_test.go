package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
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
		Setup: func(env *testscript.Env) error {
			env.Setenv("PATH", bin+string(os.PathListSeparator)+env.Getenv("PATH"))
			env.Setenv("BIN", bin)
			env.Setenv("TMPDIR", os.TempDir()) // the script's own is too deep for the path of a socket
			for _, folder := range []string{"planters", "requests"} {
				if err := os.CopyFS(filepath.Join(env.WorkDir, folder), os.DirFS(filepath.Join(scenario, folder))); err != nil {
					return err
				}
			}
			return nil
		},
	})
}

// buildAll builds the programs side by side, as they are installed, and returns their folder.
func buildAll(t *testing.T) string {
	t.Helper()
	bin := t.TempDir()
	adjusters := filepath.Join(bin, "adjusters")
	if err := os.Mkdir(adjusters, 0o755); err != nil { // only its owner may write there
		t.Fatal(err)
	}
	for output, packages := range map[string][]string{
		filepath.Join(bin, "rowdatum"):         {"rowdatum/clients/cli"},
		filepath.Join(bin, "rowdatumd"):        {"rowdatum/server/cmd/rowdatumd"},
		adjusters + string(filepath.Separator): {"rowdatum/adjusters/threadedhandle", "rowdatum/adjusters/notchedstop", "rowdatum/adjusters/shimmedarm"},
	} {
		build := exec.Command("go", append([]string{"build", "-o", output}, packages...)...)
		if said, err := build.CombinedOutput(); err != nil {
			t.Fatalf("building %v: %v\n%s", packages, err, said)
		}
	}
	return bin
}
