package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"fmt"
	"math/big"
	"net"
	"time"

	"github.com/hashicorp/go-plugin"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/health"
	"google.golang.org/grpc/health/grpc_health_v1"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// door serves without the library, as a program in another language does.
type door struct {
	lets tls.ClientAuthType
	says grpc_health_v1.HealthCheckResponse_ServingStatus
}

func (d *door) serve(impl adjusterv1.AdjusterServer) {
	own, err := certificate()
	if err != nil {
		panic(err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		panic(err)
	}
	s := grpc.NewServer(grpc.Creds(credentials.NewTLS(&tls.Config{Certificates: []tls.Certificate{own}, ClientAuth: d.lets, MinVersion: tls.VersionTLS12})))
	h := health.NewServer()
	h.SetServingStatus(plugin.GRPCServiceName, d.says)
	grpc_health_v1.RegisterHealthServer(s, h)
	adjusterv1.RegisterAdjusterServer(s, impl)
	fmt.Printf("1|1|tcp|%s|grpc|%s\n", listener.Addr(), base64.RawStdEncoding.EncodeToString(own.Certificate[0]))
	if err := s.Serve(listener); err != nil {
		panic(err)
	}
}

func certificate() (tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return tls.Certificate{}, err
	}
	form := &x509.Certificate{SerialNumber: big.NewInt(1), DNSNames: []string{"localhost"}, BasicConstraintsValid: true, IsCA: true,
		NotBefore: time.Now().Add(-time.Minute), NotAfter: time.Now().Add(time.Hour)}
	der, err := x509.CreateCertificate(rand.Reader, form, form, key.Public(), key)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, err
}
