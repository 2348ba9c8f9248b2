package main

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	_ "github.com/hashicorp/go-plugin" // registers the messages that the page on other languages shows
	"go.yaml.in/yaml/v3"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
)

// used finds the shell block that takes a file which the page says to save.
func (r *room) used(b block) {
	r.t.Helper()
	for _, other := range blocksOf(r.t, filepath.Join(docsFolder, r.page)) {
		if other.kind == "sh" && strings.Contains(other.text, b.file()) {
			return
		}
	}
	r.t.Errorf("%s: %s is to be saved, and no block takes it", r.page, b.file())
}

// lines are what stands behind start in the lines that begin with it.
func (b block) lines(start string) (out []string) {
	for line := range strings.Lines(b.text) {
		if rest, ok := strings.CutPrefix(strings.TrimSpace(line), start); ok {
			out = append(out, rest)
		}
	}
	return out
}

// unit starts the service as systemd would, with the command and the variables of the unit, and holds the time
// that it has for stopping against what it may take.
func (r *room) unit(b block) {
	r.t.Helper()
	commands, stop := b.lines("ExecStart="), b.lines("TimeoutStopSec=")
	if len(commands) != 1 || len(stop) != 1 {
		r.t.Fatalf("%s: the unit starts %q and waits %q", r.page, commands, stop)
	}
	seconds, err := strconv.Atoi(stop[0])
	if most := 2*callsEnd + adjustersEnd; err != nil || time.Duration(seconds)*time.Second < most {
		r.t.Errorf("%s: the unit waits %s s, stopping may take %v", r.page, stop[0], most)
	}
	for _, folder := range append(b.lines("StateDirectory="), b.lines("CacheDirectory=")...) {
		r.must(os.MkdirAll(filepath.Join(r.root, "var/cache", folder), 0o700))
	}
	if _, err := r.run(r.here(strings.Join(append(b.lines("Environment="), commands[0]), " "))); err != nil {
		r.t.Errorf("%s: the unit's command does not serve: %v", r.page, err)
	}
}

// container looks for what the file copies among what `make build` makes, and for the version of Go.
func (r *room) container(b block) {
	r.t.Helper()
	made, err := exec.Command("make", "--no-print-directory", "-n", "-C", r.source(""), "build").CombinedOutput()
	if err != nil {
		r.t.Fatalf("make -n build: %v %s", err, made)
	}
	sources := regexp.MustCompile(`/src/(bin/\w+)`).FindAllStringSubmatch(b.text, -1)
	for _, source := range sources {
		if !regexp.MustCompile(`-o ` + source[1] + `/? `).Match(made) {
			r.t.Errorf("%s: the container takes %s, which make build does not make", r.page, source[1])
		}
	}
	module, err := os.ReadFile(r.source("go.mod"))
	r.must(err)
	image := regexp.MustCompile(`(?m)^FROM \S*/golang:(\S+)`).FindStringSubmatch(b.text)
	if len(sources) != 3 || len(b.lines("ENTRYPOINT")) != 1 || len(b.lines("RUN CGO_ENABLED=0 make build")) != 1 || image == nil ||
		!strings.Contains(string(module), "\ngo "+image[1]) {
		r.t.Errorf("%s: the container builds %q with %q", r.page, sources, image)
	}
}

// scrape reads the metrics as a Prometheus with this configuration would, of a service with the page's settings.
func (r *room) scrape(b block) {
	r.t.Helper()
	var config struct {
		Scrape []struct {
			Job    string `yaml:"job_name"`
			Scheme string `yaml:"scheme"`
			TLS    struct {
				CA string `yaml:"ca_file"`
			} `yaml:"tls_config"`
			Authorization struct {
				File string `yaml:"credentials_file"`
			} `yaml:"authorization"`
			Static []struct {
				Targets []string `yaml:"targets"`
			} `yaml:"static_configs"`
		} `yaml:"scrape_configs"`
	}
	strict := yaml.NewDecoder(strings.NewReader(r.here(b.text)))
	strict.KnownFields(true)
	r.must(strict.Decode(&config))
	job := config.Scrape[0]
	name, _, err := net.SplitHostPort(job.Static[0].Targets[0])
	r.must(err)
	authority, err := os.ReadFile(job.TLS.CA)
	r.must(err)
	key, err := os.ReadFile(job.Authorization.File)
	r.must(err)
	roots := x509.NewCertPool()
	roots.AppendCertsFromPEM(authority)
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots, ServerName: name}}}
	defer client.CloseIdleConnections()

	_, port, err := net.SplitHostPort(r.configured().HTTP)
	r.must(err)
	req, err := http.NewRequestWithContext(r.t.Context(), http.MethodGet, job.Scheme+"://127.0.0.1:"+port+"/metrics", nil)
	r.must(err)
	req.Header.Set("Authorization", "Bearer "+strings.TrimSpace(string(key)))
	res, err := client.Do(req)
	r.must(err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK || !bytes.Contains(body, []byte("rowdatum_build_info")) || job.Job != "rowdatum" {
		r.t.Errorf("%s: Prometheus gets %s %v %.200s", r.page, res.Status, err, body)
	}
}

