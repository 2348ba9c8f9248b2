package adjustertest

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"unicode"

	"google.golang.org/protobuf/proto"

	"rowdatum/adjusters/adjuster"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

const (
	// near is how far two numbers may differ that should be one: far below anything on a planter, above
	// what rounding to whole picometres adds up to.
	near = 1e-8
	// sample is how many options of a case are put in words and walked there and back: with the row
	// they start from, no more than one call may carry.
	sample = 40
	// maxWords is the longest that anyone listens to.
	maxWords = 600
)

// sitCase asks one case twice and checks the answer; true where there were options.
func (e *exam) sitCase(ctx context.Context, c *Case) bool {
	if e.dead {
		return false
	}
	e.made("options", "pure", "violations")
	ask := question(jsonText(c.Figures), jsonText(c.Setting))
	first := e.options(ctx, "options", c.Name, false, ask)
	second := e.options(ctx, "options", c.Name, false, ask)
	if first == nil || second == nil {
		return false
	}
	row := first[0]
	if !proto.Equal(row, second[0]) {
		e.foundAt("pure", c.Name, "rows[0]", "the same question was answered differently")
	}
	e.compareViolations(c, row.GetViolations())
	if len(row.GetViolations()) > 0 {
		if len(row.GetOptions()) > 0 {
			e.foundAt("violations", c.Name, "rows[0]", "there are options beside the violations")
		}
		return false
	}
	if !e.rules(c.Name, jsonText(c.Setting), row.GetOptions()) {
		return false
	}
	if e.good == nil || e.good.Setting == nil {
		e.good, e.goodRow = c, row
	}
	e.compareOptions(ctx, c, row.GetOptions())
	e.words(ctx, c, row.GetOptions())
	e.thereAndBack(ctx, c, row.GetOptions())
	return true
}

// place is the path of an option in an answer about one row.
func place(option int, field string) string {
	return fmt.Sprintf("rows[0].options[%d]%s", option, field)
}

// rules checks what holds for every answer with options; false where it makes no sense to go on.
func (e *exam) rules(where, setting string, options []*adjusterv1.Option) bool {
	e.made("number", "finite", "leave", "order", "seconds")
	before := len(e.report.Findings)
	if n := len(options); n < 1 || n > adjuster.MaxOptions {
		e.foundAt("number", where, "rows[0].options", "there are %d options, must be 1 to %d", n, adjuster.MaxOptions)
		return false
	}
	for i, o := range options {
		if !(math.Abs(o.GetEffectMm()) <= maxFigure && math.Abs(o.GetCount()) <= maxFigure) {
			e.foundAt("finite", where, place(i, ""), "effect %v, count %v: must be finite, and at most %v", o.GetEffectMm(), o.GetCount(), maxFigure)
		}
		if i > 0 && o.GetEffectMm() < options[i-1].GetEffectMm() {
			e.foundAt("order", where, place(i, ".effectMm"), "effect %v comes after effect %v; they must rise", o.GetEffectMm(), options[i-1].GetEffectMm())
		}
		if s := o.GetSeconds(); !(s >= 0 && s <= adjuster.MaxSeconds) {
			e.foundAt("seconds", where, place(i, ".seconds"), "%v seconds, must be from 0, which is the style's touchSeconds, to %d", s, adjuster.MaxSeconds)
		}
	}
	e.oneLeave(where, options)
	if len(e.report.Findings) > before {
		return false
	}
	e.travel(where, setting, options)
	e.monotone(where, options)
	return true
}

func (e *exam) oneLeave(where string, options []*adjusterv1.Option) {
	leaves := 0
	for i, o := range options {
		if !o.GetLeave() {
			continue
		}
		leaves++
		if o.GetEffectMm() != 0 || o.GetCount() != 0 {
			e.foundAt("leave", where, place(i, ""), "the option that leaves the row has effect %v and count %v, must be 0", o.GetEffectMm(), o.GetCount())
		}
		if o.GetSeconds() != 0 {
			e.foundAt("seconds", where, place(i, ".seconds"), "the option that leaves the row takes %v seconds, must have none", o.GetSeconds())
		}
	}
	if leaves != 1 {
		e.foundAt("leave", where, "rows[0].options", "%d options leave the row, must be exactly one", leaves)
	}
}

