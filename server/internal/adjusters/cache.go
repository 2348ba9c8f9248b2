package adjusters

import (
	"sync"

	"github.com/hashicorp/golang-lru/v2/simplelru"
)

// cache remembers answers by question, the least recently used of them forgotten first, and never more
// than a number of bytes: one answer may be a word or 120,000 options.
type cache struct {
	mu   sync.Mutex
	byQ  *simplelru.LRU[string, remembered]
	room int // bytes left

	hits, misses uint64
}

type remembered struct {
	answer any
	bytes  int
}

func newCache(bytes int) (*cache, error) {
	c := &cache{room: bytes}
	byQ, err := simplelru.NewLRU(maxAnswers, func(_ string, r remembered) { c.room += r.bytes })
	c.byQ = byQ
	return c, err
}

// maxAnswers bounds the entries where each is small.
const maxAnswers = 100_000

func (c *cache) get(question string) (any, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	r, ok := c.byQ.Get(question)
	if ok {
		c.hits++
	} else {
		c.misses++
	}
	return r.answer, ok
}

// add remembers an answer of about so many bytes, its question not counted.
func (c *cache) add(question string, answer any, bytes int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.byQ.Remove(question) // gives its room back
	r := remembered{answer, bytes + len(question)}
	c.byQ.Add(question, r)
	for c.room -= r.bytes; c.room < 0; {
		c.byQ.RemoveOldest()
	}
}
