package storetest

import (
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

func testDigs(t *testing.T, p Place) {
	s := open(t, p)
	dig := func(planter, id string) leveling.Dig {
		target := 50.8
		return leveling.Dig{ID: id, Planter: planter, Title: "North headland", DigTime: noon, TargetMm: &target, CreateTime: noon,
			Rows: []leveling.RowSeeds{{Row: 1, DepthsMm: []float64{50.8, 47.625}}, {Row: 2, DepthsMm: []float64{44}}}}
	}
	write(t, s, func(tx flow.Tx) error {
		for _, planterID := range []string{"p", "p-1", "q"} {
			if err := tx.PutPlanter(shop, planter(planterID)); err != nil {
				return err
			}
		}
		for _, d := range []leveling.Dig{dig("p", "c"), dig("p", "a"), dig("p", "b"), dig("p-1", "a")} {
			if err := tx.PutDig(shop, d); err != nil {
				return err
			}
		}
		return nil
	})
	wantEqual(t, "as put", read(t, s, func(v flow.View) (leveling.Dig, error) { return v.Dig(shop, "p", "b") }), dig("p", "b"))
	page := func(after string, limit int) []leveling.Dig {
		return read(t, s, func(v flow.View) ([]leveling.Dig, error) {
			return v.Digs(shop, "p", flow.Query{After: after, Limit: limit})
		})
	}
	wantEqual(t, "first page", page("", 2), []leveling.Dig{dig("p", "a"), dig("p", "b")})
	wantEqual(t, "second page", page("b", 2), []leveling.Dig{dig("p", "c")})

	for _, c := range []struct {
		name string
		kind leveling.Kind
		do   func(flow.Tx) error
	}{
		{"the same id again", leveling.Exists, func(tx flow.Tx) error { return tx.PutDig(shop, dig("p", "a")) }},
		{"another shop's", leveling.NotFound, func(tx flow.Tx) error { _, err := tx.Dig(other, "p", "a"); return err }},
		{"another planter's", leveling.NotFound, func(tx flow.Tx) error { _, err := tx.Dig(shop, "q", "a"); return err }},
		{"deleting its planter", leveling.FailedState, func(tx flow.Tx) error { return tx.DeletePlanter(shop, "p") }},
	} {
		wantKind(t, c.name, s.Write(t.Context(), c.do), c.kind)
	}
	write(t, s, func(tx flow.Tx) error { return tx.DeletePlanter(shop, "q") })
}
