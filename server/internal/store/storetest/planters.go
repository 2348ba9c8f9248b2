package storetest

import (
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

func testPlanters(t *testing.T, p Place) {
	s := open(t, p)
	first := planter("p1")
	write(t, s, func(tx flow.Tx) error { return tx.PutPlanter(shop, first) })
	get := func(v flow.View) (leveling.Planter, error) { return v.Planter(shop, "p1") }
	wantEqual(t, "as put", read(t, s, get), first)

	second := first
	second.DisplayName, second.Revision, second.ExternalIDs = "Renamed", 2, nil
	write(t, s, func(tx flow.Tx) error { return tx.PutPlanter(shop, second) })
	wantEqual(t, "replaced", read(t, s, get), second)

	for _, c := range []struct {
		name string
		kind leveling.Kind
		do   func(flow.Tx) error
	}{
		{"the same id again", leveling.Exists, func(tx flow.Tx) error { return tx.PutPlanter(shop, first) }},
		{"the same revision again", leveling.Stale, func(tx flow.Tx) error { return tx.PutPlanter(shop, second) }},
		{"a revision too far", leveling.Stale, func(tx flow.Tx) error { ahead := second; ahead.Revision = 4; return tx.PutPlanter(shop, ahead) }},
		{"replacing what is not there", leveling.NotFound, func(tx flow.Tx) error {
			none := second
			none.ID = "p2"
			return tx.PutPlanter(shop, none)
		}},
		{"another shop's", leveling.NotFound, func(tx flow.Tx) error { _, err := tx.Planter(other, "p1"); return err }},
		{"deleting another shop's", leveling.NotFound, func(tx flow.Tx) error { return tx.DeletePlanter(other, "p1") }},
		{"replacing another shop's", leveling.NotFound, func(tx flow.Tx) error { next := second; next.Revision = 3; return tx.PutPlanter(other, next) }},
	} {
		wantKind(t, c.name, s.Write(t.Context(), c.do), c.kind)
	}
	wantEqual(t, "after all that", read(t, s, get), second)

	write(t, s, func(tx flow.Tx) error { return tx.DeletePlanter(shop, "p1") })
	wantKind(t, "deleted", s.Read(t.Context(), func(v flow.View) error { _, err := v.Planter(shop, "p1"); return err }), leveling.NotFound)
	wantKind(t, "deleted twice", s.Write(t.Context(), func(tx flow.Tx) error { return tx.DeletePlanter(shop, "p1") }), leveling.NotFound)
	write(t, s, func(tx flow.Tx) error { return tx.PutPlanter(shop, first) })
}

func testPlanterLists(t *testing.T, p Place) {
	s := open(t, p)
	want := map[string][]string{}
	write(t, s, func(tx flow.Tx) error {
		clear(want)
		for i := range 25 {
			one := planter(id("p", i))
			one.Owner = []string{"Ada Acker", "Cy Clay"}[i%2]
			if i%3 == 0 {
				one.DisplayName = "Twin"
			}
			one.ExternalIDs = map[string]string{"bay": id("", i%5), "a.b=c": "x=y"}
			if err := tx.PutPlanter(shop, one); err != nil {
				return err
			}
			if i%4 == 0 { // renamed since: found by the new name alone
				one.Revision, one.DisplayName = 2, "Renamed"
				if err := tx.PutPlanter(shop, one); err != nil {
					return err
				}
			}
			want["all"] = append(want["all"], one.ID)
			for name, there := range map[string]bool{
				"cy": i%2 == 1, "twin": one.DisplayName == "Twin", "renamed": one.DisplayName == "Renamed", "bay 2": i%5 == 2,
				"twin of cy in bay 0": one.DisplayName == "Twin" && i%2 == 1 && i%5 == 0,
			} {
				if there {
					want[name] = append(want[name], one.ID)
				}
			}
		}
		return tx.PutPlanter(other, planter("p003"))
	})
	for name, equal := range map[string]map[string]string{
		"all":                 nil,
		"cy":                  {"owner": "Cy Clay"},
		"twin":                {"displayName": "Twin"},
		"renamed":             {"displayName": "Renamed"},
		"bay 2":               {"externalIds.bay": "002"},
		"twin of cy in bay 0": {"displayName": "Twin", "owner": "Cy Clay", "externalIds.bay": "000"},
	} {
		for _, limit := range []int{1, 7, 100} {
			got := pages(t, s, limit, equal, func(v flow.View, q flow.Query) ([]leveling.Planter, error) { return v.Planters(shop, q) },
				func(p leveling.Planter) string { return p.ID }, func(p leveling.Planter) string { return p.ID })
			wantEqual(t, name, got, want[name])
		}
	}
	for name, equal := range map[string]map[string]string{
		"a key that only looks like another with its value": {"externalIds.a.b": "c=x=y"},
		"a field that is none":                              {"planter": "p003"},
		"half a name":                                       {"displayName": "Twi"},
		"other case":                                        {"displayName": "twin"},
	} {
		got := read(t, s, func(v flow.View) ([]leveling.Planter, error) {
			return v.Planters(shop, flow.Query{Limit: 9, Equal: equal})
		})
		wantEqual(t, name, len(got), 0)
	}
}

func testFixtures(t *testing.T, p Place) {
	s := open(t, p)
	blocks := leveling.ShopFixture{ID: "blocks", DisplayName: "Blocks", Kind: leveling.Blocks, Figures: leveling.DefaultFixture(), ZeroMm: 152.4, Revision: 1, CreateTime: noon, UpdateTime: noon}
	window := blocks
	window.ID, window.Kind = "window", leveling.Window
	write(t, s, func(tx flow.Tx) error {
		if err := tx.PutFixture(shop, window); err != nil {
			return err
		}
		return tx.PutFixture(shop, blocks)
	})
	list := func(equal map[string]string) []string {
		return pages(t, s, 1, equal, func(v flow.View, q flow.Query) ([]leveling.ShopFixture, error) { return v.Fixtures(shop, q) },
			func(f leveling.ShopFixture) string { return f.ID }, func(f leveling.ShopFixture) string { return f.ID })
	}
	wantEqual(t, "all", list(nil), []string{"blocks", "window"})
	wantEqual(t, "by kind", list(map[string]string{"kind": "2"}), []string{"blocks"})
	wantEqual(t, "by name", list(map[string]string{"displayName": "Blocks"}), []string{"blocks", "window"})

	blocks.ZeroMm, blocks.Revision = 150, 2
	write(t, s, func(tx flow.Tx) error { return tx.PutFixture(shop, blocks) })
	wantEqual(t, "replaced", read(t, s, func(v flow.View) (leveling.ShopFixture, error) { return v.Fixture(shop, "blocks") }), blocks)
	wantKind(t, "replaced twice", s.Write(t.Context(), func(tx flow.Tx) error { return tx.PutFixture(shop, blocks) }), leveling.Stale)
	wantKind(t, "another shop's", s.Write(t.Context(), func(tx flow.Tx) error { return tx.DeleteFixture(other, "blocks") }), leveling.NotFound)
	write(t, s, func(tx flow.Tx) error { return tx.DeleteFixture(shop, "blocks") })
	wantEqual(t, "by kind, deleted", list(map[string]string{"kind": "2"}), []string{})
	wantKind(t, "deleted", s.Read(t.Context(), func(v flow.View) error { _, err := v.Fixture(shop, "blocks"); return err }), leveling.NotFound)
}

func testPlantersWithJobs(t *testing.T, p Place) {
	s := open(t, p)
	withJob(t, s, "j1")
	wantKind(t, "deleting", s.Write(t.Context(), func(tx flow.Tx) error { return tx.DeletePlanter(shop, "p1") }), leveling.FailedState)
	read(t, s, func(v flow.View) (leveling.Planter, error) { return v.Planter(shop, "p1") })
	err := s.Write(t.Context(), func(tx flow.Tx) error { return tx.PutJob(head("none", "j1"), []job.Event{opening()}) })
	if err == nil {
		t.Error("a job was put on a planter that is not there")
	}
}

func testRestoring(t *testing.T, p Place) {
	s := open(t, p)
	was, fixture := planter("p1"), leveling.ShopFixture{ID: "f1", DisplayName: "Window", Kind: leveling.Window, Revision: 9}
	was.Revision = 17
	restore := func(tx flow.Tx) error {
		if err := tx.RestorePlanter(shop, was); err != nil {
			return err
		}
		return tx.RestoreFixture(shop, fixture)
	}
	write(t, s, restore)
	wantKind(t, "twice", s.Write(t.Context(), restore), leveling.Exists)
	found := read(t, s, func(v flow.View) ([]leveling.Planter, error) {
		return v.Planters(shop, flow.Query{Limit: 2, Equal: map[string]string{"owner": was.Owner}})
	})
	wantEqual(t, "planters", found, []leveling.Planter{was})
	wantEqual(t, "fixture", read(t, s, func(v flow.View) (leveling.ShopFixture, error) { return v.Fixture(shop, "f1") }), fixture)
	was.Revision = 18
	write(t, s, func(tx flow.Tx) error { return tx.PutPlanter(shop, was) })
}
