//go:build !linux && !darwin && !freebsd && !windows

package sqlite

// shareOf cannot tell here.
func shareOf(string) string { return "" }
