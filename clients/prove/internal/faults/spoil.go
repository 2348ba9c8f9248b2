package faults

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"math/rand/v2"
	"net/url"
	"slices"
	"strings"

	"google.golang.org/protobuf/encoding/protowire"

	"rowdatum/proto/httprules"
)

// spoiler makes a body that is right wrong in one way.
type spoiler struct {
	name string
	do   func(random *rand.Rand, good []byte) []byte
}

// spoilers are the ways for every body.
var spoilers = []spoiler{
	{"cut off", func(random *rand.Rand, good []byte) []byte { return good[:random.IntN(len(good)+1)] }},
	{"bits turned", func(random *rand.Rand, good []byte) []byte {
		out := slices.Clone(good)
		for range 1 + random.IntN(8) {
			if len(out) > 0 {
				out[random.IntN(len(out))] ^= 1 << random.IntN(8)
			}
		}
		return out
	}},
	{"twice", func(_ *rand.Rand, good []byte) []byte { return append(slices.Clone(good), good...) }},
	{"noise put in", func(random *rand.Rand, good []byte) []byte {
		noise := make([]byte, 1+random.IntN(200))
		for i := range noise {
			noise[i] = byte(random.IntN(256))
		}
		return slices.Insert(slices.Clone(good), random.IntN(len(good)+1), noise...)
	}},
	{"a piece moved", func(random *rand.Rand, good []byte) []byte {
		if len(good) < 2 {
			return good
		}
		at := 1 + random.IntN(len(good)-1)
		return append(slices.Clone(good[at:]), good[:at]...)
	}},
}

// textSpoilers are those of JSON.
var textSpoilers = append([]spoiler{
	{"kinds swapped", valueFor(`"word"`, `12`, `true`, `[]`, `{}`, `[1,"a",null]`, `{"a":{"b":1}}`, `null`)},
	{"huge numbers", valueFor(`1e999`, `-1e308`, `99999999999999999999999`, `-0`, `1e-400`, `2147483648`, `1.5`, `"NaN"`, `"Infinity"`, `0x10`)},
	{"deep nesting", func(random *rand.Rand, good []byte) []byte {
		deep := []int{65, 1000, 100_000}[random.IntN(3)]
		if random.IntN(2) == 0 {
			return valueFor(strings.Repeat("[", deep)+strings.Repeat("]", deep))(random, good)
		}
		return valueFor(strings.Repeat(`{"a":`, deep)+"1"+strings.Repeat("}", deep))(random, good)
	}},
	{"not UTF-8", valueFor("\"\xff\xfe\"", "\"\xc3\"", "\"\xed\xa0\x80\"", `"\ud800"`, "\"\x00\"", `"\u0000"`)},
	{"long texts", valueFor(`"`+strings.Repeat("x", 3000)+`"`, `"`+strings.Repeat("é", 200_000)+`"`)},
	{"names given twice", func(random *rand.Rand, good []byte) []byte {
		inner := bytes.TrimSuffix(bytes.TrimPrefix(good, []byte("{")), []byte("}"))
		return []byte("{" + string(inner) + "," + string(inner) + "}")
	}},
	{"no object", func(random *rand.Rand, _ []byte) []byte {
		return []byte([]string{"", "null", "[]", `"x"`, "1", "true", "{}{}", "{", "\xef\xbb\xbf{}", "// no", "NaN"}[random.IntN(11)])
	}},
}, spoilers...)

// valueFor puts one of these texts in the place of some value.
func valueFor(texts ...string) func(*rand.Rand, []byte) []byte {
	return func(random *rand.Rand, good []byte) []byte {
		text := texts[random.IntN(len(texts))]
		var all any
		if json.Unmarshal(good, &all) != nil {
			return []byte(text)
		}
		var places []func(any)
		collect(all, func(with any) { all = with }, &places)
		const mark = "a mark that no request holds"
		places[random.IntN(len(places))](mark)
		out, err := json.Marshal(all)
		if err != nil {
			return []byte(text)
		}
		return bytes.Replace(out, []byte(`"`+mark+`"`), []byte(text), 1)
	}
}

