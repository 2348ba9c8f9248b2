package api

import (
	"context"
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// CreatePlanter creates a planter from its JSON; id may be empty.
func (c *Client) CreatePlanter(ctx context.Context, id string, planter []byte) (*pb.Planter, []byte, error) {
	return askWith[pb.Planter](ctx, c, &pb.CreatePlanterRequest{PlanterId: id}, planter)
}

// Planter returns the planter of a name.
func (c *Client) Planter(ctx context.Context, name string) (*pb.Planter, []byte, error) {
	return ask[pb.Planter](ctx, c, &pb.GetPlanterRequest{Name: name})
}

// Planters lists all planters, by id.
func (c *Client) Planters(ctx context.Context) ([]*pb.Planter, error) {
	return pages(ctx, c, &pb.ListPlantersRequest{PageSize: 200}, (*pb.ListPlantersResponse).GetPlanters)
}

// CreateFixture creates a fixture; id may be empty.
func (c *Client) CreateFixture(ctx context.Context, id string, fixture *pb.Fixture) (*pb.Fixture, []byte, error) {
	return ask[pb.Fixture](ctx, c, &pb.CreateFixtureRequest{FixtureId: id, Fixture: fixture})
}

// Fixture returns the fixture of a name.
func (c *Client) Fixture(ctx context.Context, name string) (*pb.Fixture, error) {
	fixture, _, err := ask[pb.Fixture](ctx, c, &pb.GetFixtureRequest{Name: name})
	return fixture, err
}

// Fixtures lists all fixtures, by id.
func (c *Client) Fixtures(ctx context.Context) ([]*pb.Fixture, error) {
	return pages(ctx, c, &pb.ListFixturesRequest{PageSize: 200}, (*pb.ListFixturesResponse).GetFixtures)
}

// CreateJob opens a job on a planter; id and person may be empty.
func (c *Client) CreateJob(ctx context.Context, planter, id, person string, job *pb.Job) (*pb.Job, []byte, error) {
	return ask[pb.Job](ctx, c, &pb.CreateJobRequest{Parent: planter, JobId: id, Person: person, Job: job})
}

// Job returns the job of a name, with its state.
func (c *Client) Job(ctx context.Context, name string) (*pb.Job, []byte, error) {
	return ask[pb.Job](ctx, c, &pb.GetJobRequest{Name: name})
}

// Jobs lists the jobs of a planter, newest first, without their states; planters/- is every planter.
func (c *Client) Jobs(ctx context.Context, planter, filter string) ([]*pb.Job, error) {
	return pages(ctx, c, &pb.ListJobsRequest{Parent: planter, PageSize: 200, Filter: filter}, (*pb.ListJobsResponse).GetJobs)
}

// Events lists all events of a job, in order.
func (c *Client) Events(ctx context.Context, job string) ([]*pb.JobEvent, error) {
	return pages(ctx, c, &pb.ListJobEventsRequest{Parent: job, PageSize: 1000}, (*pb.ListJobEventsResponse).GetEvents)
}

// Opened returns what a job is worked from: the planter and the fixture as they were.
func (c *Client) Opened(ctx context.Context, job string) (*pb.Opened, error) {
	page, _, err := ask[pb.ListJobEventsResponse](ctx, c, &pb.ListJobEventsRequest{Parent: job, PageSize: 1})
	if err != nil {
		return nil, err
	}
	if len(page.GetEvents()) == 0 || page.GetEvents()[0].GetOpened() == nil {
		return nil, fmt.Errorf("%s answered a log that does not begin with the opening; is it a rowdatum service?", c.Base)
	}
	return page.GetEvents()[0].GetOpened(), nil
}

// Append sends one write of a job, which its request names: request is all that it takes but for the job and the
// request id.
func (c *Client) Append(ctx context.Context, job string, request proto.Message) (*pb.AppendResponse, []byte, error) {
	request = proto.Clone(request)
	setText(request, "name", job)
	return ask[pb.AppendResponse](ctx, c, request)
}

// Sheet returns the sheet of a job as it is handed over.
func (c *Client) Sheet(ctx context.Context, job string, format pb.GetJobSheetRequest_Format, paper pb.GetJobSheetRequest_Paper) ([]byte, error) {
	return c.text(ctx, &pb.GetJobSheetRequest{Name: job, Format: format, Paper: paper}, nil)
}

// pages reads every page of a list.
func pages[I, T any, M interface {
	message[T]
	GetNextPageToken() string
}](ctx context.Context, c *Client, request proto.Message, items func(M) []I) ([]I, error) {
	var all []I
	for {
		page, _, err := ask[T, M](ctx, c, request)
		if err != nil {
			return nil, err
		}
		all = append(all, items(page)...)
		if page.GetNextPageToken() == "" {
			return all, nil
		}
		setText(request, "page_token", page.GetNextPageToken())
	}
}

// setText writes a field that every request of a kind has.
func setText(request proto.Message, field protoreflect.Name, text string) {
	m := request.ProtoReflect()
	m.Set(m.Descriptor().Fields().ByName(field), protoreflect.ValueOfString(text))
}
