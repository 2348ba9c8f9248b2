package gateway

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"golang.org/x/net/html"
	"google.golang.org/genproto/googleapis/rpc/code"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/dynamicpb"

	api "rowdatum/proto"
	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/httprules"
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
	var paths []string
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
			case "script", "iframe", "object", "embed", "form", "style", "base", "svg", "video", "audio":
				t.Errorf("%s has a <%s>", path, n.Data)
			case "h1":
				headings++
			case "meta":
				name, _ := attribute(n, "name")
				viewport = viewport || name == "viewport"
			}
			for _, a := range n.Attr {
				if n.Data == "img" && a.Key == "src" { // a picture of our own
					links[path] = append(links[path], "/docs/"+a.Val)
					continue
				}
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

// TestDoors has the pages that a phone opens: one script of ours and none inside the page, every field
// with a label, the outcome announced, and a secret that no request for the page can carry.
func TestDoors(t *testing.T) {
	front := serve(t, &fakeService{}, Options{})
	script := send(t, front, "GET", "/door.js", "")
	if script.Header.Get("Content-Type") != "text/javascript; charset=utf-8" || strings.Contains(script.text, "innerHTML") || strings.Contains(script.text, "eval") {
		t.Errorf("%v %s", script.Header, script.text)
	}
	for _, path := range []string{"/pair", "/share"} {
		got := send(t, front, "GET", path, "")
		if got.StatusCode != 200 || got.Header.Get("Content-Security-Policy") != doorPolicy || strings.Contains(doorPolicy, "unsafe") {
			t.Fatalf("%s: %s %v", path, got.Status, got.Header)
		}
		count := map[string]int{}
		ids := map[string]bool{}
		for _, n := range elements(t, got.text) {
			count[n.Data]++
			for _, a := range n.Attr {
				switch {
				case a.Key == "id":
					ids[a.Val] = true
				case a.Key == "name" && n.Data == "input", a.Key == "style", strings.HasPrefix(a.Key, "on"), a.Key == "action":
					t.Errorf("%s: <%s %s=%q>", path, n.Data, a.Key, a.Val)
				case a.Key == "src" && a.Val != "/door.js":
					t.Errorf("%s loads %s", path, a.Val)
				}
			}
			if n.Data == "script" && n.FirstChild != nil {
				t.Errorf("%s: a script inside the page", path)
			}
			if target, ok := attribute(n, "for"); ok && n.Data == "label" {
				count["label for "+target]++
			}
			if role, _ := attribute(n, "role"); role == "status" {
				count["status"]++
			}
		}
		if count["script"] != 1 || count["h1"] != 1 || count["label for secret"] != 1 || count["status"] != 1 || count["noscript"] != 1 || !ids["secret"] || !ids["door"] || !ids["outcome"] {
			t.Errorf("%s: %v %v", path, count, ids)
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

// TestDocsWithSlash: whoever types the slash finds the first page too.
func TestDocsWithSlash(t *testing.T) {
	front := serve(t, &fakeService{}, Options{})
	if got := send(t, front, "GET", "/docs/", ""); got.StatusCode != http.StatusOK || got.text != send(t, front, "GET", "/docs", "").text {
		t.Errorf("/docs/ is %s", got.Status)
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
	if got := send(t, front, "GET", "/openapi.json", ""); got.text != string(api.OpenAPI) || got.Header.Get("Content-Type") != "application/json" {
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

// TestPagesHaveEveryField keeps pages and contract together: every field and every word that the contract
// has must stand in the page that is about it.
func TestPagesHaveEveryField(t *testing.T) {
	told := map[protoreflect.FullName]bool{} // by an earlier page
	for _, c := range []struct {
		page   string
		fields int
		about  []proto.Message
	}{
		{"plans", 40, []proto.Message{&pb.ComputePlanRequest{}, &pb.Plan{}}},
		{"access", 25, requestsAndAnswers(t, "AccessService")},
		{"jobs", 120, slices.Concat(requestsAndAnswers(t, "PlanterService"), requestsAndAnswers(t, "FixtureService"), requestsAndAnswers(t, "JobService"))},
		{"field", 90, slices.Concat(requestsAndAnswers(t, "FieldService"), requestsAndAnswers(t, "DigService"), requestsAndAnswers(t, "WearService"))},
		{"hooks", 30, slices.Concat(requestsAndAnswers(t, "HookService"), requestsAndAnswers(t, "ChangeService"))},
	} {
		text, err := os.ReadFile("docs/" + c.page + ".md")
		if err != nil {
			t.Fatal(err)
		}
		fields := 0
		for _, m := range c.about {
			fields += wantFields(t, c.page, string(text), m.ProtoReflect().Descriptor(), told)
		}
		if fields < c.fields {
			t.Errorf("%s: only %d fields walked", c.page, fields)
		}
	}
}

func wantFields(t *testing.T, page, text string, md protoreflect.MessageDescriptor, told map[protoreflect.FullName]bool) (fields int) {
	t.Helper()
	if told[md.FullName()] || md.IsMapEntry() || md.ParentFile().Package() != "rowdatum.v1" {
		return 0
	}
	told[md.FullName()] = true
	for i := range md.Fields().Len() {
		fd := md.Fields().Get(i)
		fields++
		if name := fd.JSONName(); !strings.Contains(text, "`"+name+"`") && !strings.Contains(text, "### "+name+"\n") {
			t.Errorf("%s is not in docs/%s.md", fd.FullName(), page)
		}
		if e := fd.Enum(); e != nil && !told[e.FullName()] {
			told[e.FullName()] = true
			for j := 1; j < e.Values().Len(); j++ {
				if word := string(e.Values().Get(j).Name()); !strings.Contains(text, "`"+word+"`") {
					t.Errorf("%s of %s is not in docs/%s.md", word, fd.FullName(), page)
				}
			}
		}
		if fd.Message() != nil {
			fields += wantFields(t, page, text, fd.Message(), told)
		}
	}
	return fields
}

// requestsAndAnswers returns every message that a service takes or gives.
func requestsAndAnswers(t *testing.T, service protoreflect.FullName) (out []proto.Message) {
	t.Helper()
	d, err := protoregistry.GlobalFiles.FindDescriptorByName("rowdatum.v1." + service)
	if err != nil {
		t.Fatal(err)
	}
	methods := d.(protoreflect.ServiceDescriptor).Methods()
	for i := range methods.Len() {
		out = append(out, dynamicpb.NewMessage(methods.Get(i).Input()), dynamicpb.NewMessage(methods.Get(i).Output()))
	}
	return out
}

// TestPagesHaveEveryMethod wants each verb of the job, and each address of the rest, in a page for people.
func TestPagesHaveEveryMethod(t *testing.T) {
	var all strings.Builder
	for _, file := range []string{"plans", "index", "jobs", "access", "field", "hooks"} {
		text, err := os.ReadFile("docs/" + file + ".md")
		if err != nil {
			t.Fatal(err)
		}
		all.Write(text)
	}
	for _, rule := range httprules.All() {
		path := bound.ReplaceAllString(rule.Template, "$2")
		last := path[strings.LastIndexAny(path, "/:"):]
		if last == "/*" {
			last = path[strings.LastIndex(strings.TrimSuffix(path, "/*"), "/"):]
			last = strings.TrimSuffix(last, "*")
		}
		if !strings.Contains(all.String(), last) {
			t.Errorf("%s %s is in no page (%q)", rule.Verb, rule.Template, last)
		}
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
	for _, m := range regexp.MustCompile(`\(reason ([A-Z_]+)\)|\(([A-Z]+_[A-Z_]+)\)`).FindAllSubmatch(api.OpenAPI, -1) { // what the contract promises
		found++
		if reason := slices.Concat(m[1], m[2]); !bytes.Contains(page, slices.Concat([]byte("`"), reason, []byte("`"))) {
			t.Errorf("reason %s is not in docs/errors.md", reason)
		}
	}
	if found < 20 {
		t.Errorf("only %d reasons found", found)
	}
}
