// Package qrsvg draws a QR picture as SVG text, which stands in a page as it is and prints at any size.
package qrsvg

import (
	"fmt"
	"strings"

	"rsc.io/qr"
)

// quiet is the white border that readers need, in modules: ISO/IEC 18004 asks for 4.
const quiet = 4

// Draw returns the picture of a text, such as an address. It fails where the text is longer than a QR
// picture holds, about 2,300 bytes.
func Draw(text string) (string, error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return "", fmt.Errorf("drawing a QR picture: %w", err)
	}
	var b strings.Builder
	side := code.Size + 2*quiet
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" shape-rendering="crispEdges">`, side, side)
	fmt.Fprintf(&b, `<path fill="#fff" d="M0 0h%dv%dH0z"/><path d="`, side, side)
	for y := range code.Size {
		for x := 0; x < code.Size; x++ {
			start := x
			for x < code.Size && code.Black(x, y) {
				x++
			}
			if x > start {
				fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", start+quiet, y+quiet, x-start, x-start)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	return b.String(), nil
}
