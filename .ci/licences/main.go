// Command licences writes what rowdatum is made of: a table of licences for people and a bill of materials
// (CycloneDX) for programs. With --check it writes nothing, and fails where either is not what it would
// write. It fails in any case on a licence that nobody has allowed.
package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"log"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"github.com/CycloneDX/cyclonedx-go"
	"github.com/google/licensecheck"
)

const (
	tableFile = "gateway/docs/licences.md"
	billFile  = "gateway/docs/bom.json"
)

// Licences that what we ship may have: none asks for more than its notice.
var shipped = []string{"0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "FTL", "ISC", "MIT", "OFL-1.1", "Unlicense", "Zlib", "blessing"}

// developing may have these as well: it is run here and handed to nobody.
var developing = append([]string{"CC-BY-4.0", "CC0-1.0", "MPL-2.0", "Python-2.0"}, shipped...)

// mplShipped are shipped as they come: their own files stay under MPL-2.0, which asks that whoever hands on
// a program says where their sources are. The table does.
var mplShipped = regexp.MustCompile(`^github\.com/hashicorp/`)

// read are licences that were read by a person, where the text is not one that the scanner knows.
var read = map[string]string{
	"github.com/ajstarks/svgo":   "CC-BY-4.0",                         // a link to the text
	"github.com/golang/freetype": "FTL OR GPL-2.0-or-later",           // our choice is FTL
	"modernc.org/libc":           "BSD-3-Clause AND MIT",              // MIT: musl, and the sources of its tables
	"modernc.org/memory":         "BSD-3-Clause",                      // another file is of its logo
	"modernc.org/sqlite":         "BSD-3-Clause AND MIT AND blessing", // blessing: SQLite itself; MIT: its search of vectors
}

// systems are what go build is asked for: a library may be needed by one of them only.
var systems = []string{"linux/amd64", "darwin/arm64", "windows/amd64"}

// need is a set of what we hand on; empty for what only tests and tools need.
type need int

const (
	service need = 1 << iota
	adjusters
	commandLine
	goClient
)

var needs = []string{"service", "adjusters", "command line", "client for Go"}

func (n need) String() string {
	var who []string
	for i, word := range needs {
		if n&(1<<i) != 0 {
			who = append(who, word)
		}
	}
	if who == nil {
		return "tests and tools only"
	}
	return strings.Join(who, ", ")
}

type part struct {
	ecosystem              string // as in a package URL
	name, version, licence string
	need                   need
}

func main() {
	check := flag.Bool("check", false, "write nothing; fail where the files are stale")
	flag.Parse()
	if err := run(*check); err != nil {
		log.SetFlags(0)
		log.Fatal(err)
	}
}

func run(check bool) error {
	modules, err := goModules()
	if err != nil {
		return err
	}
	packages, err := npmPackages()
	if err != nil {
		return err
	}
	if err := allowed(slices.Concat(modules, packages)); err != nil {
		return err
	}
	bill, err := billOf(slices.Concat(modules, packages))
	if err != nil {
		return err
	}
	return errors.Join(put(tableFile, table(modules, packages), check), put(billFile, bill, check))
}

func put(file string, text []byte, check bool) error {
	if !check {
		return os.WriteFile(file, text, 0o644)
	}
	if was, err := os.ReadFile(file); err != nil || !bytes.Equal(was, text) {
		return fmt.Errorf("%s is stale: run make licences and commit what it wrote", file)
	}
	return nil
}

// goModules are the modules behind each kind of program, its tests and tools.
func goModules() ([]part, error) {
	found := map[string]part{}
	for _, system := range systems {
		for who, of := range map[need][]string{service: {"./server/cmd/rowdatumd"}, adjusters: {"./adjusters/..."}, commandLine: {"./clients/cli"}, goClient: {"./clients/go"}} {
			if err := listed(found, who, system, of...); err != nil {
				return nil, err
			}
		}
	}
	for _, of := range [][]string{
		{"-test", "./...", "tool"},
		{"-modfile=.ci/lint.mod", "tool"},
		{"-modfile=.ci/proto.mod", "proto/imports/main.go"},
		{"-modfile=.ci/licences.mod", ".ci/licences/main.go"},
	} {
		if err := listed(found, 0, systems[0], of...); err != nil {
			return nil, err
		}
	}
	return slices.SortedFunc(maps.Values(found), byName), nil
}

func byName(a, b part) int {
	return cmp.Or(cmp.Compare(a.ecosystem, b.ecosystem), cmp.Compare(a.name, b.name), cmp.Compare(a.version, b.version))
}

// listed adds the modules that packages are built from.
func listed(found map[string]part, who need, system string, args ...string) error {
	goos, arch, _ := strings.Cut(system, "/")
	cmd := exec.Command("go", append([]string{"list", "-deps", "-json=Module"}, args...)...)
	cmd.Env = append(os.Environ(), "GOOS="+goos, "GOARCH="+arch, "CGO_ENABLED=0")
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		return fmt.Errorf("go list %v for %s: %w", args, system, err)
	}
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var p struct {
			Module *struct {
				Path, Version, Dir string
				Main               bool
			}
		}
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		m := p.Module
		if m == nil || m.Main {
			continue
		}
		id := m.Path + " " + m.Version
		if was, ok := found[id]; ok {
			was.need |= who
			found[id] = was
			continue
		}
		licence, err := licenceIn(m.Path, m.Dir)
		if err != nil {
			return err
		}
		found[id] = part{"golang", m.Path, m.Version, licence, who}
	}
}

var licenceFile = regexp.MustCompile(`(?i)^(licen[sc]e|copying|unlicense)([-._].*)?$`)

// enough is how much of a file must be text of known licences, in percent; the rest is names and years.
const enough = 75

