// Package absent lets a test end where the machine lacks a program that it needs.
package absent

import (
	"os"
	"testing"
)

// Skip ends a test that cannot run without what is named: it is skipped, and in CI it fails.
func Skip(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("CI") != "" {
		t.Fatalf("absent, and CI needs it: %s", what)
	}
	t.Skipf("absent: %s", what)
}
