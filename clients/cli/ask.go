package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
)

// errQuit ends a conversation: the person leaves, or there is no more input.
var errQuit = errors.New("quit")

// talkTo is where people are spoken to: standard output, unless that is for JSON.
func (a *app) talkTo() io.Writer {
	if a.flags.JSON {
		return a.stderr
	}
	return a.stdout
}

// talk asks a person, line by line.
type talk struct {
	out   io.Writer
	lines <-chan string
	echo  bool // answers come from a file or a program: show them, as a terminal does
}

// newTalk begins to read in. The reader waits for a line that may never come, so it ends with the
// process and not before.
func newTalk(in io.Reader, out io.Writer) *talk {
	lines := make(chan string)
	go func() {
		defer close(lines)
		for scanner := bufio.NewScanner(in); scanner.Scan(); {
			lines <- scanner.Text()
		}
	}()
	return &talk{out: out, lines: lines, echo: !isTerminal(in)}
}

func isTerminal(stream any) bool {
	if s, ok := stream.(*screen); ok {
		stream = s.to
	}
	file, ok := stream.(*os.File)
	if !ok {
		return false
	}
	info, err := file.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// ask prints a question and returns the answer, trimmed.
func (t *talk) ask(ctx context.Context, question string) (string, error) {
	if err := t.say("%s > ", question); err != nil {
		return "", err
	}
	select {
	case line, ok := <-t.lines:
		if !ok {
			t.say("\n")
			return "", errQuit
		}
		if t.echo {
			t.say("%s\n", line)
		}
		return strings.TrimSpace(line), nil
	case <-ctx.Done():
		t.say("\n")
		return "", errQuit
	}
}

// say prints.
func (t *talk) say(format string, args ...any) error {
	_, err := fmt.Fprintf(t.out, format, args...)
	return err
}
