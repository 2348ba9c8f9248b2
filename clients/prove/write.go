package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"time"

	"rowdatum/clients/prove/internal/proof"
)

// writer writes tables, and remembers what missed its goal.
type writer struct {
	out      io.Writer
	pictures string // folder
	missed   []string
}

// open begins a page.
func (w *writer) open(title, command string) error {
	_, err := fmt.Fprintf(w.out, "# %s\n\nWhat `%s` printed on %s. The last column of each table is a ratio of two things measured in one run.\n\n%s\n\n",
		title, command, time.Now().Format("2 January 2006"), machine())
	return err
}

// write writes tables, and their pictures.
func (w *writer) write(tables []proof.Table) error {
	for _, t := range tables {
		for i := range t.Pictures {
			if err := w.draw(&t.Pictures[i]); err != nil {
				return err
			}
		}
		if err := t.Write(w.out); err != nil {
			return err
		}
		for _, row := range t.Unexplained() {
			w.missed = append(w.missed, fmt.Sprintf("%s, %s: %s, wanted %s", t.Title, row.Cells[0], proof.Figure(row.Ratio), row.Goal))
		}
	}
	return nil
}

// draw draws a picture; the page names it by its folder's name, beside which it lies.
func (w *writer) draw(p *proof.Picture) error {
	if w.pictures == "" {
		return nil
	}
	if err := os.MkdirAll(w.pictures, 0o755); err != nil {
		return err
	}
	if err := p.Draw(w.pictures); err != nil {
		return err
	}
	p.File = filepath.Base(w.pictures) + "/" + p.File
	return nil
}

// close tells what missed its goal without a reason.
func (w *writer) close() error {
	if len(w.missed) == 0 {
		return nil
	}
	return errors.New("goals are missed, and nobody has said why:\n" + strings.Join(w.missed, "\n"))
}

// machine describes what this runs on.
func machine() string {
	out := fmt.Sprintf("Machine: %d cores", runtime.NumCPU())
	if model := found("/proc/cpuinfo", `model name\s*: (.*)`); model != "" {
		out += " of " + model
	}
	if kib := found("/proc/meminfo", `MemTotal:\s*(\d+) kB`); kib != "" {
		out += ", " + kib[:max(len(kib)-6, 1)] + " GB of memory"
	}
	if system := found("/etc/os-release", `PRETTY_NAME="(.*)"`); system != "" {
		out += ", " + system
	}
	out += ", " + runtime.Version()
	return out + commit() + "."
}

// commit is what was measured, with a word where it is not quite that; the documents are what is being written.
func commit() string {
	name, err := exec.Command("git", "describe", "--always").Output()
	if err != nil {
		return ""
	}
	changed, err := exec.Command("git", "status", "--porcelain", "--untracked-files=no", "--", ":/", ":(top,exclude)gateway/docs").Output()
	if err != nil || len(changed) > 0 {
		return ", changed since commit " + strings.TrimSpace(string(name))
	}
	return ", commit " + strings.TrimSpace(string(name))
}

// found returns what a pattern's group finds in a file; nothing where there is none.
func found(file, pattern string) string {
	text, err := os.ReadFile(file)
	if err != nil {
		return ""
	}
	match := regexp.MustCompile(pattern).FindSubmatch(text)
	if match == nil {
		return ""
	}
	return string(match[1])
}
