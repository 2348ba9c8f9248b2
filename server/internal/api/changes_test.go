package api

import (
	"testing"

	"rowdatum/server/internal/flow"
)

// TestEveryChangeHasAKind: what the store lists, the contract has a word for.
func TestEveryChangeHasAKind(t *testing.T) {
	for _, method := range flow.ChangeMethods {
		if changeKind[method] == 0 {
			t.Errorf("%s is listed as a change without a kind", method)
		}
	}
	if len(changeKind) != len(flow.ChangeMethods) {
		t.Errorf("%d kinds for %d methods", len(changeKind), len(flow.ChangeMethods))
	}
}
