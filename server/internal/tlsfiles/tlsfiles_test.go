package tlsfiles

import (
	"crypto/tls"
	"crypto/x509"
	"io"
	"io/fs"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

var day0 = time.Date(2027, 3, 1, 12, 0, 0, 0, time.UTC)

func mustInit(t *testing.T, hosts ...string) (dir string, made *Made) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "tls")
	made, err := Init(dir, hosts, day0)
	if err != nil {
		t.Fatal(err)
	}
	return dir, made
}

// TestInit checks what phones ask of a certificate, and who can read the keys.
func TestInit(t *testing.T) {
	dir, made := mustInit(t, "Shop-PC.local", "192.168.1.20", "barn.example")
	roots := x509.NewCertPool()
	roots.AddCert(made.Authority)
	for _, host := range []string{"shop-pc.local", "192.168.1.20", "barn.example", "localhost", "127.0.0.1", "::1"} {
		for _, at := range []time.Time{day0, day0.AddDate(0, 0, serverDays-2)} {
			if _, err := made.Server.Verify(x509.VerifyOptions{Roots: roots, DNSName: host, CurrentTime: at}); err != nil {
				t.Errorf("%s on %v: %v", host, at, err)
			}
		}
	}
	if _, err := made.Server.Verify(x509.VerifyOptions{Roots: roots, DNSName: "other.local", CurrentTime: day0}); err == nil {
		t.Error("it serves a host that was not named")
	}
	if life := made.Server.NotAfter.Sub(made.Server.NotBefore); life > 825*24*time.Hour {
		t.Errorf("the server certificate lasts %v, phones take 825 days at most", life)
	}
	if years := made.Authority.NotAfter.Year() - day0.Year(); years != 10 || !made.Authority.IsCA {
		t.Errorf("the authority lasts %d years, want 10", years)
	}
	if got := Host(made.Server); got != "shop-pc.local" {
		t.Errorf("the first host is %q", got)
	}
	if got := Fingerprint(made.Authority); !regexp.MustCompile(`^([0-9A-F]{2}:){31}[0-9A-F]{2}$`).MatchString(got) {
		t.Errorf("fingerprint %q", got)
	}
	for file, mode := range map[string]os.FileMode{AuthorityCert: 0o644, AuthorityKey: 0o600, ServerCert: 0o644, ServerKey: 0o600} {
		info, err := os.Stat(filepath.Join(dir, file))
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm() != mode && filepath.Separator == '/' {
			t.Errorf("%s has mode %v, want %v", file, info.Mode(), mode)
		}
	}
}

// TestAuthorityIsBounded: the authority cannot vouch for hosts elsewhere, even with its own key.
func TestAuthorityIsBounded(t *testing.T) {
	dir, _ := mustInit(t, "192.168.1.20")
	for _, host := range []string{"bank.example", "8.8.8.8", "2001:db8::1"} {
		if _, err := Renew(dir, []string{host}, day0); err == nil {
			t.Errorf("it vouches for %s", host)
		}
	}
	for _, host := range []string{"shop-pc.local", "planter.lan", "10.1.2.3", "fd00::1"} {
		if _, err := Renew(dir, []string{host}, day0); err != nil {
			t.Errorf("%s: %v", host, err)
		}
	}
}

func TestNothingIsOverwritten(t *testing.T) {
	dir, _ := mustInit(t, "shop-pc.local")
	before := contents(t, dir)
	if _, err := Init(dir, []string{"shop-pc.local"}, day0); err == nil || !strings.Contains(err.Error(), "--renew") {
		t.Errorf("a second time: %v, want a word about --renew", err)
	}
	if _, err := Renew(dir, []string{"bank.example"}, day0); err == nil {
		t.Error("renewed for a host that it cannot vouch for")
	}
	for file, text := range contents(t, dir) {
		if before[file] != text {
			t.Errorf("%s has changed", file)
		}
	}
}

