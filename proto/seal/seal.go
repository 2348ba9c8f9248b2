package seal

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
)

// Newest is the recipe that jobs are signed by.
const Newest = 2

// Seal is what a signed log says of itself, and what its content gives.
type Seal struct {
	Recipe int
	Says   string // the hash that the signature says
	Gives  string // the hash of the log as it is; empty where that cannot be told
	Err    error  // why it cannot be told
}

// Holds says whether the log is the one that was signed.
func (s Seal) Holds() bool { return s.Err == nil && s.Gives == s.Says && s.Says != "" }

// Check recomputes the hash of a log that ends with its signature. job is the job's name, planters/P/jobs/J; events are JSON, in order.
func Check(job string, events [][]byte) Seal {
	log, err := parsed(events)
	if err != nil {
		return Seal{Err: err}
	}
	var s Seal
	if s.Recipe, s.Says, s.Err = signature(log); s.Err == nil {
		s.Gives, s.Err = hash(s.Recipe, job, log)
	}
	return s
}

// Hash is the hash, in hexadecimal, of a log that ends with its signature, by the newest recipe. The hash that the signature says is not
// a part of it.
func Hash(job string, events [][]byte) (string, error) {
	log, err := parsed(events)
	if err != nil {
		return "", err
	}
	return hash(Newest, job, log)
}

func parsed(events [][]byte) ([]value, error) {
	log := make([]value, len(events))
	for i, text := range events {
		var err error
		if log[i], err = parse(text); err != nil {
			return nil, fmt.Errorf("event %d cannot be read: %w", i+1, err)
		}
	}
	if len(log) == 0 || log[len(log)-1].member("signed").kind != '{' {
		return nil, errors.New("the log does not end with a signature")
	}
	return log, nil
}

// signature is what a log's signature says: its recipe, 1 where it names none, and the hash.
func signature(log []value) (recipe int, says string, err error) {
	signed := log[len(log)-1].member("signed")
	recipe = 1
	if named := signed.member("recipe"); named.kind != 0 {
		if recipe, err = strconv.Atoi(string(named.text)); err != nil {
			return 0, "", fmt.Errorf("the signature names the recipe %s, which is no number", named.text)
		}
	}
	if hash := signed.member("contentHash"); hash.kind == '"' {
		says, err = unquote(hash.text)
	}
	return recipe, says, err
}

// hash is the hash of a log by a recipe.
func hash(recipe int, job string, log []value) (string, error) {
	var line func(*bytes.Buffer, *value) error
	var out bytes.Buffer
	switch recipe {
	case 1:
		objects := readTable1()
		line = func(out *bytes.Buffer, v *value) error { return objects.write(out, v, "Event") }
	case 2:
		line = write
		writeString(&out, job)
		out.WriteByte('\n')
	default:
		return "", fmt.Errorf("recipe %d is not known here: a newer program signed it", recipe)
	}
	last := &log[len(log)-1]
	unsigned := last.with("signed", last.member("signed").without("contentHash"))
	sum := sha256.New()
	for i := range log {
		event := &log[i]
		if event == last {
			event = &unsigned
		}
		if err := line(&out, event); err != nil {
			return "", fmt.Errorf("event %d: %w", i+1, err)
		}
		out.WriteByte('\n')
		sum.Write(out.Bytes())
		out.Reset()
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}
