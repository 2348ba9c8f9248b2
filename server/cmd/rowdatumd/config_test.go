package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// inForce returns what rowdatumd config prints: by flag, value and where it comes from.
func inForce(t *testing.T, env []string, args ...string) (lines map[string][2]string, complaint string) {
	t.Helper()
	cmd := exec.Command(filepath.Join(programs, "rowdatumd"), append([]string{"config"}, args...)...)
	cmd.Env = env
	var said strings.Builder
	cmd.Stderr = &said
	out, _ := cmd.Output() // a wrong setting is printed before it is refused
	lines = map[string][2]string{}
	for _, line := range strings.Split(string(out), "\n") {
		if parts := regexp.MustCompile(`  +`).Split(line, 4); len(parts) == 4 {
			lines[parts[1]] = [2]string{parts[2], parts[3]}
		}
	}
	return lines, said.String()
}

// TestSettings: a flag before the environment, that before the file, that before the default; no password is
// shown.
func TestSettings(t *testing.T) {
	file := filepath.Join(t.TempDir(), "rowdatum.env")
	text := "# a shop\n\nROWDATUM_STORE=postgres://ada:hunter2@db/shop?sslpassword=hunter2\nROWDATUM_LOG=warn\nROWDATUM_GRPC=127.0.0.1:1\nROWDATUM_HTTP=127.0.0.1:2\n" +
		"ROWDATUM_REQUIRE_KEYS=true\nOTEL_EXPORTER_OTLP_HEADERS=authorization=hunter2\n"
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	env := []string{"ROWDATUM_GRPC=127.0.0.1:3", "ROWDATUM_HTTP=127.0.0.1:4"}
	got, complaint := inForce(t, env, "--config", file, "--http", "127.0.0.1:5")
	if complaint != "" {
		t.Error(complaint)
	}
	for name, want := range map[string][2]string{
		"ROWDATUM_HTTP":              {"127.0.0.1:5", "flag"},
		"ROWDATUM_GRPC":              {"127.0.0.1:3", "environment"},
		"ROWDATUM_LOG":               {"warn", file + ", line 4"},
		"ROWDATUM_STORE":             {"postgres://ada:xxxxx@db/shop?sslpassword=xxxxx", file + ", line 3"},
		"ROWDATUM_REQUIRE_KEYS":      {"true", file + ", line 7"},
		"ROWDATUM_CALL_BURST":        {"200", "default"},
		"OTEL_EXPORTER_OTLP_HEADERS": {"xxxxx", file + ", line 8"},
	} {
		if got[name] != want {
			t.Errorf("%s is %q, want %q", name, got[name], want)
		}
	}
	for name := range variables(newParser().Model) {
		if _, told := got[name]; !told {
			t.Errorf("%s is not told", name)
		}
	}
	byVariable, _ := inForce(t, append(env, "ROWDATUM_CONFIG="+file))
	if byVariable["ROWDATUM_LOG"] != got["ROWDATUM_LOG"] {
		t.Errorf("with the file named by the environment the level is %q", byVariable["ROWDATUM_LOG"])
	}
	wrong, complaint := inForce(t, env, "--metrics-http", ":9")
	if wrong["ROWDATUM_METRICS_HTTP"] != [2]string{":9", "flag"} || !strings.Contains(complaint, "--metrics-http") {
		t.Errorf("a wrong setting is told as %q and refused with %q", wrong["ROWDATUM_METRICS_HTTP"], complaint)
	}
}