// monotone checks the settings that say which way is deeper, and that counts point the same way. Where
// several properties of a setting say so, they decide together: a setting that is deeper in one of them
// and shallower in none must not be the shallower option. One that is deeper in one and shallower in
// another may be either.
func (e *exam) monotone(where string, options []*adjusterv1.Option) {
	e.made("monotone")
	if len(e.deeper) == 0 {
		return
	}
	standings := make([][]float64, len(options))
	for i, o := range options {
		var ok bool
		if standings[i], ok = standing(o.GetSettingAfter(), e.deeper); !ok {
			return // a setting that is not known, or that travel and setting say is wrong
		}
		if o.GetCount()*o.GetEffectMm() < 0 {
			e.foundAt("monotone", where, place(i, ".count"), "a count of %v goes %v mm; a positive count must be deeper", o.GetCount(), o.GetEffectMm())
			return
		}
	}
	for i, o := range options { // by rising effect
		for j, shallower := range options[:i] {
			if shallower.GetEffectMm() < o.GetEffectMm() && deeperIn(standings[j], standings[i]) {
				e.foundAt("monotone", where, place(i, ".settingAfter"), "the schema says that deeper is %s, but the option of %v mm leads to %s, and the deeper one of %v mm to %s",
					e.directions(), shallower.GetEffectMm(), shallower.GetSettingAfter(), o.GetEffectMm(), o.GetSettingAfter())
				return
			}
		}
	}
}

// directions says which way is deeper: "larger hole, smaller clicks".
func (e *exam) directions() string {
	var out []string
	for _, name := range slices.Sorted(maps.Keys(e.deeper)) {
		out = append(out, strings.ToLower(e.deeper[name])+" "+name)
	}
	return strings.Join(out, ", ")
}

// deeperIn reports whether a is deeper than b in one property and shallower in none.
func deeperIn(a, b []float64) bool {
	deeper := false
	for i := range a {
		if a[i] < b[i] {
			return false
		}
		deeper = deeper || a[i] > b[i]
	}
	return deeper
}

// standing reads the properties of a setting that say which way is deeper, by name, so that larger is
// deeper in each.
func standing(setting string, deeper map[string]string) ([]float64, bool) {
	var after map[string]any
	if json.Unmarshal([]byte(setting), &after) != nil {
		return nil, false
	}
	var out []float64
	for _, name := range slices.Sorted(maps.Keys(deeper)) {
		at, ok := after[name].(float64)
		if !ok {
			return nil, false
		}
		if deeper[name] == smaller {
			at = -at
		}
		out = append(out, at)
	}
	return out, true
}

// travel checks settings and travels left: there where the row's setting is known, and agreeing.
func (e *exam) travel(where, setting string, options []*adjusterv1.Option) {
	e.made("travel", "setting")
	at := slices.IndexFunc(options, (*adjusterv1.Option).GetLeave)
	leave := options[at]
	for i, o := range options {
		known := o.GetSettingAfter() != "" && o.ShallowerLeftMm != nil && o.DeeperLeftMm != nil
		absent := o.GetSettingAfter() == "" && o.ShallowerLeftMm == nil && o.DeeperLeftMm == nil
		switch {
		case setting == "" && !absent:
			e.foundAt("travel", where, place(i, ""), "it says where the row stands afterwards, though nobody knows where it stands now")
		case setting == "":
		case !known:
			e.foundAt("travel", where, place(i, ""), "the setting afterwards or the travel left is missing")
		default:
			e.travelOf(where, i, o, leave)
		}
	}
	if setting != "" && leave.GetSettingAfter() != setting {
		e.foundAt("leave", where, place(at, ".settingAfter"), "leaving the row gives setting %s, must stay %s", leave.GetSettingAfter(), setting)
	}
}

