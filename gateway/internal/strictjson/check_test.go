package strictjson

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/descriptorpb"
	"google.golang.org/protobuf/types/dynamicpb"
	_ "google.golang.org/protobuf/types/known/durationpb"
	_ "google.golang.org/protobuf/types/known/emptypb"
	_ "google.golang.org/protobuf/types/known/fieldmaskpb"
	_ "google.golang.org/protobuf/types/known/timestamppb"
	_ "google.golang.org/protobuf/types/known/wrapperspb"

	pb "rowdatum/proto/gen/rowdatum/v1"
)

// plan is the request that most calls carry.
func plan() protoreflect.MessageDescriptor {
	return (&pb.ComputePlanRequest{}).ProtoReflect().Descriptor()
}

// everyKind is a message with a field of every kind that a request can have, so that the checker is
// right for requests that are still to come.
func everyKind(t testing.TB) protoreflect.MessageDescriptor {
	t.Helper()
	const text = `
name: "everykind.proto" package: "everykind" syntax: "proto3"
dependency: ["google/protobuf/struct.proto", "google/protobuf/timestamp.proto", "google/protobuf/duration.proto",
 "google/protobuf/field_mask.proto", "google/protobuf/wrappers.proto", "google/protobuf/empty.proto"]
enum_type { name: "Side" value { name: "SIDE_UNSPECIFIED" number: 0 } value { name: "LEFT" number: 1 } value { name: "RIGHT" number: 2 } }
message_type { name: "Every"
 field { name: "a_double" number: 1 type: TYPE_DOUBLE label: LABEL_OPTIONAL }
 field { name: "a_float" number: 2 type: TYPE_FLOAT label: LABEL_OPTIONAL }
 field { name: "an_int32" number: 3 type: TYPE_INT32 label: LABEL_OPTIONAL }
 field { name: "an_int64" number: 4 type: TYPE_SINT64 label: LABEL_OPTIONAL }
 field { name: "a_uint32" number: 5 type: TYPE_FIXED32 label: LABEL_OPTIONAL }
 field { name: "a_uint64" number: 6 type: TYPE_UINT64 label: LABEL_OPTIONAL }
 field { name: "a_bool" number: 7 type: TYPE_BOOL label: LABEL_OPTIONAL }
 field { name: "a_text" number: 8 type: TYPE_STRING label: LABEL_OPTIONAL }
 field { name: "some_bytes" number: 9 type: TYPE_BYTES label: LABEL_OPTIONAL }
 field { name: "side" number: 10 type: TYPE_ENUM type_name: ".everykind.Side" label: LABEL_OPTIONAL }
 field { name: "nested" number: 11 type: TYPE_MESSAGE type_name: ".everykind.Every" label: LABEL_OPTIONAL }
 field { name: "doubles" number: 12 type: TYPE_DOUBLE label: LABEL_REPEATED }
 field { name: "sides" number: 13 type: TYPE_ENUM type_name: ".everykind.Side" label: LABEL_REPEATED }
 field { name: "nests" number: 14 type: TYPE_MESSAGE type_name: ".everykind.Every" label: LABEL_REPEATED }
 field { name: "counts" number: 15 type: TYPE_MESSAGE type_name: ".everykind.Every.CountsEntry" label: LABEL_REPEATED }
 field { name: "by_row" number: 16 type: TYPE_MESSAGE type_name: ".everykind.Every.ByRowEntry" label: LABEL_REPEATED }
 field { name: "free" number: 17 type: TYPE_MESSAGE type_name: ".google.protobuf.Struct" label: LABEL_OPTIONAL }
 field { name: "any_value" number: 18 type: TYPE_MESSAGE type_name: ".google.protobuf.Value" label: LABEL_OPTIONAL }
 field { name: "any_list" number: 19 type: TYPE_MESSAGE type_name: ".google.protobuf.ListValue" label: LABEL_OPTIONAL }
 field { name: "nothing" number: 20 type: TYPE_ENUM type_name: ".google.protobuf.NullValue" label: LABEL_OPTIONAL }
 field { name: "at" number: 21 type: TYPE_MESSAGE type_name: ".google.protobuf.Timestamp" label: LABEL_OPTIONAL }
 field { name: "takes" number: 22 type: TYPE_MESSAGE type_name: ".google.protobuf.Duration" label: LABEL_OPTIONAL }
 field { name: "update_mask" number: 23 type: TYPE_MESSAGE type_name: ".google.protobuf.FieldMask" label: LABEL_OPTIONAL }
 field { name: "wrapped" number: 24 type: TYPE_MESSAGE type_name: ".google.protobuf.DoubleValue" label: LABEL_OPTIONAL }
 field { name: "empty" number: 25 type: TYPE_MESSAGE type_name: ".google.protobuf.Empty" label: LABEL_OPTIONAL }
 field { name: "one" number: 26 type: TYPE_STRING label: LABEL_OPTIONAL oneof_index: 0 }
 field { name: "two" number: 27 type: TYPE_INT32 label: LABEL_OPTIONAL oneof_index: 0 }
 field { name: "maybe" number: 28 type: TYPE_DOUBLE label: LABEL_OPTIONAL oneof_index: 1 proto3_optional: true }
 field { name: "by_flag" number: 29 type: TYPE_MESSAGE type_name: ".everykind.Every.ByFlagEntry" label: LABEL_REPEATED }
 field { name: "values" number: 30 type: TYPE_MESSAGE type_name: ".google.protobuf.Value" label: LABEL_REPEATED }
 oneof_decl { name: "either" } oneof_decl { name: "_maybe" }
 nested_type { name: "CountsEntry" options { map_entry: true }
  field { name: "key" number: 1 type: TYPE_STRING label: LABEL_OPTIONAL } field { name: "value" number: 2 type: TYPE_INT32 label: LABEL_OPTIONAL } }
 nested_type { name: "ByRowEntry" options { map_entry: true }
  field { name: "key" number: 1 type: TYPE_INT32 label: LABEL_OPTIONAL } field { name: "value" number: 2 type: TYPE_MESSAGE type_name: ".everykind.Every" label: LABEL_OPTIONAL } }
 nested_type { name: "ByFlagEntry" options { map_entry: true }
  field { name: "key" number: 1 type: TYPE_BOOL label: LABEL_OPTIONAL } field { name: "value" number: 2 type: TYPE_DOUBLE label: LABEL_OPTIONAL } }
}`
	file := &descriptorpb.FileDescriptorProto{}
	if err := prototext.Unmarshal([]byte(text), file); err != nil {
		t.Fatal(err)
	}
	built, err := protodesc.NewFile(file, protoregistry.GlobalFiles)
	if err != nil {
		t.Fatal(err)
	}
	return built.Messages().ByName("Every")
}

