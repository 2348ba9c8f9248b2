package plan

import (
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/wordstest"
)

func TestCatalogue(t *testing.T) { wordstest.Complete(t, leveling.Languages(), catalogue) }

func TestSeedCatalogue(t *testing.T) { wordstest.Complete(t, leveling.Languages(), ofSeeds) }
