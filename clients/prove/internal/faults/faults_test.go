package faults

import (
	"bytes"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"rowdatum/clients/internal/absent"
	"rowdatum/clients/internal/service"
	"rowdatum/clients/prove/internal/proof"
)

// struckClients are the faults that clients who write must have noticed.
var struckClients = regexp.MustCompile("^(process|PostgreSQL|connections|disk)")

// TestQuick tries every fault once. What is acknowledged is kept, however short the run.
func TestQuick(t *testing.T) {
	repository, err := filepath.Abs("../../../..")
	if err != nil {
		t.Fatal(err)
	}
	programs := t.TempDir()
	if err := service.Build(t.Context(), programs, "threadedhandle", "notchedstop"); err != nil {
		t.Fatal(err)
	}
	tables, err := Run(t.Context(), proof.Setting{Programs: programs, Quick: true, Repository: repository, Say: t.Logf})
	if err != nil {
		t.Fatal(err)
	}
	said := &bytes.Buffer{}
	for _, table := range tables {
		if err := table.Write(said); err != nil {
			t.Fatal(err)
		}
		for _, row := range table.Rows {
			if row.Missed() || row.Ratio != row.Ratio {
				t.Errorf("%s: %s", table.Title, strings.Join(row.Cells, " | "))
			}
		}
	}
	t.Logf("\n%s", said)
	for _, row := range tables[0].Rows { // a fault that nobody notices was none
		if struckClients.MatchString(row.Cells[0]) && row.Cells[2] == "nothing" {
			t.Errorf("%s: no client noticed", row.Cells[0])
		}
	}
	for _, f := range slices.Concat(portable, systems) {
		if !strings.Contains(said.String(), f.name) {
			t.Errorf("%s: the tables do not speak of it", f.name)
		}
	}
	t.Run("PostgreSQL", func(t *testing.T) {
		if strings.Contains(said.String(), "Not tried: PostgreSQL") {
			absent.Skip(t, "PostgreSQL: its faults were not tried")
		}
	})
}
