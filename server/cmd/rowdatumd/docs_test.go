package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// taskPages are the pages of the docs whose shell blocks a newcomer pastes one after the other.
var taskPages = []string{"open-a-job", "follow-a-job", "get-the-sheet", "receive-what-was-signed"}

var fence = regexp.MustCompile("(?ms)^```(\\w*)\n(.*?)^```$")

// pasted is one shell block, and what the page shows as its answer.
type pasted struct{ page, shell, kind, shown string }

// What stands on the pages by task works as pasted, and answers what the page shows.
func TestTaskPages(t *testing.T) {
	base := start(t, bundle()).url("")
	dir := t.TempDir()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	for _, page := range taskPages {
		var following []*bytes.Buffer
		var ends []func() error
		for _, e := range examples(t, page) {
			e.shell = strings.ReplaceAll(e.shell, "http://127.0.0.1:7480", base)
			if strings.Contains(e.shell, "curl -sN ") { // runs beside the others
				out, end := follow(t, ctx, dir, e.shell)
				following, ends = append(following, out), append(ends, end)
				continue
			}
			out, err := paste(ctx, dir, e.shell)
			if err != nil {
				t.Fatalf("%s: %v\n%s", page, err, e.shell)
			}
			if err := e.compare(out); err != nil {
				t.Errorf("%s: %v\n%s\nanswered\n%s", page, err, e.shell, out)
			}
		}
		for i, end := range ends {
			if err := end(); err != nil || !strings.Contains(following[i].String(), `"SIGNED"`) {
				t.Errorf("%s: %v; what was followed until the signature: %s", page, err, following[i])
			}
		}
	}
}

// follow pastes what runs until somebody ends it, here after 5 s; end waits for that.
func follow(t *testing.T, ctx context.Context, dir, shell string) (out *bytes.Buffer, end func() error) {
	t.Helper()
	out = &bytes.Buffer{}
	cmd := exec.CommandContext(ctx, "bash", "-c", "exec timeout -s INT 5 "+shell)
	cmd.Dir, cmd.Stdout, cmd.WaitDelay = dir, out, time.Second
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return out, func() error {
		if err := cmd.Wait(); err != nil && cmd.ProcessState.ExitCode() != 124 { // 124: ended by timeout
			return err
		}
		return nil
	}
}

// examples reads a page; a block that shows an answer stands behind its shell block.
func examples(t *testing.T, page string) []pasted {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "gateway", "docs", page+".md"))
	if err != nil {
		t.Fatal(err)
	}
	var out []pasted
	for _, block := range fence.FindAllStringSubmatch(string(text), -1) {
		if block[1] == "sh" {
			out = append(out, pasted{page: page, shell: block[2]})
		} else if len(out) > 0 {
			out[len(out)-1].kind, out[len(out)-1].shown = block[1], block[2]
		}
	}
	if len(out) == 0 {
		t.Fatalf("%s has no examples: the test looks at nothing", page)
	}
	return out
}

func paste(ctx context.Context, dir, shell string) ([]byte, error) {
	cmd := exec.CommandContext(ctx, "bash", "-e", "-o", "pipefail", "-c", shell)
	cmd.Dir = dir
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("%w: %s", err, &complaint)
	}
	if bytes.Contains(out, []byte(`"fieldViolations"`)) || bytes.HasPrefix(out, []byte(`{"code"`)) {
		return nil, fmt.Errorf("refused: %s", out)
	}
	return out, nil
}

// compare holds what the page shows against what came: every line of text, or every field that is shown.
func (e pasted) compare(out []byte) error {
	if e.kind != "json" {
		for _, line := range strings.Split(strings.TrimSpace(e.shown), "\n") {
			if !bytes.Contains(out, []byte(line)) {
				return fmt.Errorf("%q is shown and does not come", line)
			}
		}
		return nil
	}
	var shown, came any
	if err := json.Unmarshal([]byte(e.shown), &shown); err != nil {
		return fmt.Errorf("what is shown is no JSON: %w", err)
	}
	if err := json.Unmarshal(out, &came); err != nil {
		return fmt.Errorf("what came is no JSON: %w", err)
	}
	return within(shown, came, "answer")
}

// within reports where came lacks something of shown; fields that are not shown do not count.
func within(shown, came any, path string) error {
	switch s := shown.(type) {
	case map[string]any:
		c, _ := came.(map[string]any)
		for name, value := range s {
			if err := within(value, c[name], path+"."+name); err != nil {
				return err
			}
		}
		return nil
	case []any:
		c, _ := came.([]any)
		if len(c) != len(s) {
			return fmt.Errorf("%s has %d items, %d are shown", path, len(c), len(s))
		}
		for i := range s {
			if err := within(s[i], c[i], fmt.Sprintf("%s[%d]", path, i)); err != nil {
				return err
			}
		}
		return nil
	}
	if shown != came {
		return fmt.Errorf("%s is %v, %v is shown", path, came, shown)
	}
	return nil
}