// configured runs the service with the page's settings until the test ends.
func (r *room) configured() addresses {
	r.t.Helper()
	file := filepath.Join(r.root, "addr")
	ctx, cancel := context.WithCancel(context.Background())
	cmd := r.command(ctx, fmt.Sprintf("exec %s/rowdatumd --config %s --grpc 127.0.0.1:0 --log warn --addr-file %s", programs, r.here("/etc/rowdatum.env"), file))
	cmd.Stderr = r.t.Output()
	r.must(cmd.Start())
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	r.t.Cleanup(func() { cancel(); <-ended })
	return readAddresses(r.t, file, ended)
}

// handshake starts an adjuster as the page tells that the host does, and holds the line that it prints against
// the one shown: the same parts, with an address and a certificate of its own.
func (r *room) handshake(b block) {
	r.t.Helper()
	cmd := exec.CommandContext(r.t.Context(), filepath.Join(r.dir, "bin/adjusters/notchedstop"))
	cmd.Dir = r.t.TempDir()
	cmd.Env = []string{"ROWDATUM_ADJUSTER=rowdatum.adjuster.v1", "PLUGIN_PROTOCOL_VERSIONS=1", "PLUGIN_CLIENT_CERT=" + hostsCertificate(r),
		"PLUGIN_UNIX_SOCKET_DIR=" + cmd.Dir, "PLUGIN_MIN_PORT=10000", "PLUGIN_MAX_PORT=25000"}
	out, err := cmd.StdoutPipe()
	r.must(err)
	r.must(cmd.Start())
	defer func() {
		_ = cmd.Process.Kill() // nobody asks it to leave
		_ = cmd.Wait()
	}()
	line := make([]byte, 4096)
	n, err := out.Read(line)
	r.must(err)
	said, shown := strings.Split(strings.TrimSpace(string(line[:n])), "|"), strings.Split(strings.TrimSpace(b.text), "|")
	if len(said) != len(shown) || len(said) != 6 || said[0] != shown[0] || said[1] != shown[1] || said[4] != shown[4] {
		r.t.Fatalf("%s: an adjuster prints %q, %q is shown", r.page, said, shown)
	}
	der, err := base64.RawStdEncoding.DecodeString(said[5])
	if err == nil {
		_, err = x509.ParseCertificate(der)
	}
	r.must(err)
}

// hostsCertificate is one on P-521, as PEM.
func hostsCertificate(r *room) string {
	key, err := ecdsa.GenerateKey(elliptic.P521(), rand.Reader)
	r.must(err)
	about := &x509.Certificate{SerialNumber: big.NewInt(1), DNSNames: []string{"localhost"}, NotAfter: time.Now().Add(time.Hour)}
	der, err := x509.CreateCertificate(rand.Reader, about, about, key.Public(), key)
	r.must(err)
	return string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}))
}

var (
	shownCall  = regexp.MustCompile(`service (\w+) { rpc (\w+)\((\w+)\) returns \((stream )?(\w+)\); }`)
	shownField = regexp.MustCompile(`(int32|bytes) (\w+) = (\d+);`)
)

// contract holds the shown services against those that the host really speaks. An enum and an int32 are the same
// on the wire.
func (r *room) contract(b block) {
	r.t.Helper()
	find := func(name string) protoreflect.Descriptor {
		d, err := protoregistry.GlobalFiles.FindDescriptorByName(protoreflect.FullName("plugin." + name))
		r.must(err)
		return d
	}
	calls, fields := shownCall.FindAllStringSubmatch(b.text, -1), shownField.FindAllStringSubmatch(b.text, -1)
	if len(calls) != strings.Count(b.text, "rpc ") || len(calls) != 2 || len(fields) != strings.Count(b.text, " = ") {
		r.t.Fatalf("%s: %d calls and %d fields are read of\n%s", r.page, len(calls), len(fields), b.text)
	}
	for _, c := range calls {
		call := find(c[1]).(protoreflect.ServiceDescriptor).Methods().ByName(protoreflect.Name(c[2]))
		if call == nil || !strings.HasSuffix(string(call.Input().Name()), c[3]) || call.IsStreamingServer() != (c[4] != "") || !strings.HasSuffix(string(call.Output().Name()), c[5]) {
			r.t.Errorf("%s: the host does not know %q: %v", r.page, c[0], call)
		}
	}
	kinds := map[string][]protoreflect.Kind{"int32": {protoreflect.Int32Kind, protoreflect.EnumKind}, "bytes": {protoreflect.BytesKind}}
	data := find("StdioData").(protoreflect.MessageDescriptor).Fields()
	for _, f := range fields {
		field := data.ByName(protoreflect.Name(f[2]))
		if field == nil || strconv.Itoa(int(field.Number())) != f[3] || field.Kind() != kinds[f[1]][0] && field.Kind() != kinds[f[1]][len(kinds[f[1]])-1] {
			r.t.Errorf("%s: the host does not know %q: %v", r.page, f[0], field)
		}
	}
}
