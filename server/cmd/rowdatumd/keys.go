package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store"
	"rowdatum/server/leveling"
)

// keyCommands work on the store itself, beside a service that may be running on it: who can write the
// store needs no key.
type keyCommands struct {
	Add    addKey    `cmd:"" help:"Add a key to a shop and print its secret, once."`
	List   listKeys  `cmd:"" help:"List keys: never their secrets, which are not kept."`
	Revoke revokeKey `cmd:"" help:"Revoke a key: calls with it are refused at once, streams end within a minute."`
}

type storeFlag struct {
	Store string `default:"data/rowdatum.db" placeholder:"FILE" help:"Where the store is: a file or a postgres:// address (${default})."`
}

// commandTime is enough for any of these commands, on a store that answers at all.
const commandTime = 30 * time.Second

// with opens the store for one quick command.
func (s storeFlag) with(do func(context.Context, *flow.Flow) error) error {
	ctx, cancel := context.WithTimeout(context.Background(), commandTime)
	defer cancel()
	return s.beside(ctx, func(opened *store.Store) error { return do(ctx, &flow.Flow{Store: opened, Now: now}) })
}

// there refuses a file that is not there, which opening would make: a copy of an empty store in place of a good one helps nobody.
func (s storeFlag) there() error {
	if strings.Contains(s.Store, "://") {
		return nil
	}
	if _, err := os.Stat(s.Store); err != nil {
		return fmt.Errorf("there is no store to read: %w", err)
	}
	return nil
}

// beside opens the store beside a service that may have it open.
func (s storeFlag) beside(ctx context.Context, do func(*store.Store) error) (err error) {
	opened, err := store.OpenBeside(ctx, s.Store, nil)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, opened.Close()) }()
	return do(opened)
}

type addKey struct {
	storeFlag
	Shop  string `required:"" placeholder:"SHOP" help:"The shop's id: lower-case letters, digits and hyphens. A new id is a new shop."`
	Role  string `required:"" enum:"reader,technician,owner" placeholder:"ROLE" help:"reader, technician or owner."`
	Days  *int   `placeholder:"N" help:"How many days the key is good; left out, until it is revoked."`
	Label string `placeholder:"WORDS" help:"Whose key it is: a person or a device."`
}

// mostDays is more than anybody needs, and what a duration holds.
const mostDays = 36500

// Validate is called by the flag parser.
func (c *addKey) Validate() error {
	if c.Days != nil && (*c.Days < 1 || *c.Days > mostDays) {
		return fmt.Errorf("--days is %d, must be 1 to %d", *c.Days, mostDays)
	}
	return nil
}

// lasts is how long the key is good; 0 is for ever.
func (c *addKey) lasts() time.Duration {
	if c.Days == nil {
		return 0
	}
	return time.Duration(*c.Days) * 24 * time.Hour
}

var roles = map[string]flow.Role{"reader": flow.Reader, "technician": flow.Technician, "owner": flow.Owner}

// Run adds a key. Only the secret goes to standard output, so that a script can take it from there.
func (c *addKey) Run() error {
	return c.with(func(ctx context.Context, core *flow.Flow) error {
		secret, key, err := core.AddKey(ctx, c.Shop, roles[c.Role], c.Label, c.lasts())
		if err != nil {
			return err
		}
		fmt.Println(secret)
		fmt.Fprintf(os.Stderr, "Key %s of shop %s, role %s, %s. The line above is its secret: keep it now, it is shown only once.\n", key.ID, key.Shop, c.Role, stateOf(key))
		return nil
	})
}

type listKeys struct {
	storeFlag
	Shop string `placeholder:"SHOP" help:"Only this shop's."`
}

// Run lists keys.
func (c *listKeys) Run() error {
	return c.with(func(ctx context.Context, core *flow.Flow) error {
		keys, err := core.Keys(ctx, c.Shop)
		if err != nil {
			return err
		}
		w := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "ID\tSHOP\tROLE\tMADE\tSTATE\tLABEL")
		for _, key := range keys {
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\n", leveling.Escaped(key.ID), leveling.Escaped(key.Shop), roleWord(key), day(key.CreateTime), stateOf(key), cmp.Or(leveling.Escaped(key.Label), "-"))
		}
		return w.Flush()
	})
}

func roleWord(key flow.Key) string {
	if key.Job != (flow.JobKey{}) {
		return "share"
	}
	for word, role := range roles {
		if role == key.Role {
			return word
		}
	}
	return "unknown"
}

func stateOf(key flow.Key) string {
	switch {
	case key.RevokeTime != 0:
		return "revoked " + day(key.RevokeTime)
	case key.ExpireTime == 0:
		return "good"
	case key.ExpireTime <= now():
		return "ended " + day(key.ExpireTime)
	}
	return "good until " + day(key.ExpireTime)
}

func day(at leveling.Micros) string { return time.UnixMicro(int64(at)).Format(time.DateOnly) }

type revokeKey struct {
	storeFlag
	ID string `arg:"" help:"The key's id, as listed."`
}

// Run revokes a key.
func (c *revokeKey) Run() error {
	return c.with(func(ctx context.Context, core *flow.Flow) error {
		key, err := core.RevokeKey(ctx, c.ID)
		if err == nil {
			fmt.Printf("Key %s of shop %s is revoked.\n", key.ID, key.Shop)
		}
		return err
	})
}
