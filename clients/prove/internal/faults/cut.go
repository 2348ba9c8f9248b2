package faults

import (
	"context"
	"io"
	"math/rand/v2"
	"net"
	"sync"
	"time"
)

// cutEvery is the pause between two cuts.
const cutEvery = 400 * time.Millisecond

// cut lets all clients work through a line that is cut again and again, in the middle of whatever is on its way.
func cut(ctx context.Context, p *prover, o *outcome) error {
	s, err := p.scene(ctx, p.adjusters())
	if err != nil {
		return err
	}
	defer s.end()
	var lines [2]*line
	for i, to := range []string{s.GRPC, s.HTTP} {
		if lines[i], err = newLine(to, uint64(i)); err != nil {
			return err
		}
		defer lines[i].close()
	}
	if err := s.lead(lines[0].address(), lines[1].address()); err != nil {
		return err
	}
	cuts := o.times
	if p.Quick {
		cuts = 4
	}
	o.times = 1
	err = s.rounds(ctx, o, func(ctx context.Context, _ *load) (time.Time, error) {
		var last time.Time
		for range cuts {
			last = time.Now()
			o.seen.strike()
			o.watches.strike()
			for _, l := range lines {
				l.cut()
			}
			sleep(ctx, cutEvery)
		}
		return last, nil
	})
	o.times = cuts
	return err
}

// line passes connections on until they are cut.
type line struct {
	listener net.Listener
	to       string
	working  sync.WaitGroup

	mu     sync.Mutex
	random *rand.Rand
	open   map[*passage]bool
}

// passage is one connection through a line.
type passage struct {
	sides [2]net.Conn
	mu    sync.Mutex
	left  int // bytes of answers that still pass; below 0: all
}

func newLine(to string, seed uint64) (*line, error) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	l := &line{listener: listener, to: to, random: rand.New(rand.NewPCG(seed, 5)), open: map[*passage]bool{}}
	l.working.Go(l.accept)
	return l, nil
}

func (l *line) address() string { return l.listener.Addr().String() }

func (l *line) close() {
	l.listener.Close()
	l.mu.Lock()
	for p := range l.open {
		p.end()
	}
	l.mu.Unlock()
	l.working.Wait()
}

func (l *line) accept() {
	for {
		near, err := l.listener.Accept()
		if err != nil {
			return // closed
		}
		far, err := net.Dial("tcp", l.to)
		if err != nil {
			near.Close()
			continue
		}
		p := &passage{sides: [2]net.Conn{near, far}, left: -1}
		l.mu.Lock()
		l.open[p] = true
		l.mu.Unlock()
		l.working.Go(func() {
			p.run()
			l.mu.Lock()
			delete(l.open, p)
			l.mu.Unlock()
		})
	}
}

// mostAfterCut is up to how many bytes of answers still pass after a cut: the cut falls within an answer, not between two.
const mostAfterCut = 6000

// cut ends every open connection, some at once and the others within the next bytes that come back.
func (l *line) cut() {
	l.mu.Lock()
	defer l.mu.Unlock()
	for p := range l.open {
		p.mu.Lock()
		p.left = l.random.IntN(mostAfterCut)
		p.mu.Unlock()
	}
}

// run passes bytes both ways until one side ends or the line is cut.
func (p *passage) run() {
	var both sync.WaitGroup
	both.Go(func() {
		defer p.end()
		io.Copy(p.sides[1], p.sides[0])
	})
	defer both.Wait()
	defer p.end()
	for block := make([]byte, 4096); ; {
		n, err := p.sides[1].Read(block)
		pass := p.pass(n)
		if _, failed := p.sides[0].Write(block[:pass]); failed != nil || err != nil || pass < n {
			return
		}
	}
}

// pass tells how many of the next n bytes still pass.
func (p *passage) pass(n int) int {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.left < 0 {
		return n
	}
	n = min(n, p.left)
	p.left -= n
	return n
}

func (p *passage) end() {
	for _, side := range p.sides {
		side.Close()
	}
}
