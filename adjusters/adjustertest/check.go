package adjustertest

import (
	"slices"
	"strings"
)

// Finding is one thing that an adjuster got wrong.
type Finding struct {
	Check   string `json:"check"`             // the name of the rule: "order", "travel", "hostile figures"
	Where   string `json:"where"`             // the case or the question
	Path    string `json:"path,omitempty"`    // where in the answer: "rows[0].options[3].effectMm"
	Message string `json:"message"`           // what was wrong
	Request string `json:"request,omitempty"` // the call that shows it, as method and JSON
}

// String is the finding as one line, without the request.
func (f Finding) String() string {
	if f.Path == "" {
		return f.Check + ": " + f.Where + ": " + f.Message
	}
	return f.Check + ": " + f.Where + ": " + f.Path + ": " + f.Message
}

// Check is one rule of the exam and how it went.
type Check struct {
	Name   string `json:"name"`
	Means  string `json:"means"`  // the rule, going on from "the program"
	Made   bool   `json:"made"`   // false where the exam did not come to it
	Failed int    `json:"failed"` // how many findings it has
}

// Report is the outcome of one sitting.
type Report struct {
	Style     string    `json:"style"`
	Version   string    `json:"version"`
	Title     string    `json:"title"`
	Languages []string  `json:"languages"` // of those that were tried, the ones it speaks
	Questions int       `json:"questions"` // cases that were answered with options
	Checks    []Check   `json:"checks"`
	Findings  []Finding `json:"findings"`
}

// Passed says that every check was made and nothing was found.
func (r *Report) Passed() bool {
	return len(r.Findings) == 0 && !slices.ContainsFunc(r.Checks, func(c Check) bool { return !c.Made })
}

// checks are the rules, in the order in which they are made.
func checks() []Check {
	text := strings.TrimSpace(`
start: starts, and its first line is the handshake
health: answers for "plugin" in the health service: SERVING
tls: lets nobody in but the host that started it
describe: says what it is, in English where it does not speak the language
style: has an id, words and constants that the contract allows
schema: has valid schemas that a form can be drawn from
language: has the same style in every language it speaks, in that language's words
unit: says lengths in the unit it is asked for: mm, or inches with mm in brackets at most
cases: answers questions with options
options: gives the options that the cases know
number: gives 1 to 1,000 options a row
finite: gives finite effects and counts, within a kilometre
leave: gives exactly one option that leaves the row as it is
order: gives its options by rising effect
seconds: gives seconds from 0 to a day where an option says its own, and none to leave
monotone: goes deeper with the setting, where its setting schema says x-deeper
travel: gives travels left that agree with the effects
setting: gives settings that its own schema lets through, written canonically
there and back: gives back what a move gained: there and back is zero
pure: answers the same question alike: again, among others, at once, in another copy
violations: names every fault by its path, in words
words: has words for every move that can be read aloud
many rows: takes 120 rows in one call
hostile figures: refuses figures that cannot be, and lives on
hostile settings: refuses settings that cannot be, and lives on
deadline: answers every call within 5 seconds
stop: ends cleanly when asked
orphan: leaves by itself when the host is gone`)
	var out []Check
	for line := range strings.SplitSeq(text, "\n") {
		name, means, _ := strings.Cut(line, ": ")
		out = append(out, Check{Name: name, Means: means})
	}
	return out
}
