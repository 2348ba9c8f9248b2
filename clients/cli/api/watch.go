package api

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"

	"google.golang.org/genproto/googleapis/rpc/code"
	"google.golang.org/protobuf/encoding/protojson"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/httprules"
)

// Bounds of a watch.
const (
	maxSilence = 45 * time.Second // three heartbeats of the service
	maxPause   = 8 * time.Second  // between attempts to come back
)

// Watcher follows a job.
type Watcher struct {
	Client *Client
	Job    string
	After  int32                                          // the last revision seen
	News   func(m *pb.WatchJobResponse, raw []byte) error // is given what came, never a heartbeat
	Lost   func(error)                                    // is told that the connection broke and is being made anew
	Pause  time.Duration                                  // before the first attempt to come back; 1 s
}

// Run follows the job until it is closed, ctx ends or News fails. A connection that breaks is made anew
// and goes on behind the last revision seen; one that cannot be made at first is an error.
func (w *Watcher) Run(ctx context.Context) error {
	pause := w.Pause
	if pause <= 0 {
		pause = time.Second
	}
	for wait, stood := pause, false; ; {
		closed, began, err := w.once(ctx)
		switch stood = stood || began; {
		case closed, ctx.Err() != nil:
			return nil
		case !stood || !passing(err):
			return err
		}
		if began {
			wait = pause
			w.Lost(err)
		}
		select {
		case <-time.After(wait):
		case <-ctx.Done():
			return nil
		}
		wait = min(2*wait, maxPause)
	}
}

// passing reports whether a watch that ended so is worth another attempt.
func passing(err error) bool {
	var unreachable *UnreachableError
	var refused *RefusedError
	switch {
	case errors.As(err, &unreachable):
		return true
	case errors.As(err, &refused):
		return refused.Code == int(code.Code_UNAVAILABLE) || refused.Code == int(code.Code_RESOURCE_EXHAUSTED)
	}
	return false
}

// once follows the job over one connection. closed says that the job takes no more events, began that
// the service took the call.
func (w *Watcher) once(ctx context.Context) (closed, began bool, err error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	silence := time.AfterFunc(maxSilence, cancel)
	defer silence.Stop()
	request := &pb.WatchJobRequest{Name: w.Job, AfterRevision: w.After}
	built, err := httprules.For(request).Build(request)
	if err != nil {
		return false, false, err
	}
	response, err := w.Client.send(ctx, built)
	if err != nil {
		return false, false, err
	}
	defer response.Body.Close()
	if response.StatusCode != http.StatusOK {
		answer, _ := io.ReadAll(io.LimitReader(response.Body, maxBytes))
		return false, false, refusal(w.Client.Base, response.StatusCode, answer)
	}
	lines := bufio.NewScanner(response.Body)
	lines.Buffer(nil, maxBytes)
	for lines.Scan() {
		silence.Reset(maxSilence)
		if closed, err := w.take(lines.Bytes()); closed || err != nil {
			return closed, true, err
		}
	}
	return false, true, &UnreachableError{Base: w.Client.Base, Err: errors.Join(lines.Err(), io.ErrUnexpectedEOF)}
}

// take reads one line of a watch.
func (w *Watcher) take(line []byte) (closed bool, err error) {
	var framed struct{ Result, Error json.RawMessage }
	if err := json.Unmarshal(line, &framed); err != nil {
		return false, &UnreachableError{Base: w.Client.Base, Err: err} // cut off in the middle of a line
	}
	if framed.Error != nil {
		return false, refusal(w.Client.Base, http.StatusOK, framed.Error)
	}
	message := &pb.WatchJobResponse{}
	if err := (protojson.UnmarshalOptions{DiscardUnknown: true}).Unmarshal(framed.Result, message); err != nil {
		return false, fmt.Errorf("%s answered something else than was asked for; is it a rowdatum service?", w.Client.Base)
	}
	events := message.GetEvents()
	if len(events) == 0 {
		return false, nil
	}
	w.After = events[len(events)-1].GetRevision()
	if err := w.News(message, framed.Result); err != nil {
		return false, err
	}
	return message.GetJob().GetStage() != pb.Job_OPEN, nil
}
