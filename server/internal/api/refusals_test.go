package api

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"rowdatum/server/leveling"
)

// TestEveryReasonIsSaid finds every reason that stands in the service's own text: a new one must be said in
// every language.
func TestEveryReasonIsSaid(t *testing.T) {
	given := regexp.MustCompile(`(?:Reason: +|wrongKey\(|forbidden\(|unavailable\()"([A-Z_]+)"`)
	stored := regexp.MustCompile(`shelf\{"[a-z]+", "([a-z]+)"|(?:notFound|exists)\("([a-z]+)"`)
	reasons := map[string]bool{}
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range given.FindAllStringSubmatch(string(text), -1) {
			reasons[m[1]] = true
		}
		for _, m := range stored.FindAllStringSubmatch(string(text), -1) {
			what := strings.ToUpper(m[1] + m[2])
			reasons[what+"_NOT_FOUND"], reasons[what+"_EXISTS"] = true, true
		}
		return err
	})
	if err != nil || len(reasons) < 30 || !reasons["FIXTURE_EXISTS"] {
		t.Fatalf("%d reasons, %v", len(reasons), err)
	}
	delete(reasons, "TOO_MANY_CALLS") // a status of its own, in English; it says when to come again
	for reason := range reasons {
		if inSpanish(&leveling.Error{Reason: reason}) == "" {
			t.Errorf("%s is not said in Spanish", reason)
		}
	}
}

func TestMessage(t *testing.T) {
	for want, e := range map[string]*leveling.Error{
		"Filas 3 y 5: no hay lectura con que hacer un plan.":                                           {Reason: "NOTHING_READ", Metadata: map[string]string{"rows": "3,5"}},
		"Este trabajo está anulado y no admite más anotaciones.":                                       {Reason: "JOB_CLOSED", Metadata: map[string]string{"stage": "VOIDED"}},
		"Hay 2 datos de la solicitud que están mal.":                                                   {Reason: "INVALID_REQUEST", Violations: make([]leveling.Violation, 2)},
		`El programa del tipo de mecanismo "x" no está funcionando. Sin eso no hay plan para: Fila 7.`: {Reason: "ADJUSTER_DOWN", Metadata: map[string]string{"style": "x", "rows": "7"}},
		"In words of its own.": {Reason: "OF_TOMORROW", Message: "In words of its own."},
	} {
		if got := message(e, leveling.Spanish); got != want {
			t.Errorf("%s: %q, want %q", e.Reason, got, want)
		}
		if got := message(e, leveling.English); got != e.Message {
			t.Errorf("%s in English: %q", e.Reason, got)
		}
	}
}
