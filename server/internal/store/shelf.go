package store

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"rowdatum/server/internal/flow"
)

// shelf is a table of things that are listed: what it is called, where a thing stands in its list, what is
// read of it.
type shelf struct{ table, what, place, columns string }

var (
	planterShelf = shelf{"planters", "planter", "id", "x.body"}
	fixtureShelf = shelf{"fixtures", "fixture", "id", "x.body"}
	digShelf     = shelf{"digs", "dig", "id", "x.body"}
	hookShelf    = shelf{"hooks", "hook", "id", "x.body"}
	jobShelf     = shelf{"jobs", "job", "place", jobColumns}
)

// term is something that a list can be filtered by.
type term struct{ name, value string }

// listText selects a page of a shelf: after $2, at most $3, of shop $1, with as many terms ($4 and $5, $6
// and $7, …). SQLite joins by CROSS JOIN in the order that is written: the first term's places come in order,
// each is looked up in the others, and a full page ends the search. (EXISTS would leave the order to it; it
// has no figures to choose by, and took the commonest term first.)
func (s shelf) listText(terms int) string {
	if terms == 0 {
		return fmt.Sprintf(`SELECT %s FROM %s x WHERE x.shop = $1 AND x.%s > $2 ORDER BY x.%[3]s LIMIT $3`, s.columns, s.table, s.place)
	}
	var from, where strings.Builder
	for i := range terms {
		fmt.Fprintf(&from, "terms t%d CROSS JOIN ", i)
		fmt.Fprintf(&where, "t%[1]d.shop = $1 AND t%[1]d.kind = '%[2]s' AND t%[1]d.name = $%[3]d AND t%[1]d.value = $%[4]d AND ", i, s.table, 4+2*i, 5+2*i)
		if i > 0 {
			fmt.Fprintf(&where, "t%d.place = t0.place AND ", i)
		}
	}
	return fmt.Sprintf(`SELECT %s FROM %s%s x WHERE %st0.place > $2 AND x.shop = $1 AND x.%s = t0.place ORDER BY t0.place LIMIT $3`,
		s.columns, from.String(), s.table, where.String(), s.place)
}

func list[T any](v view, s shelf, shop string, q flow.Query, scan func(func(...any) error) (T, error)) ([]T, error) {
	if q.Limit <= 0 {
		return nil, misuse("a page of %d", q.Limit)
	}
	all, err := v.rarestFirst(s, shop, terms(q.Equal))
	if err != nil {
		return nil, err
	}
	args := []any{shop, q.After, q.Limit}
	for _, t := range all {
		args = append(args, t.name, t.value)
	}
	return query(v.session, scan, s.listText(len(all)), args...)
}

// terms are what must be equal, by name.
func terms(equal map[string]string) []term {
	all := make([]term, 0, len(equal))
	for _, name := range slices.Sorted(maps.Keys(equal)) {
		all = append(all, term{name, equal[name]})
	}
	return all
}

// rarestFirst puts the term with the fewest places first: it leads the search. Places are counted only so far
// as it takes to see a difference.
func (v view) rarestFirst(s shelf, shop string, all []term) ([]term, error) {
	if len(all) < 2 {
		return all, nil
	}
	for _, enough := range []int{21, 1000} {
		places := map[term]int{}
		for _, t := range all {
			n, _, err := one(v.session, whole, sqlCountTerm, shop, s.table, t.name, t.value, enough)
			if err != nil {
				return nil, err
			}
			places[t] = n
		}
		slices.SortStableFunc(all, func(a, b term) int { return cmp.Compare(places[a], places[b]) })
		if places[all[0]] < enough {
			return all, nil
		}
	}
	return all, nil
}

// put inserts a new thing, or replaces that of the revision before, with the terms to find it by.
func (t *tx) put(s shelf, shop, id string, revision int, isNew bool, thing any, equal map[string]string) error {
	body, err := json.Marshal(thing)
	if err != nil {
		return misuse("a %s that JSON cannot hold: %w", s.what, err)
	}
	if isNew {
		err = t.insert(s, shop, id, revision, string(body))
	} else {
		err = t.replace(s, shop, id, revision, string(body))
	}
	if err != nil {
		return err
	}
	return t.putTerms(s, shop, id, equal)
}

func (t *tx) insert(s shelf, shop, id string, revision int, body string) error {
	n, err := t.exec(`INSERT INTO `+s.table+` (shop, id, revision, body) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING`, shop, id, revision, body)
	if err == nil && n == 0 {
		err = exists(s.what, id)
	}
	if err != nil {
		return err
	}
	return t.putShop(shop)
}

func (t *tx) replace(s shelf, shop, id string, revision int, body string) error {
	n, err := t.exec(`UPDATE `+s.table+` SET revision = $3, body = $4 WHERE shop = $1 AND id = $2 AND revision = $5`, shop, id, revision, body, revision-1)
	if err != nil {
		return err
	}
	if n == 0 {
		if _, err := t.body(s, shop, id); err != nil {
			return err
		}
		return stale(s.what, id)
	}
	_, err = t.exec(sqlDropTerms, shop, s.table, id)
	return err
}

func (t *tx) putTerms(s shelf, shop, place string, equal map[string]string) error {
	for _, one := range terms(equal) {
		if _, err := t.exec(sqlPutTerm, shop, s.table, one.name, one.value, place); err != nil {
			return err
		}
	}
	return nil
}

func (t *tx) putShop(shop string) error {
	_, err := t.exec(sqlPutShop, shop)
	return err
}

// body is the JSON of one thing.
func (v view) body(s shelf, shop, id string) (string, error) {
	body, ok, err := one(v.session, text, `SELECT body FROM `+s.table+` WHERE shop = $1 AND id = $2`, shop, id)
	if err == nil && !ok {
		err = notFound(s.what, id)
	}
	return body, err
}

// withExternalIDs adds external ids to what a thing can be found by.
func withExternalIDs(equal, ids map[string]string) map[string]string {
	for key, value := range ids {
		equal["externalIds."+key] = value
	}
	return equal
}

func number[T ~int](n T) string { return strconv.Itoa(int(n)) }

func whole(row func(...any) error) (n int, err error) {
	err = row(&n)
	return n, err
}

func text(row func(...any) error) (s string, err error) {
	err = row(&s)
	return s, err
}

// fromJSON reads a column of JSON.
func fromJSON[T any](row func(...any) error) (t T, err error) {
	var body []byte
	if err := row(&body); err != nil {
		return t, err
	}
	if err := json.Unmarshal(body, &t); err != nil {
		return t, unreadable(err)
	}
	return t, nil
}
