package httprules

import (
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"strings"
)

// template is the path of a rule: segments that are as they stand, or * for any one, and perhaps an action behind the last.
type template struct {
	segments  []string
	variables []variable
	action    string // with its colon: ":wear"
}

// variable is a field of the request that some segments hold.
type variable struct {
	field       string // a path into the request: planter.name
	first, past int    // its segments
}

// The parts of a template. ** is not read: no path of this API has it.
var (
	wholeTemplate = regexp.MustCompile(`^((?:/(?:\{[a-z0-9_.]+(?:=[^{}]+)?\}|[^{}/:]+))+)(:[A-Za-z]+)?$`)
	nextSegments  = regexp.MustCompile(`/(?:\{([a-z0-9_.]+)(?:=([^{}]+))?\}|([^{}/:]+))`)
	plainSegment  = regexp.MustCompile(`^[A-Za-z0-9._~-]+$`)
)

func parse(text string) (template, error) {
	found := wholeTemplate.FindStringSubmatch(text)
	if found == nil {
		return template{}, fmt.Errorf("%q is no path that can be read", text)
	}
	t := template{action: found[2]}
	for _, part := range nextSegments.FindAllStringSubmatch(found[1], -1) {
		field, pattern, literal := part[1], part[2], part[3]
		if field == "" {
			t.segments = append(t.segments, literal)
		} else {
			first := len(t.segments)
			if pattern == "" {
				pattern = "*"
			}
			t.segments = append(t.segments, strings.Split(pattern, "/")...)
			t.variables = append(t.variables, variable{field, first, len(t.segments)})
		}
		if literal == "*" {
			return template{}, fmt.Errorf("%q has a * that is no field's", text)
		}
	}
	for _, s := range t.segments {
		if s != "*" && !plainSegment.MatchString(s) {
			return template{}, fmt.Errorf("%q has the part %q, which cannot be read", text, s)
		}
	}
	return t, nil
}

// match holds a path, unescaped, against the template.
func (t template) match(path string) (params map[string]string, ok bool) {
	path, ok = strings.CutPrefix(path, "/")
	if !ok {
		return nil, false
	}
	if path, ok = strings.CutSuffix(path, t.action); !ok {
		return nil, false
	}
	given := strings.Split(path, "/")
	if len(given) != len(t.segments) || t.action != "" && given[len(given)-1] == "" {
		return nil, false
	}
	for i, s := range t.segments {
		if s != "*" && s != given[i] {
			return nil, false
		}
	}
	params = map[string]string{}
	for _, v := range t.variables {
		params[v.field] = strings.Join(given[v.first:v.past], "/")
	}
	return params, true
}

// fill writes the path, escaped, whose fields are as given.
func (t template) fill(params map[string]string) (string, error) {
	segments := slices.Clone(t.segments)
	for _, v := range t.variables {
		given, pattern := strings.Split(params[v.field], "/"), t.segments[v.first:v.past]
		if !fits(given, pattern) {
			return "", fmt.Errorf("%s is %q, must be like %s", v.field, params[v.field], strings.Join(pattern, "/"))
		}
		for i, s := range given {
			segments[v.first+i] = url.PathEscape(s)
		}
	}
	return "/" + strings.Join(segments, "/") + t.action, nil
}

// fits says whether a name is of the pattern. No id is empty, and none holds a colon: an action could be read into it.
func fits(given, pattern []string) bool {
	return slices.EqualFunc(given, pattern, func(g, p string) bool {
		return g == p && p != "*" || p == "*" && g != "" && !strings.Contains(g, ":")
	})
}
