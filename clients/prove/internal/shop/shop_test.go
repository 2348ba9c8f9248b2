package shop_test

import (
	"strings"
	"testing"

	"rowdatum/clients/internal/service"
	"rowdatum/clients/prove/internal/proof"
	"rowdatum/clients/prove/internal/shop"
)

// Few planters say little of averages, but enough to see that the service takes less work, calls no more rows even than it
// may, and says of whole planters what is about so.
func TestQuick(t *testing.T) {
	programs := t.TempDir()
	if err := service.Build(t.Context(), programs, "threadedhandle", "notchedstop"); err != nil {
		t.Fatal(err)
	}
	tables := func(t *testing.T, run proof.Part) []proof.Table {
		out, err := run(t.Context(), proof.Setting{Programs: programs, Quick: true, Say: t.Logf})
		if err != nil {
			t.Fatal(err)
		}
		for _, table := range out {
			var said strings.Builder
			if err := table.Write(&said); err != nil {
				t.Fatal(err)
			}
			t.Logf("\n%s", &said)
		}
		return out
	}
	t.Run("equal spread", func(t *testing.T) { equalSpread(t, tables(t, shop.Run)) })
	t.Run("rulings", func(t *testing.T) { rulings(t, tables(t, shop.Rulings)) })
	t.Run("planters", func(t *testing.T) { planters(t, tables(t, shop.Whole)) })
}

func equalSpread(t *testing.T, tables []proof.Table) {
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
	if rows < 40 || pictures != 2 {
		t.Errorf("%d rows and %d pictures", rows, pictures)
	}
}

func rulings(t *testing.T, tables []proof.Table) {
	if len(tables) != 3 || len(tables[0].Rows) != 8 || len(tables[1].Rows) != 3 || len(tables[2].Rows) != 8 {
		t.Fatalf("%d tables", len(tables))
	}
	for i, table := range tables {
		for _, row := range table.Unexplained() {
			t.Errorf("%v: %v, wanted %v", row.Cells, row.Ratio, row.Goal)
		}
		for _, row := range table.Rows {
			if says := row.Cells[len(row.Cells)-1]; i == 2 && (says == "") == strings.HasSuffix(row.Cells[0], "1/4 inch") {
				t.Errorf("%v: a ruling coarser than the tolerance, and no other, is said to be one", row.Cells)
			}
		}
	}
}

// Of 24 planters a share is uncertain by a tenth.
func planters(t *testing.T, tables []proof.Table) {
	if len(tables) != 2 || len(tables[0].Rows) != 18 || len(tables[1].Rows) != 18 {
		t.Fatalf("%d tables", len(tables))
	}
	for _, row := range tables[0].Rows {
		if !(row.Ratio >= 0.65) {
			t.Errorf("spread of %v: %v inside", row.Cells, row.Ratio)
		}
	}
	for _, row := range tables[1].Rows {
		if !(row.Ratio <= 0.3) {
			t.Errorf("chance of %v: off by %v", row.Cells, row.Ratio)
		}
	}
}
