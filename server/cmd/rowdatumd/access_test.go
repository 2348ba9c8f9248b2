package main

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"database/sql"
	"errors"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/tlsfiles"
)

// command runs the program to its end and returns what it printed.
func command(t *testing.T, args ...string) (stdout, stderr string, err error) {
	t.Helper()
	cmd := exec.Command(filepath.Join(programs, "rowdatumd"), args...)
	var out, complaint bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaint
	err = cmd.Run()
	return out.String(), complaint.String(), err
}

// ran is command for what must succeed.
func ran(t *testing.T, args ...string) string {
	t.Helper()
	out, complaint, err := command(t, args...)
	if err != nil {
		t.Fatalf("rowdatumd %v: %v\n%s", args, err, complaint)
	}
	return out
}

// TestDoors: what may be listened on, and with what.
func TestDoors(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		flags    flags
		ok, keys bool
	}{
		{"this machine alone", flags{GRPC: "127.0.0.1:0", HTTP: "localhost:0"}, true, false},
		{"this machine alone, IPv6", flags{GRPC: "[::1]:0", HTTP: "[::1]:0"}, true, false},
		{"this machine alone, with keys", flags{GRPC: "127.0.0.1:0", HTTP: "127.0.0.1:0", RequireKeys: true}, true, true},
		{"everywhere", flags{GRPC: "127.0.0.1:0", HTTP: ":7480"}, false, true},
		{"everywhere, in zeros", flags{GRPC: "127.0.0.1:0", HTTP: "0.0.0.0:7480"}, false, true},
		{"an address of the network", flags{GRPC: "192.168.1.20:7401", HTTP: "127.0.0.1:0"}, false, true},
		{"a name that may be anybody's", flags{GRPC: "127.0.0.1:0", HTTP: "shop-pc:7480"}, false, true},
		{"everywhere with TLS", flags{GRPC: ":0", HTTP: ":0", TLSCert: "c", TLSKey: "k"}, true, true},
		{"behind a proxy", flags{GRPC: "127.0.0.1:0", HTTP: "127.0.0.1:0", BehindTLSProxy: true}, true, true},
		{"everywhere in plain, loudly", flags{GRPC: "127.0.0.1:0", HTTP: ":0", LANPlainHTTP: true}, true, true},
		{"half of a certificate", flags{GRPC: ":0", HTTP: ":0", TLSCert: "c"}, false, true},
		{"no port", flags{GRPC: "127.0.0.1", HTTP: "127.0.0.1:0"}, false, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			if err := c.flags.checkDoors(); (err == nil) != c.ok {
				t.Errorf("allowed: %v, want %t", err, c.ok)
			}
			if got := c.flags.keysOnly(); got != c.keys {
				t.Errorf("keys only: %t, want %t", got, c.keys)
			}
		})
	}
}

// TestKeysByCommand adds, lists and revokes keys beside a running service that asks for them.
func TestKeysByCommand(t *testing.T) {
	t.Parallel()
	onEveryStore(t, func(t *testing.T, store string) {
		if _, complaint, err := command(t, "--grpc", "127.0.0.1:0", "--http", "127.0.0.1:0", "--store", store, "--adjusters", bundle(), "--require-keys"); err == nil || !strings.Contains(complaint, "key add") {
			t.Fatalf("it served with keys that nobody has: %v %s", err, complaint)
		}
		owner := strings.TrimSpace(ran(t, "key", "add", "--store", store, "--shop", "north", "--role", "owner", "--label", "Ada"))
		p := launch(t, store, "--require-keys")
		reader := strings.TrimSpace(ran(t, "key", "add", "--store", store, "--shop", "north", "--role", "reader"))
		for _, w := range p.ways {
			_, err := w.planters().ListPlanters(t.Context(), &pb.ListPlantersRequest{})
			wantReason(t, w.name+" without a key", err, codes.Unauthenticated, "KEY_MISSING")
			must[*pb.ListPlantersResponse](t)(w.as(reader).planters().ListPlanters(t.Context(), &pb.ListPlantersRequest{}))
			_, err = w.as(reader).planters().CreatePlanter(t.Context(), &pb.CreatePlanterRequest{Planter: handles(1)})
			wantReason(t, w.name+" writing as reader", err, codes.PermissionDenied, "ROLE_TOO_LOW")
			made := must[*pb.Planter](t)(w.as(owner).planters().CreatePlanter(t.Context(), &pb.CreatePlanterRequest{Planter: handles(1)}))
			trail := must[*pb.ListAuditEntriesResponse](t)(w.as(owner).access().ListAuditEntries(t.Context(), &pb.ListAuditEntriesRequest{}))
			if len(trail.AuditEntries) == 0 || trail.AuditEntries[0].KeyLabel != "Ada" || trail.AuditEntries[0].Resource != made.Name {
				t.Errorf("%s: the trail does not begin with what Ada just wrote: %v", w.name, trail.AuditEntries)
			}
		}
		list := ran(t, "key", "list", "--store", store)
		if strings.Contains(list, owner) || strings.Contains(list, reader) {
			t.Error("the list shows a secret")
		}
		var id string
		for _, line := range strings.Split(list, "\n") {
			if strings.Contains(line, "reader") {
				id = strings.Fields(line)[0]
			}
		}
		ran(t, "key", "revoke", "--store", store, id)
		for _, w := range p.ways {
			_, err := w.as(reader).planters().ListPlanters(t.Context(), &pb.ListPlantersRequest{})
			wantReason(t, w.name+" with a revoked key", err, codes.Unauthenticated, "KEY_REVOKED")
		}
	})
}

