package flow

import (
	"context"
	"fmt"
	"math"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// Store keeps what a shop must not lose. Its errors are leveling.Errors: NotFound; Exists; Stale where
// another writer was faster; Unavailable where the disk or the database is not to be had.
type Store interface {
	// Read runs do on one consistent view of what is committed.
	Read(ctx context.Context, do func(View) error) error
	// Write runs do in one transaction. When Write returns nil, what do wrote is on disk; when it returns
	// an error, none of it is (but for the reason STORE_UNSURE: disk or database were lost while it committed).
	// do may run more than once, so it has no effect outside the transaction; it runs on another goroutine
	// and never after Write has returned. All writes of all processes wait for it: it computes, but asks
	// neither the store again nor anybody else. Writes of several callers may share one commit; one that fails
	// does not harm the others.
	Write(ctx context.Context, do func(Tx) error) error
	// Subscribe tells of a job's new revisions, from this process or another on the same database: changed
	// receives the last one after a commit (several may become one). cancel ends it.
	Subscribe(key JobKey) (changed <-chan int, cancel func())
	// Probe returns nil if the store can be written right now.
	Probe(ctx context.Context) error
}

// View reads. Every method keeps to one shop.
type View interface {
	Planter(shop, id string) (leveling.Planter, error)
	// Planters returns those after an id, by id.
	Planters(shop string, q Query) ([]leveling.Planter, error)
	Fixture(shop, id string) (leveling.ShopFixture, error)
	// Fixtures returns those after an id, by id.
	Fixtures(shop string, q Query) ([]leveling.ShopFixture, error)
	Dig(shop, planter, id string) (leveling.Dig, error)
	// Digs returns those of a planter after an id, by id.
	Digs(shop, planter string, q Query) ([]leveling.Dig, error)
	Job(key JobKey) (JobHead, error)
	// Jobs returns those before a place, newest first; planter "" is every planter.
	Jobs(shop, planter string, q Query) ([]JobHead, error)
	// Events returns up to limit events after a revision, in order; limit 0 is all.
	Events(key JobKey, after, limit int) ([]job.Event, error)
	// Log returns a job's events as they are stored, JSON, in order.
	Log(key JobKey) ([][]byte, error)
	// Answer returns what a request was answered first; ok is false where the id is new.
	Answer(shop, requestID string) (a Answer, ok bool, err error)
	// KeyByHash finds a key, revoked and expired ones included; NotFound otherwise.
	KeyByHash(hash string) (Key, error)
	Keys(shop string) ([]Key, error)
	// Audit returns up to limit entries before a serial, newest first; before 0 is from the newest.
	Audit(shop string, before int64, limit int) ([]AuditEntry, error)
	// Changes returns up to limit entries of the trail after a serial that are of ChangeMethods, in order. Serials
	// rise in the order of commits: no entry appears before one that was seen.
	Changes(shop string, after int64, limit int) ([]AuditEntry, error)
	Hook(shop, id string) (Hook, error)
	// Hooks returns those after an id, by id.
	Hooks(shop string, q Query) ([]Hook, error)
	// DueHooks returns the hooks of all shops that have a delivery due, paused ones included.
	DueHooks(now leveling.Micros) ([]Hook, error)
	// OldestWaiting returns when the oldest event happened that waits, of all shops, paused hooks aside; 0 where
	// none waits.
	OldestWaiting() (leveling.Micros, error)
	Delivery(shop, hook, id string) (Delivery, error)
	// Deliveries returns those before a serial (in q.After), newest first.
	Deliveries(shop, hook string, q Query) ([]Delivery, error)
	// OldAnswers names up to limit requests that were first answered before a time.
	OldAnswers(before leveling.Micros, limit int) ([]RequestKey, error)
	// Shops lists all shops.
	Shops() ([]string, error)
}

// Tx reads and writes.
type Tx interface {
	View
	// PutPlanter inserts (Revision 1) or replaces the planter of the revision before; Exists or Stale
	// otherwise.
	PutPlanter(shop string, p leveling.Planter) error
	// DeletePlanter deletes a planter without jobs and digs; FailedState (PLANTER_HAS_JOBS, PLANTER_HAS_DIGS)
	// for one with.
	DeletePlanter(shop, id string) error
	// PutFixture likewise.
	PutFixture(shop string, f leveling.ShopFixture) error
	DeleteFixture(shop, id string) error
	// RestorePlanter and RestoreFixture insert what was exported, of whatever revision; Exists.
	RestorePlanter(shop string, p leveling.Planter) error
	RestoreFixture(shop string, f leveling.ShopFixture) error
	// RestoreJob inserts a job (Exists) with its events as they were stored elsewhere.
	RestoreJob(head JobHead, log [][]byte) error
	// PutDig inserts a dig; Exists.
	PutDig(shop string, d leveling.Dig) error
	// PutJob inserts a job (Exists) with its first events, revisions from 1.
	PutJob(head JobHead, events []job.Event) error
	// Append adds events and the head that follows; Stale unless the job's revision is the one before the
	// first event.
	Append(head JobHead, events []job.Event) error
	PutAnswer(shop, requestID string, a Answer) error
	// DropAnswer forgets what a request was answered first.
	DropAnswer(key RequestKey) error
	PutKey(k Key) error // inserts, or replaces by ID
	// PutPairing keeps a one-time code; TakePairing returns and removes it, NotFound where there is none.
	PutPairing(p Pairing) error
	TakePairing(codeHash string) (Pairing, error)
	// OpenPairings counts the codes of a shop that end after now.
	OpenPairings(shop string, now leveling.Micros) (int, error)
	// DropPairings forgets the codes that have ended by then.
	DropPairings(now leveling.Micros) error
	PutAudit(e AuditEntry) error
	// PutHook inserts (Revision 1) or replaces the hook of the revision before; Exists or Stale otherwise.
	PutHook(shop string, h Hook) error
	// DeleteHook deletes a hook with its deliveries.
	DeleteHook(shop, id string) error
	// PutDelivery adds a new delivery, due at once unless one of the same hook and job waits.
	PutDelivery(d Delivery) error
	// ClaimDeliveries returns up to limit due deliveries of a hook, longest due first, each with DueTime put
	// off to until: nobody else is given them before.
	ClaimDeliveries(shop, hook string, now, until leveling.Micros, limit int) ([]Delivery, error)
	// KeepDelivery keeps what became of a delivery that was claimed until a time; Stale where the claim is
	// lost. Where it has ended, the next one of its hook and job becomes due.
	KeepDelivery(d Delivery, claim, now leveling.Micros) error
	// ResendDelivery has a delivery wait again, due at once unless one of the same hook and job is due.
	ResendDelivery(d Delivery, now leveling.Micros) error
	// DropDeliveries forgets up to limit deliveries that ended before a time.
	DropDeliveries(before leveling.Micros, limit int) error
}

// JobKey names a job.
type JobKey struct {
	Shop    string `json:"-"`
	Planter string `json:"planter"`
	Job     string `json:"job"`
}

// JobHead is what lists show of a job.
type JobHead struct {
	JobKey
	Fixture     string            `json:"fixture,omitempty"`
	WorkOrder   string            `json:"workOrder,omitempty"`
	ExternalIDs map[string]string `json:"externalIds,omitempty"`
	Stage       job.Stage         `json:"stage"`
	Revision    int               `json:"revision"`
	CreateTime  leveling.Micros   `json:"createTime"`
	UpdateTime  leveling.Micros   `json:"updateTime"`
	Changed     bool              `json:"-"` // in a list: it was signed, and its log is no longer what was signed
}

// Place is where a job stands in a list: places rise from the newest to the oldest.
func (h JobHead) Place() string {
	return fmt.Sprintf("%019d/%s/%s", math.MaxInt64-int64(h.CreateTime), h.Planter, h.Job)
}

// Query asks for a page.
type Query struct {
	After string // where the page before ended: an id, or a job's Place; empty is the first
	Limit int    // above 0
	// Equal is what must be so: displayName, owner, kind, stage (both as their numbers), workOrder,
	// externalIds.KEY; of deliveries state.
	Equal map[string]string
}

// RequestKey names a request that was answered.
type RequestKey struct{ Shop, ID string }

// Answer is what a request was answered first.
type Answer struct {
	Method   string
	BodyHash string
	Response []byte
	Time     leveling.Micros
}

// Key is a bearer key, stored hashed.
type Key struct {
	ID         string          `json:"id"`
	Shop       string          `json:"-"`
	Role       Role            `json:"role"`
	Label      string          `json:"label,omitempty"`
	Hash       string          `json:"hash"`               // SHA-256 of the secret, hexadecimal
	Job        JobKey          `json:"readsOnly,omitzero"` // set: the key reads this job and nothing else
	CreateTime leveling.Micros `json:"createTime"`
	ExpireTime leveling.Micros `json:"expireTime,omitempty"` // 0 never
	RevokeTime leveling.Micros `json:"revokeTime,omitempty"` // 0 not revoked
}

// Role is what a key may do; each may do what those before it may.
type Role int

// The roles.
const (
	Reader Role = iota + 1
	Technician
	Owner
)

// Pairing is a one-time code that makes a key.
type Pairing struct {
	CodeHash   string
	Shop       string
	Role       Role
	Label      string
	ExpireTime leveling.Micros
}

// AuditEntry is one write.
type AuditEntry struct {
	Serial    int64           `json:"-"` // given by the store
	Shop      string          `json:"-"`
	Time      leveling.Micros `json:"time"`
	KeyLabel  string          `json:"keyLabel,omitempty"`
	Method    string          `json:"method"`
	Resource  string          `json:"resource"`
	RequestID string          `json:"requestId,omitempty"`
}
