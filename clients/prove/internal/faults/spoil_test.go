package faults

import (
	"bytes"
	"math/rand/v2"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"rowdatum/proto/httprules"
)

// TestSpoilers: every method has a request that is filled and can be spoiled in every way; nearly all come out
// changed.
func TestSpoilers(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	all := httprules.All()
	if len(all) < 40 {
		t.Fatalf("only %d methods", len(all))
	}
	changed, tried := 0, 0
	for _, rule := range all {
		request := (&filler{random: random, target: "planters/x/jobs/y"}).request(rule)
		wire, err := proto.Marshal(request)
		if err != nil {
			t.Fatal(err)
		}
		text, err := protojson.Marshal(request)
		if err != nil {
			t.Fatal(err)
		}
		for _, of := range []struct {
			good     []byte
			spoilers []spoiler
		}{{wire, wireSpoilers}, {text, textSpoilers}, {nil, wireSpoilers}, {[]byte("{}"), textSpoilers}} {
			for _, s := range of.spoilers {
				body := s.do(random, of.good)
				if len(of.good) < 10 {
					continue // there is little to spoil
				}
				tried++
				if !bytes.Equal(body, of.good) {
					changed++
				}
			}
		}
	}
	if changed < tried*9/10 {
		t.Errorf("%d of %d bodies are as they were", tried-changed, tried)
	}
}