func said(vs []Violation) string {
	lines := make([]string, len(vs))
	for i, v := range vs {
		lines[i] = v.Field + ": " + v.Message
	}
	return strings.Join(lines, "\n")
}

func TestCheckSaysWhatIsWrong(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"good", `{"aim":{"kind":"CLOSEST","toleranceMm":2},"rows":[{"row":1,"mechanism":"h","setting":{"turns":8},"readingsMm":[50.8,5e1]}]}`, ""},
		{"snake case is read too", `{"reference_rows":[1],"aim":{"tolerance_mm":2}}`, ""},
		{"null leaves out", `{"aim":null,"rows":[{"row":null,"readingsMm":null}]}`, ""},
		{"number in quotes", `{"rows":[{"row":"3","readingsMm":["57.2"]}]}`, ""},
		{"near name", `{"aim":{"toleranceMM":2}}`, `aim.toleranceMM: unknown field; did you mean toleranceMm?`},
		{"near name by hyphen", `{"reference-rows":[2]}`, `["reference-rows"]: unknown field; did you mean referenceRows?`},
		{"far name", `{"reach":{"colour":2}}`, `reach.colour: unknown field; known here: shallowerMm, deeperMm`},
		{"enum word", `{"aim":{"kind":"CLOSET"}}`, `aim.kind: "CLOSET" is not known, must be LEAST_WORK, CLOSEST, MATCH_ROW or SET_DEPTH; did you mean CLOSEST?`},
		{"enum number", `{"aim":{"kind":9}}`, `aim.kind: 9 is not known, must be LEAST_WORK, CLOSEST, MATCH_ROW or SET_DEPTH`},
		{"enum number known", `{"aim":{"kind":2}}`, ""},
		{"twice", `{"aim":{"row":1,"row":1}}`, `aim.row: is given more than once`},
		{"twice in two spellings", `{"aim":{"missSeconds":1,"miss_seconds":1}}`, `aim.missSeconds: is given more than once`},
		{"twice in a free object", `{"mechanisms":[{"figures":{"a":1,"a":2}}]}`, `mechanisms[0].figures.a: is given more than once`},
		{"NaN", `{"rows":[{},{"readingsMm":[1,"NaN"]}]}`, `rows[1].readingsMm[1]: is the text "NaN", must be an ordinary number`},
		{"infinity", `{"aim":{"datumMm":"-Infinity"}}`, `aim.datumMm: is the text "-Infinity", must be an ordinary number`},
		{"too large", `{"aim":{"datumMm":1e999}}`, `aim.datumMm: is 1e999, which is too large`},
		{"too large in a free object", `{"rows":[{"setting":{"turns":[1e400]}}]}`, `rows[0].setting.turns[0]: is 1e400, which is too large`},
		{"not whole", `{"rows":[{"row":1.5}]}`, `rows[0].row: is 1.5, must be a whole number from -2147483648 to 2147483647`},
		{"whole in disguise", `{"rows":[{"row":1.20e1}]}`, ""},
		{"past 32 bits", `{"rows":[{"row":2147483648}]}`, `rows[0].row: is 2147483648, must be a whole number from -2147483648 to 2147483647`},
		{"text for number", `{"rows":[{"readingsMm":["57 mm"]}]}`, `rows[0].readingsMm[0]: is the text "57 mm", must be an ordinary number`},
		{"number for list", `{"rows":[{"readingsMm":57}]}`, `rows[0].readingsMm: is a number, must be a list`},
		{"list for object", `{"aim":[]}`, `aim: is a list, must be an object`},
		{"number for text", `{"rows":[{"mechanism":7}]}`, `rows[0].mechanism: is a number, must be text`},
		{"null in a list", `{"rows":[null],"referenceRows":[null]}`, "rows[0]: is null, must be an object\nreferenceRows[0]: is null, must be a whole number from -2147483648 to 2147483647"},
		{"figures no object", `{"mechanisms":[{"figures":[1]}]}`, `mechanisms[0].figures: is a list, must be an object`},
		{"not an object", `[]`, `body: is a list, must be an object`},
		{"all at once", `{"aime":1,"aim":{"kind":"X","row":"a"},"rows":[{"row":true}]}`,
			"aime: unknown field; did you mean aim?\n" +
				"aim.kind: \"X\" is not known, must be LEAST_WORK, CLOSEST, MATCH_ROW or SET_DEPTH\n" +
				"aim.row: is the text \"a\", must be a whole number from -2147483648 to 2147483647\n" +
				"rows[0].row: is true or false, must be a whole number from -2147483648 to 2147483647"},
		{"empty", ``, `body: line 1, column 1: found the end, expected an object`},
		{"broken off", "{\n \"rows\": [\n  {\"row\": 1,", `rows[0]: line 3, column 13: found the end, expected a field name in double quotes`},
		{"comma too many", `{"rows":[{"row":1},]}`, `rows[1]: line 1, column 20: found "]", expected an object`},
		{"comma missing", `{"rows":[] "aim":{}}`, `body: line 1, column 12: found "\"", expected "," or "}"`},
		{"bare word", `{"rows":[{"row":one}]}`, `rows[0].row: line 1, column 17: found "one", expected a whole number from -2147483648 to 2147483647`},
		{"bare NaN", `{"aim":{"datumMm":NaN}}`, `aim.datumMm: line 1, column 19: found "NaN", expected an ordinary number`},
		{"bad number", `{"aim":{"datumMm":1.}}`, `aim.datumMm: line 1, column 19: found "1.", expected a number such as 57.15`},
		{"leading zero", `{"aim":{"datumMm":01}}`, `aim.datumMm: line 1, column 19: found "01", expected a number such as 57.15`},
		{"single quotes", `{'rows':[]}`, `body: line 1, column 2: found "'", expected a field name in double quotes`},
		{"open text", "{\"rows\":[{\"mechanism\":\"h\n\"}]}", `rows[0].mechanism: line 1, column 25: a text must be closed with a double quote before the line ends; write a line break in it as \n`},
		{"bad escape", `{"rows":[{"mechanism":"\x"}]}`, `rows[0].mechanism: line 1, column 24: an escape in a text must be one of \" \\ \/ \b \f \n \r \t or \u with four hexadecimal digits, characters beyond them as a pair`},
		{"half a pair", `{"rows":[{"mechanism":"\ud800"}]}`, `rows[0].mechanism: line 1, column 24: an escape in a text must be one of \" \\ \/ \b \f \n \r \t or \u with four hexadecimal digits, characters beyond them as a pair`},
		{"not UTF-8", "{\"rows\":[{\"mechanism\":\"\xff\"}]}", `rows[0].mechanism: line 1, column 24: the text is not UTF-8 here`},
		{"text behind", `{} {}`, `body: line 1, column 4: found "{", expected the end of the text`},
		{"found before the break", `{"aime":1,"rows":`, "aime: unknown field; did you mean aim?\nrows: line 1, column 18: found the end, expected a list"},
		{"long key", `{"` + strings.Repeat("k", 80) + `":1}`, `["` + strings.Repeat("k", 40) + `…"]: unknown field; known here: fixture, aim, reach, mechanisms, rows, referenceRows, lengthUnit`},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := said(Check([]byte(c.text), plan())); got != c.want {
				t.Errorf("%s\n got: %s\nwant: %s", c.text, got, c.want)
			}
		})
	}
}

