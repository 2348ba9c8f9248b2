package adjusters

import (
	"context"
	"sync"
)

// users counts who is using a program, so that one that was replaced ends when the last has left.
type users struct {
	mu    sync.Mutex
	count int
	left  chan struct{} // made by whoever waits; closed when nobody is left
}

func (u *users) enter() {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.count++
}

func (u *users) leave() {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.count--
	u.tell()
}

// gone returns a channel that is closed when nobody is left. Nobody may enter any more, and it is called
// once.
func (u *users) gone() <-chan struct{} {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.left = make(chan struct{})
	u.tell()
	return u.left
}

func (u *users) tell() {
	if u.left != nil && u.count == 0 {
		close(u.left)
	}
}

// held is what one call of the service has asked so far.
type held struct {
	mu      sync.Mutex
	byStyle map[string]*mechanism
	over    bool
}

type heldKey struct{}

// Hold returns a context for one call of the service. All that is asked with it of one style is asked of
// one program, also where that is replaced meanwhile: a plan that has its options from the old one has
// its words from it as well. The program is let go when ctx ends, which must happen.
func (h *Host) Hold(ctx context.Context) context.Context {
	call := &held{byStyle: map[string]*mechanism{}}
	context.AfterFunc(ctx, call.end)
	return context.WithValue(ctx, heldKey{}, call)
}

func (c *held) end() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.over = true
	for _, m := range c.byStyle {
		m.users.leave()
	}
}

// enter returns the program of a style and what to do when it is no longer used, or nil.
func (h *Host) enter(ctx context.Context, id string) (m *mechanism, leave func()) {
	call, _ := ctx.Value(heldKey{}).(*held)
	if call == nil {
		return h.enterNow(id)
	}
	call.mu.Lock()
	defer call.mu.Unlock()
	if m := call.byStyle[id]; m != nil && !call.over {
		return m, func() {}
	}
	m, leave = h.enterNow(id)
	if m == nil || call.over {
		return m, leave
	}
	call.byStyle[id] = m
	return m, func() {}
}

func (h *Host) enterNow(id string) (m *mechanism, leave func()) {
	h.mu.Lock()
	defer h.mu.Unlock()
	s := h.owner(id)
	if s == nil {
		return nil, nil
	}
	s.now.users.enter()
	return s.now, s.now.users.leave
}
