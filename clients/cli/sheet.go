package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"rowdatum/clients/cli/api"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// sheetCommand is rowdatum sheet.
type sheetCommand struct {
	Job    jobName `arg:"" help:"The job, as job list names it, or short like creek-six/spring."`
	Format string  `enum:",html,pdf,csv,json" default:"" placeholder:"html|pdf|csv|json" help:"What it is written as; what the file's name ends in otherwise, else html. json is what rowdatum job verify checks."`
	Paper  string  `enum:"a4,letter" default:"a4" placeholder:"a4|letter" help:"The paper of a pdf (a4)."`
	Output string  `short:"o" placeholder:"FILE" help:"The file to write; standard output otherwise."`
}

// Run writes a job's sheet; with --json the job itself.
func (c *sheetCommand) Run(ctx context.Context, a *app) error {
	format := c.format()
	if format == "PDF" && c.Output == "" && !a.flags.JSON && isTerminal(a.stdout) {
		return errors.New("a pdf is not for the screen; name a file with -o")
	}
	return a.kept(func(client *api.Client) error {
		if a.flags.JSON {
			_, answer, err := client.Job(ctx, string(c.Job))
			if err != nil {
				return err
			}
			return a.printJSON(answer)
		}
		text, err := client.Sheet(ctx, string(c.Job), rowdatumv1.GetJobSheetRequest_Format(rowdatumv1.GetJobSheetRequest_Format_value[format]),
			rowdatumv1.GetJobSheetRequest_Paper(rowdatumv1.GetJobSheetRequest_Paper_value[strings.ToUpper(c.Paper)]))
		if err != nil {
			return err
		}
		return c.write(a, text)
	})
}

// format is what is asked for: the flag's, else the one of the file's name.
func (c *sheetCommand) format() string {
	format := c.Format
	if ending := strings.ToLower(strings.TrimPrefix(filepath.Ext(c.Output), ".")); format == "" && slices.Contains([]string{"pdf", "csv", "json"}, ending) {
		format = ending
	}
	return strings.ToUpper(cmp.Or(format, "html"))
}

func (c *sheetCommand) write(a *app, text []byte) error {
	if c.Output == "" {
		out := a.stdout
		if s, ok := out.(*screen); ok && !isTerminal(out) {
			out = s.to // for a file or a program: byte by byte
		}
		_, err := out.Write(text)
		return err
	}
	err := os.WriteFile(c.Output, text, 0o666)
	var path *os.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", c.Output, err)
	}
	return nil
}
