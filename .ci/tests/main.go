// Command tests reads what `go test -json` writes and prints what `go test` prints: a line for each package, and
// all that a failed test said. At the end it lists the tests that were skipped, and why: `go test` hides the lines of
// a package that passes. In CI a skipped test is a failure.
package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
)

// event is one line of `go test -json`, see `go doc test2json`.
type event struct {
	Action, Package, ImportPath, Test, Output string
}

func main() {
	skipped, err := report(os.Stdin, os.Stdout)
	if err != nil {
		fmt.Fprintln(os.Stderr, "tests:", err)
		os.Exit(1)
	}
	if len(skipped) == 0 {
		return
	}
	fmt.Printf("\n  !!  %d tests were skipped:\n%s\n", len(skipped), strings.Join(skipped, ""))
	if os.Getenv("CI") != "" {
		fmt.Println("tests: CI skips nothing")
		os.Exit(1)
	}
}

// report prints the packages and the failures, and returns a line for each test that was skipped.
func report(in io.Reader, out io.Writer) (skipped []string, err error) {
	said := map[[2]string]string{} // by package and test
	lines := bufio.NewReader(in)
	for {
		line, readErr := lines.ReadString('\n')
		var e event
		if json.Unmarshal([]byte(line), &e) != nil {
			fmt.Fprint(out, line) // of the go command itself
		}
		of := [2]string{e.Package, e.Test}
		switch {
		case e.Action == "build-output", e.Action == "output" && e.Test == "" && isResult(e.Output):
			fmt.Fprint(out, e.Output)
		case e.Action == "output" && !strings.HasPrefix(e.Output, "=== "):
			said[of] += e.Output
		case e.Action == "fail":
			fmt.Fprint(out, said[of])
			delete(said, of)
		case e.Action == "skip" && e.Test != "":
			skipped = append(skipped, fmt.Sprintf("      %s %s\n%s", e.Package, e.Test, reason(said[of])))
			delete(said, of)
		case e.Action == "pass":
			delete(said, of)
		}
		if readErr == io.EOF {
			return skipped, nil
		}
		if readErr != nil {
			return skipped, readErr
		}
	}
}

// isResult says whether a package's line tells how it ended.
func isResult(line string) bool {
	return strings.HasPrefix(line, "ok  \t") || strings.HasPrefix(line, "FAIL\t")
}

// reason is what a test said before it was skipped.
func reason(said string) string {
	var kept strings.Builder
	for line := range strings.Lines(said) {
		if !strings.Contains(line, "--- SKIP") {
			fmt.Fprintf(&kept, "      %s", line)
		}
	}
	return kept.String()
}