// newAuthority makes a shop's own authority in a folder, and returns the folder with the authority's certificate.
func newAuthority(t *testing.T) (dir string, authority *x509.Certificate) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "tls")
	ran(t, "tls", "init", "--dir", dir, "--host", "shop-pc.local,127.0.0.1")
	files := must[*tlsfiles.Files](t)(tlsfiles.Load(filepath.Join(dir, tlsfiles.ServerCert), filepath.Join(dir, tlsfiles.ServerKey)))
	return dir, must[*x509.Certificate](t)(files.Authority())
}

// TestOwnAuthorityIsKept: an authority that phones trust is not written over, and its keys are the owner's alone to read.
func TestOwnAuthorityIsKept(t *testing.T) {
	t.Parallel()
	dir, _ := newAuthority(t)
	if _, _, err := command(t, "tls", "init", "--dir", dir, "--host", "shop-pc.local"); err == nil {
		t.Error("an authority that phones trust was written over")
	}
	for _, file := range must[[]string](t)(filepath.Glob(filepath.Join(dir, "*"))) {
		info := must[os.FileInfo](t)(os.Stat(file))
		if mode := info.Mode().Perm(); strings.Contains(file, "key") && mode&0o077 != 0 {
			t.Errorf("%s can be read by others: %v", file, mode)
		}
	}
}

// TestOwnAuthority: HTTPS and gRPC serve who trusts the shop's authority, and nobody else; the page for phones hands out
// the authority and serves nothing of the API.
func TestOwnAuthority(t *testing.T) {
	t.Parallel()
	dir, authority := newAuthority(t)
	store := filepath.Join(t.TempDir(), "rowdatum.db")
	secret := strings.TrimSpace(ran(t, "key", "add", "--store", store, "--shop", "north", "--role", "owner"))
	p := begin(t, store, "--require-keys", "--tls-cert", filepath.Join(dir, tlsfiles.ServerCert), "--tls-key", filepath.Join(dir, tlsfiles.ServerKey), "--ca-http", "127.0.0.1:0")
	p.addresses = readAddresses(t, p.file, nil)
	roots := x509.NewCertPool()
	roots.AddCert(authority)
	trusting := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}}, Timeout: 10 * time.Second}

	if code, body := pageFor(t, trusting, secret, "https://"+p.HTTP+"/v1/planters"); code != http.StatusOK {
		t.Errorf("HTTPS: %d %s", code, body)
	}
	if code, body := pageFor(t, http.DefaultClient, secret, "https://"+p.HTTP+"/v1/planters"); code != 0 {
		t.Errorf("who does not trust the authority got %d %s", code, body)
	}
	if code, body := pageFor(t, http.DefaultClient, secret, "http://"+p.HTTP+"/v1/planters"); code == http.StatusOK {
		t.Errorf("plain HTTP got %d %s", code, body)
	}
	conn := must[*grpc.ClientConn](t)(grpc.NewClient(p.GRPC, grpc.WithTransportCredentials(credentials.NewTLS(&tls.Config{RootCAs: roots, ServerName: "shop-pc.local"}))))
	defer conn.Close()
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	if _, err := pb.NewPlanterServiceClient(conn).ListPlanters(ctx, &pb.ListPlantersRequest{}); status.Code(err) != codes.Unauthenticated {
		t.Errorf("gRPC over TLS without a key: %v", err)
	}
	code, home := pageFor(t, http.DefaultClient, secret, "http://"+p.CA+"/")
	if code != http.StatusOK || !strings.Contains(home, tlsfiles.Fingerprint(authority)) || !strings.Contains(home, "<svg") {
		t.Errorf("the page for phones: %d %s", code, home)
	}
	for _, path := range []string{"/v1/planters", "/healthz", "/docs"} {
		if code, _ := pageFor(t, http.DefaultClient, secret, "http://"+p.CA+path); code != http.StatusNotFound {
			t.Errorf("the page for phones serves %s: %d", path, code)
		}
	}
}