func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := fs.WalkDir(os.DirFS(dir), ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(filepath.Join(dir, path))
		all[path] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestRenew(t *testing.T) {
	dir, made := mustInit(t, "192.168.1.20", "shop-pc.local")
	later := day0.AddDate(2, 0, 0)
	renewed, err := Renew(dir, nil, later)
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(made.Authority) // what the phones have
	for _, host := range []string{"192.168.1.20", "shop-pc.local"} {
		if _, err := renewed.Server.Verify(x509.VerifyOptions{Roots: roots, DNSName: host, CurrentTime: later}); err != nil {
			t.Errorf("%s: %v", host, err)
		}
	}
	if Host(renewed.Server) != "192.168.1.20" || renewed.Server.Equal(made.Server) {
		t.Errorf("renewed for %q first; new: %v", Host(renewed.Server), !renewed.Server.Equal(made.Server))
	}
	if near, err := Renew(dir, nil, day0.AddDate(9, 6, 0)); err != nil || near.Server.NotAfter.After(made.Authority.NotAfter) {
		t.Errorf("a server certificate outlives its authority: %v, %v", near, err)
	}
	if _, err := Renew(dir, nil, day0.AddDate(11, 0, 0)); err == nil {
		t.Error("an authority that has ended was renewed of")
	}
}

func TestHosts(t *testing.T) {
	for _, bad := range []string{"", "a b", "https://shop", "shop:7480", "-a", "a..b", "*.local", "ä.local", strings.Repeat("a.", 130) + "a", "10.0.0.0/8"} {
		if _, err := Init(filepath.Join(t.TempDir(), "tls"), []string{bad}, day0); err == nil {
			t.Errorf("%q passed as a host", bad)
		}
	}
	if _, err := Init(t.TempDir(), nil, day0); err == nil {
		t.Error("no host passed")
	}
}

// TestReload: what is served changes with the files, and a broken file changes nothing.
func TestReload(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "tls")
	if _, err := Init(dir, []string{"shop-pc.local"}, time.Now()); err != nil {
		t.Fatal(err)
	}
	files, err := Load(filepath.Join(dir, ServerCert), filepath.Join(dir, ServerKey))
	if err != nil {
		t.Fatal(err)
	}
	authority, err := files.Authority()
	if err != nil {
		t.Fatal(err)
	}
	listener, err := tls.Listen("tcp", "127.0.0.1:0", files.Config())
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			conn.(*tls.Conn).Handshake()
			conn.Close()
		}
	}()
	t.Cleanup(func() { listener.Close(); <-done })
	roots := x509.NewCertPool()
	roots.AddCert(authority)
	served := func() string {
		conn, err := tls.Dial("tcp", listener.Addr().String(), &tls.Config{RootCAs: roots, ServerName: "shop-pc.local"})
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		if v := conn.ConnectionState().Version; v != tls.VersionTLS13 {
			t.Errorf("TLS version %x, want 1.3 where both can", v)
		}
		return conn.ConnectionState().PeerCertificates[0].SerialNumber.String()
	}
	first := served()
	if _, err := Renew(dir, nil, time.Now()); err != nil {
		t.Fatal(err)
	}
	if err := files.Reload(); err != nil {
		t.Fatal(err)
	}
	second := served()
	if second == first {
		t.Error("the old certificate is served on")
	}
	if err := os.WriteFile(filepath.Join(dir, ServerCert), []byte("broken"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := files.Reload(); err == nil || served() != second {
		t.Errorf("a broken file: %v, and something else is served", err)
	}
	old, err := net.Dial("tcp", listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer old.Close()
	only11 := &tls.Config{RootCAs: roots, ServerName: "shop-pc.local", MinVersion: tls.VersionTLS11, MaxVersion: tls.VersionTLS11}
	if err := tls.Client(old, only11).Handshake(); err == nil {
		t.Error("TLS 1.1 was spoken")
	}
}

// TestPage: the certificate, the page, and nothing else.
func TestPage(t *testing.T) {
	_, made := mustInit(t, "shop-pc.local")
	page, err := Page(made.Authority, "https://shop-pc.local:7480/")
	if err != nil {
		t.Fatal(err)
	}
	get := func(method, path string) (int, string, string) {
		w := httptest.NewRecorder()
		page.ServeHTTP(w, httptest.NewRequest(method, path, nil))
		body, err := io.ReadAll(w.Result().Body)
		if err != nil {
			t.Fatal(err)
		}
		return w.Code, w.Header().Get("Content-Type"), string(body)
	}
	code, media, body := get(http.MethodGet, "/")
	if code != http.StatusOK || !strings.HasPrefix(media, "text/html") {
		t.Errorf("the page: %d, %s", code, media)
	}
	for _, want := range []string{Fingerprint(made.Authority), "https://shop-pc.local:7480/", "<svg", certPath} {
		if !strings.Contains(body, want) {
			t.Errorf("the page does not show %q:\n%s", want, body)
		}
	}
	if code, media, body = get(http.MethodGet, certPath); code != http.StatusOK || media != "application/x-x509-ca-cert" || body != string(made.Authority.Raw) {
		t.Errorf("the certificate: %d, %s, %d bytes", code, media, len(body))
	}
	for _, other := range []struct {
		method, path string
		code         int
	}{{"GET", "/authority.key", 404}, {"GET", "/server.crt", 404}, {"GET", "/v1/styles", 404}, {"GET", "/healthz", 404}, {"POST", "/", 405}, {"PUT", certPath, 405}} {
		if code, _, _ := get(other.method, other.path); code != other.code {
			t.Errorf("%s %s: %d, want %d", other.method, other.path, code, other.code)
		}
	}
}
