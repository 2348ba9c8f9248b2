package gateway

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"golang.org/x/net/html"
	"google.golang.org/genproto/googleapis/rpc/code"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/reflect/protoreflect"

	"rowdatum/proto"
	pb "rowdatum/proto/gen/rowdatum/v1"
)

// elements returns every element of a page.
func elements(t *testing.T, page string) []*html.Node {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	var out []*html.Node
	for n := range root.Descendants() {
		if n.Type == html.ElementNode {
			out = append(out, n)
		}
	}
	return out
}

func attribute(n *html.Node, name string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val, true
		}
	}
	return "", false
}

func TestPages(t *testing.T) {
	front := serve(t, &fakeService{}, Options{})
	ids := map[string]map[string]bool{} // page: its anchors
	links := map[string][]string{}
	paths := []string{"/"}
	for _, c := range chapters {
		paths = append(paths, c.Path)
	}
	for _, path := range paths {
		got := send(t, front, "GET", path, "")
		if got.StatusCode != 200 || got.Header.Get("Content-Type") != "text/html; charset=utf-8" || got.Header.Get("Content-Security-Policy") == "" {
			t.Fatalf("%s: %s %v", path, got.Status, got.Header)
		}
		ids[path] = map[string]bool{}
		viewport, headings := false, 0
		for _, n := range elements(t, got.text) {
			switch n.Data {
			case "script", "img", "iframe", "object", "embed", "form", "style", "base", "svg", "video", "audio":
				t.Errorf("%s has a <%s>", path, n.Data)
			case "h1":
				headings++
			case "meta":
				name, _ := attribute(n, "name")
				viewport = viewport || name == "viewport"
			}
			for _, a := range n.Attr {
				if strings.HasPrefix(a.Key, "on") || a.Key == "style" && n.Data != "td" && n.Data != "th" || a.Key == "src" || a.Key == "srcset" {
					t.Errorf("%s: <%s %s=%q>", path, n.Data, a.Key, a.Val)
				}
			}
			if id, ok := attribute(n, "id"); ok {
				if ids[path][id] {
					t.Errorf("%s: id %q twice", path, id)
				}
				ids[path][id] = true
			}
			if href, ok := attribute(n, "href"); ok {
				links[path] = append(links[path], href)
			}
		}
		if !viewport || headings != 1 {
			t.Errorf("%s: viewport %v, %d first headings", path, viewport, headings)
		}
	}
	for path, hrefs := range links {
		for _, href := range hrefs {
			u, err := url.Parse(href)
			if err != nil || u.IsAbs() || u.Host != "" {
				t.Errorf("%s links to %q, which is elsewhere", path, href)
				continue
			}
			target := u.Path
			if target == "" {
				target = path
			} else if got := send(t, front, "GET", target, ""); got.StatusCode != 200 {
				t.Errorf("%s links to %s: %s", path, href, got.Status)
			}
			if u.Fragment != "" && !ids[target][u.Fragment] {
				t.Errorf("%s links to %s, where there is no such place", path, href)
			}
		}
	}
}

func TestEveryMarkdownFileIsAChapter(t *testing.T) {
	served := map[string]bool{}
	for _, c := range chapters {
		served[c.file()] = true
	}
	found, err := filepath.Glob("docs/*.md")
	if err != nil || len(found) == 0 {
		t.Fatal(found, err)
	}
	for _, f := range found {
		if !served[filepath.Base(f)] {
			t.Errorf("%s is no chapter", f)
		}
	}
}

