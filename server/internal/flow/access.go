package flow

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"rowdatum/server/leveling"
)

// How long what opens a door stays good.
const (
	pairingLasts  = 10 * time.Minute
	phoneKeyLasts = 90 * 24 * time.Hour
	usualShare    = 30 * 24 * time.Hour
	longestShare  = 400 * 24 * time.Hour

	// clockSlack is how far a code may seem to end later than any code does: the clock was set back since it was made, and nobody
	// knows how old it is. More than clocks that are kept right are set by, and little beside pairingLasts; a choice of ours.
	clockSlack = time.Minute
)

// mostPairings is how many codes of one shop are open at once: many more than it pairs phones in ten minutes.
const mostPairings = 100

// LocalShop is the shop of callers without a key, where the service lets them in.
const LocalShop = "local"

func micros(d time.Duration) leveling.Micros { return leveling.Micros(d.Microseconds()) }

// hashed is how secrets are stored: they are long and random, so that a plain hash keeps them.
func hashed(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

func newSecret() string { return "rd_" + rand.Text() }

// longestSecret is above what any key has had; more is not worth a look.
const longestSecret = 128

// Authenticate tells which key a secret is. Unauthenticated where it is none, or no longer.
func (f *Flow) Authenticate(ctx context.Context, secret string) (Key, error) {
	if secret == "" || len(secret) > longestSecret {
		return Key{}, unknownKey()
	}
	var key Key
	err := f.Store.Read(ctx, func(view View) (err error) {
		key, err = view.KeyByHash(hashed(secret))
		return err
	})
	if isNotFound(err) {
		return Key{}, unknownKey()
	}
	if err != nil {
		return Key{}, fmt.Errorf("looking up a key: %w", err)
	}
	switch {
	case key.RevokeTime != 0:
		return Key{}, wrongKey("KEY_REVOKED", "This key was revoked.")
	case !key.opens(f.Now()):
		return Key{}, wrongKey("KEY_EXPIRED", "This key has expired.")
	}
	return key, nil
}

// opens says whether the key lets somebody in.
func (k Key) opens(now leveling.Micros) bool {
	return k.RevokeTime == 0 && (k.ExpireTime == 0 || k.ExpireTime > now)
}

// Caller is who calls with the key.
func (k Key) Caller() Caller { return Caller{Shop: k.Shop, Role: k.Role, Label: k.Label, Job: k.Job} }

// LocalKey is what callers without a key have, where the service lets them in.
func LocalKey() Key { return Key{Shop: LocalShop, Role: Owner, Label: LocalShop} }

func unknownKey() error { return wrongKey("KEY_WRONG", "This key is not known here.") }

func isNotFound(err error) bool {
	e, ok := errors.AsType[*leveling.Error](err)
	return ok && e.Kind == leveling.NotFound
}

func wrongKey(reason, message string) error {
	return &leveling.Error{Kind: leveling.Unauthenticated, Reason: reason, Message: message}
}

// AddKey makes a key and returns its secret, which is nowhere kept. lasts 0 is for ever.
func (f *Flow) AddKey(ctx context.Context, shop string, role Role, label string, lasts time.Duration) (secret string, key Key, err error) {
	var v leveling.Violations
	if !idForm.MatchString(shop) {
		v.Add("shop", "is %q, must be 1 to %d lower-case letters, digits and hyphens", shop, leveling.MaxIDSize)
	}
	if role < Reader || role > Owner {
		v.Add("role", "must be reader, technician or owner")
	}
	v.Words("label", label, 0, leveling.MaxExternalIDSize)
	v.OneLine("label", label)
	if lasts < 0 {
		v.Add("days", "must be above 0")
	}
	if err := v.Err(); err != nil {
		return "", Key{}, err
	}
	secret = newSecret()
	key = Key{ID: newID(), Shop: shop, Role: role, Label: label, Hash: hashed(secret)}
	err = f.Store.Write(ctx, func(tx Tx) error {
		key.CreateTime = f.Now()
		if lasts > 0 {
			key.ExpireTime = key.CreateTime + micros(lasts)
		}
		if err := tx.PutKey(key); err != nil {
			return err
		}
		return tx.PutAudit(keyAudit(key, key.CreateTime, "AddKey"))
	})
	if err != nil {
		return "", Key{}, err
	}
	return secret, key, nil
}

// atTheMachine is who writes without a key: whoever runs commands where the store is.
const atTheMachine = "at the machine"

func keyAudit(key Key, now leveling.Micros, method string) AuditEntry {
	return AuditEntry{Shop: key.Shop, Time: now, KeyLabel: atTheMachine, Method: method, Resource: "keys/" + key.ID}
}

// Keys lists the keys of a shop, or of all with shop "".
func (f *Flow) Keys(ctx context.Context, shop string) (keys []Key, err error) {
	err = f.Store.Read(ctx, func(view View) error {
		keys, err = keysOf(view, shop)
		return err
	})
	return keys, err
}

func keysOf(view View, shop string) (keys []Key, err error) {
	shops := []string{shop}
	if shop == "" {
		if shops, err = view.Shops(); err != nil {
			return nil, err
		}
	}
	for _, each := range shops {
		some, err := view.Keys(each)
		if err != nil {
			return nil, err
		}
		keys = append(keys, some...)
	}
	return keys, nil
}

// Guarded says whether there is a key that opens, links to one job aside.
func (f *Flow) Guarded(ctx context.Context) (bool, error) {
	keys, err := f.Keys(ctx, "")
	now := f.Now()
	return slices.ContainsFunc(keys, func(k Key) bool { return k.Job == JobKey{} && k.opens(now) }), err
}

// phoneID begins the ids of keys that pairing made. A phone holds such a key for itself alone, and may end it; whoever lists
// keys or reads the trail sees which are phones'.
const phoneID = "phone-"

// EndSession ends the key that a call was made with, where pairing made it: one made at the machine may be held by several
// programs, or be the one that a shop is let in by, and is ended where it was made. What has ended stays so.
func (f *Flow) EndSession(ctx context.Context, key Key, logID string) error {
	if !strings.HasPrefix(key.ID, phoneID) {
		return &leveling.Error{Kind: leveling.Forbidden, Reason: "KEY_NOT_PAIRED",
			Message: "This key was not made by pairing a phone; it is revoked at the machine that runs the service."}
	}
	return f.Store.Write(ctx, func(tx Tx) error {
		key, err := tx.KeyByHash(key.Hash)
		if err != nil || key.RevokeTime != 0 {
			return err
		}
		key.RevokeTime = f.Now()
		if err := tx.PutKey(key); err != nil {
			return err
		}
		return tx.PutAudit(key.Caller().did("EndSession", "keys/"+key.ID, logID, key.RevokeTime))
	})
}

// RevokeKey ends a key; NotFound where there is none of that id. What was revoked stays so.
func (f *Flow) RevokeKey(ctx context.Context, id string) (key Key, err error) {
	err = f.Store.Write(ctx, func(tx Tx) error {
		keys, err := keysOf(tx, "")
		if err != nil {
			return err
		}
		i := slices.IndexFunc(keys, func(k Key) bool { return k.ID == id })
		if i < 0 {
			return &leveling.Error{Kind: leveling.NotFound, Reason: "KEY_NOT_FOUND", Message: fmt.Sprintf("There is no key %q.", id)}
		}
		if key = keys[i]; key.RevokeTime != 0 {
			return nil
		}
		key.RevokeTime = f.Now()
		if err := tx.PutKey(key); err != nil {
			return err
		}
		return tx.PutAudit(keyAudit(key, key.RevokeTime, "RevokeKey"))
	})
	return key, err
}

// CreatePairing makes a one-time code for a phone that may do at most what the caller may. logID is the
// call's id in the log.
func (f *Flow) CreatePairing(ctx context.Context, who Caller, logID string, role Role, label string) (code string, expires leveling.Micros, err error) {
	var v leveling.Violations
	if role < Reader || role > who.Role {
		say(&v, "role", func(p *phrases) string { return p.roleTooHigh })
	}
	v.Words("label", label, 1, leveling.MaxExternalIDSize)
	v.OneLine("label", label)
	if err := v.Err(); err != nil {
		return "", 0, err
	}
	code = rand.Text()[:12]
	err = f.Store.Write(ctx, func(tx Tx) error {
		now := f.Now()
		expires = now + micros(pairingLasts)
		open, err := tx.OpenPairings(who.Shop, now)
		if err != nil {
			return err
		}
		if open >= mostPairings {
			return &leveling.Error{Kind: leveling.FailedState, Reason: "PAIRINGS_FULL",
				Message: fmt.Sprintf("This shop has %d open codes for pairing phones already. Use one, or wait ten minutes.", mostPairings)}
		}
		if err := tx.PutPairing(Pairing{CodeHash: hashed(code), Shop: who.Shop, Role: role, Label: label, ExpireTime: expires}); err != nil {
			return err
		}
		return tx.PutAudit(who.did("CreatePairing", "pairings", logID, now))
	})
	if err != nil {
		return "", 0, err
	}
	return code, expires, nil
}

// codeForm is what a person may make of a code when typing it.
var codeForm = regexp.MustCompile(`^[A-Z2-7]{12}$`)

// RedeemPairing turns a code, once, into a phone's own key.
func (f *Flow) RedeemPairing(ctx context.Context, logID, code string) (secret string, key Key, err error) {
	wrong := wrongKey("CODE_WRONG", "This code is wrong, was used already, or is too old. Ask for a new one.")
	if !codeForm.MatchString(code) {
		return "", Key{}, wrong
	}
	secret = newSecret()
	err = f.Store.Write(ctx, func(tx Tx) error {
		p, err := tx.TakePairing(hashed(code))
		if isNotFound(err) {
			return wrong
		}
		if err != nil {
			return err
		}
		now := f.Now()
		if p.ExpireTime <= now || p.ExpireTime > now+micros(pairingLasts+clockSlack) {
			return wrong
		}
		key = Key{ID: phoneID + newID(), Shop: p.Shop, Role: p.Role, Label: p.Label, Hash: hashed(secret), CreateTime: now, ExpireTime: now + micros(phoneKeyLasts)}
		if err := tx.PutKey(key); err != nil {
			return err
		}
		return tx.PutAudit(AuditEntry{Shop: p.Shop, Time: now, KeyLabel: p.Label, Method: "RedeemPairing", Resource: "keys/" + key.ID, RequestID: logID})
	})
	if err != nil {
		return "", Key{}, err
	}
	return secret, key, nil
}

// CreateShare makes a key that reads one job until it expires; expires 0 is in 30 days.
func (f *Flow) CreateShare(ctx context.Context, who Caller, logID string, job JobKey, expires leveling.Micros) (secret string, key Key, err error) {
	secret = newSecret()
	err = f.Store.Write(ctx, func(tx Tx) error {
		now := f.Now()
		ends := cmp.Or(expires, now+micros(usualShare))
		var v leveling.Violations
		if ends <= now || ends > now+micros(longestShare) {
			say(&v, "expireTime", func(p *phrases) string { return p.expires })
		}
		if err := v.Err(); err != nil {
			return err
		}
		if _, err := tx.Job(job); err != nil {
			return err
		}
		key = Key{ID: newID(), Shop: who.Shop, Role: Reader, Label: "share of " + who.Label, Hash: hashed(secret), Job: job, CreateTime: now, ExpireTime: ends}
		if err := tx.PutKey(key); err != nil {
			return err
		}
		return tx.PutAudit(who.did("CreateShare", jobName(job), logID, now))
	})
	if err != nil {
		return "", Key{}, err
	}
	return secret, key, nil
}

// AuditEntries returns a page of who wrote what, newest first.
func (f *Flow) AuditEntries(ctx context.Context, who Caller, q Query) (page []AuditEntry, more bool, err error) {
	return paged(ctx, f, q, func(view View, q Query) ([]AuditEntry, error) {
		before, err := strconv.ParseInt(cmp.Or(q.After, "0"), 10, 64)
		if err != nil {
			return nil, badToken()
		}
		return view.Audit(who.Shop, before, q.Limit)
	})
}

func badToken() error {
	var v leveling.Violations
	v.Add("pageToken", "is not a token of this service; pass nextPageToken as it was given")
	return v.Err()
}