// pageFor asks for a page with a key; code 0 is no answer, and why.
func pageFor(t *testing.T, client *http.Client, key, url string) (code int, body string) {
	t.Helper()
	req := must[*http.Request](t)(http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil))
	req.Header.Set("Authorization", "Bearer "+key)
	res, err := client.Do(req)
	if err != nil {
		return 0, err.Error()
	}
	defer res.Body.Close()
	return res.StatusCode, string(must[[]byte](t)(io.ReadAll(res.Body)))
}

// TestKeepAndBringBack: what a shop owns survives a backup, and an export brought in elsewhere, to the
// byte; a signed job that was changed on the way is refused.
func TestKeepAndBringBack(t *testing.T) {
	t.Parallel()
	onEveryStore(t, func(t *testing.T, store string) {
		p := launch(t, store)
		w := p.ways[1]
		job := openJob(t, w, "one", handles(3))
		must[*pb.AppendResponse](t)(w.jobs().AddReadings(t.Context(), &pb.AddReadingsRequest{Name: job.Name, Person: ada, Readings: inMM(1, 0, 50)}))
		must[*pb.AppendResponse](t)(w.jobs().AddNotes(t.Context(), &pb.AddNotesRequest{Name: job.Name, Person: ada, Notes: []*pb.Note{{Text: "ärm <loose> & \"worn\""}}}))
		d := someDig()
		d.Title, d.Person, d.TargetMm, d.DigTime = "Wörth, low <corner>", ada, with(50.8), timestamppb.New(time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC))
		must[*pb.Dig](t)(w.digs().CreateDig(t.Context(), &pb.CreateDigRequest{Parent: "planters/one", Dig: d, DigId: "corner"}))
		must[*pb.Dig](t)(w.digs().CreateDig(t.Context(), &pb.CreateDigRequest{Parent: "planters/one", Dig: someDig()}))
		ran(t, "key", "add", "--store", store, "--shop", "local", "--role", "reader")
		whole := ran(t, "export", "--store", store)
		if n := strings.Count(whole, "\n"); n < 8 || strings.Count(whole, `{"dig":`) != 2 {
			t.Fatalf("the export has %d lines: %s", n, whole)
		}

		elsewhere := filepath.Join(t.TempDir(), "elsewhere.db")
		file := filepath.Join(t.TempDir(), "shop.jsonl")
		if err := os.WriteFile(file, []byte(whole), 0o600); err != nil {
			t.Fatal(err)
		}
		ran(t, "import", "--store", elsewhere, file)
		if again := ran(t, "export", "--store", elsewhere); again != whole {
			t.Errorf("brought in and exported again it is\n%s\nnot\n%s", again, whole)
		}
		if _, complaint, err := command(t, "import", "--store", elsewhere, file); err == nil {
			t.Error("it was brought in twice")
		} else if again := ran(t, "export", "--store", elsewhere); again != whole {
			t.Errorf("a refused import (%s) left something behind", complaint)
		}
		digsOf := func(w way) *pb.ListDigsResponse {
			return must[*pb.ListDigsResponse](t)(w.digs().ListDigs(t.Context(), &pb.ListDigsRequest{Parent: "planters/one"}))
		}
		if there := digsOf(launch(t, elsewhere).ways[0]); len(there.Digs) != 2 || !proto.Equal(there, digsOf(w)) {
			t.Errorf("brought in, the digs are %v, not %v", there, digsOf(w))
		}
		if strings.HasPrefix(store, "postgres") {
			if _, complaint, err := command(t, "backup", "--store", store, filepath.Join(t.TempDir(), "b")); err == nil || !strings.Contains(complaint, "pg_dump") {
				t.Errorf("a backup of PostgreSQL: %v %s", err, complaint)
			}
			return
		}
		copied := filepath.Join(t.TempDir(), "copy.db")
		for _, read := range []string{"backup", "export"} { // nothing is made of a mistyped name, and no good copy replaced
			if _, complaint, err := command(t, read, "--store", store+"n", copied); err == nil || !strings.Contains(complaint, "there is no store to read") {
				t.Errorf("%s of a store that is not there: %v %s", read, err, complaint)
			}
		}
		ran(t, "backup", "--store", store, copied)
		if again := ran(t, "export", "--store", copied); again != whole {
			t.Errorf("the backup holds\n%s\nnot\n%s", again, whole)
		}
	})
}

