package dig

import (
	"testing"

	"rowdatum/server/leveling/wordstest"
)

func TestCatalogues(t *testing.T) { wordstest.Agree(t, &english, &spanish) }
