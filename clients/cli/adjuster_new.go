package main

import (
	"bytes"
	"cmp"
	"context"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"text/template"
)

// skeleton is a whole adjuster; its files' names end in .tmpl, so that no tool takes them for Go.
//
//go:embed skeleton
var skeleton embed.FS

// adjusterNew is rowdatum adjuster new.
type adjusterNew struct {
	Name string `arg:"" help:"The style's id: lower-case letters, digits and hyphens, from a letter."`
	SDK  string `name:"sdk" required:"" placeholder:"DIR" help:"Folder of rowdatum's sources, until its module is published."`
	Into string `placeholder:"DIR" help:"Folder to make; NAME in the present folder otherwise."`
}

// filled is what the skeleton's files are filled in with.
type filled struct {
	Name, Title, GoVersion, SDK string
}

// Run writes the module and has Go note which libraries it needs.
func (c *adjusterNew) Run(ctx context.Context, a *app) error {
	if !regexp.MustCompile(`^[a-z][a-z0-9-]{0,62}$`).MatchString(c.Name) || c.Name == "rowdatum" {
		return fmt.Errorf("%q cannot be a style's id: it needs lower-case letters, digits and hyphens, at most 63, the first a letter", c.Name)
	}
	with, err := c.filled()
	if err != nil {
		return err
	}
	folder := cmp.Or(c.Into, c.Name)
	if entries, err := os.ReadDir(folder); len(entries) > 0 || err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s is there already; name another folder with --into", folder)
	}
	if err := writeSkeleton(folder, with); err != nil {
		return err
	}
	if err := resolve(ctx, folder); err != nil {
		return fmt.Errorf("%s is written, but does not build yet: %w", folder, err)
	}
	if a.flags.JSON {
		return a.printValue(map[string]string{"style": c.Name, "folder": folder})
	}
	_, err = fmt.Fprintf(a.stdout, `%s is an adjuster that works as it stands; its README says where your mechanism goes. Next:
  cd %s
  go test ./...
  go build .
  rowdatum adjuster check ./%s
`, folder, folder, c.Name)
	return err
}

// filled reads what the new module must know of the sources.
func (c *adjusterNew) filled() (filled, error) {
	sdk, err := filepath.Abs(c.SDK)
	if err != nil {
		return filled{}, fmt.Errorf("--sdk %s: %w", c.SDK, err)
	}
	text, err := os.ReadFile(filepath.Join(sdk, "go.mod"))
	version := regexp.MustCompile(`(?m)^go (\S+)$`).FindSubmatch(text)
	if err != nil || !bytes.HasPrefix(text, []byte("module rowdatum\n")) || version == nil {
		return filled{}, fmt.Errorf("--sdk %s is not the folder of rowdatum's sources: no go.mod of the module rowdatum is there", c.SDK)
	}
	return filled{Name: c.Name, Title: titled(c.Name), GoVersion: string(version[1]), SDK: filepath.ToSlash(sdk)}, nil
}

// titled makes words of an id: screw-jack is Screw jack.
func titled(id string) string {
	words := strings.ReplaceAll(id, "-", " ")
	return strings.ToUpper(words[:1]) + words[1:]
}

// writeSkeleton fills in every file of the skeleton.
func writeSkeleton(folder string, with filled) error {
	return fs.WalkDir(skeleton, "skeleton", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		text, err := fill(path, with)
		if err != nil {
			return err
		}
		name := strings.TrimSuffix(strings.TrimPrefix(path, "skeleton/"), ".tmpl")
		if name == "gitignore" {
			name = ".gitignore"
		}
		to := filepath.Join(folder, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return fmt.Errorf("making the folder of %s: %w", to, err)
		}
		if err := os.WriteFile(to, text, 0o644); err != nil {
			return fmt.Errorf("writing %s: %w", to, err)
		}
		return nil
	})
}

func fill(path string, with filled) ([]byte, error) {
	t, err := template.ParseFS(skeleton, path)
	if err != nil {
		return nil, fmt.Errorf("reading the skeleton's %s: %w", path, err)
	}
	var out bytes.Buffer
	if err := t.Execute(&out, with); err != nil {
		return nil, fmt.Errorf("filling in %s: %w", path, err)
	}
	return out.Bytes(), nil
}

// resolve has Go complete go.mod and go.sum by what the module imports, its tests too.
func resolve(ctx context.Context, folder string) error {
	vet := exec.CommandContext(ctx, "go", "vet", "-mod=mod", "./...")
	vet.Dir = folder
	said, err := vet.CombinedOutput()
	if errors.Is(err, exec.ErrNotFound) {
		return errors.New("there is no Go on this machine; install it and run go vet -mod=mod ./... there")
	}
	if err != nil {
		return fmt.Errorf("go vet -mod=mod ./... says:\n%s", bytes.TrimSpace(said))
	}
	return nil
}
