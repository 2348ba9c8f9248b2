package tlsfiles

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"
)

// The files of a folder.
const (
	AuthorityCert = "authority.crt"
	AuthorityKey  = "authority.key"
	ServerCert    = "server.crt" // followed by the authority's
	ServerKey     = "server.key"
)

// How long certificates last. Phones take no server certificate of more than 825 days from an authority
// that its owner has put there; the authority's is put there by hand, so seldom.
const (
	authorityYears = 10
	serverDays     = 820
	// early is for phones whose clocks are slow.
	early = 24 * time.Hour
)

// localNames are domains that no public name can be in: RFC 6761 (localhost), RFC 6762 (local), RFC 8375
// (home.arpa), internal (reserved by ICANN for private use, 2024), and lan, which many routers use.
var localNames = []string{"localhost", "local", "home.arpa", "internal", "lan"}

// localNetworks are those of RFC 1918, RFC 4193, and loopback and link-local ones.
var localNetworks = []string{"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "127.0.0.0/8", "169.254.0.0/16", "::1/128", "fc00::/7", "fe80::/10"}

// Init makes an authority and a server certificate for the hosts in a folder that holds none.
func Init(dir string, wanted []string, now time.Time) (*Made, error) {
	on, err := parseHosts(wanted)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("making the folder: %w", err)
	}
	for _, file := range []string{AuthorityCert, AuthorityKey, ServerCert, ServerKey} {
		if _, err := os.Lstat(filepath.Join(dir, file)); !errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("%s is there already. Phones trust the authority that is there; --renew makes a new server certificate of it", filepath.Join(dir, file))
		}
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	template := authorityTemplate(on, now)
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return nil, fmt.Errorf("making the authority: %w", err)
	}
	authority, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	if err := writeKey(filepath.Join(dir, AuthorityKey), key); err != nil {
		return nil, err
	}
	if err := writeWhole(filepath.Join(dir, AuthorityCert), pemOf(authority), certificateMode); err != nil {
		return nil, err
	}
	return issue(dir, authority, key, on, now)
}

// Renew makes a new server certificate of the authority that is in the folder, for the same hosts where
// none are given.
func Renew(dir string, wanted []string, now time.Time) (*Made, error) {
	authority, err := readCertificate(filepath.Join(dir, AuthorityCert))
	if err != nil {
		return nil, fmt.Errorf("reading the authority: %w", err)
	}
	key, err := readKey(filepath.Join(dir, AuthorityKey))
	if err != nil {
		return nil, fmt.Errorf("reading the authority's key: %w", err)
	}
	if public, ok := authority.PublicKey.(*ecdsa.PublicKey); !ok || !public.Equal(key.Public()) {
		return nil, fmt.Errorf("%s is not the key of %s", AuthorityKey, AuthorityCert)
	}
	if len(wanted) == 0 {
		present, err := readCertificate(filepath.Join(dir, ServerCert))
		if err != nil {
			return nil, fmt.Errorf("reading the server certificate, to renew it for the same hosts: %w", err)
		}
		wanted = hostsOf(present)
	}
	on, err := parseHosts(wanted)
	if err != nil {
		return nil, err
	}
	return issue(dir, authority, key, on, now)
}

// Made is what Init and Renew made.
type Made struct {
	Authority *x509.Certificate
	Server    *x509.Certificate
}

func authorityTemplate(on hosts, now time.Time) *x509.Certificate {
	t := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{Organization: []string{"rowdatum"}, CommonName: "rowdatum authority of " + on.first},
		NotBefore: now.Add(-early), NotAfter: now.AddDate(authorityYears, 0, 0),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: slices.Concat(localNames, on.names),
	}
	for _, text := range localNetworks {
		if _, network, err := net.ParseCIDR(text); err == nil {
			t.PermittedIPRanges = append(t.PermittedIPRanges, network)
		}
	}
	for _, ip := range on.addresses {
		t.PermittedIPRanges = append(t.PermittedIPRanges, &net.IPNet{IP: ip, Mask: net.CIDRMask(8*len(ip), 8*len(ip))})
	}
	return t
}

