package api

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"rowdatum/clients/internal/requestid"
	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/httprules"
)

// Bounds of one call.
const (
	maxWait  = 30 * time.Second // twice what the service gives itself
	maxBytes = 16 << 20         // of an answer; a plan of 120 rows is far below 1 MiB

	pauseBeforeRepeat = 250 * time.Millisecond // after a connection broke
)

// Client is a service at an address. Base is like http://127.0.0.1:7480.
type Client struct {
	Base     string
	Key      string // a bearer key; empty: none
	Language string // of the service's words, like es; empty: the service's own choice
	// LengthUnit is what the words of styles say lengths in; unspecified: mm.
	LengthUnit pb.LengthUnit
	HTTP       http.Client
}

// Compute asks for a plan; request is the JSON of a plan request, as it goes over the wire. It returns
// the plan and the answer's own JSON.
func (c *Client) Compute(ctx context.Context, request []byte) (*pb.Plan, []byte, error) {
	return askWith[pb.Plan](ctx, c, &pb.ComputePlanRequest{}, request)
}

// Styles lists what is installed.
func (c *Client) Styles(ctx context.Context) ([]*pb.Style, error) {
	return pages(ctx, c, &pb.ListStylesRequest{PageSize: 1000, LengthUnit: c.LengthUnit}, (*pb.ListStylesResponse).GetStyles)
}

// message is one of the contract, of the type T.
type message[T any] interface {
	*T
	proto.Message
}

// ask calls the method that takes such a request. It returns the answer, fields of a newer service left out, and its own JSON.
func ask[T any, M message[T]](ctx context.Context, c *Client, request proto.Message) (M, []byte, error) {
	return askWith[T, M](ctx, c, request, nil)
}

// askWith is ask with the JSON that a caller wrote in the place of the request's body; nil: the request's own.
func askWith[T any, M message[T]](ctx context.Context, c *Client, request proto.Message, body []byte) (M, []byte, error) {
	text, err := c.text(ctx, request, body)
	if err != nil {
		return nil, nil, err
	}
	answer := M(new(T))
	if err := (protojson.UnmarshalOptions{DiscardUnknown: true}).Unmarshal(text, answer); err != nil {
		return nil, nil, fmt.Errorf("%s answered something else than was asked for; is it a rowdatum service?", c.Base)
	}
	return answer, text, nil
}

// text calls the method that takes such a request and returns its answer as it is. A write gets a request id, and is sent
// once more where the connection broke: the id makes this safe.
func (c *Client) text(ctx context.Context, request proto.Message, body []byte) ([]byte, error) {
	built, err := httprules.For(request).Build(requestid.Add(request))
	if err != nil {
		return nil, err
	}
	if body != nil {
		built.Body = body
	}
	text, err := c.once(ctx, built)
	var unreachable *UnreachableError
	if !httprules.For(request).TakesRequestID() || !errors.As(err, &unreachable) || ctx.Err() != nil {
		return text, err
	}
	select {
	case <-time.After(pauseBeforeRepeat):
	case <-ctx.Done():
		return nil, err
	}
	return c.once(ctx, built)
}

// once sends one request and returns its answer as it is.
func (c *Client) once(ctx context.Context, built *httprules.Request) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, maxWait)
	defer cancel()
	response, err := c.send(ctx, built)
	if err != nil {
		return nil, err
	}
	defer response.Body.Close()
	answer, err := io.ReadAll(io.LimitReader(response.Body, maxBytes+1))
	switch {
	case err != nil:
		return nil, &UnreachableError{Base: c.Base, Err: err}
	case len(answer) > maxBytes:
		return nil, fmt.Errorf("%s answered with more than %d bytes; is it a rowdatum service?", c.Base, maxBytes)
	case response.StatusCode != http.StatusOK:
		return nil, refusal(c.Base, response.StatusCode, answer)
	}
	return answer, nil
}

// send sends one request; the caller closes the answer's body.
func (c *Client) send(ctx context.Context, built *httprules.Request) (*http.Response, error) {
	request, err := http.NewRequestWithContext(ctx, built.Verb, strings.TrimSuffix(c.Base, "/")+built.Target(), bytes.NewReader(built.Body))
	if err != nil {
		return nil, fmt.Errorf("%s is not the address of a service; write one like http://127.0.0.1:7480", c.Base)
	}
	if built.Body != nil {
		request.Header.Set("Content-Type", "application/json")
	}
	if c.Key != "" {
		request.Header.Set("Authorization", "Bearer "+c.Key)
	}
	if c.Language != "" {
		request.Header.Set("Accept-Language", c.Language)
	}
	response, err := c.HTTP.Do(request)
	if err != nil {
		return nil, &UnreachableError{Base: c.Base, Err: err}
	}
	return response, nil
}

// UnreachableError says that nothing answered.
type UnreachableError struct {
	Base string
	Err  error
}

// Error says so for a person.
func (e *UnreachableError) Error() string {
	if errors.Is(e.Err, context.DeadlineExceeded) {
		return fmt.Sprintf("the service at %s did not answer in time", e.Base)
	}
	if errors.Is(e.Err, context.Canceled) {
		return "stopped before the service had answered"
	}
	return fmt.Sprintf("no service answers at %s; is it running?", e.Base)
}

// Unwrap returns the cause.
func (e *UnreachableError) Unwrap() error { return e.Err }

// Violation is one thing wrong with a request.
type Violation struct {
	Field       string `json:"field"` // path into the request
	Description string `json:"description"`
}

// RefusedError is a service's refusal.
type RefusedError struct {
	Code       int    // of google.rpc.Code
	Message    string // for a person
	Reason     string // UPPER_SNAKE; may be empty
	Violations []Violation
}

// Error gives the message and every violation, a line each.
func (e *RefusedError) Error() string {
	text := e.Message
	for _, v := range e.Violations {
		text += "\n" + v.Field + ": " + v.Description
	}
	return text
}

// refusal reads a google.rpc.Status in JSON.
func refusal(base string, httpStatus int, answer []byte) error {
	var status struct {
		Code    int    `json:"code"`
		Message string `json:"message"`
		Details []struct {
			Reason          string      `json:"reason"`          // google.rpc.ErrorInfo
			FieldViolations []Violation `json:"fieldViolations"` // google.rpc.BadRequest
		} `json:"details"`
	}
	if err := json.Unmarshal(answer, &status); err != nil || status.Message == "" {
		return fmt.Errorf("%s answered %d %s; is it a rowdatum service?", base, httpStatus, http.StatusText(httpStatus))
	}
	refused := &RefusedError{Code: status.Code, Message: status.Message}
	for _, detail := range status.Details {
		refused.Violations = append(refused.Violations, detail.FieldViolations...)
		if detail.Reason != "" {
			refused.Reason = detail.Reason
		}
	}
	return refused
}

// WaitReady waits until the service answers and none of its adjusters is still starting, or until limit
// has passed; it returns the styles. An adjuster that does not come up in time is no error.
func (c *Client) WaitReady(ctx context.Context, limit time.Duration) ([]*pb.Style, error) {
	const pause = 20 * time.Millisecond
	end := time.Now().Add(limit)
	for {
		styles, err := c.Styles(ctx)
		var unreachable *UnreachableError
		waiting := errors.As(err, &unreachable) || err == nil && starting(styles)
		if !waiting || ctx.Err() != nil || time.Now().After(end) {
			return styles, err
		}
		time.Sleep(pause)
	}
}

func starting(styles []*pb.Style) bool {
	for _, style := range styles {
		if style.GetState() == pb.StyleState_STARTING {
			return true
		}
	}
	return false
}
