package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"rowdatum/server/internal/tlsfiles"
)

type tlsCommands struct {
	Init initTLS `cmd:"" help:"Make an authority of the shop's own, which phones are told to trust once, and a server certificate of it."`
}

type initTLS struct {
	Dir   string   `default:"data/tls" placeholder:"DIR" help:"Where the files go (${default})."`
	Host  []string `placeholder:"HOST,…" help:"What phones will type: names, addresses, or both, with commas between."`
	Renew bool     `help:"Make a new server certificate of the authority that is there; for the same hosts where --host is left out."`
}

// Run makes the files and says what to do with them.
func (c *initTLS) Run() error {
	do := tlsfiles.Init
	if c.Renew {
		do = tlsfiles.Renew
	} else if len(c.Host) == 0 {
		return errors.New("--host is missing: what phones will type, such as shop-pc.local,192.168.1.20")
	}
	made, err := do(c.Dir, c.Host, time.Now())
	if err != nil {
		return err
	}
	in := func(name string) string { return filepath.Join(c.Dir, name) }
	fmt.Printf("The server certificate is good until %s; renew it before with: rowdatumd tls init --renew --dir %s, then send the service SIGHUP or start it again.\n",
		made.Server.NotAfter.Format(time.DateOnly), c.Dir)
	fmt.Printf("\nServe with:\n  rowdatumd --http :7480 --tls-cert %s --tls-key %s --ca-http :7481\n", in(tlsfiles.ServerCert), in(tlsfiles.ServerKey))
	if c.Renew {
		return nil
	}
	fmt.Printf("\nThe authority is good until %s. Its fingerprint (SHA-256):\n  %s\n", made.Authority.NotAfter.Format(time.DateOnly), tlsfiles.Fingerprint(made.Authority))
	fmt.Printf("\nOn each phone, once: open http://%s:7481/ (--ca-http), compare the fingerprint, install the certificate as that page says.\n", tlsfiles.Host(made.Server))
	fmt.Printf("\nKeep %s to yourself: whoever has it can pass for this service. Once the phones are done it may be kept on a stick in a drawer until the next --renew.\n", in(tlsfiles.AuthorityKey))
	return nil
}
