package sheet

import (
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"google.golang.org/protobuf/types/known/structpb"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// NotLength says why text is no length and what would be right; orElse is a third way to say the unit.
func NotLength(text string, err error, r length.Reading, orElse string) string {
	switch {
	case errors.Is(err, length.ErrNoUnit):
		return fmt.Sprintf("%s has no unit; write %s in or %s mm, %s", quote(text), text, text, orElse)
	case looksLikeDate(text):
		return quote(text) + " is a date that the spreadsheet made of a fraction; set the column to text and write 1/4 in or 0.25 in"
	case errors.Is(err, length.ErrUnit):
		return quote(text) + " is in a unit not known here; write 2 1/4 in or 57 mm"
	case errors.Is(err, length.ErrComma) && r.Comma == length.CommaRefused:
		return quote(text) + " is not a length; write decimals with a point in a file whose separator is a comma, like 57.2 mm"
	}
	if hint, ok := unclear(err); ok {
		return quote(text) + hint
	}
	return quote(text) + " is not a length; write 2 1/4, 2.25 in or 57 mm"
}

// unclear says how to write a number that can be read in two ways, or that is too long.
func unclear(err error) (hint string, ok bool) {
	switch {
	case errors.Is(err, length.ErrComma):
		return " has a comma that may be a decimal sign, or stand between thousands or two numbers; write decimals with a point, like 57.2, and thousands without a sign", true
	case errors.Is(err, length.ErrFraction):
		return " can be read in two ways; write whole inches, a space, and a fraction below one, like 1 7/8 or 2 1/8", true
	case errors.Is(err, length.ErrLarge):
		return " has more digits than are kept; write at most twelve", true
	}
	return "", false
}

// NotNumber says why text is no number, which orElse says where it is not unclear.
func NotNumber(text string, err error, orElse string) string {
	if hint, ok := unclear(err); ok {
		return quote(text) + hint
	}
	return quote(text) + orElse
}

func looksLikeDate(text string) bool {
	const longest = 20 // of a date: 01-September-2026
	return len(text) <= longest && regexp.MustCompile(`(?i)\b(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)`).MatchString(text)
}

// schema is what a style says of its figures or of a setting: one JSON Schema object.
type schema struct {
	properties map[string]*structpb.Value
	required   []string
}

func schemaOf(s *structpb.Struct) schema {
	var required []string
	for _, name := range s.GetFields()["required"].GetListValue().GetValues() {
		required = append(required, name.GetStringValue())
	}
	return schema{s.GetFields()["properties"].GetStructValue().GetFields(), required}
}

// missing returns the required properties that have no value.
func (s schema) missing(values *structpb.Struct) []string {
	var missing []string
	for _, name := range s.required {
		if values.GetFields()[name] == nil {
			missing = append(missing, name)
		}
	}
	return missing
}

// named reads the value of the property called name, and returns the name as the schema spells it.
func (s schema) named(name, text string, r length.Reading) (string, *structpb.Value, error) {
	name, text = strings.TrimSpace(name), strings.TrimSpace(text)
	known := sortedKeys(s.properties)
	i := slices.IndexFunc(known, func(k string) bool { return strings.EqualFold(k, name) })
	if i < 0 {
		return name, nil, fmt.Errorf("%s is not known to this style%s; it knows %s", quote(name), meant(name, known), strings.Join(known, ", "))
	}
	value, err := s.value(known[i], text, r)
	return known[i], value, err
}

// value reads a property's value as its type asks.
func (s schema) value(name, text string, r length.Reading) (*structpb.Value, error) {
	property := s.properties[name].GetStructValue().GetFields()
	switch typeOf(property["type"]) {
	case "number":
		return number(name, text, r)
	case "integer":
		value, err := number(name, text, r)
		if err == nil && value.GetNumberValue() != float64(int64(value.GetNumberValue())) {
			return nil, fmt.Errorf("%s is not a whole number, which %s must be", quote(text), name)
		}
		return value, err
	case "array":
		if typeOf(property["items"].GetStructValue().GetFields()["type"]) == "string" {
			return words(text), nil
		}
		return list(name, text, r)
	case "boolean":
		return yesNo(name, text)
	case "string":
		return word(text, property["enum"].GetListValue().GetValues()), nil
	}
	if value, err := number(name, text, r); err == nil {
		return value, nil
	}
	return word(text, property["enum"].GetListValue().GetValues()), nil
}

// typeOf returns a property's type, the first one of several.
func typeOf(t *structpb.Value) string {
	if several := t.GetListValue().GetValues(); len(several) > 0 {
		t = several[0]
	}
	return t.GetStringValue()
}

// number reads a number; one whose name says mm may carry a unit.
func number(name, text string, r length.Reading) (*structpb.Value, error) {
	if !inMm(name) {
		value, err := r.Number(text)
		if err != nil {
			return nil, errors.New(NotNumber(text, err, " is not a number for "+name+"; write one like 8, 0.25 or 1/4"))
		}
		return structpb.NewNumberValue(length.Float(value)), nil
	}
	r.Bare = length.Millimeter
	mm, err := r.Mm(text)
	if err != nil {
		return nil, errors.New(NotNumber(text, err, " is not a length for "+name+"; write one like 6.35, 6.35 mm or 1/4 in"))
	}
	return structpb.NewNumberValue(length.Float(mm)), nil
}

// inMm reports whether a figure's name says that it is in mm: mmPerTurn, kitMm.
func inMm(name string) bool {
	after, ok := strings.CutPrefix(name, "mm")
	return strings.HasSuffix(name, "Mm") || ok && (after == "" || unicode.IsUpper(rune(after[0])))
}

// list reads 2+1 or 2 1; none and 0 are the empty list.
func list(name, text string, r length.Reading) (*structpb.Value, error) {
	values := &structpb.ListValue{}
	if text == "0" || strings.EqualFold(text, "none") {
		return structpb.NewListValue(values), nil
	}
	plain := text
	if r.Comma == length.CommaDecimal {
		plain = strings.ReplaceAll(text, ",", ".")
	}
	items, comma, err := length.Line{Plus: true}.Cut(plain)
	if r.Comma != length.CommaRefused {
		r.Comma = comma
	}
	for _, item := range items {
		value, wrong := number(name, item, r)
		if wrong != nil {
			err = wrong
			break
		}
		values.Values = append(values.Values, value)
	}
	if err != nil {
		return nil, fmt.Errorf("%s is not a list for %s; write each item and + between them, like 2+1 or 0.5 mm + 1/16 in", quote(text), name)
	}
	return structpb.NewListValue(values), nil
}

// words reads A+B+C.
func words(text string) *structpb.Value {
	list := &structpb.ListValue{}
	for item := range strings.SplitSeq(text, "+") {
		list.Values = append(list.Values, structpb.NewStringValue(strings.TrimSpace(item)))
	}
	return structpb.NewListValue(list)
}

func yesNo(name, text string) (*structpb.Value, error) {
	switch strings.ToLower(text) {
	case "yes", "true":
		return structpb.NewBoolValue(true), nil
	case "no", "false":
		return structpb.NewBoolValue(false), nil
	}
	return nil, fmt.Errorf("%s is not an answer for %s; write yes or no", quote(text), name)
}

// word returns text, spelled as among the words that are allowed.
func word(text string, allowed []*structpb.Value) *structpb.Value {
	for _, a := range allowed {
		if strings.EqualFold(a.GetStringValue(), text) {
			return structpb.NewStringValue(a.GetStringValue())
		}
	}
	return structpb.NewStringValue(text)
}

// ParseSetting reads where a mechanism of a style stands, as people write it: 8 turns, notch 9, 2+1.
func ParseSetting(text string, style *rowdatumv1.Style, r length.Reading) (*structpb.Struct, error) {
	fields, err := settingFields(text, style, r)
	if err != nil {
		return nil, err
	}
	return &structpb.Struct{Fields: fields}, nil
}

// settingFields reads a setting: a value alone where the style's setting has one property (8, 8 turns,
// notch 9, 2+1), else name=value, as many as there are.
func settingFields(text string, style *rowdatumv1.Style, r length.Reading) (map[string]*structpb.Value, error) {
	s := schemaOf(style.GetSettingSchema())
	fields := map[string]*structpb.Value{}
	starts := regexp.MustCompile(`[A-Za-z_]\w*\s*=`).FindAllStringIndex(text, -1)
	if len(starts) == 0 {
		if len(s.properties) != 1 {
			return nil, fmt.Errorf("%s does not say which of %s it is; write each with its name, like name=8", quote(text), strings.Join(sortedKeys(s.properties), ", "))
		}
		name := sortedKeys(s.properties)[0]
		value, err := s.value(name, withoutWords(text, name, style.GetCountUnit().GetOne(), style.GetCountUnit().GetOther()), r)
		fields[name] = value
		return fields, err
	}
	if starts[0][0] > 0 {
		return nil, fmt.Errorf("%s does not start with a name; write like %s", quote(text), text[starts[0][0]:])
	}
	for i, at := range starts {
		end := len(text)
		if i+1 < len(starts) {
			end = starts[i+1][0]
		}
		name, value, err := s.named(strings.TrimSuffix(text[at[0]:at[1]], "="), strings.Trim(text[at[1]:end], " ,;"), r)
		if err != nil {
			return nil, err
		}
		fields[name] = value
	}
	return fields, nil
}

// withoutWords takes one of words off either end of text: 8 turns, notch 9.
func withoutWords(text string, words ...string) string {
	isWord := func(w string) bool {
		return slices.ContainsFunc(words, func(x string) bool { return strings.EqualFold(x, w) })
	}
	fields := strings.Fields(text)
	if len(fields) > 1 && isWord(fields[0]) {
		fields = fields[1:]
	}
	if len(fields) > 1 && isWord(fields[len(fields)-1]) {
		fields = fields[:len(fields)-1]
	}
	return strings.Join(fields, " ")
}

func sortedKeys[V any](m map[string]V) []string {
	return slices.Sorted(maps.Keys(m))
}
