package flow

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"rowdatum/server/leveling"
)

// Caller is whose call it is, as the edge has made out.
type Caller struct {
	Shop  string
	Role  Role
	Label string // of the key
	Job   JobKey // set: reads this job and nothing else
}

// did is the trail's entry of what a caller wrote.
func (c Caller) did(method, resource, logID string, now leveling.Micros) AuditEntry {
	return AuditEntry{Shop: c.Shop, Time: now, KeyLabel: c.Label, Method: method, Resource: resource, RequestID: logID}
}

// Request is what makes a write safe to send twice.
type Request struct {
	ID       string // the caller's own, a UUID; empty: not safe to send twice
	BodyHash string // of the whole request
	LogID    string // the request's id in the log
}

var uuid = regexp.MustCompile(`^[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}$`)

// check refuses an id that is no UUID.
func (r Request) check() error {
	var v leveling.Violations
	if r.ID != "" && !uuid.MatchString(r.ID) {
		v.Add("requestId", "is not a UUID such as 3f2b8c1e-9d64-4a57-8f20-1c5b7e9a0d43")
	}
	return v.Err()
}

// once runs do in one transaction and keeps its answer under the request's id: a repeat gets the first
// answer and does nothing; the same id with another body is an Exists error. do also names what it
// wrote, for the audit trail, or "" where it wrote nothing; it may run more than once.
func once[T any](ctx context.Context, f *Flow, who Caller, method string, req Request, do func(Tx, leveling.Micros) (answer T, resource string, err error)) (answer T, err error) {
	if err := req.check(); err != nil {
		return answer, err
	}
	err = f.Store.Write(ctx, func(tx Tx) error {
		if repeat, err := firstAnswer(tx, who, method, req, &answer); err != nil || repeat {
			return err
		}
		now := f.Now()
		var resource string
		var err error
		if answer, resource, err = do(tx, now); err != nil {
			return err
		}
		if err := keepAnswer(tx, who, method, req, answer, now); err != nil || resource == "" {
			return err
		}
		return tx.PutAudit(who.did(method, resource, req.LogID, now))
	})
	return answer, err
}

// firstAnswer reads what the request was answered first, if it was.
func firstAnswer(tx Tx, who Caller, method string, req Request, answer any) (repeat bool, err error) {
	if req.ID == "" {
		return false, nil
	}
	first, repeat, err := tx.Answer(who.Shop, req.ID)
	if err != nil || !repeat {
		return false, err
	}
	if first.Method != method || first.BodyHash != req.BodyHash {
		return false, reused(req.ID)
	}
	if err := json.Unmarshal(first.Response, answer); err != nil {
		return false, fmt.Errorf("reading the first answer of request %s: %w", req.ID, err)
	}
	return true, nil
}

func reused(requestID string) error {
	return &leveling.Error{Kind: leveling.Exists, Reason: "REQUEST_ID_REUSED",
		Message:  "This request id was used before, with another request. Use a new one.",
		Metadata: map[string]string{"requestId": requestID}}
}

func keepAnswer(tx Tx, who Caller, method string, req Request, answer any, now leveling.Micros) error {
	if req.ID == "" {
		return nil
	}
	text, err := json.Marshal(answer)
	if err != nil {
		return fmt.Errorf("keeping the answer of request %s: %w", req.ID, err)
	}
	return tx.PutAnswer(who.Shop, req.ID, Answer{Method: method, BodyHash: req.BodyHash, Response: text, Time: now})
}

var idForm = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?$`)

// wantedID returns the id that a caller wants, or a new one.
func wantedID(field, wanted string, v *leveling.Violations) string {
	if wanted == "" {
		return newID()
	}
	if !idForm.MatchString(wanted) {
		say(v, field, func(p *phrases) string { return p.idWrong }, wanted, leveling.MaxIDSize)
	}
	return wanted
}

// newID returns an id that nobody has yet.
func newID() string { return strings.ToLower(rand.Text()[:16]) }

// Etag is the etag of a revision.
func Etag(revision int) string { return strconv.Quote(strconv.Itoa(revision)) }

// checkEtag refuses an etag that is not of the revision. required is the field that must give one; where
// it is "", an empty one passes.
func checkEtag(etag string, revision int, required string) error {
	if etag == "" && required == "" || etag == Etag(revision) {
		return nil
	}
	if etag == "" {
		var v leveling.Violations
		say(&v, required, func(p *phrases) string { return p.noEtag })
		return v.Err()
	}
	return &leveling.Error{Kind: leveling.Stale, Reason: "STALE_ETAG",
		Message:  "It has changed since it was read. Read it again, then decide.",
		Metadata: map[string]string{"etag": etag, "now": Etag(revision)}}
}
