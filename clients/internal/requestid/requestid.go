// Package requestid makes the ids that make a write safe to send twice.
package requestid

import (
	"crypto/rand"
	"fmt"
)

// New returns a random UUID (RFC 9562, version 4).
func New() string {
	var b [16]byte
	rand.Read(b[:]) // never fails
	b[6], b[8] = b[6]&0x0F|0x40, b[8]&0x3F|0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", b[:4], b[4:6], b[6:8], b[8:10], b[10:])
}