func TestFixedContentIsKeptByItsHash(t *testing.T) {
	front := serve(t, &fakeService{}, Options{})
	for _, path := range []string{"/", "/docs/plans", "/docs/style.css", "/openapi.json"} {
		first := send(t, front, "GET", path, "")
		etag := first.Header.Get("ETag")
		again := send(t, front, "GET", path, "", "If-None-Match", etag)
		other := send(t, front, "GET", path, "", "If-None-Match", `"other"`)
		head := send(t, front, "HEAD", path, "")
		if etag == "" || first.Header.Get("Cache-Control") != "no-cache" || again.StatusCode != http.StatusNotModified || again.text != "" || other.text != first.text || head.StatusCode != 200 || head.text != "" {
			t.Errorf("%s: %s, again %s, other %s, head %s", path, first.Status, again.Status, other.Status, head.Status)
		}
	}
	if got := send(t, front, "GET", "/openapi.json", ""); got.text != string(proto.OpenAPI) || got.Header.Get("Content-Type") != "application/json" {
		t.Errorf("/openapi.json is not the description: %v", got.Header)
	}
}

func TestStyleSheetLoadsNothing(t *testing.T) {
	css, err := files.ReadFile("html/style.css")
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(css, []byte("url(")) || bytes.Contains(css, []byte("@import")) || !bytes.Contains(css, []byte("prefers-color-scheme: dark")) {
		t.Error("the style sheet loads something, or has no dark half")
	}
}

// TestPlansPageHasEveryField keeps the page and the contract together: every field and every word that
// the contract has must stand in the page.
func TestPlansPageHasEveryField(t *testing.T) {
	page, err := os.ReadFile("docs/plans.md")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[protoreflect.FullName]bool{}
	fields := 0
	var walk func(md protoreflect.MessageDescriptor)
	walk = func(md protoreflect.MessageDescriptor) {
		if seen[md.FullName()] || md.ParentFile().Package() != "rowdatum.v1" {
			return
		}
		seen[md.FullName()] = true
		for i := range md.Fields().Len() {
			fd := md.Fields().Get(i)
			fields++
			if name := fd.JSONName(); !bytes.Contains(page, []byte("`"+name+"`")) && !bytes.Contains(page, []byte("### "+name+"\n")) {
				t.Errorf("%s is not in docs/plans.md", fd.FullName())
			}
			if e := fd.Enum(); e != nil {
				for j := 1; j < e.Values().Len(); j++ {
					if word := string(e.Values().Get(j).Name()); !bytes.Contains(page, []byte("`"+word+"`")) {
						t.Errorf("%s of %s is not in docs/plans.md", word, fd.FullName())
					}
				}
			}
			if fd.Message() != nil {
				walk(fd.Message())
			}
		}
	}
	walk((&pb.ComputePlanRequest{}).ProtoReflect().Descriptor())
	walk((&pb.Plan{}).ProtoReflect().Descriptor())
	if fields < 40 {
		t.Errorf("only %d fields walked", fields)
	}
}

// TestErrorsPageTellsTheTruth holds the table of codes to what the gateway does, and wants every
// reason of its own in the page.
func TestErrorsPageTellsTheTruth(t *testing.T) {
	page, err := os.ReadFile("docs/errors.md")
	if err != nil {
		t.Fatal(err)
	}
	lines := regexp.MustCompile("(?m)^\\| `([A-Z_]+)` \\| (\\d+) \\| ([^|]+) \\|").FindAllSubmatch(page, -1)
	if len(lines) < 12 {
		t.Fatalf("%d lines in the table", len(lines))
	}
	for _, l := range lines {
		n, _ := strconv.Atoi(string(l[2]))
		if want := code.Code_value[string(l[1])]; int32(n) != want {
			t.Errorf("%s is %d, not %d", l[1], want, n)
		}
		if status := fmt.Sprint(runtime.HTTPStatusFromCode(codes.Code(n))); !strings.Contains(string(l[3]), status) {
			t.Errorf("%s is answered as %s, the page says %q", l[1], status, l[3])
		}
	}
	sources, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	reasons := regexp.MustCompile(`codes\.[A-Z]\w+, "([A-Z_]+)"`)
	found := 0
	for _, file := range sources {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range reasons.FindAllSubmatch(text, -1) {
			found++
			if !bytes.Contains(page, append(append([]byte("`"), m[1]...), '`')) {
				t.Errorf("reason %s is not in docs/errors.md", m[1])
			}
		}
	}
	if found < 8 {
		t.Errorf("only %d reasons found", found)
	}
}
