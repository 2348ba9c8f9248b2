package api

import (
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/types/known/structpb"

	"rowdatum/adjusters/schema"
	"rowdatum/server/leveling"
)

// Objects of a style, figures and settings, are Structs for callers and canonical JSON everywhere else. Most hold a few
// plain numbers, and a plan has dozens of them: these go a short way.

// object writes a struct as canonical JSON; absent is what an absent one stands for.
func object(path string, s *structpb.Struct, absent leveling.JSON, v *leveling.Violations) leveling.JSON {
	if s == nil {
		return absent
	}
	text, err := canonical(s)
	if err != nil {
		v.Add(path, "holds a number that is not finite")
	}
	return leveling.JSON(text)
}

// canonical is schema.Canonical of a struct.
func canonical(s *structpb.Struct) (string, error) {
	if text, ok := plainText(s.GetFields()); ok {
		return text, nil
	}
	return schema.Canonical(s.AsMap())
}

// plainText writes an object of plain numbers.
func plainText(fields map[string]*structpb.Value) (text string, ok bool) {
	keys := make([]string, 0, 8)
	for key := range fields {
		if !isPlain(key) {
			return "", false
		}
		keys = append(keys, key)
	}
	slices.Sort(keys)
	out := append(make([]byte, 0, 64), '{')
	for i, key := range keys {
		number, ok := fields[key].GetKind().(*structpb.Value_NumberValue)
		if !ok || !isPlainNumber(number.NumberValue) {
			return "", false
		}
		if i > 0 {
			out = append(out, ',')
		}
		out = append(append(append(out, '"'), key...), `":`...)
		out = strconv.AppendFloat(out, number.NumberValue, 'f', -1, 64)
	}
	return string(append(out, '}')), true
}

// isPlainNumber says whether encoding/json writes a number without an exponent.
func isPlainNumber(x float64) bool { return x == 0 || 1e-6 <= math.Abs(x) && math.Abs(x) < 1e21 }

// isPlain says whether JSON writes a key as it is.
func isPlain(key string) bool {
	for i := range len(key) {
		if c := key[i]; !('a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9') {
			return false
		}
	}
	return true
}

// structOf reads a text that canonical wrote, or any other object; nil where it is empty.
func structOf(text leveling.JSON) (*structpb.Struct, error) {
	if text == "" {
		return nil, nil
	}
	if s, ok := plainStruct(string(text)); ok {
		return s, nil
	}
	var object map[string]any
	if err := json.Unmarshal([]byte(text), &object); err != nil {
		return nil, err
	}
	return structpb.NewStruct(object)
}

// plainStruct reads an object of one plain number, which most settings are.
func plainStruct(text string) (s *structpb.Struct, ok bool) {
	text, opens := strings.CutPrefix(text, `{"`)
	text, closes := strings.CutSuffix(text, "}")
	key, digits, parted := strings.Cut(text, `":`)
	if !opens || !closes || !parted || !isPlain(key) || !isDecimal(digits) {
		return nil, false
	}
	number, err := strconv.ParseFloat(digits, 64)
	if err != nil {
		return nil, false
	}
	return &structpb.Struct{Fields: map[string]*structpb.Value{key: structpb.NewNumberValue(number)}}, true
}

// isDecimal says whether a text is a JSON number without an exponent.
func isDecimal(text string) bool {
	whole, part, point := strings.Cut(strings.TrimPrefix(text, "-"), ".")
	return areDigits(whole) && (whole == "0" || whole[0] != '0') && (!point || areDigits(part))
}

func areDigits(text string) bool { return text != "" && strings.Trim(text, "0123456789") == "" }
