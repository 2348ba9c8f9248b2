package main

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"rowdatum/proto/seal"
)

// jobVerify is rowdatum job verify.
type jobVerify struct {
	File string `arg:"" help:"A job's sheet as JSON (rowdatum sheet JOB -o FILE.json), or a shop's export. - is standard input."`
	Hash string `placeholder:"HASH" help:"The content hash as you have it from elsewhere, such as the printed sheet; its first 16 letters are enough. The file's own hash is only as safe as the file."`
}

// verified is what came of one job.
type verified struct {
	Name     string    `json:"name"`
	Signed   bool      `json:"signed"`
	Holds    bool      `json:"holds"`
	Person   string    `json:"person,omitempty"`
	SignTime time.Time `json:"signTime,omitzero"`
	Recipe   int       `json:"recipe,omitempty"`
	Says     string    `json:"contentHash,omitempty"` // by the signature
	Gives    string    `json:"recomputed,omitempty"`
	Problem  string    `json:"problem,omitempty"`
}

// Run checks every signed job of the file; it fails unless each holds, and there is one.
func (c *jobVerify) Run(_ context.Context, a *app) error {
	if n := len(c.Hash); n > 0 && n < 16 {
		return fmt.Errorf("--hash: %d letters are too few to tell one job from another; give 16 at least", n)
	}
	file, err := a.open(c.File)
	if err != nil {
		return err
	}
	defer file.Close()
	var all []verified
	if err := eachJob(file, func(one jobFile) { all = append(all, one.verify()) }); err != nil {
		return fmt.Errorf("%s is neither a job's sheet as JSON nor an export: %w", c.File, err)
	}
	c.compare(all)
	if a.flags.JSON {
		err = a.printValue(map[string]any{"jobs": all})
	} else {
		_, err = io.WriteString(a.stdout, c.describe(all))
	}
	return cmp.Or(err, c.outcome(all))
}

// jobFile is one job of a file: a sheet as JSON has its name, an export planter and job.
type jobFile struct {
	Name        string            `json:"name"`
	Planter     string            `json:"planter"`
	Job         string            `json:"job"`
	ContentHash string            `json:"contentHash"`
	Events      []json.RawMessage `json:"events"`
}

// eachJob finds the jobs of a sheet or an export: JSON values behind one another.
func eachJob(from io.Reader, do func(jobFile)) error {
	found := false
	for in := json.NewDecoder(from); ; {
		var raw json.RawMessage
		if err := in.Decode(&raw); errors.Is(err, io.EOF) && found {
			return nil
		} else if errors.Is(err, io.EOF) {
			return errors.New("there is no job in it")
		} else if err != nil {
			return err
		}
		var line map[string]json.RawMessage
		if err := json.Unmarshal(raw, &line); err != nil {
			return err
		}
		if exported := line["job"]; len(exported) > 0 && exported[0] == '{' {
			raw = exported
		}
		var one jobFile
		if err := json.Unmarshal(raw, &one); err == nil && one.Events != nil {
			one.Name = cmp.Or(one.Name, "planters/"+one.Planter+"/jobs/"+one.Job)
			found = true
			do(one)
		}
	}
}

func (f jobFile) verify() verified {
	out := verified{Name: f.Name}
	log := make([][]byte, len(f.Events))
	for i, event := range f.Events {
		log[i] = event
	}
	var last struct {
		CreateTime int64
		Person     string
		Signed     *struct{}
	}
	if len(log) > 0 && json.Unmarshal(log[len(log)-1], &last) == nil {
		out.Signed, out.Person = last.Signed != nil || f.ContentHash != "", last.Person
		out.SignTime = time.UnixMicro(last.CreateTime).UTC()
	}
	if !out.Signed {
		return verified{Name: f.Name}
	}
	found := seal.Check(f.Name, log)
	out.Recipe, out.Says, out.Gives, out.Holds = found.Recipe, found.Says, found.Gives, found.Holds()
	switch {
	case found.Err != nil:
		out.Problem = found.Err.Error()
	case !out.Holds:
		out.Problem = "its events are not those that were signed"
	case f.ContentHash != "" && f.ContentHash != found.Says:
		out.Holds, out.Problem = false, "the head of the file says the hash "+f.ContentHash
	}
	return out
}

// compare holds the jobs against the hash that was given: one of them must have it.
func (c *jobVerify) compare(all []verified) {
	c.Hash = strings.ToLower(c.Hash)
	if slices.ContainsFunc(all, func(v verified) bool { return v.Holds && strings.HasPrefix(v.Says, c.Hash) }) {
		return
	}
	for i := range all {
		if v := &all[i]; v.Holds {
			v.Holds, v.Problem = false, "it has not the hash that you gave: it was sealed anew after it was changed, or is another job"
		}
	}
}

// outcome fails unless every signed job holds, and there is one.
func (c *jobVerify) outcome(all []verified) error {
	signed, broken := 0, 0
	for _, v := range all {
		if v.Signed {
			signed++
		}
		if v.Signed && !v.Holds {
			broken++
		}
	}
	switch {
	case signed == 0:
		return fmt.Errorf("%s has no signed job", c.File)
	case broken > 0:
		return fmt.Errorf("%d of %d signed jobs in %s do not hold: do not rely on them", broken, signed, c.File)
	}
	return nil
}

func (c *jobVerify) describe(all []verified) string {
	var out strings.Builder
	held := false
	for _, v := range all {
		v.Name, v.Person, v.Problem, v.Says = oneLine(v.Name), oneLine(v.Person), oneLine(v.Problem), oneLine(v.Says)
		switch {
		case !v.Signed:
			fmt.Fprintf(&out, "%s\n  not signed: there is nothing to hold it against\n", v.Name)
		case v.Holds:
			held = true
			fmt.Fprintf(&out, "%s\n  holds: signed by %s, %s UTC (recipe %d)\n  content %s\n", v.Name, v.Person, v.SignTime.Format("2006-01-02 15:04"), v.Recipe, v.Says)
		default:
			fmt.Fprintf(&out, "%s\n  DOES NOT HOLD: %s\n", v.Name, v.Problem)
			fmt.Fprintf(&out, "  the signature says %s\n  the events give    %s\n", cmp.Or(v.Says, "nothing"), cmp.Or(v.Gives, "nothing"))
		}
	}
	if held && c.Hash == "" {
		out.WriteString("\nWho can change a file can put a fitting hash into it. Compare the hash with one that was kept elsewhere, such as on the printed\nsheet: --hash does it.\n")
	}
	return out.String()
}

// oneLine keeps what stands in a file from writing to the terminal what it likes.
func oneLine(text string) string { return strings.ReplaceAll(printable(text), "\n", " ") }