func TestCheckEveryKind(t *testing.T) {
	md := everyKind(t)
	for _, c := range []struct{ text, want string }{
		{`{"aFloat":3.4e38,"anInt64":"-9223372036854775808","aUint64":18446744073709551615,"aBool":true,"someBytes":"-_8","side":"LEFT","counts":{"a":1},"byRow":{"-2":{"aText":"\ud83d\ude9c"}},"byFlag":{"true":1}}`, ""},
		{`{"anyValue":null,"anyList":[null,{"a":[1]}],"nothing":null,"values":[null],"at":"2026-04-02T08:30:00Z","takes":"1.5s","updateMask":"aText,nested.side","wrapped":2.5,"empty":{}}`, ""},
		{`{"aFloat":1e39}`, "aFloat: is 1e39, which is too large"},
		{`{"aUint32":-1}`, "aUint32: is -1, must be a whole number from 0 to 4294967295"},
		{`{"anInt64":9223372036854775808}`, "anInt64: is 9223372036854775808, must be a whole number of at most 18 digits"},
		{`{"aBool":"true"}`, "aBool: is text, must be true or false"},
		{`{"someBytes":"?"}`, "someBytes: must be text in base64"},
		{`{"byRow":{"x":{},"1":{},"01":{"side":"UP"}}}`, "byRow.x: is no key here; keys are a whole number from -2147483648 to 2147483647\nbyRow[\"01\"]: is given more than once\nbyRow[\"01\"].side: \"UP\" is not known, must be LEFT or RIGHT"},
		{`{"counts":{"a":null}}`, "counts.a: is null, must be a whole number from -2147483648 to 2147483647"},
		{`{"one":"x","two":2}`, "two: only one of one or two can be given"},
		{`{"one":"x","two":null}`, ""},
		{`{"at":"yesterday"}`, "at: is not understood, must be a time such as 2026-04-02T08:30:00Z"},
		{`{"updateMask":{"paths":["a"]}}`, "updateMask: is not understood, must be field names with commas between them"},
		{`{"wrapped":"NaN"}`, `wrapped: is the text "NaN", must be an ordinary number`},
		{`{"values":null,"nests":{}}`, "nests: is an object, must be a list"},
	} {
		if got := said(Check([]byte(c.text), md)); got != c.want {
			t.Errorf("%s\n got: %s\nwant: %s", c.text, got, c.want)
		}
	}
}

