package strictjson

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// allowed says what a value of fd must be.
func allowed(fd protoreflect.FieldDescriptor) string {
	switch fd.Kind() {
	case protoreflect.BoolKind:
		return "true or false"
	case protoreflect.StringKind:
		return "text"
	case protoreflect.BytesKind:
		return "text in base64"
	case protoreflect.EnumKind:
		return oneOf(enumWords(fd))
	case protoreflect.DoubleKind, protoreflect.FloatKind:
		return "an ordinary number"
	}
	bits, signed := width(fd)
	switch {
	case bits == 32 && signed:
		return "a whole number from -2147483648 to 2147483647"
	case bits == 32:
		return "a whole number from 0 to 4294967295"
	case signed:
		return "a whole number of at most 18 digits"
	}
	return "a whole number, 0 or more, of at most 19 digits"
}

// enumWords returns the words of an enum that mean something; the first only stands for absence.
func enumWords(fd protoreflect.FieldDescriptor) []string {
	values := fd.Enum().Values()
	words := make([]string, 0, values.Len())
	for i := range values.Len() {
		if v := values.Get(i); v.Number() != 0 || values.Len() == 1 {
			words = append(words, string(v.Name()))
		}
	}
	return words
}

func oneOf(words []string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " or " + words[last]
}

func wellKnownForm(md protoreflect.MessageDescriptor) string {
	switch md.FullName() {
	case "google.protobuf.Timestamp":
		return "a time such as 2026-04-02T08:30:00Z"
	case "google.protobuf.Duration":
		return "seconds such as 90s or 1.5s"
	case "google.protobuf.FieldMask":
		return "field names with commas between them"
	}
	return "as the API's description says"
}

func oneofNames(of protoreflect.OneofDescriptor) string {
	return oneOf(jsonNames(of.Fields()))
}

// unknownField says that there is no such field, and which may be meant.
func unknownField(name string, md protoreflect.MessageDescriptor) string {
	names := jsonNames(md.Fields())
	if hint := didYouMean(name, names); hint != "" {
		return "unknown field" + hint
	}
	if len(names) == 0 {
		return "unknown field; there are none here"
	}
	return fmt.Sprintf("unknown field; known here: %s", strings.Join(names, ", "))
}

func jsonNames(fields interface {
	Len() int
	Get(int) protoreflect.FieldDescriptor
}) []string {
	names := make([]string, fields.Len())
	for i := range names {
		names[i] = fields.Get(i).JSONName()
	}
	return names
}

// didYouMean names the known word that is nearest to word, if one is near: the same but for case,
// hyphens and underscores, or with at most two letters in five wrong, missing or too many.
func didYouMean(word string, known []string) string {
	word = crop(word)
	best, least := "", min(2, utf8.RuneCountInString(word)*2/5)+1
	for _, k := range known {
		if d := distance(bare(word), bare(k)); d < least {
			best, least = k, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("; did you mean %s?", best)
}

func bare(word string) string {
	return strings.NewReplacer("_", "", "-", "", " ", "").Replace(strings.ToLower(word))
}

// distance is the number of letters to change, add or drop between a and b (Levenshtein).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

// crop keeps what others wrote short enough to be said back.
func crop(s string) string {
	const most = 40
	n := 0
	for i := range s {
		if n == most {
			return s[:i] + "…"
		}
		n++
	}
	return s
}

func plainName(key string) bool {
	if key == "" || len(key) > 40 {
		return false
	}
	for i := range len(key) {
		c := key[i]
		if !(c == '_' || 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || i > 0 && digit(c)) {
			return false
		}
	}
	return true
}