// issue makes and writes a server certificate.
func issue(dir string, authority *x509.Certificate, authorityKey *ecdsa.PrivateKey, on hosts, now time.Time) (*Made, error) {
	ends := now.AddDate(0, 0, serverDays).Add(-early)
	if ends.After(authority.NotAfter) {
		ends = authority.NotAfter
	}
	if !ends.After(now) {
		return nil, fmt.Errorf("the authority ended on %s: make a new one in another folder, and put it on the phones", authority.NotAfter.Format(time.DateOnly))
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	der, err := x509.CreateCertificate(rand.Reader, &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{Organization: []string{"rowdatum"}, CommonName: on.first},
		NotBefore: now.Add(-early), NotAfter: ends, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames: on.names, IPAddresses: on.addresses,
	}, authority, key.Public(), authorityKey)
	if err != nil {
		return nil, fmt.Errorf("making the server certificate: %w", err)
	}
	server, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	if err := vouches(authority, server, now); err != nil {
		return nil, err
	}
	if err := writeKey(filepath.Join(dir, ServerKey), key); err != nil {
		return nil, err
	}
	chain := slices.Concat(pemOf(server), pemOf(authority))
	return &Made{Authority: authority, Server: server}, writeWhole(filepath.Join(dir, ServerCert), chain, certificateMode)
}

// vouches tries what a phone will.
func vouches(authority, server *x509.Certificate, now time.Time) error {
	roots := x509.NewCertPool()
	roots.AddCert(authority)
	if _, err := server.Verify(x509.VerifyOptions{Roots: roots, CurrentTime: now}); err != nil {
		return fmt.Errorf("the authority in this folder was not made for all of these hosts; make a new one in another folder, and put it on the phones (%w)", err)
	}
	return nil
}

// serial is 128 random bits: nobody keeps a count.
func serial() *big.Int {
	var b [16]byte
	rand.Read(b[:]) // never fails
	return new(big.Int).SetBytes(b[:])
}

// longestName is of RFC 1035, 2.3.4, without the dot of the root.
const longestName = 253

// hostName is a name as RFC 1123 has it.
var hostName = regexp.MustCompile(`^([a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?\.)*[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?$`)

// hosts are what a certificate is for.
type hosts struct {
	first     string // what phones are told to open
	names     []string
	addresses []net.IP
}

// thisMachine is what programs on the machine itself say.
var thisMachine = []string{"localhost", "127.0.0.1", "::1"}

// parseHosts tells names from addresses, and adds this machine's.
func parseHosts(wanted []string) (on hosts, err error) {
	if len(wanted) == 0 {
		return hosts{}, errors.New("name at least one host: what phones will type, such as shop-pc.local or 192.168.1.20")
	}
	seen := map[string]bool{}
	for _, host := range slices.Concat(wanted, thisMachine) {
		host = strings.ToLower(strings.TrimSpace(host))
		ip := net.ParseIP(host)
		if ip == nil && (!hostName.MatchString(host) || len(host) > longestName) {
			return hosts{}, fmt.Errorf("%q is neither a host name nor an address; give what phones will type, such as shop-pc.local or 192.168.1.20", host)
		}
		if seen[host] {
			continue
		}
		seen[host] = true
		if on.first == "" {
			on.first = host
		}
		if short := ip.To4(); short != nil {
			ip = short
		}
		if ip != nil {
			on.addresses = append(on.addresses, ip)
		} else {
			on.names = append(on.names, host)
		}
	}
	return on, nil
}

// hostsOf is what a certificate was made for.
func hostsOf(cert *x509.Certificate) []string {
	all := []string{Host(cert)}
	all = append(all, cert.DNSNames...)
	for _, ip := range cert.IPAddresses {
		all = append(all, ip.String())
	}
	return all
}

// Host is the first host that a certificate was made for.
func Host(cert *x509.Certificate) string {
	if first := cert.Subject.CommonName; cert.VerifyHostname(first) == nil || len(cert.DNSNames) == 0 {
		return first
	}
	return cert.DNSNames[0]
}

// Fingerprint is what people compare, in pairs of hexadecimal digits.
func Fingerprint(cert *x509.Certificate) string {
	sum := sha256.Sum256(cert.Raw)
	var pairs []string
	for _, b := range sum {
		pairs = append(pairs, strings.ToUpper(hex.EncodeToString([]byte{b})))
	}
	return strings.Join(pairs, ":")
}

func pemOf(cert *x509.Certificate) []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert.Raw})
}