func TestCheckIsBounded(t *testing.T) {
	deep := `{"free":` + strings.Repeat(`{"a":`, maxDepth)
	got := Check([]byte(deep), everyKind(t))
	if len(got) != 1 || !strings.HasSuffix(got[0].Message, "is nested deeper than 64 levels") {
		t.Errorf("deep: %s", said(got))
	}
	many := Check([]byte(`{`+strings.Repeat(`"x":1,`, 50_000)+`"y":1}`), plan())
	if len(many) != maxFound+1 || many[maxFound] != (Violation{Body, "is not read on after 100 faults"}) {
		t.Errorf("many: %d violations, last %v", len(many), many[len(many)-1])
	}
}

func TestCheckQuery(t *testing.T) {
	list := (&pb.ListStylesRequest{}).ProtoReflect().Descriptor()
	every := everyKind(t)
	for _, c := range []struct {
		query string
		md    protoreflect.MessageDescriptor
		bound []string
		want  string
	}{
		{"pageSize=3&pageToken=x", list, nil, ""},
		{"page_size=3", list, nil, ""},
		{"pagesize=3", list, nil, "pagesize: unknown query parameter; did you mean pageSize?"},
		{"alt=json", list, nil, "alt: unknown query parameter; known here: pageSize, pageToken, lengthUnit"},
		{"pageSize=many", list, nil, `pageSize: is the text "many", must be a whole number from -2147483648 to 2147483647`},
		{"pageSize=", list, nil, `pageSize: is the text "", must be a whole number from -2147483648 to 2147483647`},
		{"pageSize=1e1", list, nil, `pageSize: is "1e1", must be a whole number from -2147483648 to 2147483647 in digits alone`},
		{"pageSize=1&pageSize=2", list, nil, "pageSize: is given more than once"},
		{"pageSize=1&page_size=2", list, nil, "pageSize: is given more than once"},
		{"pageToken=%ff", list, nil, "pageToken: is not UTF-8 text"},
		{"name=styles/x", (&pb.GetStyleRequest{}).ProtoReflect().Descriptor(), []string{"name"}, "name: unknown query parameter; known here: lengthUnit"},
		{"rows=1", plan(), []string{"*"}, "rows: unknown query parameter; this call takes none"},
		{"aDouble=NaN", every, nil, `aDouble: is the text "NaN", must be an ordinary number`},
		{"aBool=1&side=LEFT&doubles=1&doubles=2&nested.nested.anInt32=4", every, nil, "aBool: is text, must be true or false"},
		{"at=2026-04-02T08:30:00Z&updateMask=aText", every, nil, ""},
		{"at=noon", every, nil, `at: is "noon", must be a time such as 2026-04-02T08:30:00Z`},
		{"nested.aText=x", every, []string{"nested.a_text"}, `["nested.aText"]: unknown query parameter; known here: ` + "aDouble, aFloat, anInt32, anInt64, aUint32, aUint64, aBool, aText, someBytes, side, doubles, sides, nests, counts, byRow, free, anyValue, anyList, nothing, at, takes, updateMask, wrapped, empty, one, two, maybe, byFlag, values"},
	} {
		values, err := url.ParseQuery(c.query)
		if err != nil {
			t.Fatal(err)
		}
		if got := said(CheckQuery(values, c.md, c.bound)); got != c.want {
			t.Errorf("%s\n got: %s\nwant: %s", c.query, got, c.want)
		}
	}
}

