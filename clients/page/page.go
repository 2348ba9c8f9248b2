package page

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"strings"

	"rowdatum/clients/js"
)

//go:embed app
var app embed.FS

// App is what the page is made of, index.html at its root.
func App() fs.FS {
	root, err := fs.Sub(app, "app")
	if err != nil {
		panic(err) // the name is a constant
	}
	return root
}

// Policy is the Content-Security-Policy that the page is made for: its own scripts and styles, calls to where it came
// from, and pictures that the service drew.
const Policy = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' data:; " +
	"manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// File is one file as it is served.
type File struct {
	Path string // on the server: "/" is the page, "/sw.js" its service worker, all others lie under "/app/"
	Type string // its media type
	Body []byte
	Gzip []byte // Body, compressed
	ETag string // quoted; from Body alone
}

// types by extension: a Windows registry may hold others, and browsers refuse a module that is not JavaScript.
var types = map[string]string{
	".html":        "text/html; charset=utf-8",
	".js":          "text/javascript; charset=utf-8",
	".css":         "text/css; charset=utf-8",
	".svg":         "image/svg+xml",
	".webmanifest": "application/manifest+json",
}

// listPath is the one file that is made here: what the service worker keeps, and under which version.
const listPath = "/app/files.js"

// Files returns every file of the page by rising path, then the client that it is built on, and the list of them that the
// service worker reads.
func Files() ([]File, error) {
	var files []File
	var paths []string
	all := sha256.New()
	err := fs.WalkDir(App(), ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		body, err := fs.ReadFile(App(), name)
		if err != nil {
			return err
		}
		f, err := newFile(served(name), types[path.Ext(name)], withoutDocs(name, body))
		if err != nil {
			return err
		}
		fmt.Fprintf(all, "%s %s\n", f.Path, f.ETag)
		files = append(files, f)
		if f.Path != workerPath { // the browser keeps the worker itself
			paths = append(paths, f.Path)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	client, err := newFile(clientPath, types[".js"], withoutDocs(clientPath, js.Module))
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(all, "%s %s\n", client.Path, client.ETag)
	files, paths = append(files, client), append(paths, client.Path)
	list, err := json.Marshal(map[string]any{"version": hash(all.Sum(nil)), "paths": paths})
	if err != nil {
		return nil, err
	}
	f, err := newFile(listPath, types[".js"], fmt.Appendf(nil, "self.files = %s;\n", list))
	return append(files, f), err
}

const workerPath = "/sw.js"

// clientPath is where the page's modules find the client, which lies with the other clients.
const clientPath = "/app/rowdatum.js"

// served is where a file of app/ lies on the server. A service worker rules only what lies beside or below it.
func served(name string) string {
	switch name {
	case "index.html":
		return "/"
	case strings.TrimPrefix(workerPath, "/"):
		return workerPath
	}
	return "/app/" + name
}

// docComment is a comment that documents what follows it: types and words for the reader of the source.
var docComment = regexp.MustCompile(`(?m)^[ \t]*/\*\*(?s:.*?)\*/[ \t]*\n?`)

// withoutDocs leaves a module's doc comments out: they are a fifth of what a phone would fetch.
func withoutDocs(name string, body []byte) []byte {
	if path.Ext(name) != ".js" {
		return body
	}
	return docComment.ReplaceAll(body, nil)
}

func newFile(at, mediaType string, body []byte) (File, error) {
	if mediaType == "" {
		return File{}, fmt.Errorf("the page's file %s has no media type", at)
	}
	var packed bytes.Buffer
	w, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return File{}, err
	}
	if _, err := w.Write(body); err != nil {
		return File{}, err
	}
	if err := w.Close(); err != nil {
		return File{}, err
	}
	sum := sha256.Sum256(body)
	return File{Path: at, Type: mediaType, Body: body, Gzip: packed.Bytes(), ETag: `"` + hash(sum[:]) + `"`}, nil
}

func hash(sum []byte) string { return base64.RawURLEncoding.EncodeToString(sum[:12]) }
