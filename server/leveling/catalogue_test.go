package leveling

import (
	"testing"

	"rowdatum/server/leveling/wordstest"
)

func TestCatalogue(t *testing.T) { wordstest.Complete(t, Languages(), catalogue) }
