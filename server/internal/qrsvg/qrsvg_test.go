package qrsvg

import (
	"encoding/xml"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"rsc.io/qr"
)

// TestDraw paints the picture's path and compares every module with the code's own.
func TestDraw(t *testing.T) {
	for _, text := range []string{"x", "https://shop-pc.local:7480/pair#ABCDEFGHJKLM", strings.Repeat("long ", 200)} {
		svg, err := Draw(text)
		if err != nil {
			t.Fatal(err)
		}
		code, err := qr.Encode(text, qr.M)
		if err != nil {
			t.Fatal(err)
		}
		side := code.Size + 8 // four white modules on each side
		if !strings.Contains(svg, fmt.Sprintf(`viewBox="0 0 %d %d"`, side, side)) {
			t.Errorf("%q: the picture is not %d wide: %.120s", text, side, svg)
		}
		black := map[[2]int]bool{}
		for _, run := range regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-`).FindAllStringSubmatch(svg, -1) {
			x, _ := strconv.Atoi(run[1])
			y, _ := strconv.Atoi(run[2])
			long, _ := strconv.Atoi(run[3])
			for i := range long {
				black[[2]int{x + i, y}] = true
			}
		}
		for y := range side {
			for x := range side {
				if got, want := black[[2]int{x, y}], code.Black(x-4, y-4); got != want {
					t.Fatalf("%q: module %d,%d is black: %v, want %v", text, x, y, got, want)
				}
			}
		}
		for dec := xml.NewDecoder(strings.NewReader(svg)); ; {
			if _, err := dec.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("%q: %v", text, err)
			}
		}
	}
	if _, err := Draw(strings.Repeat("x", 3000)); err == nil {
		t.Error("3,000 bytes were drawn; no QR picture holds them")
	}
}