// collect gathers a setter for every value inside one, in a certain order.
func collect(value any, set func(any), places *[]func(any)) {
	*places = append(*places, set)
	switch v := value.(type) {
	case map[string]any:
		names := make([]string, 0, len(v))
		for name := range v {
			names = append(names, name)
		}
		slices.Sort(names)
		for _, name := range names {
			collect(v[name], func(with any) { v[name] = with }, places)
		}
	case []any:
		for i := range v {
			collect(v[i], func(with any) { v[i] = with }, places)
		}
	}
}

// wireSpoilers are those of protobuf messages.
var wireSpoilers = append([]spoiler{
	{"wire types swapped", func(random *rand.Rand, good []byte) []byte { return retyped(random, good) }},
	{"huge numbers", func(random *rand.Rand, good []byte) []byte {
		return field(random, good, protowire.VarintType, func(b []byte) []byte {
			return protowire.AppendVarint(b, []uint64{math.MaxUint64, math.MaxInt64, 1 << 31, 1 << 63}[random.IntN(4)])
		})
	}},
	{"not finite", func(random *rand.Rand, good []byte) []byte {
		return field(random, good, protowire.Fixed64Type, func(b []byte) []byte {
			bits := math.Float64bits([]float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, math.Copysign(0, -1), 5e-324}[random.IntN(6)])
			return binary.LittleEndian.AppendUint64(b, bits)
		})
	}},
	{"endless varint", func(random *rand.Rand, good []byte) []byte {
		return append(slices.Clone(good), bytes.Repeat([]byte{0xff}, 11)...)
	}},
	{"a length beyond the end", func(random *rand.Rand, good []byte) []byte {
		return field(random, good, protowire.BytesType, func(b []byte) []byte { return protowire.AppendVarint(b, math.MaxInt32) })
	}},
	{"not UTF-8", func(random *rand.Rand, good []byte) []byte {
		return field(random, good, protowire.BytesType, func(b []byte) []byte { return protowire.AppendBytes(b, []byte{0xff, 0xfe, 'a'}) })
	}},
	{"deep groups", func(random *rand.Rand, good []byte) []byte {
		return append(slices.Clone(good), bytes.Repeat(protowire.AppendTag(nil, protowire.Number(1+random.IntN(20)), protowire.StartGroupType), 20_000)...)
	}},
	{"deep messages", func(random *rand.Rand, good []byte) []byte {
		number, inner := protowire.Number(1+random.IntN(6)), []byte{}
		for range 3000 {
			inner = protowire.AppendBytes(protowire.AppendTag(nil, number, protowire.BytesType), inner)
		}
		return append(slices.Clone(good), inner...)
	}},
	{"field number 0", func(_ *rand.Rand, good []byte) []byte { return append(slices.Clone(good), 0, 1) }},
	{"long texts", func(random *rand.Rand, good []byte) []byte {
		return field(random, good, protowire.BytesType, func(b []byte) []byte { return protowire.AppendBytes(b, bytes.Repeat([]byte("x"), 400_000)) })
	}},
}, spoilers...)

// field adds one of the fields that a message may have, with a value of a certain wire type.
func field(random *rand.Rand, good []byte, kind protowire.Type, value func([]byte) []byte) []byte {
	return value(protowire.AppendTag(slices.Clone(good), protowire.Number(1+random.IntN(15)), kind))
}

// retyped gives one field of the message another wire type.
func retyped(random *rand.Rand, good []byte) []byte {
	var starts []int
	for at := 0; at < len(good); {
		_, _, n := protowire.ConsumeField(good[at:])
		if n < 0 {
			break
		}
		starts = append(starts, at)
		at += n
	}
	out := slices.Clone(good)
	if len(starts) > 0 {
		at := starts[random.IntN(len(starts))]
		out[at] = out[at]&^7 | byte(random.IntN(8))
	}
	return out
}

// query makes a query of a spoiled body: some as parameters, some as it is.
func query(random *rand.Rand, rule *httprules.Rule, spoiled []byte) string {
	const most = 4000 // longer ones are no HTTP
	text := string(spoiled[:min(len(spoiled), most)])
	if random.IntN(2) == 0 {
		return url.QueryEscape(text)
	}
	names := []string{"name", "view"} // no method takes these in its query
	for _, field := range rule.QueryFields() {
		names = append(names, field.JSONName())
	}
	return names[random.IntN(len(names))] + "=" + url.QueryEscape(text)
}
