package adjustertest

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"math/big"
	"net"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// strangers try to come in beside the host; the error says who was let in.
func (p *program) strangers(ctx context.Context) error {
	own, err := ownCertificate()
	if err != nil {
		return err
	}
	return errors.Join(
		p.stranger(ctx, "speaks without TLS", insecure.NewCredentials()),
		p.stranger(ctx, "shows no certificate", anyServer()),
		p.stranger(ctx, "shows a certificate that is not the host's", anyServer(own)),
	)
}

// anyServer trusts whoever answers: the exam asks whether the program trusts whoever calls.
func anyServer(own ...tls.Certificate) credentials.TransportCredentials {
	return credentials.NewTLS(&tls.Config{InsecureSkipVerify: true, Certificates: own, MinVersion: tls.VersionTLS12})
}

// strangerTimeout is how long a stranger tries.
const strangerTimeout = 2 * time.Second

func (p *program) stranger(ctx context.Context, who string, as credentials.TransportCredentials) error {
	address := p.host.ReattachConfig().Addr
	conn, err := grpc.NewClient("passthrough:///localhost", grpc.WithTransportCredentials(as),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, address.Network(), address.String())
		}))
	if err != nil {
		return fmt.Errorf("trying as a stranger: %w", err)
	}
	defer conn.Close()
	ctx, cancel := context.WithTimeout(ctx, strangerTimeout)
	defer cancel()
	_, err = adjusterv1.NewAdjusterClient(conn).Describe(ctx, &adjusterv1.DescribeRequest{})
	if code := status.Code(err); code == codes.Unavailable || code == codes.DeadlineExceeded || code == codes.Canceled {
		return nil
	}
	return fmt.Errorf("somebody who %s is let in; TLS must require the certificate that the host gave in PLUGIN_CLIENT_CERT", who)
}

// ownCertificate makes a certificate that nobody trusts.
func ownCertificate() (tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return tls.Certificate{}, fmt.Errorf("making a stranger's key: %w", err)
	}
	form := &x509.Certificate{SerialNumber: big.NewInt(1), DNSNames: []string{"localhost"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour)}
	der, err := x509.CreateCertificate(rand.Reader, form, form, key.Public(), key)
	if err != nil {
		return tls.Certificate{}, fmt.Errorf("making a stranger's certificate: %w", err)
	}
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, nil
}
