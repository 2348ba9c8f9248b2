package wordstest

import (
	"reflect"
	"testing"
)

type phrases struct{ a, b string }

func TestDisagreements(t *testing.T) {
	english := phrases{"rows %d and %s", "100 %% of %s"}
	for _, c := range []struct {
		other phrases
		wrong int
	}{
		{phrases{"%[2]s y filas %[1]d", "el 100 %% de %s"}, 0},
		{phrases{"filas %d y %s", ""}, 1},
		{phrases{"filas %s y %d", "el 100 %% de %s"}, 1},
		{phrases{"filas %d", "el 100 %% de %d"}, 2},
		{english, 2},
	} {
		if got := disagreements(reflect.ValueOf(english), reflect.ValueOf(c.other)); len(got) != c.wrong {
			t.Errorf("%q: %q", c.other, got)
		}
	}
}
