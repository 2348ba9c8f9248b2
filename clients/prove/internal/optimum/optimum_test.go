package optimum

import (
	"strings"
	"testing"

	"rowdatum/clients/internal/service"
	"rowdatum/clients/prove/internal/proof"
)

// TestQuick holds a share of the plans against programs: each must agree.
func TestQuick(t *testing.T) {
	needSolver(t)
	programs := t.TempDir()
	if err := service.Build(t.Context(), programs, "threadedhandle", "notchedstop", "shimmedarm"); err != nil {
		t.Fatal(err)
	}
	tables, err := Run(t.Context(), proof.Setting{Programs: programs, Quick: true, Say: t.Logf})
	if err != nil {
		t.Fatal(err)
	}
	var said strings.Builder
	for _, table := range tables {
		if err := table.Write(&said); err != nil {
			t.Fatal(err)
		}
		for _, row := range table.Rows {
			if row.Missed() || row.Ratio != row.Ratio {
				t.Errorf("%s", strings.Join(row.Cells, " | "))
			}
		}
	}
	t.Logf("\n%s", &said)
}
