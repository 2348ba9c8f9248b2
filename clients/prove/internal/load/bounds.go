package load

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc/status"

	rowdatum "rowdatum/clients/go"
	"rowdatum/clients/prove/internal/proof"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// crowd is who watches the largest job.
type crowd struct{ links, perLink int }

// mostMiB is what the service may take with all of them.
const mostMiB = 256

// Bounds is what strangers can cost a service: whoever has a link of a job may watch it, and ask for its sheet.
func Bounds(ctx context.Context, s proof.Setting) ([]proof.Table, error) {
	c := crowd{links: 64, perLink: 8}
	if s.Quick {
		c = crowd{links: 4, perLink: 8}
	}
	folder, err := os.MkdirTemp("", "rowdatum-bounds-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	key, err := exec.CommandContext(ctx, s.Program(), "key", "add", "--store", filepath.Join(folder, "rowdatum.db"), "--shop", "north", "--role", "owner").Output()
	if err != nil {
		return nil, fmt.Errorf("making a key: %w", err)
	}
	running, err := s.StartIn(ctx, folder, strings.TrimSpace(string(key)))
	if err != nil {
		return nil, err
	}
	defer running.End()
	t, err := c.run(ctx, s, running)
	if err != nil {
		return nil, fmt.Errorf("%w; the service said: %s", err, running.Said)
	}
	return []proof.Table{t}, nil
}

func (c crowd) run(ctx context.Context, s proof.Setting, running *proof.Running) (proof.Table, error) {
	last, links, err := c.fullJob(ctx, running.Client)
	if err != nil {
		return proof.Table{}, err
	}
	s.Say("a full job of %d events, %d links of it", last.GetRevision(), len(links))
	memory := func() float64 {
		size, failed := highest(running.Process().Pid)
		err = errors.Join(err, failed)
		return size / (1 << 20)
	}
	before, begun := memory(), time.Now()
	watching, ctx := errgroup.WithContext(ctx)
	var missed sync.WaitGroup // who has not seen yet what the job held when the watch began
	for i := range c.links * c.perLink {
		missed.Add(1)
		watching.Go(func() error { return watchAll(ctx, running.URL(), links[i/c.perLink], last, missed.Done) })
	}
	missed.Wait()
	took, caughtUp := time.Since(begun), memory()
	if _, voided := running.Client.Jobs.VoidJob(ctx, &rowdatumv1.VoidJobRequest{Name: last.GetName(), Person: "Ada", Reason: "full"}); voided != nil {
		err = errors.Join(err, voided)
	}
	if err := errors.Join(watching.Wait(), err); err != nil {
		return proof.Table{}, err
	}
	most := memory()
	s.Say("%d watches took %.0f MiB at most, %.0f when they began, %v", c.links*c.perLink, most, caughtUp, took)
	return proof.Table{Title: "Watches of the largest job through links", Columns: []string{"links", "watches of each", "events of the job", "MiB before", "MiB once all had seen all", "MiB once all had seen its end", "all had seen all after"},
		Notes: []string{
			"One job holds as much as a job may. All watches begin at once, through links that read this job and nothing else, over HTTP, and each is read until it has seen the last event; then the job is voided, and each is read until it has seen that. " +
				"The memory is the largest that the service's process has had resident, by the system's count (VmHWM).",
			fmt.Sprintf("Ratio: the largest memory over %d MiB.", mostMiB),
		},
		Rows: []proof.Row{{Ratio: most / mostMiB, Goal: proof.AtMost(1), Cells: []string{fmt.Sprint(c.links), fmt.Sprint(c.perLink), fmt.Sprint(last.GetRevision()),
			proof.Figure(before), proof.Figure(caughtUp), proof.Figure(most), fmt.Sprintf("%.1f s", took.Seconds())}}},
	}, err
}

// fullJob reads and plans a planter, fills its job with notes until it takes no more, and makes links of it.
func (c crowd) fullJob(ctx context.Context, client *rowdatum.Client) (last *rowdatumv1.Job, links []string, err error) {
	shop := &shop{planters: client.Planters, jobs: client.Jobs}
	v, err := shop.open(ctx, 17)
	if err != nil {
		return nil, nil, err
	}
	if err := v.Read(ctx, v.Job.GetState().GetRows()...); err != nil {
		return nil, nil, err
	}
	planned, err := client.Jobs.PlanJob(ctx, &rowdatumv1.PlanJobRequest{Name: v.Job.GetName(), Person: "Ada", Etag: v.Job.GetEtag()})
	if err != nil {
		return nil, nil, err
	}
	const many, longest = 60, 2000
	req := &rowdatumv1.AddNotesRequest{Name: v.Job.GetName(), Person: "Ada"}
	for range many {
		req.Notes = append(req.Notes, &rowdatumv1.Note{Text: strings.Repeat("🌽", longest)})
	}
	last = planned.GetJob()
	for len(req.Notes) > 0 {
		done, err := client.Jobs.AddNotes(ctx, req)
		switch reason := rowdatum.Reason(err); {
		case err == nil:
			last = done.GetJob()
		case reason == "JOB_FULL":
			req.Notes = req.Notes[len(req.Notes)/2+len(req.Notes)%2:]
		default:
			return nil, nil, status.Convert(err).Err()
		}
	}
	for range c.links {
		link, err := client.Access.CreateShare(ctx, &rowdatumv1.CreateShareRequest{Job: last.GetName()})
		if err != nil {
			return nil, nil, err
		}
		links = append(links, link.GetKey())
	}
	return last, links, nil
}

// watchAll watches a job through a link until it has seen one event behind the last, and says when it has seen that one.
func watchAll(ctx context.Context, url, link string, last *rowdatumv1.Job, caughtUp func()) error {
	caughtUp = sync.OnceFunc(caughtUp)
	defer caughtUp()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, url+"/v1/"+last.GetName()+":watch", nil)
	if err != nil {
		return err
	}
	req.Header.Set("Authorization", "Bearer "+link)
	client := http.Client{Transport: &http.Transport{}}
	defer client.CloseIdleConnections()
	answer, err := client.Do(req)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		text, _ := io.ReadAll(io.LimitReader(answer.Body, 300))
		return fmt.Errorf("a watch through a link: %s, %s", answer.Status, text)
	}
	lines := json.NewDecoder(answer.Body)
	for next := int32(1); next <= last.GetRevision()+1; {
		var message struct {
			Result struct{ Events []struct{ Revision int32 } }
		}
		if err := lines.Decode(&message); err != nil {
			return fmt.Errorf("a watch through a link saw %d events of %d: %w", next-1, last.GetRevision(), err)
		}
		for _, e := range message.Result.Events {
			if e.Revision != next {
				return fmt.Errorf("a watch through a link saw event %d where %d was next", e.Revision, next)
			}
			next++
		}
		if next > last.GetRevision() {
			caughtUp()
		}
	}
	return nil
}

// highest reads the largest resident memory that a process has had, bytes.
func highest(pid int) (float64, error) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, err
	}
	for line := range strings.Lines(string(text)) {
		if size, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			kib, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(size), "kB")), 64)
			return kib * 1024, err
		}
	}
	return 0, errors.New("the system does not tell the largest memory of a process")
}
