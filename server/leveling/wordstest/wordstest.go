// Package wordstest is the exam that every catalogue of phrases sits: each language says everything, of the
// same things, and in its own words.
package wordstest

import (
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// Agree holds the catalogue of another language against English: pointers to one struct of strings.
func Agree[T any](t *testing.T, english, other *T) {
	t.Helper()
	for _, wrong := range disagreements(reflect.ValueOf(*english), reflect.ValueOf(*other)) {
		t.Error(wrong)
	}
}

func disagreements(english, other reflect.Value) (wrong []string) {
	for i := range english.NumField() {
		name, e, o := english.Type().Field(i).Name, english.Field(i).String(), other.Field(i).String()
		switch {
		case e == "" || o == "":
			wrong = append(wrong, fmt.Sprintf("%s is not said in every language", name))
		case !slices.Equal(takes(e), takes(o)):
			wrong = append(wrong, fmt.Sprintf("%s takes %q in one language and %q in the other", name, takes(e), takes(o)))
		case e == o && strings.ContainsFunc(verb.ReplaceAllString(e, ""), isLetter):
			wrong = append(wrong, fmt.Sprintf("%s is the same in both languages: %s", name, e))
		}
	}
	return wrong
}

func isLetter(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' }

var verb = regexp.MustCompile(`%(?:\[(\d+)\])?([a-z%])`)

// takes are the arguments that a format takes, by number, each with its verb.
func takes(format string) []string {
	var out []string
	next := 0
	for _, m := range verb.FindAllStringSubmatch(format, -1) {
		if m[2] == "%" {
			continue
		}
		next++
		if m[1] != "" {
			fmt.Sscan(m[1], &next)
		}
		out = append(out, fmt.Sprint(next, m[2]))
	}
	slices.Sort(out)
	return out
}
