package faults

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"golang.org/x/sys/unix"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// systems are the faults that take this system's own means.
var systems = []fault{
	// Not more often: a program that dies five times soon after its start is not started again.
	{"plugin killed", 4, signaled(unix.SIGKILL)},
	{"plugin hung", 4, signaled(unix.SIGSTOP)},
	{"disk full (a file system of 8 MiB)", 4, fullDisk},
	{"disk full (a limit of 64 KiB on the size of files)", 4, fileLimit},
	{"disk full, and killed hard then", 4, killedFull},
}

// signaled strikes one adjuster's process.
func signaled(signal syscall.Signal) func(context.Context, *prover, *outcome) error {
	return func(ctx context.Context, p *prover, o *outcome) error {
		s, err := p.scene(ctx, p.adjusters())
		if err != nil {
			return err
		}
		defer s.end()
		return s.struckPlugin(ctx, o, handle, func(context.Context) error {
			pid, err := child(s.Process().Pid, strings.ReplaceAll(handle, "-", ""))
			if err != nil {
				return err
			}
			return unix.Kill(pid, signal)
		})
	}
}

// child finds the process of a program whose parent is pid.
func child(pid int, program string) (int, error) {
	stats, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		return 0, err
	}
	for _, path := range stats {
		text, err := os.ReadFile(path)
		if err != nil {
			continue // it has just ended
		}
		// pid (name) state ppid …; the name may hold anything.
		open, end := bytes.IndexByte(text, '('), bytes.LastIndexByte(text, ')')
		rest := strings.Fields(string(text[end+1:]))
		if string(text[open+1:end]) == program && rest[0] != "Z" && rest[1] == strconv.Itoa(pid) {
			return strconv.Atoi(strings.TrimSpace(string(text[:open])))
		}
	}
	return 0, fmt.Errorf("the service runs no %s", program)
}

// Bounds of the disk that is full. A file system of this size holds the store and its log of writes for some rounds.
const (
	diskBytes  = "8m"
	limitBytes = 64 << 10    // below what the store's files are, so that writing fails wherever it comes to
	fullFor    = time.Second // that clients go on against a full disk
	fullMost   = 20 * time.Second
)

// fullDisk fills the file system on which the store is, and makes room again.
func fullDisk(ctx context.Context, p *prover, o *outcome) error {
	return p.onSmallDisk(ctx, o, func(s *scene, ballast string) error {
		return s.full(ctx, o, func() error { return fill(ballast) }, func() error { return os.Remove(ballast) })
	})
}

// killedFull kills the service hard while its disk is full, and starts it again once there is room.
func killedFull(ctx context.Context, p *prover, o *outcome) error {
	return p.onSmallDisk(ctx, o, func(s *scene, ballast string) error {
		return s.rounds(ctx, o, func(ctx context.Context, _ *load) (time.Time, error) {
			if err := o.refused(ctx, func() error { return fill(ballast) }); err != nil {
				return time.Time{}, err
			}
			s.Kill()
			if err := os.Remove(ballast); err != nil {
				return time.Time{}, err
			}
			room := time.Now()
			return room, s.Start(ctx)
		})
	})
}

// onSmallDisk runs do with a service whose store is on a small file system. It takes the right to mount; without it, the limit
// on files stands in.
func (p *prover) onSmallDisk(ctx context.Context, o *outcome, do func(s *scene, ballast string) error) error {
	folder, err := os.MkdirTemp(p.folder, "disk-")
	if err != nil {
		return err
	}
	err = unix.Mount("tmpfs", folder, "tmpfs", 0, "size="+diskBytes)
	if errors.Is(err, os.ErrPermission) {
		o.without = "This user may not mount a file system; the limit on the size of files stands in for it."
		p.Say("%s was not tried: %s", o.fault, o.without)
		return nil
	}
	if err != nil {
		return fmt.Errorf("mounting a small file system: %w", err)
	}
	defer unix.Unmount(folder, unix.MNT_DETACH)
	s, err := p.scene(ctx, p.adjusters(), "--store", filepath.Join(folder, "rowdatum.db"))
	if err != nil {
		return err
	}
	defer s.end()
	return do(s, filepath.Join(folder, "ballast"))
}