func (e *exam) travelOf(where string, i int, o, leave *adjusterv1.Option) {
	shallower, deeper := o.GetShallowerLeftMm(), o.GetDeeperLeftMm()
	if !(shallower >= 0 && deeper >= 0 && shallower <= maxFigure && deeper <= maxFigure) {
		e.foundAt("travel", where, place(i, ""), "%v mm are left shallower and %v mm deeper, must be from 0 to %v", shallower, deeper, maxFigure)
	}
	if !same(shallower-o.GetEffectMm(), leave.GetShallowerLeftMm()) || !same(deeper+o.GetEffectMm(), leave.GetDeeperLeftMm()) {
		e.foundAt("travel", where, place(i, ""), "the travel left (%v mm shallower, %v mm deeper) does not agree with its effect of %v mm: where the row stands, %v and %v mm are left",
			shallower, deeper, o.GetEffectMm(), leave.GetShallowerLeftMm(), leave.GetDeeperLeftMm())
	}
	canonical := canonicalOr(o.GetSettingAfter())
	switch wrong := e.setting.Check("settingAfter", o.GetSettingAfter()); {
	case wrong != nil:
		e.foundAt("setting", where, place(i, ".settingAfter"), "%v", wrong)
	case len(canonical) > maxSetting:
		e.foundAt("setting", where, place(i, ".settingAfter"), "has %d bytes, at most %d are taken", len(canonical), maxSetting)
	case canonical != o.GetSettingAfter():
		e.foundAt("setting", where, place(i, ".settingAfter"), "is %s, must be written %s", o.GetSettingAfter(), canonical)
	}
}

func same(a, b float64) bool { return math.Abs(a-b) <= near }

// compareViolations compares with what the case knows.
func (e *exam) compareViolations(c *Case, got []*adjusterv1.Violation) {
	if len(got) > maxTexts {
		e.foundAt("violations", c.Name, "rows[0].violations", "are %d, at most %d are taken", len(got), maxTexts)
	}
	for i, v := range got {
		e.named(c.Name, i, v)
		if len(c.Violations) == 0 && !c.derived {
			e.foundAt("violations", c.Name, fmt.Sprintf("rows[0].violations[%d]", i), "%s %s, though nothing is wrong with it", v.GetField(), v.GetMessage())
		}
	}
	for _, want := range c.Violations {
		if !slices.ContainsFunc(got, func(v *adjusterv1.Violation) bool {
			return v.GetField() == want.Field && (want.Message == "" || v.GetMessage() == want.Message)
		}) {
			e.found("violations", c.Name, "%s %s: not among %v", want.Field, want.Message, got)
		}
	}
}

// named checks that one violation says in words what is wrong, and where.
func (e *exam) named(where string, i int, v *adjusterv1.Violation) {
	at := fmt.Sprintf("rows[0].violations[%d]", i)
	if root := parts(v.GetField())[0]; root != "figures" && root != "setting" {
		e.foundAt("violations", where, at+".field", "%q does not start with figures or setting", v.GetField())
	}
	if len(v.GetField()) > maxTitle {
		e.foundAt("violations", where, at+".field", "has %d letters, at most %d are taken", len(v.GetField()), maxTitle)
	}
	e.aloud("violations", where, at+".message", v.GetMessage())
}

// parts are the steps of a path: figures.kitMm[2] is figures, kitMm, 2].
func parts(path string) []string { return strings.Split(strings.ReplaceAll(path, "[", "."), ".") }

// compareOptions compares with what the case knows.
func (e *exam) compareOptions(ctx context.Context, c *Case, got []*adjusterv1.Option) {
	if c.Count != 0 && len(got) != c.Count {
		e.found("options", c.Name, "there are %d options, must be %d", len(got), c.Count)
	}
	if c.Only && len(got) != len(c.Options) {
		e.found("options", c.Name, "there are %d options, must be the %d of the case", len(got), len(c.Options))
		return
	}
	for i, want := range c.Options {
		at := slices.IndexFunc(got, func(o *adjusterv1.Option) bool {
			return same(o.GetEffectMm(), want.EffectMm) && (want.Count == nil || same(o.GetCount(), *want.Count))
		})
		if at < 0 || c.Only && at != i {
			e.found("options", c.Name, "there is no option of %v mm where it should be", want.EffectMm)
			continue
		}
		e.compareOption(ctx, c, want, got[at])
	}
}

