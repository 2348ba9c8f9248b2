package faults

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"google.golang.org/genproto/googleapis/rpc/code"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// seen counts what clients were told while a fault lasted. The zero value is ready.
type seen struct {
	mu          sync.Mutex
	counts      map[string]int
	all, again  int // errors, and those that a client may try again by itself
	first, last time.Time
	longest     time.Duration // from the first to the last error of one strike
}

// noAnswer is a connection that was lost or not to be had.
const noAnswer = "no answer"

func (s *seen) add(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.counts == nil {
		s.counts = map[string]int{}
	}
	name, passing := named(err)
	s.counts[name]++
	s.all++
	if passing {
		s.again++
	}
	s.last = time.Now()
	if s.first.IsZero() {
		s.first = s.last
	}
	s.longest = max(s.longest, s.last.Sub(s.first))
}

// strike begins a new span of errors.
func (s *seen) strike() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.first = time.Time{}
}

func (s *seen) errors() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.all
}

func (s *seen) lastError() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.last
}

// String names what was seen, the most frequent first.
func (s *seen) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.all == 0 {
		return "nothing"
	}
	return fmt.Sprintf("%s; for %s at most", counted(s.counts), short(s.longest))
}

// named is an error's code and reason. A client tries again by itself where there was no answer, or UNAVAILABLE.
func named(err error) (name string, passing bool) {
	var timeout interface{ Timeout() bool }
	s, ok := status.FromError(err)
	switch {
	case errors.Is(err, context.DeadlineExceeded), errors.As(err, &timeout) && timeout.Timeout():
		return "no answer in time", false
	case !ok:
		return noAnswer, true
	}
	if reason := detail[*errdetails.ErrorInfo](s).GetReason(); reason != "" {
		return code.Code(s.Code()).String() + " " + reason, s.Code() == codes.Unavailable
	}
	switch s.Code() {
	case codes.Unavailable, codes.Canceled:
		return noAnswer, true
	}
	return code.Code(s.Code()).String(), false
}

func detail[T any](s *status.Status) (none T) {
	for _, d := range s.Details() {
		if found, ok := d.(T); ok {
			return found
		}
	}
	return none
}

// short is a duration for a table.
func short(d time.Duration) string {
	switch {
	case d < 10*time.Second:
		return fmt.Sprintf("%.2f s", d.Seconds())
	default:
		return fmt.Sprintf("%.0f s", d.Seconds())
	}
}
