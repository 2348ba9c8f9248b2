package plan

import (
	"testing"

	"rowdatum/server/leveling/wordstest"
)

func TestFieldCatalogues(t *testing.T) { wordstest.Agree(t, &englishField, &spanishField) }
