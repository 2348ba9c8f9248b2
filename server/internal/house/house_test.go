package house

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"strings"
	"testing"
)

const module = "rowdatum/"

// The rooms of proto that know no wire, for the core as for clients.
const (
	lengths = module + "proto/length" // the grammar of typed lengths
	seals   = module + "proto/seal"   // the recipe of a signed job's hash
)

// rule forbids packages whose path starts with one of from to depend, directly or not, on packages
// whose path starts with one of to, unless that path starts with one of except.
type rule struct {
	why    string
	from   []string
	to     []string
	except []string
}

var rules = []rule{
	{
		why:  "the core waits for nobody: no wire, disk, process, log or clock of others",
		from: []string{module + "server/leveling"},
		to: []string{"google.golang.org/", "github.com/grpc-ecosystem/", "github.com/hashicorp/", "go.uber.org/", "gonum.org/",
			"database/sql", "net", "os/exec", "log", module + "proto", module + "adjusters", module + "gateway", module + "clients", module + "server/internal"},
		except: []string{lengths, seals},
	},
	{
		why:    "the core and every client read lengths: the standard library only",
		from:   []string{lengths},
		to:     []string{"google.golang.org/", "github.com/", "go.uber.org/", "golang.org/", "net", "os/exec", "log", "database/sql", strings.TrimSuffix(module, "/")},
		except: []string{lengths},
	},
	{
		why:    "whoever checks a seal needs JSON and SHA-256, nothing of this house",
		from:   []string{seals},
		to:     []string{"google.golang.org/", "github.com/", "go.uber.org/", "golang.org/", "net", "os/exec", "log", "database/sql", strings.TrimSuffix(module, "/")},
		except: []string{seals},
	},
	{
		why:  "gateway and clients speak to the service by its contract only",
		from: []string{module + "gateway", module + "clients"},
		to:   []string{module + "server"},
	},
	{
		why:  "what the contract says is read in one neutral room, which gateway and clients share",
		from: []string{module + "proto"},
		to:   []string{module + "server", module + "gateway", module + "clients", module + "adjusters"},
	},
	{
		why:  "an adjuster's author inherits neither the service nor its core",
		from: []string{module + "adjusters"},
		to:   []string{module + "server", module + "gateway", module + "clients", module + "proto/gen/rowdatum/v1", "go.uber.org/zap"},
	},
	{
		why:  "the flow knows no wire and no process",
		from: []string{module + "server/internal/flow"},
		to: []string{"google.golang.org/", "github.com/hashicorp/", "go.uber.org/", "database/sql", module + "proto", module + "adjusters",
			module + "server/internal/api", module + "server/internal/adjusters", module + "server/internal/store"},
		except: []string{lengths, seals},
	},
	{
		why:    "engines are strangers to the API; the store knows of the flow what it must keep",
		from:   []string{module + "server/internal/adjusters", module + "server/internal/store"},
		to:     []string{module + "server/internal", module + "gateway", module + "clients", module + "proto/gen/rowdatum/v1"},
		except: []string{module + "server/internal/adjusters", module + "server/internal/store", module + "server/internal/flow"},
	},
	{
		why:    "who carries hooks' deliveries knows the flow's store and nothing that is served",
		from:   []string{module + "server/internal/hooks"},
		to:     []string{"google.golang.org/", "github.com/grpc-ecosystem/", "database/sql", module + "proto", module + "adjusters", module + "server/internal", module + "gateway", module + "clients"},
		except: []string{lengths, seals, module + "server/internal/hooks", module + "server/internal/flow"},
	},
	{
		why:  "a sheet is set from a job and knows nobody who serves it",
		from: []string{module + "server/internal/sheet"},
		to: []string{"google.golang.org/", "github.com/grpc-ecosystem/", "github.com/hashicorp/", "go.uber.org/", "database/sql", module + "proto", module + "adjusters",
			module + "server/internal/api", module + "server/internal/adjusters", module + "server/internal/store", module + "gateway", module + "clients"},
		except: []string{lengths, seals},
	},
	{
		why: "only one room knows Prometheus, and it knows none of the others",
		from: []string{module + "gateway", module + "clients", module + "adjusters", module + "server/leveling", module + "server/internal/api", module + "server/internal/flow",
			module + "server/internal/store", module + "server/internal/adjusters", module + "server/internal/tracing"},
		to: []string{"github.com/prometheus/", module + "server/internal/metrics"},
	},
	{
		why:  "handlers reach engines through the flow",
		from: []string{module + "server/internal/api"},
		to:   []string{module + "server/internal/adjusters", module + "server/internal/store", module + "gateway", module + "clients"},
	},
}

type listed struct {
	ImportPath string
	Deps       []string
}

func TestArrows(t *testing.T) {
	packages := list(t)
	if len(packages) < 10 {
		t.Fatalf("only %d packages listed: the test looks at nothing", len(packages))
	}
	for _, r := range rules {
		looked := 0
		for _, p := range packages {
			if !under(p.ImportPath, r.from) {
				continue
			}
			looked++
			for _, dep := range p.Deps {
				if under(dep, r.to) && !under(dep, r.except) {
					t.Errorf("%s depends on %s: %s", p.ImportPath, dep, r.why)
				}
			}
		}
		if looked == 0 {
			t.Errorf("no package under %v: the rule %q looks at nothing", r.from, r.why)
		}
	}
}

// under says whether path is one of the roots or below it; a root that ends in a slash is a prefix.
func under(path string, roots []string) bool {
	for _, root := range roots {
		if path == root || strings.HasPrefix(path, strings.TrimSuffix(root, "/")+"/") {
			return true
		}
	}
	return false
}

func list(t *testing.T) []listed {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Deps", module+"...")
	var out, complaint bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaint
	if err := cmd.Run(); err != nil {
		t.Fatalf("go list: %v\n%s", err, &complaint)
	}
	var packages []listed
	for dec := json.NewDecoder(&out); ; {
		var p listed
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			return packages
		} else if err != nil {
			t.Fatal(err)
		}
		packages = append(packages, p)
	}
}
