package storetest

import (
	"testing"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

func testAnswers(t *testing.T, p Place) {
	s := open(t, p)
	const request = "5b3e2f60-9c7a-4d57-8a55-0c9f6a0e7a11"
	ask := func(shop string) (a flow.Answer, ok bool) {
		err := s.Read(t.Context(), func(v flow.View) (err error) { a, ok, err = v.Answer(shop, request); return err })
		if err != nil {
			t.Fatal(err)
		}
		return a, ok
	}
	if _, ok := ask(shop); ok {
		t.Error("a new request has an answer")
	}
	first := flow.Answer{Method: "AddReadings", BodyHash: "ab", Response: []byte{0, 255, '{'}, Time: noon}
	write(t, s, func(tx flow.Tx) error { return tx.PutAnswer(shop, request, first) })
	got, ok := ask(shop)
	wantEqual(t, "answered", ok, true)
	wantEqual(t, "first answer", got, first)
	if _, ok := ask(other); ok {
		t.Error("another shop sees the answer")
	}
	wantKind(t, "twice", s.Write(t.Context(), func(tx flow.Tx) error { return tx.PutAnswer(shop, request, flow.Answer{Method: "x"}) }), leveling.Exists)
	write(t, s, func(tx flow.Tx) error { return tx.PutAnswer(other, request, flow.Answer{Method: "DeletePlanter"}) })
	got, _ = ask(shop)
	wantEqual(t, "still the first answer", got, first)
	got, ok = ask(other)
	if !ok || len(got.Response) != 0 {
		t.Errorf("an empty response came back as %v, %t", got, ok)
	}
	later := flow.Answer{Method: "SignJob", Time: noon + 1}
	write(t, s, func(tx flow.Tx) error { return tx.PutAnswer(other, "later", later) })
	old := read(t, s, func(v flow.View) ([]flow.RequestKey, error) { return v.OldAnswers(noon+1, 10) })
	for _, key := range old {
		write(t, s, func(tx flow.Tx) error { return tx.DropAnswer(key) })
	}
	if _, ok := ask(shop); ok || len(old) != 2 {
		t.Errorf("of the old answers %v one is still there", old)
	}
	wantEqual(t, "left", read(t, s, func(v flow.View) ([]flow.RequestKey, error) { return v.OldAnswers(noon+2, 10) }), []flow.RequestKey{{Shop: other, ID: "later"}})
	wantEqual(t, "at most", len(read(t, s, func(v flow.View) ([]flow.RequestKey, error) { return v.OldAnswers(noon+2, 0) })), 0)
}

func testKeys(t *testing.T, p Place) {
	s := open(t, p)
	owner := flow.Key{ID: "k1", Shop: shop, Role: flow.Owner, Label: "Ada", Hash: "h1", CreateTime: noon}
	share := flow.Key{ID: "k2", Shop: shop, Role: flow.Reader, Label: "share", Hash: "h2", Job: flow.JobKey{Shop: shop, Planter: "p1", Job: "j1"},
		CreateTime: noon + 1, ExpireTime: noon + 9}
	theirs := flow.Key{ID: "k1", Shop: other, Role: flow.Technician, Label: "Cy", Hash: "h3", CreateTime: noon}
	write(t, s, func(tx flow.Tx) error {
		for _, k := range []flow.Key{share, owner, theirs} {
			if err := tx.PutKey(k); err != nil {
				return err
			}
		}
		return nil
	})
	byHash := func(v flow.View) (flow.Key, error) { return v.KeyByHash("h2") }
	wantEqual(t, "by hash", read(t, s, byHash), share)
	wantEqual(t, "listed", read(t, s, func(v flow.View) ([]flow.Key, error) { return v.Keys(shop) }), []flow.Key{owner, share})
	wantEqual(t, "listed elsewhere", read(t, s, func(v flow.View) ([]flow.Key, error) { return v.Keys(other) }), []flow.Key{theirs})
	share.RevokeTime = noon + 5
	write(t, s, func(tx flow.Tx) error { return tx.PutKey(share) })
	wantEqual(t, "revoked", read(t, s, byHash), share)
	wantKind(t, "unknown", s.Read(t.Context(), func(v flow.View) error { _, err := v.KeyByHash("h9"); return err }), leveling.NotFound)
	twin := owner
	twin.ID = "k3"
	wantKind(t, "a hash that another key has", s.Write(t.Context(), func(tx flow.Tx) error { return tx.PutKey(twin) }), leveling.Exists)
}

func testPairings(t *testing.T, p Place) {
	s := open(t, p)
	code := flow.Pairing{CodeHash: "c1", Shop: shop, Role: flow.Technician, Label: "Bo's phone", ExpireTime: noon}
	write(t, s, func(tx flow.Tx) error { return tx.PutPairing(code) })
	wantKind(t, "twice", s.Write(t.Context(), func(tx flow.Tx) error { return tx.PutPairing(code) }), leveling.Exists)
	take := func(hash string) (p flow.Pairing, err error) {
		err = s.Write(t.Context(), func(tx flow.Tx) (err error) { p, err = tx.TakePairing(hash); return err })
		return p, err
	}
	_, err := take("c2")
	wantKind(t, "unknown", err, leveling.NotFound)
	got, err := take("c1")
	if err != nil {
		t.Fatal(err)
	}
	wantEqual(t, "taken", got, code)
	_, err = take("c1")
	wantKind(t, "taken twice", err, leveling.NotFound)
}

func testAudit(t *testing.T, p Place) {
	s := open(t, p)
	for i := range 7 {
		e := flow.AuditEntry{Shop: shop, Time: noon + leveling.Micros(i), KeyLabel: "Ada", Method: "AddReadings", Resource: "planters/p1/jobs/j1", RequestID: id("r", i)}
		write(t, s, func(tx flow.Tx) error {
			if err := tx.PutAudit(e); err != nil {
				return err
			}
			e.Shop = other
			return tx.PutAudit(e)
		})
	}
	var got []string
	for before := int64(0); ; {
		page := read(t, s, func(v flow.View) ([]flow.AuditEntry, error) { return v.Audit(shop, before, 3) })
		if len(page) == 0 {
			break
		}
		for _, e := range page {
			if e.Shop != shop || e.KeyLabel != "Ada" || e.Method != "AddReadings" || e.Resource != "planters/p1/jobs/j1" {
				t.Errorf("got %+v", e)
			}
			got = append(got, e.RequestID)
			before = e.Serial
		}
	}
	wantEqual(t, "newest first", got, []string{"r006", "r005", "r004", "r003", "r002", "r001", "r000"})
}

func testShops(t *testing.T, p Place) {
	s := open(t, p)
	shops := func(v flow.View) ([]string, error) { return v.Shops() }
	wantEqual(t, "at first", len(read(t, s, shops)), 0)
	write(t, s, func(tx flow.Tx) error {
		if err := tx.PutPlanter("b", planter("p1")); err != nil {
			return err
		}
		if err := tx.PutKey(flow.Key{ID: "k", Shop: "c", Role: flow.Owner, Hash: "h"}); err != nil {
			return err
		}
		if err := tx.PutFixture("a", leveling.ShopFixture{ID: "f", Revision: 1}); err != nil {
			return err
		}
		return tx.PutPlanter("b", planter("p2"))
	})
	wantEqual(t, "those with something", read(t, s, shops), []string{"a", "b", "c"})
}

// testTexts keeps whatever a person may type, and refuses what one of the databases cannot hold.
func testTexts(t *testing.T, p Place) {
	s := open(t, p)
	for i, text := range []string{"", "Ångström's “16-row” 播种机 🌽", `"; DROP TABLE planters; --`, "%_\\", "  two  spaces\n", "\u2028"} {
		one := planter(id("p", i))
		one.DisplayName, one.Owner = text, text
		write(t, s, func(tx flow.Tx) error { return tx.PutPlanter(shop, one) })
		got := read(t, s, func(v flow.View) ([]leveling.Planter, error) {
			return v.Planters(shop, flow.Query{Limit: 9, Equal: map[string]string{"displayName": text}})
		})
		wantEqual(t, text, got, []leveling.Planter{one})
	}
	for _, text := range []string{"a\x00b", "\xff"} {
		bad := planter("bad")
		bad.Owner = text
		wantKind(t, "a text that cannot be kept", s.Write(t.Context(), func(tx flow.Tx) error { return tx.PutPlanter(shop, bad) }), leveling.Invalid)
		wantKind(t, "a name that cannot be kept", s.Read(t.Context(), func(v flow.View) error { _, err := v.Planter(shop, text); return err }), leveling.Invalid)
	}
	wantKind(t, "what was refused", s.Read(t.Context(), func(v flow.View) error { _, err := v.Planter(shop, "bad"); return err }), leveling.NotFound)
}
