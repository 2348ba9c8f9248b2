package httprules

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
)

// expression is the plain twin of a template: a regular expression, a group for each field.
func expression(t template) *regexp.Regexp {
	var parts []string
	for i, s := range t.segments {
		part := regexp.QuoteMeta(s)
		if s == "*" {
			part = "[^/]*"
			if t.action != "" && i == len(t.segments)-1 {
				part = "[^/]+"
			}
		}
		parts = append(parts, part)
	}
	for _, v := range t.variables {
		parts[v.first], parts[v.past-1] = "("+parts[v.first], parts[v.past-1]+")"
	}
	return regexp.MustCompile("(?s)^/" + strings.Join(parts, "/") + t.action + "$")
}

// TestMatchAgreesWithTheTwin holds Match against every template as a regular expression, those with an action first.
func TestMatchAgreesWithTheTwin(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	rules, matched := All(), 0
	twins := map[*Rule]*regexp.Regexp{}
	for _, r := range rules {
		twins[r] = expression(r.template)
	}
	twin := func(verb, path string) (*Rule, map[string]string) {
		var best *Rule
		for _, r := range rules {
			if r.Verb == verb && twins[r].MatchString(path) && (best == nil || len(r.template.action) > len(best.template.action)) {
				best = r
			}
		}
		if best == nil {
			return nil, nil
		}
		params := map[string]string{}
		for i, v := range best.template.variables {
			params[v.field] = twins[best].FindStringSubmatch(path)[i+1]
		}
		return best, params
	}
	for range 10_000 {
		verb, path := rules[random.IntN(len(rules))].Verb, randomPath(random, rules)
		got, params := Match(verb, path)
		want, wantParams := twin(verb, path)
		if got != want || fmt.Sprint(params) != fmt.Sprint(wantParams) {
			t.Fatalf("%s %q: %v with %v, want %v with %v", verb, path, got, params, want, wantParams)
		}
		if got != nil {
			matched++
		}
	}
	if matched < 1000 {
		t.Errorf("only %d paths lead anywhere: the test looks at too little", matched)
	}
}

// randomPath is a path of pieces that the templates have.
func randomPath(random *rand.Rand, rules []*Rule) string {
	words := []string{"p", "", "a b", "p:wear", ":wear", "wear", "p:watch:watch", "x:analyze", "a\nb"}
	t := rules[random.IntN(len(rules))].template
	parts := append([]string{}, t.segments...)
	for i := range parts {
		if parts[i] == "*" || random.IntN(20) == 0 {
			parts[i] = words[random.IntN(len(words))]
		}
	}
	if random.IntN(10) == 0 {
		parts = append(parts, words[random.IntN(len(words))])
	}
	action := t.action
	if random.IntN(5) == 0 {
		action = rules[random.IntN(len(rules))].template.action
	}
	return "/" + strings.Join(parts, "/") + action
}

// FuzzTemplate reads templates as the gateway library does, wherever it reads them at all, and wants a path that was
// built to be matched by both, with the same values.
func FuzzTemplate(f *testing.F) {
	for _, r := range All() {
		f.Add(r.Template, "creek-six")
	}
	f.Add("/v2/{name}", "a b")
	f.Add("/v2/{a=x/*/y/*}/z/{b}:do", "ñ")
	f.Fuzz(func(t *testing.T, text, id string) {
		tmpl, err := parse(text)
		if err != nil {
			return
		}
		var seen map[string]string
		mux := runtime.NewServeMux()
		if err := mux.HandlePath(http.MethodGet, text, func(_ http.ResponseWriter, _ *http.Request, params map[string]string) { seen = params }); err != nil {
			t.Fatalf("%q is read here, and the gateway says: %v", text, err)
		}
		params := map[string]string{}
		for _, v := range tmpl.variables {
			params[v.field] = strings.ReplaceAll(strings.Join(tmpl.segments[v.first:v.past], "/"), "*", id)
		}
		path, err := tmpl.fill(params)
		if err != nil {
			if id != "" && !strings.ContainsAny(id, "/:") && len(params) == len(tmpl.variables) {
				t.Fatalf("%q of %q: %v", text, params, err)
			}
			return
		}
		address, err := url.Parse(path)
		if err != nil {
			t.Fatalf("%q is no address: %v", path, err)
		}
		here, ok := tmpl.match(address.Path)
		r := (&http.Request{Method: http.MethodGet, URL: address, Header: http.Header{}}).WithContext(context.Background())
		mux.ServeHTTP(httptest.NewRecorder(), r)
		if !ok || seen == nil || fmt.Sprint(here) != fmt.Sprint(params) || fmt.Sprint(seen) != fmt.Sprint(params) {
			t.Errorf("%q as %q: %q here (%v), %q in the gateway, want %q", text, path, here, ok, seen, params)
		}
	})
}