// licenceIn reads the licence files at the root of a module.
func licenceIn(module, dir string) (string, error) {
	if id, ok := read[module]; ok {
		return id, nil
	}
	files, err := os.ReadDir(dir)
	if err != nil {
		return "", err
	}
	ids := map[string]bool{}
	for _, f := range files {
		if !licenceFile.MatchString(f.Name()) || f.IsDir() || filepath.Ext(f.Name()) == ".go" {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			return "", err
		}
		cover := licensecheck.Scan(text)
		if cover.Percent < enough {
			return "", fmt.Errorf("%s: %s of %s is no known licence (%.0f%%): read it, and say in .ci/licences/main.go what it is", module, f.Name(), dir, cover.Percent)
		}
		for _, m := range cover.Match {
			ids[m.ID] = true
		}
	}
	if len(ids) == 0 {
		return "", fmt.Errorf("%s has no licence in %s", module, dir)
	}
	return strings.Join(slices.Sorted(maps.Keys(ids)), " AND "), nil
}

// folder is before the name of each package in the paths of a package-lock.json.
const folder = "node_modules/"

// npmPackages are what package-lock.json files name: all of it is for development.
func npmPackages() ([]part, error) {
	out, err := exec.Command("git", "ls-files", "*package-lock.json").Output()
	if err != nil {
		return nil, fmt.Errorf("looking for package-lock.json: %w", err)
	}
	found := map[part]bool{}
	for _, file := range strings.Fields(string(out)) {
		text, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		var lock struct {
			Packages map[string]struct{ Version, License string }
		}
		if err := json.Unmarshal(text, &lock); err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		for path, p := range lock.Packages {
			if path == "" {
				continue // ourselves
			}
			name := path[strings.LastIndex(path, folder)+len(folder):]
			found[part{"npm", name, p.Version, strings.Trim(p.License, "()"), 0}] = true
		}
	}
	return slices.SortedFunc(maps.Keys(found), byName), nil
}

// allowed names every part with a licence that it may not have.
func allowed(parts []part) (err error) {
	for _, p := range parts {
		list := shipped
		switch {
		case p.need == 0:
			list = developing
		case mplShipped.MatchString(p.name):
			list = append([]string{"MPL-2.0"}, shipped...)
		}
		if !fits(p.licence, list) {
			err = errors.Join(err, fmt.Errorf("%s %s (%s): its licence is %q, which nobody has allowed", p.name, p.version, p.need, p.licence))
		}
	}
	return err
}

// fits says whether a licence expression is one of list: every part of an AND, one part of an OR.
func fits(expression string, list []string) bool {
	if either := strings.Split(expression, " OR "); len(either) > 1 {
		return slices.ContainsFunc(either, func(e string) bool { return fits(e, list) })
	}
	return !slices.ContainsFunc(strings.Split(expression, " AND "), func(id string) bool { return !slices.Contains(list, id) })
}

func table(modules, packages []part) []byte {
	var b bytes.Buffer
	fmt.Fprintln(&b, `# Licences

rowdatum itself is under the Apache License 2.0. What it is built from, and what is only used to develop it, is listed here by `+"`make licences`"+`; [bom.json](/docs/bom.json) is the same as a bill of materials (CycloneDX) for programs. The Go standard library, which every program contains, is BSD-3-Clause.

Licences are those that the files of each module say, by their SPDX identifiers. What only tests and tools need is handed to nobody. Modules under MPL-2.0 are used as they come, and their sources are at the address that is their name.`)
	fmt.Fprintf(&b, "\n## Modules of Go\n\n| module | version | licence | needed by |\n| --- | --- | --- | --- |\n")
	for _, m := range modules {
		fmt.Fprintf(&b, "| %s | %s | %s | %v |\n", m.name, m.version, m.licence, m.need)
	}
	fmt.Fprintf(&b, "\n## Packages of npm\n\nTests of the page and of the client for JavaScript, the contract's tools, and an example of an adjuster use %d packages; rowdatum itself contains none of them. bom.json names each.\n\n| licence | packages |\n| --- | --- |\n", len(packages))
	count := map[string]int{}
	for _, p := range packages {
		count[p.licence]++
	}
	for _, licence := range slices.Sorted(maps.Keys(count)) {
		fmt.Fprintf(&b, "| %s | %d |\n", licence, count[licence])
	}
	return b.Bytes()
}

// billOf is the bill without the time and serial number that such bills may have: the same sources give the same bill.
func billOf(parts []part) ([]byte, error) {
	bill := cyclonedx.NewBOM()
	bill.Metadata = &cyclonedx.Metadata{Component: &cyclonedx.Component{Type: cyclonedx.ComponentTypeApplication, Name: "rowdatum",
		BOMRef: "rowdatum", Licenses: &cyclonedx.Licenses{{Expression: "Apache-2.0"}}}}
	var components []cyclonedx.Component
	for _, p := range parts {
		url := "pkg:" + p.ecosystem + "/" + strings.Replace(p.name, "@", "%40", 1) + "@" + p.version
		c := cyclonedx.Component{Type: cyclonedx.ComponentTypeLibrary, BOMRef: url, Name: p.name, Version: p.version, PackageURL: url,
			Scope: cyclonedx.ScopeRequired, Licenses: &cyclonedx.Licenses{{Expression: p.licence}}}
		if p.need == 0 {
			c.Scope = cyclonedx.ScopeExcluded
		}
		components = append(components, c)
	}
	bill.Components = &components
	var b bytes.Buffer
	err := cyclonedx.NewBOMEncoder(&b, cyclonedx.BOMFileFormatJSON).SetPretty(true).Encode(bill)
	return b.Bytes(), err
}
