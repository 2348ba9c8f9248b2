package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"rowdatum/adjusters/adjustertest"
)

// adjusterCheck is rowdatum adjuster check.
type adjusterCheck struct {
	Program string   `arg:"" help:"The program: a file, or a name on the search path."`
	Args    []string `arg:"" optional:"" help:"What to start it with; put -- before the first that begins with a minus. The service starts adjusters without any."`
	Cases   string   `placeholder:"FILE" help:"Questions to ask and what is known of their answers, as JSON; made of the style's schemas otherwise."`
}

// Run holds the exam.
func (c *adjusterCheck) Run(ctx context.Context, a *app) error {
	cases, err := c.cases(a)
	if err != nil {
		return err
	}
	program := c.Program
	if _, err := os.Stat(program); err == nil {
		if program, err = filepath.Abs(program); err != nil {
			return fmt.Errorf("finding %s: %w", c.Program, err)
		}
	}
	report, err := adjustertest.Run(ctx, adjustertest.Program{Path: program, Args: c.Args}, cases)
	if err != nil {
		return fmt.Errorf("the check was not finished: %w", err)
	}
	if a.flags.JSON {
		err = a.printValue(struct {
			Passed bool `json:"passed"`
			*adjustertest.Report
		}{report.Passed(), report})
	} else {
		_, err = fmt.Fprint(a.stdout, printable(drawReport(report)))
	}
	if err != nil || report.Passed() {
		return err
	}
	return fmt.Errorf("%s does not pass", c.Program)
}

func (c *adjusterCheck) cases(a *app) ([]adjustertest.Case, error) {
	if c.Cases == "" {
		return nil, nil
	}
	text, err := a.read(c.Cases)
	if err != nil {
		return nil, err
	}
	cases, err := adjustertest.ParseCases(text)
	if err != nil {
		return nil, fmt.Errorf("%s is not a file of cases: %w", c.Cases, err)
	}
	return cases, nil
}

// printValue prints a value as indented JSON.
func (a *app) printValue(v any) error {
	text, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("writing JSON: %w", err)
	}
	return a.printJSON(text)
}

// printable keeps what a program said from writing to the terminal what it likes.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' {
			return '\uFFFD'
		}
		return r
	}, text)
}

// drawReport draws how the checks went, then what was found, by check.
func drawReport(r *adjustertest.Report) string {
	var b strings.Builder
	if r.Style != "" {
		fmt.Fprintf(&b, "%s %s  %s\n", r.Style, r.Version, r.Title)
		fmt.Fprintf(&b, "%d questions answered with options; languages: %s\n\n", r.Questions, strings.Join(r.Languages, ", "))
	}
	for _, c := range r.Checks {
		fmt.Fprintf(&b, "  %-8s  %-16s  %s\n", outcomeOf(c), c.Name, c.Means)
	}
	for _, c := range r.Checks {
		drawFindings(&b, c, r.Findings)
	}
	return b.String()
}

func outcomeOf(c adjustertest.Check) string {
	switch {
	case c.Failed > 0:
		return "FAILED"
	case !c.Made:
		return "not made"
	}
	return "ok"
}

// maxFindings is how many findings of one check are told; the rest are alike.
const maxFindings = 3

func drawFindings(b *strings.Builder, c adjustertest.Check, findings []adjustertest.Finding) {
	if c.Failed == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s: it does not hold that the program %s\n", c.Name, c.Means)
	mine := slices.DeleteFunc(slices.Clone(findings), func(f adjustertest.Finding) bool { return f.Check != c.Name })
	for _, f := range mine[:min(len(mine), maxFindings)] {
		fmt.Fprintf(b, "  %s\n", f.Where)
		if f.Path != "" {
			fmt.Fprintf(b, "    %s\n", f.Path)
		}
		fmt.Fprintf(b, "    %s\n", strings.ReplaceAll(f.Message, "\n", "\n    "))
		if f.Request != "" {
			fmt.Fprintf(b, "    asked: %s\n", f.Request)
		}
	}
	if more := len(mine) - maxFindings; more > 0 {
		fmt.Fprintf(b, "  and %d more\n", more)
	}
}
