package adjusters

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"go.uber.org/zap"

	"rowdatum/server/leveling"
)

// seat is the place of one file of the folder: the program that serves from it, and the newer one that is
// being tried. The host's lock guards it.
type seat struct {
	name    string
	now     *mechanism
	next    *mechanism // nil unless one is tried
	refused string     // why the newest file does not serve; empty unless now is an older one
	served  string     // why now does not serve, where another file serves its style
}

// style is the style as it is listed.
func (s seat) style(ctx context.Context, v leveling.Voice) leveling.Style {
	if s.served != "" {
		return leveling.Style{ID: s.name, State: leveling.Quarantined, StateReason: s.served}
	}
	style := s.now.style(ctx, v)
	if s.refused != "" {
		style.StateReason = strings.TrimSpace(style.StateReason + " A newer file of it is refused: " + s.refused)
	}
	return style
}

// offer takes a program that is new, or another than before. It serves once it has shaken hands and said
// well what it is; until then, and if it never does, the one before it goes on.
func (h *Host) offer(p program) {
	h.mu.Lock()
	defer h.mu.Unlock()
	s := h.seat(p.name)
	if s == nil {
		s = &seat{name: p.name}
		h.seats = append(h.seats, s)
		s.now = h.launch(s, p)
		return
	}
	if s.next != nil {
		s.next.end()
	}
	s.next, s.refused = nil, ""
	now, _ := s.now.present()
	switch {
	case now.description == nil, p.refused != "" && h.lock.forbids(s.now.program):
		h.retire(s.now) // nothing to keep
		s.now = h.launch(s, p)
	case p.refused != "":
		h.refuse(s, p.refused)
	case p.sum == s.now.program.sum && now.state != leveling.Quarantined:
		p.discard() // it is there already
	default:
		s.next = h.launch(s, p)
	}
}

// launch starts a program.
func (h *Host) launch(s *seat, p program) *mechanism {
	life, end := context.WithCancel(h.life)
	m := &mechanism{supervisor: newSupervisor(p, h.options, h.dir.path, h.excess), life: life, end: end, cache: h.cache}
	h.running.Go(func() {
		defer p.discard()
		m.run(life, h.hurry)
	})
	h.running.Go(func() { h.follow(s, m) })
	return m
}

// follow waits until it is clear what becomes of a program that was started.
func (h *Host) follow(s *seat, m *mechanism) {
	for {
		now, changed := m.present()
		if h.judge(s, m, now) {
			return
		}
		select {
		case <-changed:
		case <-m.life.Done():
			return
		}
	}
}

// judge gives a program its seat, or refuses it; it says whether that is settled.
func (h *Host) judge(s *seat, m *mechanism, now condition) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	trying := s.next == m
	switch {
	case !trying && s.now != m:
		return true // another came
	case now.state == leveling.Quarantined && trying && h.lock.forbids(s.now.program):
		h.seatIt(s)
	case now.state == leveling.Quarantined && trying:
		h.refuse(s, now.reason)
	case now.state == leveling.Quarantined:
	case now.state != leveling.Serving:
		if trying && now.state == leveling.Restarting {
			s.refused = now.reason // and tried again
		}
		return false
	default:
		h.seatNext(s, trying, now.description.style)
	}
	return true
}

// seatNext lets a program serve that does well, unless another file serves its style.
func (h *Host) seatNext(s *seat, trying bool, style leveling.Style) {
	why := h.conflict(s, style.ID)
	switch {
	case why != "" && trying:
		h.refuse(s, why)
	case why != "":
		h.log.Warn("adjuster does not serve", zap.String("style", s.name), zap.String("reason", why))
	case trying:
		h.log.Info("adjuster is replaced", zap.String("style", s.name), zap.String("version", style.Version))
		h.seatIt(s)
	}
}

// seatIt gives the seat to the newer program; the one before it ends its calls.
func (h *Host) seatIt(s *seat) {
	h.retire(s.now)
	s.now, s.next, s.refused = s.next, nil, ""
}

// conflict says which other file serves a style; empty where none does.
func (h *Host) conflict(s *seat, style string) string {
	if owner := h.owner(style); owner != nil && owner != s {
		return fmt.Sprintf("Its style %q is served by the program %s; remove one of the two.", style, owner.name)
	}
	return ""
}

// refuse keeps the program that serves instead of a newer one.
func (h *Host) refuse(s *seat, why string) {
	if s.next != nil {
		s.next.end()
	}
	s.next, s.refused = nil, why
	h.log.Error("a newer adjuster is refused, the one before it goes on", zap.String("style", s.name), zap.String("reason", why))
}

// remove ends what serves from a file that is gone.
func (h *Host) remove(name string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	s := h.seat(name)
	if s == nil { // it went before it was taken: a copy that was broken off
		return
	}
	h.log.Info("adjuster is gone from the folder and ends", zap.String("style", name))
	h.seats = slices.DeleteFunc(h.seats, func(other *seat) bool { return other == s })
	if s.next != nil {
		s.next.end()
		s.next = nil
	}
	h.retire(s.now)
}

// retire ends a program that nothing new is asked of, once those who still use it have left.
func (h *Host) retire(m *mechanism) {
	h.running.Go(func() {
		defer m.end()
		select {
		case <-m.users.gone():
		case <-time.After(h.options.DrainFor):
			m.log.Warn("adjuster is ended while it is still being asked")
		case <-h.life.Done():
		}
	})
}

func (h *Host) seat(name string) *seat {
	if i := slices.IndexFunc(h.seats, func(s *seat) bool { return s.name == name }); i >= 0 {
		return h.seats[i]
	}
	return nil
}

// owner returns the seat that serves a style: the first that has said it, else the program of that name.
func (h *Host) owner(id string) *seat {
	for _, s := range h.seats {
		if now, _ := s.now.present(); now.description != nil && now.description.style.ID == id {
			return s
		}
	}
	if s := h.seat(id); s != nil && s.now.id() == id {
		return s
	}
	return nil
}

// refusedFiles are the programs with a newer file that was refused.
func (h *Host) refusedFiles() map[string]bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	names := map[string]bool{}
	for _, s := range h.seats {
		names[s.name] = s.refused != ""
	}
	return names
}