func (e *exam) compareOption(ctx context.Context, c *Case, want Expected, got *adjusterv1.Option) {
	effect := got.GetEffectMm()
	number := func(what string, want *float64, got float64) {
		if want != nil && !same(*want, got) {
			e.found("options", c.Name, "the option of %v mm has %s %v, must be %v", effect, what, got, *want)
		}
	}
	number("travel left shallower", want.ShallowerLeftMm, got.GetShallowerLeftMm())
	number("travel left deeper", want.DeeperLeftMm, got.GetDeeperLeftMm())
	number("seconds", want.Seconds, got.GetSeconds())
	if text := jsonText(want.SettingAfter); text != "" && text != got.GetSettingAfter() {
		e.found("options", c.Name, "the option of %v mm leads to %s, must lead to %s", want.EffectMm, got.GetSettingAfter(), text)
	}
	if want.Say == nil && want.Cautions == nil {
		return
	}
	asked := e.request
	defer func() { e.request = asked }()
	words := e.say(ctx, c, voice{}, []*adjusterv1.Option{got})
	if words == nil {
		return
	}
	if want.Say != nil && words[0].GetSay() != *want.Say {
		e.found("words", c.Name, "the option of %v mm is said as %q, must be %q", want.EffectMm, words[0].GetSay(), *want.Say)
	}
	if want.Cautions != nil && !slices.Equal(words[0].GetCautions(), want.Cautions) {
		e.found("words", c.Name, "the option of %v mm has cautions %q, must have %q", want.EffectMm, words[0].GetCautions(), want.Cautions)
	}
}

// say asks for the words of options of one case.
func (e *exam) say(ctx context.Context, c *Case, in voice, options []*adjusterv1.Option) []*adjusterv1.Words {
	if e.dead {
		return nil
	}
	r := &adjusterv1.SayRequest{Mechanisms: []*adjusterv1.MechanismFigures{{Figures: jsonText(c.Figures)}}, Language: cmp.Or(in.language, "en"), LengthUnit: in.unit}
	for _, o := range options {
		r.Choices = append(r.Choices, &adjusterv1.Choice{Setting: jsonText(c.Setting), Option: o})
	}
	e.asked("Say", r)
	ctx, cancel := context.WithTimeout(ctx, e.call)
	defer cancel()
	out, err := e.client.Say(ctx, r)
	if err != nil {
		e.failed("words", c.Name, err)
		return nil
	}
	if len(out.GetWords()) != len(options) {
		e.foundAt("words", c.Name, "words", "%d choices were sent, %d were answered", len(options), len(out.GetWords()))
		return nil
	}
	return out.GetWords()
}

// words checks that every move has words, and leaving a row none.
func (e *exam) words(ctx context.Context, c *Case, options []*adjusterv1.Option) {
	e.made("words")
	options = sampled(options)
	words := e.say(ctx, c, voice{}, options)
	e.sayable("words", c.Name, options, words)
	for i, w := range words {
		if o := options[i]; e.against(jsonText(c.Setting), o) && !strings.Contains(w.GetSay(), "back") {
			e.foundAt("words", c.Name, fmt.Sprintf("words[%d].say", i), "the move of %v mm is against the approach, but %q does not say to go past it and back", o.GetEffectMm(), w.GetSay())
		}
	}
}

// sayable checks the words of moves in any language.
func (e *exam) sayable(check, where string, options []*adjusterv1.Option, words []*adjusterv1.Words) {
	for i, w := range words {
		at := fmt.Sprintf("words[%d]", i)
		for j, caution := range w.GetCautions() {
			e.aloud(check, where, fmt.Sprintf("%s.cautions[%d]", at, j), caution)
		}
		switch {
		case !options[i].GetLeave():
			e.aloud(check, where, at+".say", w.GetSay())
		case w.GetSay() != "":
			e.foundAt(check, where, at+".say", "leaving the row is said as %q, must be empty", w.GetSay())
		}
	}
}

