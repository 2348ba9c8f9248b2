package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowdatum/clients/prove/internal/proof"
)

func TestChoose(t *testing.T) {
	all, err := choose(nil)
	if err != nil || len(all) != len(parts) {
		t.Errorf("with none named: %d of %d, %v", len(all), len(parts), err)
	}
	for _, p := range parts {
		if got, err := choose([]string{p.name}); err != nil || len(got) != 1 || got[0].name != p.name {
			t.Errorf("%s: got %v, %v", p.name, got, err)
		}
	}
	if _, err := choose([]string{"all"}); err == nil || !strings.Contains(err.Error(), `"all" is nothing`) {
		t.Errorf("an unknown part: %v", err)
	}
}

// A page says what it ran on; it ends in an error where a goal is missed and nobody said why, and is written all the same.
func TestPage(t *testing.T) {
	table := proof.Table{Title: "Speed", Columns: []string{"what"}, Rows: []proof.Row{{Cells: []string{"turning"}, Ratio: 0.4, Goal: proof.AtLeast(0.5)}},
		Pictures: []proof.Picture{{File: "speed.svg", Title: "Speed", Lines: []proof.Line{{Points: []proof.Point{{X: 1, Y: 1}, {X: 2, Y: 2}}}}}}}
	shown := part{"speed", true, func(context.Context, proof.Setting) ([]proof.Table, error) { return []proof.Table{table}, nil }}
	broken := part{"broken", false, func(context.Context, proof.Setting) ([]proof.Table, error) { return nil, errors.New("no disk") }}
	pictures := filepath.Join(t.TempDir(), "prove")
	out := &bytes.Buffer{}
	w := &writer{out: out, pictures: pictures}
	if err := prove(t.Context(), []part{shown, broken}, proof.Setting{}, w); err == nil || err.Error() != "broken: no disk" {
		t.Errorf("a part that cannot run: %v", err)
	}
	if err := w.close(); err == nil || !strings.Contains(err.Error(), "Speed, turning: 0.4, wanted ≥ 0.5") {
		t.Errorf("a missed goal: %v", err)
	}
	for _, want := range []string{"# Proof\n", "Machine: ", " cores", "| turning | ≥ 0.5 | **0.4** missed |", "![Speed](prove/speed.svg)"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the page lacks %q:\n%s", want, out)
		}
	}
	if _, err := os.Stat(filepath.Join(pictures, "speed.svg")); err != nil {
		t.Error(err)
	}
}
