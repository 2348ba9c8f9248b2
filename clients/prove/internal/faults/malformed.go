package faults

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"regexp"
	"strconv"
	"sync"
	"time"

	spb "google.golang.org/genproto/googleapis/rpc/code"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/mem"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"rowdatum/proto/httprules"
)

// How many malformed requests are sent, and how.
const (
	requests     = 60_000
	quickly      = 1_200 // requests in the short form
	perGRPC      = 6     // every sixth goes over gRPC, the others over HTTP
	senders      = 4
	bodyMost     = 10 * time.Second // for an answer to one
	targetEvery  = 250              // requests of one sender; then a new job is their target, for the old one may be void by now
	streamOpen   = 50 * time.Millisecond
	memoryGrowth = 1.5 // from after the first fifth of the bodies to the end
)

// malformed sends requests that are wrong in every way to every method, while others work.
func malformed(ctx context.Context, p *prover, o *outcome) error {
	s, err := p.scene(ctx, p.adjusters())
	if err != nil {
		return err
	}
	defer s.end()
	m := &malformer{scene: s, rules: httprules.All()}
	count := requests
	if p.Quick {
		count = quickly
	}
	o.times = 1
	err = s.rounds(ctx, o, func(ctx context.Context, _ *load) (time.Time, error) {
		return time.Now(), m.sendAll(ctx, count)
	})
	o.times = count
	o.kept = append(o.kept, kept{must: "a malformed request is refused with a code of the caller's (or is harmless, and answered)", asked: m.sent, good: m.sent - len(m.wrong), comment: m.summary()})
	const mebi = 1 << 20
	if m.memoryAfter > 0 {
		o.kept = append(o.kept, kept{must: "memory, MiB: after a fifth of them, and after all", asked: int(m.memoryBefore / mebi), good: int(m.memoryAfter / mebi), atMost: memoryGrowth})
	}
	alive, healthErr := s.get(ctx, "/healthz")
	health := kept{must: "/healthz answers afterwards", asked: 1}
	if healthErr == nil && alive.code == http.StatusOK {
		health.good = 1
	}
	o.kept = append(o.kept, health)
	return err
}

// malformer sends malformed requests and counts what came back.
type malformer struct {
	scene *scene
	rules []*httprules.Rule

	mu     sync.Mutex
	sent   int
	by     map[string]int
	wrong  []string // answers that nobody may get for what he sent
	failed error

	memoryBefore, memoryAfter float64 // resident, bytes
}

// sendAll sends so many requests; memory is looked at on the way.
func (m *malformer) sendAll(ctx context.Context, count int) (err error) {
	m.by = map[string]int{}
	if err := m.send(ctx, 0, count/5); err != nil {
		return err
	}
	if m.memoryBefore, err = m.scene.memory(ctx); err != nil {
		return err
	}
	if err := m.send(ctx, count/5, count); err != nil {
		return err
	}
	m.memoryAfter, err = m.scene.memory(ctx)
	return err
}

// send sends the requests from one number to another, each a function of its number.
func (m *malformer) send(ctx context.Context, from, to int) error {
	var sending sync.WaitGroup
	for sender := range senders {
		sending.Go(func() {
			target := ""
			for n, k := from+sender, 0; n < to && ctx.Err() == nil; n, k = n+senders, k+1 {
				if k%targetEvery == 0 {
					job, err := m.target(ctx)
					if err != nil {
						m.mu.Lock()
						m.failed = errors.Join(m.failed, err)
						m.mu.Unlock()
						return
					}
					target = job
				}
				m.one(ctx, n, target)
			}
		})
	}
	sending.Wait()
	return errors.Join(m.failed, ctx.Err())
}

// target opens a job of its own, on a planter of its own, to be aimed at.
func (m *malformer) target(ctx context.Context) (string, error) {
	planter, err := m.scene.newPlanter(ctx)
	if err != nil {
		return "", err
	}
	return m.scene.newJob(ctx, planter)
}

