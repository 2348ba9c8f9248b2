package hooks

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"strings"
	"syscall"
	"time"

	"rowdatum/server/internal/flow"
)

// Limits on what a receiver may answer; none of it is kept.
const (
	mostAnswer = 64 << 10
	mostHeader = 16 << 10
	idle       = 30 * time.Second // that a connection stays open for the next delivery
)

// errNotPublic is the end of a connection to where nothing is sent.
var errNotPublic = errors.New("not a public address")

// answer is what came of one attempt.
type answer struct {
	status  int           // 0 where nobody answered
	problem string        // for people; empty where the receiver took it
	wait    time.Duration // that the receiver asked for
}

// newClient returns a client that follows no redirect and uses no proxy: either could lead where nothing is
// to be sent.
func newClient(toPrivate bool) *http.Client {
	dialer := &net.Dialer{}
	if !toPrivate {
		dialer.Control = refuseInside
	}
	return &http.Client{
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{DialContext: dialer.DialContext, ForceAttemptHTTP2: true, DisableCompression: true,
			MaxResponseHeaderBytes: mostHeader, IdleConnTimeout: idle},
	}
}

// refuseInside refuses to connect to an address that is not public. It is asked once a name has been looked up,
// with the very address that is connected to.
func refuseInside(_, address string, _ syscall.RawConn) error {
	at, err := netip.ParseAddrPort(address)
	if err != nil || !flow.PublicAddress(at.Addr()) {
		return errNotPublic
	}
	return nil
}

// post sends a delivery once.
func (d *Deliverer) post(ctx context.Context, h flow.Hook, x flow.Delivery) answer {
	ctx, cancel := context.WithTimeout(ctx, d.Timeout)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, h.URL, strings.NewReader(x.Body))
	if err != nil {
		return answer{problem: "the hook's address cannot be used"}
	}
	r.Header.Set("Content-Type", "application/cloudevents+json; charset=utf-8")
	r.Header.Set("User-Agent", "rowdatum")
	now := d.Now()
	if err := sign(r.Header, h.Secrets(now), x.ID, time.UnixMicro(int64(now)), x.Body); err != nil {
		return answer{problem: "the hook's secret cannot be used; give it a new one"}
	}
	got, err := d.client.Do(r)
	if err != nil {
		return answer{problem: d.problem(err)}
	}
	defer got.Body.Close()
	_, _ = io.CopyN(io.Discard, got.Body, mostAnswer) // so that the connection can be used again
	return answered(got, time.UnixMicro(int64(now)))
}

// answered reads an answer: only 2xx says that the receiver has it.
func answered(got *http.Response, now time.Time) answer {
	a := answer{status: got.StatusCode, wait: retryAfter(got.Header.Get("Retry-After"), now)}
	switch got.StatusCode / 100 {
	case 2:
		return answer{status: got.StatusCode}
	case 3:
		a.problem = fmt.Sprintf("answered %d; redirects are not followed: give the hook the address itself", got.StatusCode)
	default:
		a.problem = strings.TrimSpace(fmt.Sprintf("answered %d %s", got.StatusCode, http.StatusText(got.StatusCode)))
	}
	return a
}

// retryAfter is the pause that a receiver asks for, as RFC 9110, 10.2.3 writes it; 0 where it asks for none.
func retryAfter(text string, now time.Time) time.Duration {
	wait := time.Duration(0)
	if seconds, err := strconv.Atoi(text); err == nil {
		wait = time.Duration(min(seconds, int(longestPause/time.Second))) * time.Second
	} else if at, err := http.ParseTime(text); err == nil {
		wait = at.Sub(now)
	}
	return min(max(wait, 0), longestPause)
}

// problem says for people why nobody answered. It tells nothing of what a name leads to within the network.
func (d *Deliverer) problem(err error) string {
	var untrusted *tls.CertificateVerificationError
	var lookup *net.DNSError
	switch {
	case errors.Is(err, errNotPublic):
		return "the address leads to this machine or into a private network; the service must be started with --hooks-to-private to send there"
	case errors.Is(err, context.DeadlineExceeded):
		return fmt.Sprintf("no answer within %v", d.Timeout)
	case errors.As(err, &untrusted):
		return "the receiver's certificate is not to be trusted"
	case errors.As(err, &lookup):
		return "the receiver's name was not found"
	default:
		return "the connection to the receiver was not made, or broke off"
	}
}
