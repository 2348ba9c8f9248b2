package main

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"google.golang.org/grpc/codes"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/tlsfiles"
)

// TestGatewayAsksForKeys: a gateway that others can reach asks for keys even where the service behind it
// lets its own machine in without.
func TestGatewayAsksForKeys(t *testing.T) {
	t.Parallel()
	store := filepath.Join(t.TempDir(), "rowdatum.db")
	secret := strings.TrimSpace(ran(t, "key", "add", "--store", store, "--shop", "north", "--role", "owner"))
	service := launch(t, store)
	must[*pb.ListPlantersResponse](t)(service.ways[0].planters().ListPlanters(t.Context(), &pb.ListPlantersRequest{}))
	open := launch(t, store, "--gateway-only", "--server", service.GRPC).ways[1]
	must[*pb.ListPlantersResponse](t)(open.planters().ListPlanters(t.Context(), &pb.ListPlantersRequest{}))

	guarded := launch(t, store, "--gateway-only", "--server", service.GRPC, "--behind-tls-proxy").ways[1]
	_, err := guarded.planters().ListPlanters(t.Context(), &pb.ListPlantersRequest{})
	wantReason(t, "a call without a key", err, codes.Unauthenticated, "KEY_MISSING")
	stream, err := guarded.jobs().WatchJob(t.Context(), &pb.WatchJobRequest{Name: "planters/p/jobs/j"})
	if err == nil {
		_, err = stream.Recv()
	}
	wantReason(t, "a watch without a key", err, codes.Unauthenticated, "KEY_MISSING")
	session := must[*pb.Session](t)(guarded.as(secret).access().GetSession(t.Context(), &pb.GetSessionRequest{}))
	if session.GetShop() != "north" {
		t.Errorf("the session is %v", session)
	}
}

// TestGatewayOverTLS: the gateway trusts a service elsewhere by the shop's authority, and no other; a
// renewed certificate is served after SIGHUP, without a stop.
func TestGatewayOverTLS(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "tls")
	in := func(name string) string { return filepath.Join(dir, name) }
	ran(t, "tls", "init", "--dir", dir, "--host", "shop-pc.local")
	store := filepath.Join(t.TempDir(), "rowdatum.db")
	secret := strings.TrimSpace(ran(t, "key", "add", "--store", store, "--shop", "north", "--role", "owner"))
	service := begin(t, store, "--service-only", "--require-keys", "--tls-cert", in(tlsfiles.ServerCert), "--tls-key", in(tlsfiles.ServerKey))
	service.addresses = readAddresses(t, service.file, nil)

	near := launch(t, store, "--gateway-only", "--server", service.GRPC, "--server-ca", in(tlsfiles.AuthorityCert)).ways[1]
	must[*pb.Session](t)(near.as(secret).access().GetSession(t.Context(), &pb.GetSessionRequest{}))

	other := filepath.Join(t.TempDir(), "tls")
	ran(t, "tls", "init", "--dir", other, "--host", "shop-pc.local")
	astray := launch(t, store, "--gateway-only", "--server", service.GRPC, "--server-ca", filepath.Join(other, tlsfiles.AuthorityCert)).ways[1]
	if _, err := astray.as(secret).access().GetSession(t.Context(), &pb.GetSessionRequest{}); err == nil {
		t.Error("the key was sent to a service that the authority does not vouch for")
	}

	files := must[*tlsfiles.Files](t)(tlsfiles.Load(in(tlsfiles.ServerCert), in(tlsfiles.ServerKey)))
	roots := x509.NewCertPool()
	roots.AddCert(must[*x509.Certificate](t)(files.Authority()))
	serial := func() string {
		conn, err := tls.Dial("tcp", service.GRPC, &tls.Config{RootCAs: roots, ServerName: "shop-pc.local", NextProtos: []string{"h2"}})
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		return conn.ConnectionState().PeerCertificates[0].SerialNumber.String()
	}
	first := serial()
	ran(t, "tls", "init", "--renew", "--dir", dir)
	if serial() != first {
		t.Error("the certificate changed without a word")
	}
	if err := service.cmd.Process.Signal(syscall.SIGHUP); err != nil {
		t.Fatal(err)
	}
	for deadline := time.Now().Add(10 * time.Second); serial() == first; time.Sleep(10 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal("the renewed certificate is not served after SIGHUP")
		}
	}
	must[*pb.Session](t)(near.as(secret).access().GetSession(t.Context(), &pb.GetSessionRequest{}))
}

// TestGuessingIsSlowed: over HTTP too, with a time to come again; who has a key is not kept out.
func TestGuessingIsSlowed(t *testing.T) {
	at, secrets := guarded(t, "north")
	client := &http.Client{Timeout: 10 * time.Second}
	redeem := func() *http.Response {
		res, err := client.Post("http://"+at.HTTP+"/v1/pairings:redeem", "application/json", strings.NewReader(`{"code":"ABCDEFGHIJKL"}`))
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		if !json.Valid(must[[]byte](t)(io.ReadAll(res.Body))) {
			t.Errorf("%s is not JSON", res.Status)
		}
		return res
	}
	refused, slowed := 0, 0
	for range 40 {
		switch res := redeem(); res.StatusCode {
		case http.StatusUnauthorized:
			refused++
		case http.StatusTooManyRequests:
			if res.Header.Get("Retry-After") == "" {
				t.Error("429 without Retry-After")
			}
			slowed++
		default:
			t.Fatal(res.Status)
		}
	}
	if refused < 5 || refused > 30 || slowed == 0 {
		t.Errorf("of 40 codes in a row %d were looked at and %d slowed down", refused, slowed)
	}
	for _, w := range waysTo(t, at) {
		must[*pb.Session](t)(w.as(secrets[0]).access().GetSession(t.Context(), &pb.GetSessionRequest{}))
	}
}

// TestManyWatchers: all browsers share the gateway's one connection to the service, and leave room for
// calls.
func TestManyWatchers(t *testing.T) {
	service := start(t, bundle())
	ways := waysTo(t, service.addresses)
	job := openJob(t, ways[0], "one", handles(2))
	const many = 300
	for range many {
		watchAsBrowser(t, service.addresses, job.GetName(), "")
	}
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
	defer cancel()
	must[*pb.Job](t)(ways[1].jobs().GetJob(ctx, &pb.GetJobRequest{Name: job.GetName()}))
}
