package shop_test

import (
	"strings"
	"testing"

	"rowdatum/clients/internal/service"
	"rowdatum/clients/prove/internal/proof"
	"rowdatum/clients/prove/internal/shop"
)

// Few planters say little of averages, but enough to see that the service takes less work and calls no more rows even than
// it may.
func TestRun(t *testing.T) {
	programs := t.TempDir()
	if err := service.Build(t.Context(), programs, "threadedhandle", "notchedstop"); err != nil {
		t.Fatal(err)
	}
	tables, err := shop.Run(t.Context(), proof.Setting{Programs: programs, Quick: true, Say: t.Logf})
	if err != nil {
		t.Fatal(err)
	}
	rows, pictures := 0, 0
	for _, table := range tables {
		rows += len(table.Rows)
		for _, row := range table.Rows {
			switch oracle := strings.Contains(row.Cells[0], "oracle's"); {
			case !(row.Ratio >= 0 && row.Ratio < 8):
				t.Errorf("%v: %v", row.Cells, row.Ratio)
			case !oracle && row.Missed():
				t.Errorf("%v: %v, wanted %v", row.Cells, row.Ratio, row.Goal)
			case strings.Contains(row.Cells[0], "of the hand method's") && row.Ratio < 0.05:
				t.Errorf("%v: %v is too good to be true", row.Cells, row.Ratio)
			case oracle && row.Ratio < 0.5:
				t.Errorf("%v: %v is better than who knows all", row.Cells, row.Ratio)
			}
		}
		for _, picture := range table.Pictures {
			pictures++
			if err := picture.Draw(t.TempDir()); err != nil {
				t.Error(err)
			}
		}
	}
	if rows < 50 || pictures != 2 {
		t.Errorf("%d rows and %d pictures", rows, pictures)
	}
}
