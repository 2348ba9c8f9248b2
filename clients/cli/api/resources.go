package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"time"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"rowdatum/clients/internal/requestid"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// breath is how long a broken connection is given before the write is sent once more.
const breath = 250 * time.Millisecond

// write sends a request that changes something, once more where the connection broke: it carries the
// request id that makes this safe.
func (c *Client) write(ctx context.Context, path string, body []byte, answer proto.Message) ([]byte, error) {
	text, err := c.call(ctx, http.MethodPost, path, body, answer)
	var unreachable *UnreachableError
	if !errors.As(err, &unreachable) || ctx.Err() != nil {
		return text, err
	}
	select {
	case <-time.After(breath):
	case <-ctx.Done():
		return nil, err
	}
	return c.call(ctx, http.MethodPost, path, body, answer)
}

// create posts a resource; id is the wanted one, under the name that its parameter has.
func (c *Client) create(ctx context.Context, path string, query url.Values, body []byte, answer proto.Message) ([]byte, error) {
	for name := range query {
		if query.Get(name) == "" {
			query.Del(name)
		}
	}
	query.Set("requestId", requestid.New())
	return c.write(ctx, path+"?"+query.Encode(), body, answer)
}

// CreatePlanter creates a planter from its JSON; id may be empty.
func (c *Client) CreatePlanter(ctx context.Context, id string, planter []byte) (*rowdatumv1.Planter, []byte, error) {
	made := &rowdatumv1.Planter{}
	answer, err := c.create(ctx, "/v1/planters", url.Values{"planterId": {id}}, planter, made)
	return made, answer, err
}

// Planter returns the planter of a name.
func (c *Client) Planter(ctx context.Context, name string) (*rowdatumv1.Planter, []byte, error) {
	planter := &rowdatumv1.Planter{}
	answer, err := c.call(ctx, http.MethodGet, "/v1/"+name, nil, planter)
	return planter, answer, err
}

// Planters lists all planters, by id.
func (c *Client) Planters(ctx context.Context) ([]*rowdatumv1.Planter, error) {
	return pages(ctx, c, "/v1/planters", url.Values{"pageSize": {"200"}}, (*rowdatumv1.ListPlantersResponse).GetPlanters)
}

// CreateFixture creates a fixture; id may be empty.
func (c *Client) CreateFixture(ctx context.Context, id string, fixture *rowdatumv1.Fixture) (*rowdatumv1.Fixture, []byte, error) {
	body, err := protojson.Marshal(fixture)
	if err != nil {
		return nil, nil, err
	}
	made := &rowdatumv1.Fixture{}
	answer, err := c.create(ctx, "/v1/fixtures", url.Values{"fixtureId": {id}}, body, made)
	return made, answer, err
}

// Fixtures lists all fixtures, by id.
func (c *Client) Fixtures(ctx context.Context) ([]*rowdatumv1.Fixture, error) {
	return pages(ctx, c, "/v1/fixtures", url.Values{"pageSize": {"200"}}, (*rowdatumv1.ListFixturesResponse).GetFixtures)
}

// CreateJob opens a job on a planter; id and person may be empty.
func (c *Client) CreateJob(ctx context.Context, planter, id, person string, job *rowdatumv1.Job) (*rowdatumv1.Job, []byte, error) {
	body, err := protojson.Marshal(job)
	if err != nil {
		return nil, nil, err
	}
	opened := &rowdatumv1.Job{}
	answer, err := c.create(ctx, "/v1/"+planter+"/jobs", url.Values{"jobId": {id}, "person": {person}}, body, opened)
	return opened, answer, err
}

// Job returns the job of a name, with its state.
func (c *Client) Job(ctx context.Context, name string) (*rowdatumv1.Job, []byte, error) {
	job := &rowdatumv1.Job{}
	answer, err := c.call(ctx, http.MethodGet, "/v1/"+name, nil, job)
	return job, answer, err
}

// Jobs lists the jobs of a planter, newest first, without their states; planters/- is every planter.
func (c *Client) Jobs(ctx context.Context, planter, filter string) ([]*rowdatumv1.Job, error) {
	query := url.Values{"pageSize": {"200"}}
	if filter != "" {
		query.Set("filter", filter)
	}
	return pages(ctx, c, "/v1/"+planter+"/jobs", query, (*rowdatumv1.ListJobsResponse).GetJobs)
}

// Events lists all events of a job, in order.
func (c *Client) Events(ctx context.Context, job string) ([]*rowdatumv1.JobEvent, error) {
	return pages(ctx, c, "/v1/"+job+"/events", url.Values{"pageSize": {"1000"}}, (*rowdatumv1.ListJobEventsResponse).GetEvents)
}

// Opened returns what a job is worked from: the planter and the fixture as they were.
func (c *Client) Opened(ctx context.Context, job string) (*rowdatumv1.Opened, error) {
	page := &rowdatumv1.ListJobEventsResponse{}
	if _, err := c.call(ctx, http.MethodGet, "/v1/"+job+"/events?pageSize=1", nil, page); err != nil {
		return nil, err
	}
	if len(page.GetEvents()) == 0 || page.GetEvents()[0].GetOpened() == nil {
		return nil, fmt.Errorf("%s answered a log that does not begin with the opening; is it a rowdatum service?", c.Base)
	}
	return page.GetEvents()[0].GetOpened(), nil
}

// lister is one page of a list.
type lister interface {
	proto.Message
	GetNextPageToken() string
}

// pages reads every page of a list.
func pages[T any, P lister](ctx context.Context, c *Client, path string, query url.Values, items func(P) []T) ([]T, error) {
	var all []T
	for {
		var none P
		page := none.ProtoReflect().New().Interface().(P)
		if _, err := c.call(ctx, http.MethodGet, path+"?"+query.Encode(), nil, page); err != nil {
			return nil, err
		}
		all = append(all, items(page)...)
		if page.GetNextPageToken() == "" {
			return all, nil
		}
		query.Set("pageToken", page.GetNextPageToken())
	}
}

// Append sends one write of a job: verb is that of its address, request what it takes but for name and
// request id, which Append adds.
func (c *Client) Append(ctx context.Context, job, verb string, request proto.Message) (*rowdatumv1.AppendResponse, []byte, error) {
	body, err := withID(request)
	if err != nil {
		return nil, nil, err
	}
	done := &rowdatumv1.AppendResponse{}
	answer, err := c.write(ctx, "/v1/"+job+":"+verb, body, done)
	return done, answer, err
}

// withID is a request's JSON with a request id of its own.
func withID(request proto.Message) ([]byte, error) {
	text, err := protojson.Marshal(request)
	if err != nil {
		return nil, err
	}
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(text, &fields); err != nil {
		return nil, err
	}
	fields["requestId"], _ = json.Marshal(requestid.New())
	return json.Marshal(fields)
}
