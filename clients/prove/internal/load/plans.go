package load

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net/http"
	"strconv"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/structpb"

	"rowdatum/clients/internal/service"
	"rowdatum/clients/prove/internal/proof"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

const (
	planterRows    = 24
	planters       = 16 // different ones, taken in turn
	mostReadings   = 2
	maxGatewayBody = 4 << 20
)

// Why the goals are missed, as the service's own profile had it on 25 November 2026 (2 cores shared with the callers and other work).
const (
	computed = "Every plan is computed anew, and that is most of the difference: of some 310 µs of processor time a call, 120 are the plan itself (the search, the trade-off over 1,560 settings and 24 rows' reasons), " +
		"60 checking the request, asking what is remembered of the adjuster and giving the answer its shape, 30 collecting garbage, and 100 what the echo has too. " +
		"Remembering whole plans would reach the goal, and would measure a look-up."
	alsoJSON = " As JSON a call costs some 800 µs where the echo's costs 470; beside the plan it is the check that finds everything wrong with a body at once, and the garbage of two servers in one process."
)

// planRequests are planters of 24 rows on threaded handles, each read once or twice.
func planRequests(n int, seed uint64) []*rowdatumv1.ComputePlanRequest {
	random := rand.New(rand.NewPCG(seed, 24))
	all := make([]*rowdatumv1.ComputePlanRequest, n)
	for i := range all {
		all[i] = &rowdatumv1.ComputePlanRequest{Mechanisms: []*rowdatumv1.Mechanism{handle()}}
		for row := range planterRows {
			one := &rowdatumv1.RowReadings{Row: int32(row + 1), Mechanism: "handle", Setting: turns(float64(20+random.IntN(24)) / 4)}
			for range 1 + random.IntN(mostReadings) {
				one.ReadingsMm = append(one.ReadingsMm, depth(random))
			}
			all[i].Rows = append(all[i].Rows, one)
		}
	}
	return all
}

// handle is a threaded handle of 4 threads an inch that stops at every quarter turn.
func handle() *rowdatumv1.Mechanism {
	return &rowdatumv1.Mechanism{Id: "handle", Style: "threaded-handle", Figures: &structpb.Struct{Fields: map[string]*structpb.Value{
		"mmPerTurn": structpb.NewNumberValue(6.35), "smallestTurn": structpb.NewNumberValue(0.25), "totalTurns": structpb.NewNumberValue(16)}}}
}

func turns(n float64) *structpb.Struct {
	return &structpb.Struct{Fields: map[string]*structpb.Value{"turns": structpb.NewNumberValue(n)}}
}

// depth is one reading of rows that stand around two inches, 4 mm apart.
func depth(random *rand.Rand) float64 { return onRuling(50.8 + 4*random.NormFloat64()) }

// onRuling is what a ruling of 1/16 inch shows of a depth in mm.
func onRuling(mm float64) float64 {
	const ruling = 25.4 / 16
	return ruling * math.Round(mm/ruling)
}

// plans compares stateless plans with the echo's, over gRPC and as JSON.
func plans(ctx context.Context, s proof.Setting, running *service.Service) ([]proof.Table, error) {
	requests := planRequests(planters, 1)
	conn, err := dial(running.GRPC)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	answers, err := warm(ctx, conn, requests)
	if err != nil {
		return nil, err
	}
	bare, err := startEcho(ctx, script{rowdatumv1.PlanService_ComputePlan_FullMethodName: answers})
	if err != nil {
		return nil, err
	}
	defer bare.end()
	bareConn, err := dial(bare.GRPC)
	if err != nil {
		return nil, err
	}
	defer bareConn.Close()
	pid := running.Process().Pid
	overGRPC, err := compare(ctx, s, side{pid, computing(conn, requests)}, side{bare.pid(), computing(bareConn, requests)}, proof.AtLeast(0.6).Because(computed))
	if err != nil {
		return nil, fmt.Errorf("over gRPC: %w", err)
	}
	bodies, err := asJSON(requests)
	if err != nil {
		return nil, err
	}
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: callers[len(callers)-1]}}
	defer client.CloseIdleConnections()
	overHTTP, err := compare(ctx, s, side{pid, posting(client, running.HTTP, bodies)}, side{bare.pid(), posting(client, bare.HTTP, bodies)}, proof.AtLeast(0.8).Because(computed+alsoJSON))
	if err != nil {
		return nil, fmt.Errorf("as JSON: %w", err)
	}
	columns := []string{"callers", "calls/s", "99th percentile", "processor time a call", "echo: calls/s", "99th percentile", "processor time a call"}
	return []proof.Table{
		{Title: "Plans over gRPC", Columns: columns, Rows: overGRPC, Notes: []string{fmt.Sprintf(
			"`ComputePlan` for %d planters of %d rows on threaded handles, one after the other, what the adjuster answers being remembered. "+
				"The service runs in a process of its own, and all callers share one connection. Each spell is followed by one against an echo: a bare gRPC server, in a process of its own too, that reads "+
				"these requests, answers with what the service had answered and does nothing else.", planters, planterRows),
			"Ratio: calls a second of the service over those of the echo, the median over the pairs of spells."}},
		{Title: "Plans as JSON over HTTP", Columns: columns, Rows: overHTTP, Notes: []string{
			"The same plans as JSON. The echo is here the gateway library as it comes, in front of that bare server and in its process. One connection a caller, as HTTP/1.1 has it.",
			"Ratio: as above."}},
	}, nil
}

