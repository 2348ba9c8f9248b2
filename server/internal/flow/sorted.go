package flow

import (
	"errors"
	"slices"
	"strconv"

	"rowdatum/server/leveling"
)

// sorted puts violations in a fixed order: by field as a person counts, then by message.
func sorted(v leveling.Violations) leveling.Violations {
	slices.SortStableFunc(v, func(a, b leveling.Violation) int { return naturalCompare(a.Field, b.Field) })
	return v
}

// naturalCompare orders paths with their numbers as numbers: rows[2] before rows[10].
func naturalCompare(a, b string) int {
	for a != "" && b != "" {
		x, restA := leadingNumber(a)
		y, restB := leadingNumber(b)
		if restA != a && restB != b {
			if x != y {
				return x - y
			}
			a, b = restA, restB
			continue
		}
		if a[0] != b[0] {
			return int(a[0]) - int(b[0])
		}
		a, b = a[1:], b[1:]
	}
	return len(a) - len(b)
}

func leadingNumber(s string) (int, string) {
	end := 0
	for end < len(s) && end < 9 && s[end] >= '0' && s[end] <= '9' {
		end++
	}
	n, err := strconv.Atoi(s[:end])
	if errors.Is(err, strconv.ErrSyntax) {
		return 0, s
	}
	return n, s[end:]
}