// TestConfigFile: what a file may hold.
func TestConfigFile(t *testing.T) {
	known := map[string]bool{"ROWDATUM_HTTP": true, "ROWDATUM_STORE": true}
	for _, c := range []struct{ name, text, refused string }{
		{"nothing", "", ""},
		{"comments and ends of lines of another system", "# x\r\nROWDATUM_HTTP=:1\r\n  # y\n", ""},
		{"empty value", "ROWDATUM_STORE=\n", ""},
		{"= in a value", "ROWDATUM_STORE=postgres://h/d?a=b\n", ""},
		{"no setting of ours", "ROWDATUM_HTPT=:1\n", "line 1"},
		{"no such thing", "PATH=/bin\n", "line 1"},
		{"no =", "\nROWDATUM_HTTP\n", "line 2"},
		{"twice", "ROWDATUM_HTTP=:1\nROWDATUM_HTTP=:2\n", "line 2"},
		{"quotes", "ROWDATUM_HTTP=\":1\"\n", "line 1"},
		{"spaces", "ROWDATUM_HTTP= :1\n", "line 1"},
		{"a backslash", "ROWDATUM_STORE=c:\\x\n", "line 1"},
	} {
		_, err := parseConfig([]byte(c.text), known)
		if (err == nil) != (c.refused == "") || err != nil && !strings.Contains(err.Error(), c.refused) {
			t.Errorf("%s: %v, want %q", c.name, err, c.refused)
		}
	}
}

func FuzzConfigFile(f *testing.F) {
	f.Add([]byte("# x\nROWDATUM_HTTP=:1\nOTEL_A=b\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		settings, err := parseConfig(text, map[string]bool{"ROWDATUM_HTTP": true})
		if err != nil {
			return
		}
		var again strings.Builder
		for _, s := range settings {
			again.WriteString(s.name + "=" + s.value + "\n")
		}
		twice, err := parseConfig([]byte(again.String()), map[string]bool{"ROWDATUM_HTTP": true})
		if err != nil || len(twice) != len(settings) {
			t.Errorf("%q is read once and not again: %v", again.String(), err)
		}
	})
}

// TestRunningPage: every flag, setting and command that the page "Running it" names is there.
func TestRunningPage(t *testing.T) {
	text, err := os.ReadFile("../../../gateway/docs/running.md")
	if err != nil {
		t.Fatal(err)
	}
	page := string(text)
	model := newParser().Model
	flagsOf := map[string]bool{}
	for _, flag := range model.Flags {
		flagsOf["--"+flag.Name] = true
	}
	for _, leaf := range model.Leaves(false) {
		for _, flag := range leaf.Flags {
			flagsOf["--"+flag.Name] = true
		}
	}
	engines := strings.Fields("--env-file --rm --init --read-only --tmpfs --cap-drop --memory --pids-limit --stop-timeout --pipe --wait --from --system --uid")
	for _, engine := range engines {
		flagsOf[engine] = true
	}
	named := regexp.MustCompile(`--[a-z][a-z-]+`).FindAllString(page, -1)
	known := variables(model)
	variablesNamed := regexp.MustCompile(`ROWDATUM_[A-Z_]+[A-Z]`).FindAllString(page, -1)
	commands := regexp.MustCompile(`rowdatumd (key|adjuster|tls) (\w+)|rowdatumd (\w+)`).FindAllStringSubmatch(page, -1)
	if len(named) < 20 || len(variablesNamed) < 8 || len(commands) < 8 {
		t.Fatalf("%d flags, %d settings, %d commands found: the test looks at nothing", len(named), len(variablesNamed), len(commands))
	}
	for _, flag := range named {
		if !flagsOf[flag] {
			t.Errorf("the page names %s, which is not there", flag)
		}
	}
	for _, name := range variablesNamed {
		if !known[name] {
			t.Errorf("the page names %s, which is not there", name)
		}
	}
	leaves := map[string]bool{"key": true}
	for _, leaf := range model.Leaves(false) {
		leaves[leaf.Path()] = true
	}
	for _, c := range commands {
		command := strings.TrimSpace(c[1] + " " + c[2] + c[3])
		found := leaves[command]
		for path := range leaves {
			found = found || strings.Contains(path, command)
		}
		if !found {
			t.Errorf("the page names the command %q, which is not there (%v)", command, leaves)
		}
	}
}
