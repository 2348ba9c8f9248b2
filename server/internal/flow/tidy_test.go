package flow_test

import (
	"testing"
	"time"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// TestTidy: more old answers than are forgotten at once go, a young one stays; a code that has ended goes, a
// good one still opens.
func TestTidy(t *testing.T) {
	f, kept, _ := onStore(t)
	_, key, err := f.AddKey(t.Context(), "north", flow.Owner, "Ada", 0)
	if err != nil {
		t.Fatal(err)
	}
	const many = 1200
	ids := make([]string, many)
	if err := kept.Write(t.Context(), func(tx flow.Tx) error {
		for i := range ids {
			ids[i] = string(rune('a'+i/1000)) + string(rune('a'+i/100%10)) + string(rune('a'+i/10%10)) + string(rune('a'+i%10))
			if err := tx.PutAnswer("north", ids[i], flow.Answer{Method: "CreateJob", Time: noon - days(91)}); err != nil {
				return err
			}
		}
		return tx.PutAnswer("north", "young", flow.Answer{Method: "CreateJob", Time: noon - days(89)})
	}); err != nil {
		t.Fatal(err)
	}
	early, _, err := f.CreatePairing(t.Context(), key.Caller(), "", flow.Reader, "a phone")
	if err != nil {
		t.Fatal(err)
	}
	f.Now = func() leveling.Micros { return noon + days(1) } // the answer of 89 days is 90 days old, and just kept
	late, _, err := f.CreatePairing(t.Context(), key.Caller(), "", flow.Reader, "a phone")
	if err != nil {
		t.Fatal(err)
	}
	if dropped, err := f.Tidy(t.Context()); err != nil || dropped != many {
		t.Errorf("%d answers forgotten (%v), want %d", dropped, err, many)
	}
	if err := kept.Read(t.Context(), func(v flow.View) error {
		_, ok, err := v.Answer("north", "young")
		if !ok {
			t.Error("a young answer was forgotten")
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	if _, _, err := f.RedeemPairing(t.Context(), "", late); err != nil {
		t.Errorf("the good code was forgotten: %v", err)
	}
	f.Now = func() leveling.Micros { return noon } // when the other would still have been good
	if _, _, err := f.RedeemPairing(t.Context(), "", early); reason(err) != "CODE_WRONG" {
		t.Errorf("the ended code was kept: %v", err)
	}
}

// TestKeyWithAnEnd opens until its day and not after it.
func TestKeyWithAnEnd(t *testing.T) {
	f, _, _ := onStore(t)
	_, key, err := f.AddKey(t.Context(), "north", flow.Reader, "", 0)
	if err != nil || key.ExpireTime != 0 {
		t.Fatal(key, err)
	}
	secret, key, err := f.AddKey(t.Context(), "north", flow.Reader, "", 30*24*time.Hour)
	if err != nil || key.ExpireTime != noon+days(30) {
		t.Fatalf("it ends at %v (%v)", key.ExpireTime, err)
	}
	f.Now = func() leveling.Micros { return noon + days(30) - 1 }
	if _, err := f.Authenticate(t.Context(), secret); err != nil {
		t.Error(err)
	}
	f.Now = func() leveling.Micros { return noon + days(30) }
	if _, err := f.Authenticate(t.Context(), secret); reason(err) != "KEY_EXPIRED" {
		t.Errorf("on its last day it is %v", err)
	}
	if _, _, err := f.AddKey(t.Context(), "north", flow.Reader, "", -time.Hour); err == nil {
		t.Error("a key that ended before it began")
	}
}