// TestExportOfADamagedStore: what is left out is named, and the file says by its name that it is not whole.
func TestExportOfADamagedStore(t *testing.T) {
	t.Parallel()
	store := filepath.Join(t.TempDir(), "rowdatum.db")
	good, err := os.ReadFile("../../../testdata/seal/store.db")
	if err := errors.Join(err, os.WriteFile(store, good, 0o600)); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "shop.jsonl")
	ran(t, "export", "--store", store, file)
	whole := must[[]byte](t)(os.ReadFile(file))
	hand := must[*sql.DB](t)(sql.Open("sqlite", store))
	_, err = hand.ExecContext(t.Context(), `UPDATE events SET body = replace(body, '57.2', '57.3') WHERE job = 'first' AND revision = 10`)
	if err := errors.Join(err, hand.Close()); err != nil {
		t.Fatal(err)
	}
	_, complaint, err := command(t, "export", "--store", store, file)
	if err == nil || !strings.Contains(complaint, "left out: planters/creek-six/jobs/first") || !strings.Contains(complaint, "shop.jsonl.incomplete") {
		t.Errorf("%v: %s", err, complaint)
	}
	if again := must[[]byte](t)(os.ReadFile(file)); !bytes.Equal(again, whole) {
		t.Error("a whole export was replaced by one that is not")
	}
	ran(t, "import", "--store", filepath.Join(t.TempDir(), "new.db"), file+".incomplete")
}

// TestImportRefusesAChangedSheet takes one reading of a signed job and changes it.
func TestImportRefusesAChangedSheet(t *testing.T) {
	t.Parallel()
	store := filepath.Join(t.TempDir(), "rowdatum.db")
	p := launch(t, store)
	w := p.ways[1]
	job := openJob(t, w, "one", handles(2))
	state := must[*pb.AppendResponse](t)(w.jobs().AddReadings(t.Context(), &pb.AddReadingsRequest{Name: job.Name, Person: ada,
		Readings: slices.Concat(inMM(1, 0, 50, 50), inMM(2, 0, 50, 50))})).Job
	var ticks []*pb.CautionTick
	for _, c := range state.State.Cautions {
		ticks = append(ticks, &pb.CautionTick{Caution: c.Id})
	}
	state = must[*pb.AppendResponse](t)(w.jobs().TickCautions(t.Context(), &pb.TickCautionsRequest{Name: job.Name, Person: ada, Ticks: ticks})).Job
	state = must[*pb.AppendResponse](t)(w.jobs().PlanJob(t.Context(), &pb.PlanJobRequest{Name: job.Name, Person: ada, Etag: state.Etag})).Job
	must[*pb.AppendResponse](t)(w.jobs().SignJob(t.Context(), &pb.SignJobRequest{Name: job.Name, Person: ada, Etag: state.Etag}))
	whole := ran(t, "export", "--store", store)
	changed := strings.Replace(whole, `"value":50`, `"value":51`, 1)
	if changed == whole {
		t.Fatalf("no reading found in %s", whole)
	}
	for name, c := range map[string]struct {
		text string
		ok   bool
	}{"as it was": {whole, true}, "changed": {changed, false}, "not an export": {"{}\n", false}} {
		file := filepath.Join(t.TempDir(), "shop.jsonl")
		if err := os.WriteFile(file, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, complaint, err := command(t, "import", "--store", filepath.Join(t.TempDir(), "new.db"), file); (err == nil) != c.ok {
			t.Errorf("%s: %v %s", name, err, complaint)
		}
	}
}
