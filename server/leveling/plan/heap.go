package plan

// heap keeps the item that no other comes before on top.
type heap[T any] struct {
	items  []T
	before func(a, b T) bool
}

func (h *heap[T]) push(item T) {
	h.items = append(h.items, item)
	for i := len(h.items) - 1; i > 0; {
		up := (i - 1) / 2
		if !h.before(h.items[i], h.items[up]) {
			return
		}
		h.items[i], h.items[up] = h.items[up], h.items[i]
		i = up
	}
}

func (h *heap[T]) pop() {
	n := len(h.items) - 1
	h.items[0] = h.items[n]
	h.items = h.items[:n]
	for i := 0; ; {
		down := i
		for _, child := range [2]int{2*i + 1, 2*i + 2} {
			if child < n && h.before(h.items[child], h.items[down]) {
				down = child
			}
		}
		if down == i {
			return
		}
		h.items[i], h.items[down] = h.items[down], h.items[i]
		i = down
	}
}
