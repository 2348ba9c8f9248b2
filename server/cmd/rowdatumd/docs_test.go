package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/text"
)

const docsFolder = "../../../gateway/docs"

// taskPages go on from one another; a newcomer reads them in this order.
var taskPages = []string{"open-a-job", "follow-a-job", "get-the-sheet", "receive-what-was-signed", "verify-a-job"}

// TestDocs does what every block of every page says, in the order in which it stands there, and holds what
// happens against what the page shows. The worked example is written by a run of its own: TestWorkedExample.
func TestDocs(t *testing.T) {
	for _, walk := range walks(t) {
		t.Run(walk[0], func(t *testing.T) {
			t.Parallel()
			r := newRoom(t)
			for _, page := range walk {
				r.read(filepath.Join(docsFolder, page+".md"))
			}
		})
	}
}

// walks are all pages; each is read in a room of its own, but for those that go on from one another.
func walks(t *testing.T) [][]string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(docsFolder, "*.md"))
	if err != nil || len(files) < len(taskPages) {
		t.Fatalf("%d pages, %v: the test looks at nothing", len(files), err)
	}
	out := [][]string{taskPages}
	for _, file := range files {
		page := strings.TrimSuffix(filepath.Base(file), ".md")
		if !slices.Contains(taskPages, page) && page != strings.TrimSuffix(filepath.Base(workedExample), ".md") {
			out = append(out, []string{page})
		}
	}
	return out
}

// block is one example of a page. What stands behind the kind in its first line says more than a reader sees.
type block struct{ kind, note, text string }

// answers is whether b shows what the block before it says.
func (b block) answers() bool { return b.note == "" && (b.kind == "json" || b.kind == "text") }

// file is the name under which a reader is told to save b.
func (b block) file() string {
	if strings.ContainsAny(b.note, "./") || b.kind == "dockerfile" {
		return b.note
	}
	return ""
}

