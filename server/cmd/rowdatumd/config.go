package main

import (
	"bytes"
	"fmt"
	"net/url"
	"os"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/alecthomas/kong"
)

const (
	configVariable = "ROWDATUM_CONFIG"
	tracePrefix    = "OTEL_" // what OpenTelemetry reads itself
	serveCommand   = "serve"
)

// origins tells which variables came from the configuration's file, and from which line.
type origins map[string]string

// loadConfig puts what the configuration's file says into the environment, but for what that says already:
// so a flag comes before the environment, and that before the file.
func loadConfig(app *kong.Application, args []string) (origins, error) {
	file := configFile(args)
	if file == "" {
		return nil, nil
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("reading the configuration: %w", err)
	}
	settings, err := parseConfig(text, variables(app))
	if err != nil {
		return nil, fmt.Errorf("%s, %w", file, err)
	}
	from := origins{}
	for _, s := range settings {
		if _, set := os.LookupEnv(s.name); set {
			continue
		}
		from[s.name] = fmt.Sprintf("%s, line %d", file, s.line)
		if err := os.Setenv(s.name, s.value); err != nil {
			return nil, fmt.Errorf("%s, line %d: %w", file, s.line, err)
		}
	}
	return from, nil
}

// configFile is looked for before the command line is read: what it says comes after that.
func configFile(args []string) string {
	file := os.Getenv(configVariable)
	for i, arg := range args {
		if arg == "--" {
			break
		}
		if value, ok := strings.CutPrefix(arg, "--config="); ok {
			file = value
		} else if arg == "--config" && i+1 < len(args) {
			file = args[i+1]
		}
	}
	return file
}

// variables are those of the service.
func variables(app *kong.Application) map[string]bool {
	all := map[string]bool{}
	for _, command := range app.Children {
		if command.Name != serveCommand {
			continue
		}
		for _, flag := range command.Flags {
			for _, name := range flag.Envs {
				all[name] = true
			}
		}
	}
	return all
}

// setting is one line of the file.
type setting struct {
	name, value string
	line        int
}

// parseConfig reads lines NAME=VALUE. Empty lines and those that begin with # say nothing. What other readers
// of such files (systemd, container engines) would take otherwise than it stands there is refused, so that one file
// serves all of them.
func parseConfig(text []byte, known map[string]bool) (settings []setting, err error) {
	first := map[string]int{}
	for i, raw := range bytes.Split(text, []byte("\n")) {
		line := strings.TrimSpace(string(raw))
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		name, value, ok := strings.Cut(line, "=")
		s := setting{name: name, value: value, line: i + 1}
		switch {
		case !ok:
			return nil, fmt.Errorf("line %d: is not NAME=VALUE", s.line)
		case !known[name] && !strings.HasPrefix(name, tracePrefix):
			return nil, fmt.Errorf("line %d: there is no setting %q; rowdatumd config lists them", s.line, name)
		case first[name] != 0:
			return nil, fmt.Errorf("line %d: %s is set in line %d already", s.line, name, first[name])
		case strings.ContainsAny(value, "\"'\\\x00") || strings.TrimSpace(value) != value:
			return nil, fmt.Errorf("line %d: a value stands as it is, without quotes, backslashes and spaces around it", s.line)
		}
		first[name] = s.line
		settings = append(settings, s)
	}
	return settings, nil
}

// settingsCommand prints what serve would work with.
type settingsCommand struct{ flags }

// Validate lets a wrong setting be printed first.
func (c *settingsCommand) Validate() error { return nil }

// Run prints the settings; a wrong one is an error after that.
func (c *settingsCommand) Run(ctx *kong.Context, from origins) error {
	given := map[string]bool{}
	for _, p := range ctx.Path {
		if p.Flag != nil {
			given[p.Flag.Name] = true
		}
	}
	w := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "FLAG\tVARIABLE\tVALUE\tFROM")
	said := map[string]bool{}
	for _, flag := range ctx.Selected().Flags {
		if flag.Name == "help" {
			continue
		}
		where := "default"
		for _, name := range flag.Envs {
			said[name] = true
			if _, set := os.LookupEnv(name); set {
				where = from.of(name)
			}
		}
		if given[flag.Name] {
			where = "flag"
		}
		fmt.Fprintf(w, "--%s\t%s\t%s\t%s\n", flag.Name, strings.Join(flag.Envs, ", "), shown(fmt.Sprint(flag.Target.Interface())), where)
	}
	for _, variable := range slices.Sorted(slices.Values(os.Environ())) {
		name, value, _ := strings.Cut(variable, "=")
		if !strings.HasPrefix(name, tracePrefix) || said[name] {
			continue
		}
		if strings.HasSuffix(name, "HEADERS") {
			value = hidden
		}
		fmt.Fprintf(w, "-\t%s\t%s\t%s\n", name, shown(value), from.of(name))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return c.flags.Validate()
}

// of says where a variable that is set came from.
func (o origins) of(name string) string {
	if line, ok := o[name]; ok {
		return line
	}
	return "environment"
}

const hidden = "xxxxx"

// shown is a value without the password that an address may hold.
func shown(value string) string {
	scheme, _, isAddress := strings.Cut(value, "://")
	if !isAddress {
		if value == "" {
			return "-"
		}
		return value
	}
	address, err := url.Parse(value)
	if err != nil {
		return scheme + "://" + hidden // better nothing than a password
	}
	query := address.Query()
	for name := range query {
		if strings.Contains(strings.ToLower(name), "password") {
			query.Set(name, hidden)
			address.RawQuery = query.Encode()
		}
	}
	return address.Redacted()
}
