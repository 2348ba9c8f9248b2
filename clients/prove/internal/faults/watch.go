package faults

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"sync"
	"time"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// follow reads server-sent events and goes on behind the last one by the header that browsers use.
func (o overHTTP) follow(ctx context.Context, job string, after int32, take func(*pb.WatchJobResponse)) error {
	request, err := o.request(ctx, &pb.WatchJobRequest{Name: job})
	if err != nil {
		return err
	}
	request.Header.Set("Accept", "text/event-stream")
	if after > 0 {
		request.Header.Set("Last-Event-ID", strconv.Itoa(int(after)))
	}
	answer, err := o.client.Do(request)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		text, err := io.ReadAll(answer.Body)
		if err != nil {
			return err
		}
		return refusal(answer.StatusCode, text)
	}
	return readEvents(answer.Body, take)
}

func readEvents(body io.Reader, take func(*pb.WatchJobResponse)) error {
	lines := bufio.NewReader(body)
	failed := false
	for {
		line, err := lines.ReadBytes('\n')
		if err != nil {
			return fmt.Errorf("the stream ended: %w", err)
		}
		data, isData := bytes.CutPrefix(line, []byte("data: "))
		switch {
		case bytes.Equal(line, []byte("event: error\n")):
			failed = true
		case isData && failed:
			return refusal(0, data)
		case isData:
			news := &pb.WatchJobResponse{}
			if err := protojson.Unmarshal(data, news); err != nil {
				return err
			}
			take(news)
		}
	}
}

// follower watches a job and goes on behind the last event that it got whenever the watch ends.
type follower struct {
	way  way
	job  string
	seen *seen

	mu  sync.Mutex
	got []*pb.JobEvent
}

const followAgain = 50 * time.Millisecond

func (f *follower) run(ctx context.Context) {
	for ctx.Err() == nil {
		err := f.way.follow(ctx, f.job, f.last(), f.take)
		if ctx.Err() != nil {
			return
		}
		f.seen.add(err)
		sleep(ctx, followAgain)
	}
}

func (f *follower) take(news *pb.WatchJobResponse) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.got = append(f.got, news.GetEvents()...)
}

// last is the revision of the last event that it got.
func (f *follower) last() int32 {
	f.mu.Lock()
	defer f.mu.Unlock()
	if len(f.got) == 0 {
		return 0
	}
	return f.got[len(f.got)-1].GetRevision()
}

// told counts the events of a log that were told once and in their place.
func (f *follower) told(log []*pb.JobEvent) (n int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for i, event := range log {
		if i < len(f.got) && proto.Equal(event, f.got[i]) {
			n++
		}
	}
	return n - max(0, len(f.got)-len(log))
}