// fill writes until nothing more fits.
func fill(file string) error {
	f, err := os.Create(file)
	if err != nil {
		return err
	}
	defer f.Close()
	for block := make([]byte, 64<<10); len(block) > 0; {
		_, err := f.Write(block)
		switch {
		case errors.Is(err, unix.ENOSPC):
			block = block[:len(block)/2]
		case err != nil:
			return err
		}
	}
	return nil
}

// fileLimit forbids the running service to write files beyond a size. Any user may do that to a process of his own.
func fileLimit(ctx context.Context, p *prover, o *outcome) error {
	s, err := p.scene(ctx, p.adjusters())
	if err != nil {
		return err
	}
	defer s.end()
	var usual unix.Rlimit
	pid := s.Process().Pid
	return s.full(ctx, o, func() error {
		if err := unix.Prlimit(pid, unix.RLIMIT_FSIZE, nil, &usual); err != nil {
			return err
		}
		return unix.Prlimit(pid, unix.RLIMIT_FSIZE, &unix.Rlimit{Cur: limitBytes, Max: usual.Max}, nil)
	}, func() error {
		return unix.Prlimit(pid, unix.RLIMIT_FSIZE, &usual, nil)
	})
}

// full lets clients run against a disk without room, and makes room again.
func (s *scene) full(ctx context.Context, o *outcome, fill, free func() error) error {
	reads := &caller{must: "reads go on"}
	plans := &caller{must: "plans that need no store go on", ask: s.plan(handle)}
	reads.ask = func(ctx context.Context, _ int64) error {
		_, err := pb.NewPlanterServiceClient(s.conn).GetPlanter(ctx, &pb.GetPlanterRequest{Name: s.planter})
		return err
	}
	end := beside(ctx, reads, plans)
	ready := 0 // rounds in which /readyz told
	err := s.rounds(ctx, o, func(ctx context.Context, l *load) (time.Time, error) {
		if err := o.refused(ctx, fill); err != nil {
			return time.Time{}, err
		}
		sleep(ctx, fullFor)
		told, err := s.notReady(ctx)
		if err != nil {
			return time.Time{}, err
		}
		if err := free(); err != nil {
			return time.Time{}, err
		}
		room := time.Now()
		_, healed := l.healed(ctx, room)
		again, err := s.readyz(ctx)
		if told && again == http.StatusOK && healed {
			ready++
		}
		return room, err
	})
	end()
	o.keep(reads, plans)
	o.kept = append(o.kept, kept{must: "/readyz says 503 while it lasts and 200 after", asked: o.times, good: ready})
	return err
}

// refused fills a disk and waits until clients are refused.
func (o *outcome) refused(ctx context.Context, fill func() error) error {
	before := o.seen.errors()
	if err := fill(); err != nil {
		return err
	}
	for limit := time.Now().Add(fullMost); o.seen.errors() < before+writers; sleep(ctx, 5*time.Millisecond) {
		if time.Now().After(limit) || ctx.Err() != nil {
			return fmt.Errorf("nobody was refused a write within %v", fullMost)
		}
	}
	return nil
}

// notReady waits a moment for /readyz to say so: the last bytes of a disk may still take the small write that it tries.
func (s *scene) notReady(ctx context.Context) (bool, error) {
	for end := time.Now().Add(3 * time.Second); time.Now().Before(end); sleep(ctx, 5*time.Millisecond) {
		if code, err := s.readyz(ctx); err != nil || code == http.StatusServiceUnavailable {
			return err == nil, err
		}
	}
	return false, nil
}

func (s *scene) readyz(ctx context.Context) (int, error) {
	answer, err := s.get(ctx, "/readyz")
	return answer.code, err
}