// stricter are the beginnings of what is refused here although the decoder takes it.
var stricter = []string{`is the text "NaN"`, `is the text "Infinity"`, `is the text "-Infinity"`, "is nested deeper", "is not read on"}

func isStricter(vs []Violation) bool {
	for _, v := range vs {
		for _, s := range stricter {
			if strings.HasPrefix(v.Message, s) {
				return true
			}
		}
		if strings.Contains(v.Message, " is not known, must be ") && !strings.HasPrefix(v.Message, `"`) {
			return true // an enum's number without a word
		}
	}
	return false
}

// FuzzCheck holds the checker to its promise against the decoder itself, on a real request and on one
// with every kind of field.
func FuzzCheck(f *testing.F) {
	for _, seed := range []string{
		`{"aim":{"kind":"CLOSEST","toleranceMm":2},"rows":[{"row":1,"mechanism":"h","setting":{"turns":8},"readingsMm":[50.8,5e1]}]}`,
		`{"reference_rows":[1.0,2e0],"aim":{"tolerance_mm":"2"},"fixture":null}`,
		`{"aDouble":1e-5,"aFloat":3.4e38,"anInt32":-1,"anInt64":"12","aUint32":0,"aUint64":1,"aBool":true,"aText":"\u00e9","someBytes":"aGk=","side":2,"nested":{},"doubles":[1,"2"],"sides":["LEFT"],"nests":[{}],"counts":{"a":1},"byRow":{"1":{}},"free":{"a":{"b":[null]}},"anyValue":null,"anyList":[],"nothing":null,"at":"2026-04-02T08:30:00Z","takes":"1s","updateMask":"a","wrapped":1,"empty":{},"one":"x","maybe":0,"byFlag":{"true":1},"values":[null]}`,
		`{"rows":[{"readingsMm":["NaN"]}]}`, `{"anInt32":0.0000000000000000000000001e25}`, `{"anInt64":"0e+"}`, `{"a":`, "\xef\xbb\xbf{}", `{"aText":"\ud83d\ude9c"}`, `[1,,2]`, `{"free":{"a":1e999}}`,
	} {
		f.Add([]byte(seed))
	}
	descriptors := []protoreflect.MessageDescriptor{plan(), everyKind(f)}
	f.Fuzz(func(t *testing.T, text []byte) {
		for _, md := range descriptors {
			got := Check(text, md)
			decoded := decode(text, md)
			if len(got) == 0 && decoded != nil {
				t.Errorf("%s accepted, but the decoder says %v", text, decoded)
			}
			if len(got) > 0 && decoded == nil && !isStricter(got) && !looseExponent(text) {
				t.Errorf("%s refused, but it can be decoded:\n%s", text, said(got))
			}
			for _, v := range got {
				if v.Field == "" || v.Message == "" {
					t.Errorf("%s: empty violation %+v", text, v)
				}
			}
		}
	})
}

