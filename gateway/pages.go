package gateway

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"io/fs"
	"maps"
	"net/http"
	"strings"
	"time"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/text"

	"rowdatum/proto"
)

//go:embed docs/*.md docs/alerts.yml docs/bom.json docs/prove/*.svg docs/bench/*.svg html
var files embed.FS

// chapter is one page of /docs; its Markdown file has the name of its path.
type chapter struct{ Path, Title string }

var chapters = []chapter{
	{"/docs", "Start"},
	{"/docs/open-a-job", "Open a job"},
	{"/docs/follow-a-job", "Follow a job"},
	{"/docs/get-the-sheet", "Get the sheet"},
	{"/docs/receive-what-was-signed", "Receive what was signed"},
	{"/docs/verify-a-job", "Verify a signed job"},
	{"/docs/plans", "Plans"},
	{"/docs/jobs", "Jobs"},
	{"/docs/worked-example", "Worked example"},
	{"/docs/field", "In the field"},
	{"/docs/hooks", "Hooks and changes"},
	{"/docs/access", "Access"},
	{"/docs/running", "Running it"},
	{"/docs/errors", "Errors"},
	{"/docs/adjusters", "Adjusters"},
	{"/docs/adjusters-go", "Adjusters in Go"},
	{"/docs/adjusters-any-language", "Adjusters in any language"},
	{"/docs/running-adjusters", "Running adjusters"},
	{"/docs/safety", "Safety"},
	{"/docs/prove", "What is proven"},
	{"/docs/bench", "Benchmarks"},
	{"/docs/licences", "Licences"},
	{apiPath, "API"},
}

const apiPath = "/docs/api"

// plainFiles are served below /docs as they stand: alerts for whoever watches the service by its metrics, and
// what the programs are made of.
var plainFiles = map[string]string{"alerts.yml": "application/yaml", "bom.json": "application/vnd.cyclonedx+json; version=1.7"}

// allPages makes everything that is served from memory.
func (g *gateway) allPages() (map[string]http.Handler, error) {
	style, err := files.ReadFile("html/style.css")
	if err != nil {
		return nil, err
	}
	script, err := files.ReadFile("html/door.js")
	if err != nil {
		return nil, err
	}
	pages, err := frontPages()
	if err != nil {
		return nil, err
	}
	maps.Copy(pages, map[string]http.Handler{
		"/healthz":        onlyGet(g.healthz),
		"/readyz":         onlyGet(g.readyz),
		"/openapi.json":   fixed("application/json", proto.OpenAPI),
		"/docs/":          onlyGet(http.RedirectHandler("/docs", http.StatusPermanentRedirect).ServeHTTP),
		"/docs/style.css": fixed("text/css; charset=utf-8", style),
		"/door.js":        fixed("text/javascript; charset=utf-8", script),
		"/unpair":         onlyPost(g.unpair),
	})
	plain, err := plainPages()
	if err != nil {
		return nil, err
	}
	maps.Copy(pages, plain)
	if g.Metrics != nil {
		pages["/metrics"] = onlyGet(g.metrics)
	}
	layouts, err := template.New("").Funcs(template.FuncMap{"id": anchor}).ParseFS(files, "html/*.html")
	if err != nil {
		return nil, err
	}
	draw := func(path, layout string, data any) error {
		var out bytes.Buffer
		if err := layouts.ExecuteTemplate(&out, layout, data); err != nil {
			return err
		}
		pages[path] = fixed("text/html; charset=utf-8", out.Bytes())
		return nil
	}
	for _, d := range doors {
		if err := draw(d.Path, "door.html", d); err != nil {
			return nil, err
		}
		pages[d.Path] = scripted(pages[d.Path])
	}
	pages[shareDoor.Path] = posting(pages[shareDoor.Path], g.share)
	for _, c := range chapters {
		body, err := c.body(layouts)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.Path, err)
		}
		if err := draw(c.Path, "chapter.html", chapterPage{c, chapters, body}); err != nil {
			return nil, err
		}
	}
	return pages, nil
}

// plainPages makes what is served as it stands, the pictures of the chapters among it.
func plainPages() (map[string]http.Handler, error) {
	kinds := maps.Clone(plainFiles)
	pictures, err := fs.Glob(files, "docs/*/*.svg")
	if err != nil {
		return nil, err
	}
	for _, picture := range pictures {
		kinds[strings.TrimPrefix(picture, "docs/")] = "image/svg+xml"
	}
	pages := map[string]http.Handler{}
	for name, kind := range kinds {
		text, err := files.ReadFile("docs/" + name)
		if err != nil {
			return nil, err
		}
		pages["/docs/"+name] = fixed(kind, text)
	}
	return pages, nil
}

type chapterPage struct {
	Chapter  chapter
	Chapters []chapter
	Body     template.HTML // ours: made from the files of this package and the API's description
}

func (c chapter) body(layouts *template.Template) (template.HTML, error) {
	var out bytes.Buffer
	if c.Path == apiPath {
		var api description
		if err := json.Unmarshal(proto.OpenAPI, &api); err != nil {
			return "", err
		}
		err := layouts.ExecuteTemplate(&out, "api.html", api)
		return template.HTML(out.String()), err
	}
	source, err := files.ReadFile("docs/" + c.file())
	if err != nil {
		return "", err
	}
	err = renderMarkdown(&out, source)
	return template.HTML(out.String()), err
}

func (c chapter) file() string {
	if c.Path == "/docs" {
		return "index.md"
	}
	return strings.TrimPrefix(c.Path, "/docs/") + ".md"
}

// renderMarkdown writes source as HTML, links between the files turned into links between the pages.
func renderMarkdown(out *bytes.Buffer, source []byte) error {
	md := goldmark.New(goldmark.WithExtensions(extension.Table), goldmark.WithParserOptions(parser.WithAutoHeadingID()))
	tree := md.Parser().Parse(text.NewReader(source))
	err := ast.Walk(tree, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if link, ok := n.(*ast.Link); ok && entering {
			link.Destination = []byte(pageLink(string(link.Destination)))
		}
		return ast.WalkContinue, nil
	})
	if err != nil {
		return err
	}
	return md.Renderer().Render(out, source, tree)
}

func pageLink(target string) string {
	file, place, hasPlace := strings.Cut(target, "#")
	for _, c := range chapters {
		if c.file() == file {
			file = c.Path
		}
	}
	if hasPlace {
		return file + "#" + place
	}
	return file
}

// fixed serves bytes that never change while the process lives. Their hash lets a browser keep them.
func fixed(contentType string, content []byte) http.Handler {
	sum := sha256.Sum256(content)
	etag := `"` + base64.RawURLEncoding.EncodeToString(sum[:12]) + `"`
	return onlyGet(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", contentType)
		w.Header().Set("ETag", etag)
		http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(content))
	})
}

// onlyPost takes no body, so that there is nothing to read wrong.
func onlyPost(h http.HandlerFunc) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodPost {
			writeFault(w, wrongMethod([]string{http.MethodPost}))
			return
		}
		h(w, r)
	})
}

func onlyGet(h http.HandlerFunc) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			writeFault(w, wrongMethod([]string{http.MethodGet, http.MethodHead}))
			return
		}
		h(w, r)
	})
}
