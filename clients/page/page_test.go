package page

import (
	"bytes"
	"compress/gzip"
	"io"
	"io/fs"
	"regexp"
	"strings"
	"testing"
)

func TestFiles(t *testing.T) {
	files, err := Files()
	if err != nil {
		t.Fatal(err)
	}
	byPath := map[string]File{}
	for _, f := range files {
		if _, twice := byPath[f.Path]; twice {
			t.Errorf("%s is served twice", f.Path)
		}
		byPath[f.Path] = f
		r, err := gzip.NewReader(bytes.NewReader(f.Gzip))
		if err != nil {
			t.Fatal(err)
		}
		if body, err := io.ReadAll(r); err != nil || !bytes.Equal(body, f.Body) {
			t.Errorf("%s: what is packed is not what is served: %v", f.Path, err)
		}
	}
	if module := string(byPath["/app/units.js"].Body); strings.Contains(module, "@param") || !strings.Contains(module, "export function length(mm, scale) {") {
		t.Errorf("a module is served with its doc comments, or without its code:\n%s", module)
	}
	for _, path := range []string{"/", "/sw.js", "/app/main.js", "/app/style.css", "/app/words/en.js", listPath} {
		if len(byPath[path].Body) == 0 {
			t.Errorf("%s is not served", path)
		}
	}
	list := string(byPath[listPath].Body)
	for path := range byPath {
		if kept := strings.Contains(list, `"`+path+`"`); kept == (path == workerPath || path == listPath) {
			t.Errorf("%s in the list that the service worker keeps: %v", path, kept)
		}
	}
	again, err := Files()
	if err != nil || string(again[len(again)-1].Body) != list {
		t.Errorf("the list differs from one start to the next: %v", err)
	}
}

// TestNothingInline has no script, style or handler stand in the page itself, no address of elsewhere, and no
// way from a text to markup.
func TestNothingInline(t *testing.T) {
	forbidden := regexp.MustCompile(`<style|<script>|\sstyle=|\son[a-z]+="|innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function|https?://`)
	namespace := "http://www.w3.org/2000/svg" // a name, not an address
	err := fs.WalkDir(App(), ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		body, err := fs.ReadFile(App(), name)
		if err != nil {
			return err
		}
		text := strings.ReplaceAll(string(body), namespace, "")
		for _, found := range forbidden.FindAllString(text, -1) {
			t.Errorf("%s holds %q", name, found)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