func decode(text []byte, md protoreflect.MessageDescriptor) error {
	return protojson.Unmarshal(text, dynamicpb.NewMessage(md))
}

// looseExponent reports whether text has an exponent without digits, which the decoder takes after a
// zero although JSON has no such number.
func looseExponent(text []byte) bool {
	for i, c := range text {
		if c != 'e' && c != 'E' || i == 0 || !digit(text[i-1]) {
			continue
		}
		rest := strings.TrimLeft(string(text[i+1:]), "+-")
		if rest == "" || !digit(rest[0]) {
			return true
		}
	}
	return false
}

// season is a request of ordinary size: 48 rows of two readings.
func season() []byte {
	rows := make([]string, 48)
	for i := range rows {
		rows[i] = fmt.Sprintf(`{"row": %d, "mechanism": "handle", "setting": {"turns": %g}, "readingsMm": [%g, %g]}`,
			i+1, 8+0.25*float64(i%5), 50.8+0.4*float64(i%7), 51.2+0.4*float64(i%3))
	}
	return []byte(`{"aim": {"kind": "LEAST_WORK", "toleranceMm": 3.175},
 "mechanisms": [{"id": "handle", "style": "threaded-handle", "figures": {"mmPerTurn": 6.35, "smallestTurn": 0.25, "totalTurns": 16}}],
 "rows": [` + strings.Join(rows, ",\n  ") + "]}")
}

// BenchmarkCheck gives the cost of checking, and its share of what decoding alone costs.
func BenchmarkCheck(b *testing.B) {
	text, md := season(), plan()
	if vs := Check(text, md); len(vs) > 0 {
		b.Fatal(said(vs))
	}
	const times = 200
	start := time.Now()
	for range times {
		if err := protojson.Unmarshal(text, &pb.ComputePlanRequest{}); err != nil {
			b.Fatal(err)
		}
	}
	bare := float64(time.Since(start).Nanoseconds()) / times
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		Check(text, md)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/bare, "x-decoding")
}
