package adjustertest

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestUntranslated(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	for name, source := range map[string]string{
		"say.go":     "package main\nfunc (bar) Say(m move) string { return m.In(\"Move it %s.\") + m.In(`Stop.`) + m.In(chosen) + in(\"x\") }\n",
		"spanish.go": "package main\nvar spanish = adjuster.Language{Tag: \"es\", Words: map[string]string{\"Move it %s.\": \"Muévalo %s.\"}}\n",
		"german.go":  "package main\nvar german = adjuster.Language{Tag: \"de\", Words: map[string]string{\"Stop.\": \"Halt.\", \"Move it %s.\": \"Bewegen Sie ihn %s.\"}}\n",
	} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(source), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	got, err := untranslated(folder)
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 1 || !strings.HasSuffix(got[0], `say.go:2:62: a language has no words for "Stop."`) {
		t.Errorf("found %q", got)
	}
	if slices.ContainsFunc(got, func(s string) bool { return strings.Contains(s, "Move it") }) {
		t.Errorf("what both languages say was found: %q", got)
	}
}
