package flow

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"sync"

	"rowdatum/proto/seal"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// sealedJobs is how many jobs' bytes are remembered as having held: as many as a few hundred pages of lists.
const sealedJobs = 16384

// seals remembers of signed jobs which bytes were found to be what was signed. Whoever reads a signed job reads its bytes anew; what is
// spared, where they are the same bytes, is parsing them. The zero value works.
type seals struct {
	mu   sync.Mutex
	held bounded[JobKey, digest]
}

// digest is the SHA-256 of a log's bytes; zero is of none.
type digest [sha256.Size]byte

func digestOf(log [][]byte) (d digest) {
	sum := sha256.New()
	for _, event := range log {
		_ = binary.Write(sum, binary.BigEndian, uint64(len(event))) // a hash takes all
		sum.Write(event)
	}
	sum.Sum(d[:0])
	return d
}

// read reads the log of a signed job and holds it against its seal: DataLoss where it is no longer what was signed.
func (s *seals) read(view View, head JobHead) ([][]byte, digest, error) {
	key := head.JobKey
	log, err := view.Log(key)
	if err != nil {
		return nil, digest{}, err
	}
	d := digestOf(log)
	if !s.holds(key, d) {
		if err := checkSeal(head, log); err != nil {
			return nil, digest{}, changed(key, err)
		}
		s.keep(key, d)
	}
	if head.Revision != len(log) {
		return nil, digest{}, changed(key, fmt.Errorf("its log ends with event %d and not %d", len(log), head.Revision))
	}
	return log, d, nil
}

// checkSeal holds a log against its seal, and against when the job was opened: recipe 1 did not seal which job it is.
func checkSeal(head JobHead, log [][]byte) error {
	found := seal.Check(jobName(head.JobKey), log)
	if found.Err != nil {
		return found.Err
	}
	if !found.Holds() {
		return fmt.Errorf("it was signed as %s (recipe %d), and gives %s", found.Says, found.Recipe, found.Gives)
	}
	var first job.Event
	if err := json.Unmarshal(log[0], &first); err != nil || first.CreateTime != head.CreateTime {
		return fmt.Errorf("its log begins at %d, the job at %d (%v)", first.CreateTime, head.CreateTime, err)
	}
	return nil
}

func (s *seals) keep(key JobKey, d digest) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.held.put(key, d, sealedJobs)
}

func (s *seals) holds(key JobKey, d digest) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	held, known := s.held[key]
	return known && held == d
}

// changed is said of a job whose log is not what was written.
func changed(key JobKey, cause error) error {
	return &leveling.Error{Kind: leveling.DataLoss, Reason: "CONTENT_CHANGED",
		Message:  "Do not rely on this job: what is kept of it is no longer what was written and signed. Somebody changed the store, or its disk is failing. Whoever runs the service finds out more with rowdatumd check, and can bring it back from a backup.",
		Metadata: map[string]string{"job": jobName(key)}, Err: cause}
}

// isChanged says whether an error is of changed.
func isChanged(err error) bool {
	e, ok := errors.AsType[*leveling.Error](err)
	return ok && e.Reason == "CONTENT_CHANGED"
}

// readLog folds a log as it is stored.
func readLog(log [][]byte) (*job.State, error) {
	events := make([]job.Event, len(log))
	for i, text := range log {
		if err := json.Unmarshal(text, &events[i]); err != nil {
			return nil, fmt.Errorf("reading event %d: %w", i+1, err)
		}
	}
	return job.Fold(events)
}
