package adjusters_test

import (
	"fmt"
	"testing"

	"rowdatum/server/internal/adjusters"
	"rowdatum/server/leveling"
)

// BenchmarkOptions asks for 48 rows of 40 options: remembered, and over the wire.
func BenchmarkOptions(b *testing.B) {
	h := host(b, adjusters.Options{Dir: install(b, "handle")})
	q := ask("", make([]int, 48)...)
	for i := range q.Rows {
		q.Rows[i].Setting = leveling.JSON(fmt.Sprintf(`{"turns":%d}`, i%40))
	}
	for _, cached := range []bool{true, false} {
		b.Run(fmt.Sprintf("cached=%v", cached), func(b *testing.B) {
			n := 0
			for b.Loop() {
				q.Figures[0] = `{"mmPerTurn":6.35,"turns":39}`
				if n++; !cached {
					q.Figures[0] = leveling.JSON(fmt.Sprintf(`{"mmPerTurn":6.%d,"turns":39}`, n))
				}
				rows, err := h.Options(b.Context(), "handle", q)
				if err != nil || len(rows) != 48 || len(rows[47].Options) != 40 {
					b.Fatal(len(rows), err)
				}
			}
		})
	}
}
