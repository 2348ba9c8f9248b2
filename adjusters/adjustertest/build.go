package adjustertest

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// TB is what Examine needs of a test. *testing.T is one.
type TB interface {
	Helper()
	Context() context.Context
	TempDir() string
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

// Examine builds the adjuster in the folder of the test, runs the exam over the case files of a folder
// and fails the test for every finding, and for every phrase that the adjuster's sources say in English only: its
// whole exam in one line of its tests.
func Examine(t TB, caseFolder string) {
	t.Helper()
	cases, err := ReadCases(os.DirFS(caseFolder))
	if err != nil {
		t.Fatalf("%v", err)
	}
	phrases, err := untranslated(".")
	if err != nil {
		t.Fatalf("%v", err)
	}
	for _, p := range phrases {
		t.Errorf("%s", p)
	}
	program := Program{Path: Build(t, ".")}
	report, err := Run(t.Context(), program, cases)
	if err != nil {
		t.Fatalf("the exam could not be held: %v", err)
	}
	for _, f := range report.Findings {
		t.Errorf("%s\n  %s", f, f.Request)
	}
	if len(report.Findings) == 0 && !report.Passed() {
		t.Errorf("not every check could be made: %v", report.Checks)
	}
}

// Build compiles a package into a program in a folder of the test.
func Build(t TB, pkg string) string {
	t.Helper()
	sources, _ := filepath.Glob(filepath.Join(pkg, "*.go"))
	for _, s := range sources {
		os.Stat(s) // a test that looked at its sources is run again when they change, not answered from the cache
	}
	program := filepath.Join(t.TempDir(), "adjuster.exe") // any name runs everywhere, Windows wants this one
	if out, err := exec.CommandContext(t.Context(), "go", "build", "-ldflags=-s -w", "-o", program, pkg).CombinedOutput(); err != nil {
		t.Fatalf("building %s: %v\n%s", pkg, err, out)
	}
	return program
}

// Ask asks an adjuster in the test's own process, as adjuster.New gives it, for one row. An empty
// setting is one that nobody knows.
func Ask(t TB, a adjusterv1.AdjusterServer, figures, setting string) *adjusterv1.RowOptions {
	t.Helper()
	r, err := a.Options(t.Context(), question(figures, setting))
	if err != nil {
		t.Fatalf("options of %s at %q: %v", figures, setting, err)
	}
	return r.GetRows()[0]
}
