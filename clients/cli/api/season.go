package api

import (
	"context"
	"net/http"
	"net/url"
	"strconv"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// get asks for what stands at a path, with what of query is not empty.
func (c *Client) get(ctx context.Context, path string, query url.Values, answer proto.Message) ([]byte, error) {
	return c.call(ctx, http.MethodGet, withQuery(path, query), nil, answer)
}

func withQuery(path string, query url.Values) string {
	for name := range query {
		if query.Get(name) == "" {
			query.Del(name)
		}
	}
	if len(query) == 0 {
		return path
	}
	return path + "?" + query.Encode()
}

// figure writes a number as a query does; empty for none.
func figure(x *float64) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(*x, 'g', -1, 64)
}

// Sheet returns the sheet of a job as it is handed over; format is HTML, PDF or CSV, paper A4 or LETTER, each
// may be empty.
func (c *Client) Sheet(ctx context.Context, job, format, paper string) ([]byte, error) {
	return c.raw(ctx, http.MethodGet, withQuery("/v1/"+job+":sheet", url.Values{"format": {format}, "paper": {paper}}), nil)
}

// FieldMove asks how a planter's planting depth is changed; above 0 is deeper.
func (c *Client) FieldMove(ctx context.Context, planter string, deltaMm float64) (*rowdatumv1.FieldMove, []byte, error) {
	move := &rowdatumv1.FieldMove{}
	answer, err := c.get(ctx, "/v1/"+planter+":fieldMove", url.Values{"deltaMm": {figure(&deltaMm)}}, move)
	return move, answer, err
}

// IndexCard asks for a planter at a glance.
func (c *Client) IndexCard(ctx context.Context, planter string) (*rowdatumv1.IndexCard, []byte, error) {
	card := &rowdatumv1.IndexCard{}
	answer, err := c.get(ctx, "/v1/"+planter+":indexCard", nil, card)
	return card, answer, err
}

// Wear asks what the seasons did to a planter; confidence may be nil.
func (c *Client) Wear(ctx context.Context, planter string, confidence *float64) (*rowdatumv1.Wear, []byte, error) {
	wear := &rowdatumv1.Wear{}
	answer, err := c.get(ctx, "/v1/"+planter+":wear", url.Values{"confidence": {figure(confidence)}}, wear)
	return wear, answer, err
}

// CreateDig keeps a dig of a planter; id may be empty.
func (c *Client) CreateDig(ctx context.Context, planter, id string, dig *rowdatumv1.Dig) (*rowdatumv1.Dig, []byte, error) {
	body, err := protojson.Marshal(dig)
	if err != nil {
		return nil, nil, err
	}
	kept := &rowdatumv1.Dig{}
	answer, err := c.create(ctx, "/v1/"+planter+"/digs", url.Values{"digId": {id}}, body, kept)
	return kept, answer, err
}

// Dig returns the dig of a name.
func (c *Client) Dig(ctx context.Context, name string) (*rowdatumv1.Dig, error) {
	dig := &rowdatumv1.Dig{}
	_, err := c.get(ctx, "/v1/"+name, nil, dig)
	return dig, err
}

// Digs lists the digs of a planter, by id.
func (c *Client) Digs(ctx context.Context, planter string) ([]*rowdatumv1.Dig, error) {
	return pages(ctx, c, "/v1/"+planter+"/digs", url.Values{"pageSize": {"200"}}, (*rowdatumv1.ListDigsResponse).GetDigs)
}

// AnalyzeDig asks what a dig says.
func (c *Client) AnalyzeDig(ctx context.Context, name string, aim *rowdatumv1.DigAim) (*rowdatumv1.DigAnalysis, []byte, error) {
	query := url.Values{"aim.toleranceMm": {figure(aim.ToleranceMm)}, "aim.confidence": {figure(aim.Confidence)},
		"aim.withinMm": {figure(aim.WithinMm)}, "aim.dailyDegreeDays": {figure(aim.DailyDegreeDays)}}
	analysis := &rowdatumv1.DigAnalysis{}
	answer, err := c.get(ctx, "/v1/"+name+":analyze", query, analysis)
	return analysis, answer, err
}

// Fixture returns the fixture of a name.
func (c *Client) Fixture(ctx context.Context, name string) (*rowdatumv1.Fixture, error) {
	fixture := &rowdatumv1.Fixture{}
	_, err := c.get(ctx, "/v1/"+name, nil, fixture)
	return fixture, err
}

// StudyFixture asks what repeated readings say of a fixture; request is what it takes but for name and
// request id.
func (c *Client) StudyFixture(ctx context.Context, name string, request *rowdatumv1.StudyFixtureRequest) (*rowdatumv1.FixtureStudy, []byte, error) {
	body, err := protojson.Marshal(request)
	if request.GetApply() {
		body, err = withID(request)
	}
	if err != nil {
		return nil, nil, err
	}
	study := &rowdatumv1.FixtureStudy{}
	answer, err := c.write(ctx, "/v1/"+name+":study", body, study)
	return study, answer, err
}
