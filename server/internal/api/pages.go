package api

import (
	"crypto/sha256"
	"encoding/base64"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// listing is what every List request has.
type listing interface {
	GetPageSize() int32
	GetPageToken() string
}

// bounds of a page's size: what 0 means, and the most that is given.
type bounds struct{ usual, most int }

var (
	fewToAPage  = bounds{50, 200}
	manyToAPage = bounds{100, 1000}
)

// size is how many a request for asked gets.
func (b bounds) size(asked int32, v *leveling.Violations) int {
	if asked < 0 {
		v.Add("pageSize", "is %d, must be 0 or more", asked)
	}
	if asked == 0 {
		return b.usual
	}
	return min(int(asked), b.most)
}

// page reads what a List request asks for. scope is what else the pages depend on (a parent, a filter): a
// token goes on only where all of it is the same. keys are what the filter may name; one that ends in a
// dot stands for all that begin so.
func page(req listing, size bounds, scope string, keys ...string) (flow.Query, error) {
	var v leveling.Violations
	q := flow.Query{Limit: size.size(req.GetPageSize(), &v)}
	filter := ""
	if f, ok := req.(interface{ GetFilter() string }); ok {
		filter = f.GetFilter()
		q.Equal = parseFilter(filter, keys, &v)
	}
	after, ok := readToken(req.GetPageToken(), scope+"\x00"+filter)
	if !ok {
		v.Add("pageToken", "is not a token of this list; pass nextPageToken as it was given, with nothing else changed")
	}
	q.After = after
	return q, v.Err()
}

// nextToken is the token of the page after the one that ends with last.
func nextToken(req listing, scope, last string) string {
	filter := ""
	if f, ok := req.(interface{ GetFilter() string }); ok {
		filter = f.GetFilter()
	}
	return base64.RawURLEncoding.EncodeToString([]byte(scopeHash(scope+"\x00"+filter) + last))
}

const scopeHashSize = 8

func scopeHash(scope string) string {
	sum := sha256.Sum256([]byte(scope))
	return string(sum[:scopeHashSize])
}

func readToken(token, scope string) (after string, ok bool) {
	if token == "" {
		return "", true
	}
	text, err := base64.RawURLEncoding.DecodeString(token)
	if err != nil || len(text) <= scopeHashSize || string(text[:scopeHashSize]) != scopeHash(scope) {
		return "", false
	}
	return string(text[scopeHashSize:]), true
}

// term is KEY=WORD or KEY="any words"; a quote inside is written \".
var term = regexp.MustCompile(`^\s*([A-Za-z]+(?:\.[^\s="]+)?)\s*=\s*("(?:[^"\\]|\\.)*"|[^\s"]+)\s*`)

var and = regexp.MustCompile(`^AND\s`)

const maxFilter = 1000

// parseFilter reads terms joined by AND.
func parseFilter(filter string, keys []string, v *leveling.Violations) map[string]string {
	if strings.TrimSpace(filter) == "" {
		return nil
	}
	if len(filter) > maxFilter {
		v.Add("filter", "has %d bytes, at most %d are taken", len(filter), maxFilter)
		return nil
	}
	equal := map[string]string{}
	for rest := filter; ; {
		found := term.FindStringSubmatch(rest)
		if found == nil {
			v.Add("filter", "cannot be read at %q; write terms such as %s=\"…\", joined by AND", rest, keys[0])
			return nil
		}
		key, value := found[1], unquoted(found[2])
		if !mayFilter(key, keys) {
			v.Add("filter", "%q cannot be filtered by; it may be %s", key, strings.Join(keys, ", "))
		} else if _, twice := equal[key]; twice {
			v.Add("filter", "names %q twice", key)
		}
		equal[key] = value
		rest = rest[len(found[0]):]
		if rest == "" {
			return equal
		}
		joint := and.FindString(rest)
		if joint == "" {
			v.Add("filter", "cannot be read at %q; terms are joined by AND", rest)
			return nil
		}
		rest = rest[len(joint):]
	}
}

// words turns the value of one key from the API's word into what is compared with, as a filter gives it.
func words[T ~int](q flow.Query, key string, of map[string]T) error {
	word, asked := q.Equal[key]
	if !asked {
		return nil
	}
	value, known := of[word]
	if !known {
		var v leveling.Violations
		v.Add("filter", "%s is %q, must be one of %s", key, word, strings.Join(slices.Sorted(maps.Keys(of)), ", "))
		return v.Err()
	}
	q.Equal[key] = strconv.Itoa(int(value))
	return nil
}

func unquoted(s string) string {
	if !strings.HasPrefix(s, `"`) {
		return s
	}
	return strings.NewReplacer(`\"`, `"`, `\\`, `\`).Replace(s[1 : len(s)-1])
}

func mayFilter(key string, keys []string) bool {
	for _, k := range keys {
		if key == k || strings.HasSuffix(k, ".") && strings.HasPrefix(key, k) && len(key) > len(k) {
			return true
		}
	}
	return false
}