// against reports whether a move goes against the approach. Of a mechanism with two controls nobody
// outside knows which one has the slack: there it is so where every property that says which way is
// deeper goes against it.
func (e *exam) against(setting string, o *adjusterv1.Option) bool {
	sign := map[adjusterv1.Approach]float64{adjusterv1.Approach_APPROACH_DEEPER: -1, adjusterv1.Approach_APPROACH_SHALLOWER: 1}[e.style.GetApproach()]
	if e.style.GetSlackMm() == 0 || o.GetEffectMm()*sign <= 0 {
		return false
	}
	from, known := standing(setting, e.deeper)
	to, _ := standing(o.GetSettingAfter(), e.deeper)
	for i := range min(len(from), len(to)) {
		if known && (to[i]-from[i])*sign <= 0 {
			return false
		}
	}
	return true
}

// aloud checks that a sentence can be read aloud.
func (e *exam) aloud(check, where, path, sentence string) {
	switch {
	case strings.TrimSpace(sentence) == "":
		e.foundAt(check, where, path, "words are missing")
	case len(sentence) > maxWords:
		e.foundAt(check, where, path, "%d letters are too many to listen to, at most %d: %.60q…", len(sentence), maxWords, sentence)
	case strings.ContainsFunc(sentence, unicode.IsControl) || strings.ContainsAny(sentence, "<>{}"):
		e.foundAt(check, where, path, "%q cannot be read aloud", sentence)
	}
}

// thereAndBack goes to options and looks for the way back: what was gained is given back. A setting made
// of the schemas may be one that nobody can come back to, so that way starts from a setting that an
// option leads to.
func (e *exam) thereAndBack(ctx context.Context, c *Case, options []*adjusterv1.Option) {
	if c.Setting == nil || c.OneWay {
		return
	}
	e.made("there and back")
	if c.derived {
		options = e.fromReached(ctx, c, options)
	}
	options = sampled(options)
	r := &adjusterv1.OptionsRequest{Mechanisms: []*adjusterv1.MechanismFigures{{Figures: jsonText(c.Figures)}}}
	for _, o := range options {
		r.Rows = append(r.Rows, &adjusterv1.RowSetting{Setting: o.GetSettingAfter()})
	}
	if len(options) == 0 {
		return
	}
	for i, row := range e.options(ctx, "there and back", c.Name, false, r) {
		there := options[i].GetEffectMm()
		if !slices.ContainsFunc(row.GetOptions(), func(o *adjusterv1.Option) bool { return same(o.GetEffectMm(), -there) }) {
			e.foundAt("there and back", c.Name, fmt.Sprintf("rows[%d].options", i), "after a move of %v mm to %s there is none of %v mm", there, options[i].GetSettingAfter(), -there)
		}
	}
}

// fromReached are the options at the setting that the first move leads to.
func (e *exam) fromReached(ctx context.Context, c *Case, options []*adjusterv1.Option) []*adjusterv1.Option {
	at := slices.IndexFunc(options, func(o *adjusterv1.Option) bool { return !o.GetLeave() })
	if at < 0 {
		return nil
	}
	rows := e.options(ctx, "there and back", c.Name, false, question(jsonText(c.Figures), options[at].GetSettingAfter()))
	if rows == nil || !e.rules(c.Name, options[at].GetSettingAfter(), rows[0].GetOptions()) {
		return nil
	}
	return rows[0].GetOptions()
}

// sampled is at most sample of the options, the first and the last among them.
func sampled(options []*adjusterv1.Option) []*adjusterv1.Option {
	if len(options) <= sample {
		return options
	}
	out := make([]*adjusterv1.Option, sample)
	for i := range out {
		out[i] = options[i*(len(options)-1)/(sample-1)]
	}
	return out
}