// callers side by side.
var callers = []int{1, 16, 64}

// compare makes a row for each number of callers.
func compare(ctx context.Context, s proof.Setting, ours, bare side, goal proof.Goal) (rows []proof.Row, err error) {
	rounds, long := 15, time.Second
	if s.Quick {
		rounds, long = 2, 200*time.Millisecond
	}
	for _, n := range callers {
		if _, _, _, err := duel(ctx, n, 1, long/2, ours, bare); err != nil { // so that both are warm
			return nil, err
		}
		our, their, ratio, err := duel(ctx, n, rounds, long, ours, bare)
		if err != nil {
			return nil, err
		}
		s.Say("%d callers: %.0f/s (%v), echo %.0f/s (%v), ratio %.2f", n, our.rate(), our.each(), their.rate(), their.each(), ratio)
		cells := []string{strconv.Itoa(n)}
		for _, t := range []*tally{&our, &their} {
			cells = append(cells, proof.Figure(t.rate()), ms(t.p99()), ms(t.each()))
		}
		rows = append(rows, proof.Row{Cells: cells, Ratio: ratio, Goal: goal})
	}
	return rows, nil
}

func ms(d time.Duration) string { return proof.Figure(float64(d)/1e6) + " ms" }

func dial(address string) (*grpc.ClientConn, error) {
	return grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
}

// warm asks for every plan, so that what the adjuster says is remembered, and returns the answers.
func warm(ctx context.Context, conn *grpc.ClientConn, requests []*rowdatumv1.ComputePlanRequest) (answers [][]byte, err error) {
	for _, request := range requests {
		plan, err := rowdatumv1.NewPlanServiceClient(conn).ComputePlan(ctx, request)
		if err != nil {
			return nil, err
		}
		text, err := proto.Marshal(plan)
		if err != nil {
			return nil, err
		}
		answers = append(answers, text)
	}
	return answers, nil
}

func computing(conn *grpc.ClientConn, requests []*rowdatumv1.ComputePlanRequest) func(context.Context, int) error {
	client := rowdatumv1.NewPlanServiceClient(conn)
	return func(ctx context.Context, n int) error {
		plan, err := client.ComputePlan(ctx, requests[n%len(requests)])
		if err == nil && len(plan.GetRows()) != planterRows {
			err = fmt.Errorf("the plan has %d rows, not %d", len(plan.GetRows()), planterRows)
		}
		return err
	}
}

func asJSON(requests []*rowdatumv1.ComputePlanRequest) (bodies [][]byte, err error) {
	for _, request := range requests {
		text, err := protojson.Marshal(request)
		if err != nil {
			return nil, err
		}
		bodies = append(bodies, text)
	}
	return bodies, nil
}

func posting(client *http.Client, address string, bodies [][]byte) func(context.Context, int) error {
	return func(ctx context.Context, n int) error {
		request, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://"+address+"/v1/plans:compute", bytes.NewReader(bodies[n%len(bodies)]))
		if err != nil {
			return err
		}
		request.Header.Set("Content-Type", "application/json")
		answer, err := client.Do(request)
		if err != nil {
			return err
		}
		defer answer.Body.Close()
		if answer.StatusCode != http.StatusOK {
			text, _ := io.ReadAll(io.LimitReader(answer.Body, 1000))
			return fmt.Errorf("%s: %s", answer.Status, text)
		}
		_, err = io.Copy(io.Discard, io.LimitReader(answer.Body, maxGatewayBody))
		return err
	}
}
