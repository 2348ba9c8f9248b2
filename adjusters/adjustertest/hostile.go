package adjustertest

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"strings"

	"rowdatum/adjusters/schema"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// hostile sends figures and settings that nobody should send. Each is refused or answered by the rules,
// in time, and the program lives on.
func (e *exam) hostile(ctx context.Context) {
	e.made("hostile figures", "hostile settings")
	c := e.good
	figures, setting := jsonText(c.Figures), jsonText(c.Setting)
	for _, bad := range append(spoiled(c.Figures), garbage()...) {
		e.refuse(ctx, "hostile figures", bad, setting)
		e.refuse(ctx, "hostile figures", bad, "")
	}
	for _, bad := range append(spoiled(c.Setting), garbage()...) {
		e.refuse(ctx, "hostile settings", figures, bad)
	}
}

func (e *exam) refuse(ctx context.Context, check, figures, setting string) {
	where := figures
	if check == "hostile settings" {
		where = setting
	}
	if len(where) > 80 {
		where = strings.ToValidUTF8(where[:80], "") + "…"
	}
	rows := e.options(ctx, check, where, true, question(figures, setting))
	if rows == nil {
		return
	}
	wrong := e.figures.Check("figures", figures)
	if setting != "" {
		wrong = append(wrong, e.setting.Check("setting", setting)...)
	}
	if got := rows[0].GetViolations(); len(got) > 0 {
		if len(figures) > schema.MaxBytes || len(setting) > schema.MaxBytes {
			wrong = nil // refused for its mere size
		}
		e.pointsAt(where, got, wrong)
		return
	}
	if wrong != nil {
		e.found(check, where, "was answered with options, though %v", wrong)
		return
	}
	e.rules(where, canonicalOr(setting), rows[0].GetOptions())
}

// pointsAt checks that violations point at what the schemas find wrong: at one of its fields, or at
// something inside or around it that is more than the whole of the figures.
func (e *exam) pointsAt(where string, got []*adjusterv1.Violation, wrong []schema.Violation) {
	for i, v := range got {
		e.named(where, i, v)
	}
	if len(wrong) == 0 {
		return // refused for what no schema can say
	}
	for _, w := range wrong {
		if slices.ContainsFunc(got, func(v *adjusterv1.Violation) bool { return pointsInto(parts(v.GetField()), parts(w.Field)) }) {
			return
		}
	}
	e.foundAt("violations", where, "rows[0].violations", "%s is not named: %s %s", wrong[0].Field, got[0].GetField(), got[0].GetMessage())
}

// pointsInto says that got names want, a part of it, or what directly holds it.
func pointsInto(got, want []string) bool {
	n := min(len(got), len(want))
	return slices.Equal(got[:n], want[:n]) && (n == len(want) || n > 1)
}

// canonicalOr writes JSON text canonically where it is JSON.
func canonicalOr(text string) string {
	var v any
	if json.Unmarshal([]byte(text), &v) != nil {
		return text
	}
	return jsonText(v)
}

// garbage is no JSON, or far too much of it. 1e999999999 would fill the memory of a program that
// writes out all its digits.
func garbage() []string {
	return []string{"{", "[]", "null", "17", "NaN", `"text"`, `{"": 1}`, "\x00",
		`{"x": 1e999999999}`, strings.Repeat("[", 20000), `{"x": "` + strings.Repeat("y", 1<<20) + `"}`}
}

// spoiled is v with each of its parts replaced or taken away, one at a time.
func spoiled(v any) []string {
	var out []string
	spoil(v, func(bad any) { out = append(out, jsonText(bad)) })
	return out
}

func spoil(v any, emit func(any)) {
	switch v := v.(type) {
	case map[string]any:
		for _, key := range slices.Sorted(maps.Keys(v)) {
			without := maps.Clone(v)
			delete(without, key)
			emit(without)
			spoil(v[key], func(bad any) {
				with := maps.Clone(v)
				with[key] = bad
				emit(with)
			})
		}
		with := maps.Clone(v)
		with["notInTheSchema"] = 1.0
		emit(with)
	case []any:
		emit([]any{})
		emit(slices.Repeat(v, 1000))
		for i := range v {
			spoil(v[i], func(bad any) {
				with := slices.Clone(v)
				with[i] = bad
				emit(with)
			})
		}
	}
	if v == nil {
		return
	}
	for _, bad := range []any{0.0, -1.0, 1e-9, 0.011, 1e9, 1e300, -1e300, "NaN", "", true, []any{}, map[string]any{}} {
		emit(bad)
	}
}