// blocksOf finds every block of a page, wherever it stands, with the parser that the page is served by.
func blocksOf(t *testing.T, page string) (out []block) {
	t.Helper()
	source, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	tree := goldmark.New(goldmark.WithExtensions(extension.Table)).Parser().Parse(text.NewReader(source))
	err = ast.Walk(tree, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		var first string
		switch n := n.(type) {
		case *ast.FencedCodeBlock:
			if n.Info != nil {
				first = string(n.Info.Value(source))
			}
		case *ast.CodeBlock:
		default:
			return ast.WalkContinue, nil
		}
		if entering {
			kind, note, _ := strings.Cut(first, " ")
			out = append(out, block{kind: kind, note: note, text: string(n.Lines().Value(source))})
		}
		return ast.WalkContinue, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// read does what a page says.
func (r *room) read(page string) {
	r.t.Helper()
	blocks := blocksOf(r.t, page)
	r.page = filepath.Base(page)
	r.prepare(blocks)
	for i := 0; i < len(blocks); i++ {
		b, next := blocks[i], block{}
		if b.kind == "sh" && i+1 < len(blocks) && blocks[i+1].answers() {
			i++
			next = blocks[i]
		}
		r.save(b)
		r.do(b, next)
	}
	r.endFollowing()
}

// do is where each kind of block finds somebody who does it, or is refused.
func (r *room) do(b, answer block) {
	r.t.Helper()
	switch {
	case b.kind == "sh" && strings.Contains(b.text, "curl -sN "):
		r.follow(b, answer)
	case b.kind == "sh" && strings.HasPrefix(b.text, "node ") && !r.hasNode():
	case b.kind == "sh":
		r.paste(b, answer)
	case b.kind == "json" && b.note == "received":
		r.received(b)
	case b.kind == "text" && b.note == "handshake":
		r.handshake(b)
	case b.kind == "js":
		r.script(b)
	case b.kind == "proto":
		r.contract(b)
	case strings.HasSuffix(b.file(), ".service"):
		r.unit(b)
	case b.kind == "dockerfile":
		r.container(b)
	case b.kind == "yaml" && b.file() != "":
		r.scrape(b)
	case b.file() != "":
		r.used(b)
	default:
		r.t.Errorf("%s: nobody does this block (%q %q), so nobody knows whether it is right:\n%s", r.page, b.kind, b.note, b.text)
	}
}

// patience is how long what comes by itself may take on a busy machine.
const patience = 20 * time.Second

// paste pastes a shell block and compares.
func (r *room) paste(b, answer block) {
	r.t.Helper()
	shell := r.here(b.text)
	out, err := r.run(shell)
	comes := strings.HasPrefix(b.text, "rowdatum styles") // looks at what comes by itself
	for end := time.Now().Add(patience); comes && err == nil && answer.compare(r, out) != nil && time.Now().Before(end); {
		time.Sleep(100 * time.Millisecond)
		out, err = r.run(shell)
	}
	refused := strings.Contains(string(out), `"fieldViolations"`) || strings.HasPrefix(string(out), `{"code"`)
	switch {
	case err != nil:
		r.t.Fatalf("%s: %v\n%s", r.page, err, shell)
	case refused && !strings.Contains(answer.text, `"code"`):
		r.t.Fatalf("%s: refused\n%s\n%s", r.page, shell, out)
	}
	r.learn(out)
	if err := answer.compare(r, out); err != nil {
		r.t.Errorf("%s: %v\n%s\nanswered\n%s", r.page, err, shell, out)
	}
}

// compare holds what the page shows against what came: every line of text, or every field that is shown.
// … stands for anything.
func (b block) compare(r *room, out []byte) error {
	if b.kind != "json" {
		for line := range strings.Lines(r.here(b.text)) {
			if line = strings.TrimSuffix(strings.TrimSpace(line), "…"); !strings.Contains(string(out), line) {
				return fmt.Errorf("%q is shown and does not come", line)
			}
		}
		return nil
	}
	var shown, came any
	if err := json.Unmarshal([]byte(r.here(b.text)), &shown); err != nil {
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
	case string:
		if c, isText := came.(string); isText && alike(s, c) {
			return nil
		}
	}
	if shown != came {
		return fmt.Errorf("%s is %v, %v is shown", path, came, shown)
	}
	return nil
}

// alike is for texts that no two runs have the same: with … in them, or moments.
func alike(shown, came string) bool {
	if head, tail, cut := strings.Cut(shown, "…"); cut {
		return len(came) > len(head)+len(tail) && strings.HasPrefix(came, head) && strings.HasSuffix(came, tail)
	}
	_, err := time.Parse(time.RFC3339Nano, shown)
	_, cameErr := time.Parse(time.RFC3339Nano, came)
	return err == nil && cameErr == nil
}

// following is a call that runs beside the others until its page ends.
type following struct {
	shown block
	file  string // what it prints
	cmd   *exec.Cmd
}

// follow pastes what runs until somebody ends it, and goes on once it has said something.
func (r *room) follow(b, answer block) {
	r.t.Helper()
	f := following{shown: answer, file: filepath.Join(r.root, fmt.Sprintf("followed-%d", len(r.following))), cmd: r.command(r.t.Context(), "exec "+r.here(b.text))}
	out, err := os.Create(f.file)
	r.must(err)
	defer out.Close()
	f.cmd.Stdout = out
	r.must(f.cmd.Start())
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if said, err := out.Stat(); err != nil || said.Size() > 0 {
			break
		}
	}
	r.following = append(r.following, f)
}

// endFollowing presses Ctrl-C once what is followed has told of the signature.
func (r *room) endFollowing() {
	r.t.Helper()
	for _, f := range r.following {
		var out []byte
		err := errors.New("nothing came")
		for end := time.Now().Add(patience); err != nil && time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			out, _ = os.ReadFile(f.file)
			if err = f.shown.compare(r, out); err == nil && !bytes.Contains(out, []byte(`"SIGNED"`)) {
				err = errors.New("it tells of no signature")
			}
		}
		_ = f.cmd.Process.Signal(os.Interrupt)
		_ = f.cmd.Wait() // tells that it was interrupted
		if err != nil {
			r.t.Errorf("%s: what was followed: %v\n%.2000s", r.page, err, out)
		}
	}
	r.following = nil
}

var (
	secretLine = regexp.MustCompile(`(?m)^rd_\S+$`)
	listedKey  = regexp.MustCompile(`(?m)^(\S+) +creek +`)
)

// learn keeps what an answer shows only once and later blocks can only leave open.
func (r *room) learn(out []byte) {
	if secret := secretLine.Find(out); secret != nil {
		r.told["rd_…"] = string(secret)
	}
	if id := listedKey.FindSubmatch(out); id != nil {
		r.told["KEY_ID"] = string(id[1])
	}
}
