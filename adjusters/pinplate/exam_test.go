package main

import (
	"testing"

	"rowdatum/adjusters/adjustertest"
)

func TestExam(t *testing.T) {
	t.Parallel()
	adjustertest.Examine(t, "../../testdata/adjusters/pin-plate")
}