// one sends one request and judges what comes back.
func (m *malformer) one(ctx context.Context, n int, target string) {
	random := rand.New(rand.NewPCG(uint64(n), 10_000))
	rule := m.rules[n/perGRPC%len(m.rules)]
	ctx, cancel := context.WithTimeout(ctx, bodyMost)
	defer cancel()
	request := (&filler{random: random, target: target}).request(rule)
	var name, what string
	var err error
	if n%perGRPC == 0 {
		what, err = m.overGRPC(ctx, random, rule, request)
	} else {
		what, err = m.overHTTP(ctx, random, rule, request)
	}
	if name = "answered"; err != nil {
		name = judged(err)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.sent++
	m.by[name]++
	if !callers[name] {
		m.wrong = append(m.wrong, fmt.Sprintf("request %d, %s, %s: %.300v", n, rule.FullMethod(), what, err))
	}
}

// callers are what somebody may be told who sends nonsense.
var callers = map[string]bool{"answered": true, "INVALID_ARGUMENT": true, "NOT_FOUND": true, "FAILED_PRECONDITION": true, "ABORTED": true, "ALREADY_EXISTS": true,
	"RESOURCE_EXHAUSTED": true, "UNAUTHENTICATED": true, "PERMISSION_DENIED": true, "405": true, "400 of HTTP itself": true}

func judged(err error) string {
	if s, ok := status.FromError(err); ok {
		return spb.Code(s.Code()).String()
	}
	if h, ok := errors.AsType[httpOnly](err); ok {
		return string(h)
	}
	return noAnswer
}

// httpOnly is an answer of the HTTP server itself, before anybody looked at the body.
type httpOnly string

func (h httpOnly) Error() string { return string(h) }

// summary tells what came back, and the first thing that must not.
func (m *malformer) summary() string {
	out := counted(m.by)
	if len(m.wrong) > 0 {
		out += "; first: " + m.wrong[0]
	}
	return out
}

// raw passes bytes as they are.
type raw struct{}

func (raw) Name() string { return "proto" }

func (raw) Marshal(v any) (mem.BufferSlice, error) {
	return mem.BufferSlice{mem.SliceBuffer(*v.(*[]byte))}, nil
}

func (raw) Unmarshal(data mem.BufferSlice, v any) error {
	*v.(*[]byte) = data.Materialize()
	return nil
}

// overGRPC sends a spoiled message.
func (m *malformer) overGRPC(ctx context.Context, random *rand.Rand, rule *httprules.Rule, request proto.Message) (string, error) {
	good, err := proto.MarshalOptions{Deterministic: true}.Marshal(request)
	if err != nil {
		return "", err
	}
	spoil := wireSpoilers[random.IntN(len(wireSpoilers))]
	body := spoil.do(random, good)
	var answer []byte
	if !rule.Streams() {
		return spoil.name, m.scene.conn.Invoke(ctx, rule.FullMethod(), &body, &answer, grpc.ForceCodecV2(raw{}))
	}
	ctx, cancel := context.WithTimeout(ctx, streamOpen)
	defer cancel()
	stream, err := m.scene.conn.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true}, rule.FullMethod(), grpc.ForceCodecV2(raw{}))
	if err != nil {
		return spoil.name, err
	}
	if err := errors.Join(stream.SendMsg(&body), stream.CloseSend()); err != nil && !errors.Is(err, io.EOF) {
		return spoil.name, err
	}
	if err = stream.RecvMsg(&answer); status.Code(err) == codes.DeadlineExceeded {
		err = nil // it would have gone on
	}
	return spoil.name, err
}

// overHTTP sends spoiled JSON to the address that the contract gives the method. Where there is no body, the query is spoiled.
func (m *malformer) overHTTP(ctx context.Context, random *rand.Rand, rule *httprules.Rule, request proto.Message) (string, error) {
	built, err := rule.Build(request)
	if err != nil {
		return "", err
	}
	spoil := textSpoilers[random.IntN(len(textSpoilers))]
	target, spoiled := built.Path, []byte(nil)
	if rule.Body != "" {
		spoiled = spoil.do(random, built.Body)
	} else {
		text, err := json.Marshal(built.Query)
		if err != nil {
			return "", err
		}
		target += "?" + query(random, rule, spoil.do(random, text))
	}
	return m.deliver(ctx, random, rule, target, spoil.name, spoiled)
}

// deliver sends a body; every second request is spoiled as a whole, too.
func (m *malformer) deliver(ctx context.Context, random *rand.Rand, rule *httprules.Rule, target, what string, body []byte) (string, error) {
	if rule.Streams() {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, streamOpen)
		defer cancel()
	}
	request, err := m.scene.request(ctx, rule.Verb, target, body)
	if err != nil {
		return what, err
	}
	if random.IntN(2) == 0 {
		spoil := requestSpoilers[random.IntN(len(requestSpoilers))]
		spoil.do(random, request)
		what += ", " + spoil.name
	}
	answer, err := m.scene.answered(request)
	switch {
	case rule.Streams() && errors.Is(err, context.DeadlineExceeded):
		return what, nil // it would have gone on
	case err != nil:
		return what, err
	case answer.code < 300:
		return what, nil
	}
	return what, answer.err()
}

// answer is what came over HTTP.
type answer struct {
	code int
	text []byte
}

func (a answer) err() error {
	if a.code == http.StatusMethodNotAllowed {
		return httpOnly("405")
	}
	err := refusal(a.code, a.text)
	if _, ok := status.FromError(err); ok && a.code < 500 {
		return err
	}
	if a.code == http.StatusBadRequest {
		return httpOnly("400 of HTTP itself")
	}
	return httpOnly(fmt.Sprintf("HTTP status %d: %.200s", a.code, a.text))
}

func (s *scene) get(ctx context.Context, path string) (answer, error) {
	return s.do(ctx, http.MethodGet, path, nil)
}

func (s *scene) do(ctx context.Context, verb, path string, body []byte) (answer, error) {
	request, err := s.request(ctx, verb, path, body)
	if err != nil {
		return answer{}, err
	}
	return s.answered(request)
}

func (s *scene) request(ctx context.Context, verb, path string, body []byte) (*http.Request, error) {
	request, err := http.NewRequestWithContext(ctx, verb, s.URL()+path, bytes.NewReader(body))
	if err == nil {
		request.Header.Set("Content-Type", "application/json")
	}
	return request, err
}

func (s *scene) answered(request *http.Request) (answer, error) {
	got, err := s.http.Do(request)
	if err != nil {
		return answer{}, err
	}
	defer got.Body.Close()
	text, err := io.ReadAll(got.Body)
	return answer{got.StatusCode, text}, err
}

var resident = regexp.MustCompile(`(?m)^process_resident_memory_bytes (\S+)$`)

// memory is how much the service holds, as its metrics tell.
func (s *scene) memory(ctx context.Context) (float64, error) {
	metrics, err := s.get(ctx, "/metrics")
	if err != nil {
		return 0, err
	}
	found := resident.FindSubmatch(metrics.text)
	if found == nil {
		return 0, nil // this system does not tell
	}
	return strconv.ParseFloat(string(found[1]), 64)
}
