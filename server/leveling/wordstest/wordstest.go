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

// Complete fails a test unless the catalogue has each of the languages and no other, and each agrees with English, the
// empty one. T is a struct of strings.
func Complete[L ~string, T any, C ~map[L]*T](t *testing.T, languages []L, catalogue C) {
	t.Helper()
	if len(catalogue) != len(languages) {
		t.Errorf("%d languages have phrases, want the %d of %q", len(catalogue), len(languages), languages)
	}
	for _, l := range languages {
		switch p := catalogue[l]; {
		case p == nil:
			t.Errorf("%q has no phrases", l)
		case l != "":
			for _, wrong := range disagreements(reflect.ValueOf(*catalogue[""]), reflect.ValueOf(*p)) {
				t.Errorf("%s: %s", l, wrong)
			}
		}
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
