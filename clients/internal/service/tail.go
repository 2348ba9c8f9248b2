package service

import (
	"bytes"
	"strings"
	"sync"
)

// Tail keeps the end of what was written to it, enough to say why a service failed.
type Tail struct {
	mu   sync.Mutex
	kept bytes.Buffer
}

const maxTail = 8 << 10

// Write never fails.
func (t *Tail) Write(text []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.kept.Write(text)
	if over := t.kept.Len() - maxTail; over > 0 {
		t.kept.Next(over)
	}
	return len(text), nil
}

// String returns what was kept.
func (t *Tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	if text := strings.TrimSpace(t.kept.String()); text != "" {
		return text
	}
	return "(nothing)"
}
