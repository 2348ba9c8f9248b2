package tlsfiles

import (
	"crypto/ecdsa"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync/atomic"
)

// Files are a certificate and its key, as they are served.
type Files struct {
	cert, key string
	now       atomic.Pointer[tls.Certificate]
}

// Load reads a certificate, followed by those that vouch for it, and its key.
func Load(cert, key string) (*Files, error) {
	f := &Files{cert: cert, key: key}
	return f, f.Reload()
}

// Reload reads the files again; where they cannot be read, what was read before stays.
func (f *Files) Reload() error {
	pair, err := tls.LoadX509KeyPair(f.cert, f.key)
	if err != nil {
		return fmt.Errorf("reading the certificate: %w", err)
	}
	f.now.Store(&pair)
	return nil
}

// Config serves what was read last, for the protocols named.
func (f *Files) Config(protocols ...string) *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, NextProtos: protocols,
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return f.now.Load(), nil }}
}

// Server is the certificate served.
func (f *Files) Server() *x509.Certificate { return f.now.Load().Leaf }

// Authority is the authority's certificate, where it follows the server's as Init writes it.
func (f *Files) Authority() (*x509.Certificate, error) {
	chain := f.now.Load().Certificate
	last, err := x509.ParseCertificate(chain[len(chain)-1])
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", f.cert, err)
	}
	if !last.IsCA || last.CheckSignatureFrom(last) != nil {
		return nil, fmt.Errorf("%s does not end with the certificate of an authority", f.cert)
	}
	return last, nil
}

func readCertificate(file string) (*x509.Certificate, error) {
	block, err := readBlock(file)
	if err != nil {
		return nil, err
	}
	return x509.ParseCertificate(block)
}

func readKey(file string) (*ecdsa.PrivateKey, error) {
	block, err := readBlock(file)
	if err != nil {
		return nil, err
	}
	key, err := x509.ParsePKCS8PrivateKey(block)
	if err != nil {
		return nil, err
	}
	if key, ok := key.(*ecdsa.PrivateKey); ok {
		return key, nil
	}
	return nil, fmt.Errorf("%s holds a key of another kind", file)
}

func readBlock(file string) ([]byte, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	block, _ := pem.Decode(text)
	if block == nil {
		return nil, fmt.Errorf("%s is not a PEM file", file)
	}
	return block.Bytes, nil
}

func writeKey(file string, key *ecdsa.PrivateKey) error {
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return err
	}
	return writeWhole(file, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der}), keyMode)
}

// Who may read what is written: a certificate is for everybody who talks to the service.
const (
	keyMode         = 0o600
	certificateMode = 0o644
)

// writeWhole writes a file, whole or not at all.
func writeWhole(file string, text []byte, mode os.FileMode) error {
	part, err := os.CreateTemp(filepath.Dir(file), ".part-*") // only its owner's
	if err != nil {
		return fmt.Errorf("writing %s: %w", file, err)
	}
	defer os.Remove(part.Name())
	_, err = part.Write(text)
	if err := errors.Join(err, part.Chmod(mode), part.Sync(), part.Close()); err != nil {
		return fmt.Errorf("writing %s: %w", file, err)
	}
	if err := os.Rename(part.Name(), file); err != nil {
		return fmt.Errorf("writing %s: %w", file, err)
	}
	return nil
}
