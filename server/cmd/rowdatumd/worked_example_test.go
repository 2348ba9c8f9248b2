package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"math"
	"net/http"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the worked example anew; read the difference before committing it")

// workedExample is served as a page of the documentation.
const workedExample = "../../../gateway/docs/worked-example.md"

// TestWorkedExample drives a job on the mixed planter of testdata from start to signature by plain JSON
// over HTTP, as the page shows it: what to do comes from each row's "next" and from nothing else.
func TestWorkedExample(t *testing.T) {
	t.Parallel()
	s := &script{t: t, base: start(t, bundle()).url(""), rows: asFound(t)}
	s.say(exampleHead)
	s.describe()
	s.work()
	s.finish()
	if *update {
		if err := os.WriteFile(workedExample, []byte(s.page.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(workedExample)
	if err != nil {
		t.Fatal(err)
	}
	if got := s.page.String(); got != string(want) {
		t.Errorf("the job went otherwise than the page says (-update writes it anew):\n%s", firstDifference(got, string(want)))
	}
}

func firstDifference(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := 0; i < len(g) && i < len(w); i++ {
		if g[i] != w[i] {
			return fmt.Sprintf("line %d is %q, the page has %q", i+1, g[i], w[i])
		}
	}
	return fmt.Sprintf("%d lines, the page has %d", len(g), len(w))
}

const exampleHead = `# Worked example

One job from start to signature, by JSON over HTTP alone. A test of the service drives it on every run and holds this page against it, so that what stands here is what the service answers. The shop, the people, the planter and its readings are invented.

To keep the page short, answers show only some of their fields, long lists are cut short, the rows that a call is about first, numbers have at most four decimals, and moments and the content hash are left out. Every write may carry a request id of the caller's own, a new UUID each time, which makes it safe to send twice; the first write shows one.
`

// simRow is one row as it really is: what the shop would find with a tape.
type simRow struct {
	readings []float64 // inches, as the technician of testdata wrote them
	taken    int
	depthMm  float64 // now
	gives    float64 // real travel over nominal travel
}

// ruling of the tape, inches.
const ruling = 1.0 / 16

// asFound are the rows of the planter. Its handles are worn and give 0.94 of their nominal travel; the
// figure is invented.
func asFound(t *testing.T) map[int]*simRow {
	t.Helper()
	var from struct {
		Rows []struct {
			Row        int
			Mechanism  string
			ReadingsMm []float64
		}
	}
	if err := json.Unmarshal(testdata(t, "requests/depot-sixteen.json"), &from); err != nil {
		t.Fatal(err)
	}
	out := map[int]*simRow{}
	for _, r := range from.Rows {
		sim := &simRow{gives: 1}
		if r.Mechanism == "handle" {
			sim.gives = 0.94
		}
		for _, mm := range r.ReadingsMm {
			sim.readings = append(sim.readings, mm/25.4)
			sim.depthMm += mm / float64(len(r.ReadingsMm))
		}
		out[r.Row] = sim
	}
	return out
}

// read is what the tape shows next, in inches.
func (r *simRow) read() float64 {
	r.taken++
	if r.taken <= len(r.readings) {
		return r.readings[r.taken-1]
	}
	return math.Round(r.depthMm/25.4/ruling) * ruling
}

func (r *simRow) move(nominalMm float64) {
	r.depthMm += r.gives * nominalMm
	r.readings = r.readings[:min(r.taken, len(r.readings))]
}

// script calls the service and writes down what it does.
type script struct {
	t    *testing.T
	base string
	rows map[int]*simRow
	page strings.Builder
	job  jsonObject // as last answered

	about []int // rows that the page shows before others
}

type jsonObject = map[string]any

func (s *script) say(words string) { s.page.WriteString(words) }

// call makes one call and writes it down; shown are the fields of the answer to show.
func (s *script) call(method, path string, body any, shown ...string) jsonObject {
	s.t.Helper()
	text, err := json.Marshal(body)
	if err != nil {
		s.t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(s.t.Context(), method, s.base+path, bytes.NewReader(text))
	if err != nil {
		s.t.Fatal(err)
	}
	s.say("\n```\n" + method + " " + path + "\n")
	if body != nil {
		r.Header.Set("Content-Type", "application/json")
		s.say(show(text, 2) + "\n")
	}
	s.say("```\n")
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer res.Body.Close()
	answer, err := io.ReadAll(res.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	if res.StatusCode != http.StatusOK {
		s.t.Fatalf("%s %s: %s %s", method, path, res.Status, answer)
	}
	var whole jsonObject
	if err := json.Unmarshal(answer, &whole); err != nil {
		s.t.Fatal(err)
	}
	part := jsonObject{}
	for _, path := range shown {
		pick(part, whole, strings.Split(path, "."))
	}
	s.aboutFirst(part)
	if text, err = json.Marshal(part); err != nil {
		s.t.Fatal(err)
	}
	s.say("\nAnswer:\n\n```json\n" + show(text, 2) + "\n```\n")
	if job, ok := whole["job"].(jsonObject); ok {
		s.job = job
	}
	return whole
}

// aboutFirst puts the rows that it is about first, wherever rows are listed.
func (s *script) aboutFirst(v jsonObject) {
	for name, value := range v {
		if inner, ok := value.(jsonObject); ok {
			s.aboutFirst(inner)
		}
		if rows, ok := value.([]any); ok && name == "rows" {
			slices.SortStableFunc(rows, func(a, b any) int {
				return s.place(a.(jsonObject)) - s.place(b.(jsonObject))
			})
		}
	}
}

func (s *script) place(row jsonObject) int {
	if i := slices.Index(s.about, number(row)); i >= 0 {
		return i
	}
	return len(s.about)
}

func numbers(rows []jsonObject) (out []int) {
	for _, row := range rows {
		out = append(out, number(row))
	}
	return out
}

// pick copies the field at a path; within a list, of every entry.
func pick(to, from jsonObject, path []string) {
	value, ok := from[path[0]]
	if !ok {
		return
	}
	if len(path) == 1 {
		to[path[0]] = value
		return
	}
	switch v := value.(type) {
	case jsonObject:
		inner, _ := to[path[0]].(jsonObject)
		if inner == nil {
			inner = jsonObject{}
		}
		to[path[0]] = inner
		pick(inner, v, path[1:])
	case []any:
		list, _ := to[path[0]].([]any)
		for i, entry := range v {
			if i >= len(list) {
				list = append(list, jsonObject{})
			}
			if entry, ok := entry.(jsonObject); ok {
				pick(list[i].(jsonObject), entry, path[1:])
			}
		}
		to[path[0]] = list
	}
}

// describe makes the planter, the fixture and the job, and ticks the cautions.
func (s *script) describe() {
	var from jsonObject
	if err := json.Unmarshal(testdata(s.t, "requests/depot-sixteen.json"), &from); err != nil {
		s.t.Fatal(err)
	}
	rows := from["rows"].([]any)
	for _, row := range rows {
		delete(row.(jsonObject), "readingsMm")
	}
	s.say("\n## Describe the planter\n\nOnce: its rows, the mechanism of each, where each stands. This one is mixed: handles, notched stops and shims.\n")
	s.call("POST", "/v1/planters?planterId=depot-sixteen&requestId=3f2b8c1e-9d64-4a57-8f20-1c5b7e9a0d43",
		jsonObject{"displayName": "Sixteen-row from the depot, rebuilt", "mechanisms": from["mechanisms"], "reach": from["reach"], "rows": rows}, "name", "etag")
	s.say("\n## Describe the fixture\n\nA tape seen through a window, ruled in sixteenths of an inch.\n")
	s.call("POST", "/v1/fixtures?fixtureId=window-box", jsonObject{"displayName": "Window box", "kind": "WINDOW", "resolutionMm": 1.5875}, "name", "repeatabilityMm", "floorMm")
	s.say("\n## Open a job\n")
	s.job = s.call("POST", "/v1/planters/depot-sixteen/jobs?jobId=spring&person=Ada+Quill", jsonObject{"fixture": "fixtures/window-box", "workOrder": "W-1207"},
		"name", "revision", "etag", "stage", "state.cautions", "state.rows.row", "state.rows.next", "state.rows.why")
	s.say("\n## Tick the cautions\n\nA named person ticks each, at the planter, before anyone reaches under it.\n")
	var ticks []any
	for _, c := range s.state()["cautions"].([]any) {
		ticks = append(ticks, jsonObject{"caution": c.(jsonObject)["id"]})
	}
	s.append("tickCautions", jsonObject{"ticks": ticks, "person": "Ada Quill"}, "job.revision", "job.state.cautions.id", "job.state.cautions.person")
}

func (s *script) state() jsonObject { return s.job["state"].(jsonObject) }

func (s *script) append(verb string, body jsonObject, shown ...string) {
	s.t.Helper()
	s.call("POST", "/v1/"+s.job["name"].(string)+":"+verb, body, shown...)
}

// next lists the rows whose next step is one of the given.
func (s *script) next(steps ...string) (rows []jsonObject) {
	for _, r := range s.state()["rows"].([]any) {
		if row := r.(jsonObject); slices.Contains(steps, row["next"].(string)) {
			rows = append(rows, row)
		}
	}
	return rows
}

// stepsMost is more than this job takes.
const stepsMost = 20

// work does what the rows' next steps say, until nothing is left but to sign.
func (s *script) work() {
	for range stepsMost {
		if rows := s.next("READ", "READ_AGAIN", "READ_AFTER_MOVE"); len(rows) > 0 {
			s.read(rows)
		} else if rows := s.next("MOVE"); len(rows) > 0 {
			s.move(rows)
		} else if rows := s.next("PLAN"); len(rows) > 0 {
			s.plan()
		} else {
			return
		}
	}
	s.t.Fatalf("the job does not come to an end: %v", s.state()["rows"])
}

func (s *script) read(rows []jsonObject) {
	switch rows[0]["next"] {
	case "READ":
		s.say("\n## Read every row\n\nAs typed, in the unit of the tape.\n")
	case "READ_AFTER_MOVE":
		s.say("\n## Read what was moved\n\n`afterMove` names the row's last move that the writer knew: its `lastMove`. So a reading that arrives late still counts where it belongs.\n")
	default:
		s.say("\n## Read again\n\nWhere `next` says `READ_AGAIN`; `why` says why.\n")
	}
	s.about = numbers(rows)
	var readings []any
	for _, row := range rows {
		readings = append(readings, jsonObject{"row": row["row"], "value": s.rows[number(row)].read(), "unit": "IN", "afterMove": row["lastMove"]})
	}
	s.append("addReadings", jsonObject{"readings": readings, "person": "Ada Quill"}, "events.revision", "events.reading.row", "events.reading.depthMm",
		"job.revision", "job.etag", "job.state.spreadMm", "job.state.provableToleranceMm", "job.state.rows.row", "job.state.rows.estimateMm",
		"job.state.rows.uncertaintyMm", "job.state.rows.next", "job.state.rows.why")
}

func (s *script) plan() {
	s.say("\n## Ask for a plan\n\nIt needs the job's `etag`: nobody plans on what they have not seen.\n")
	s.append("plan", jsonObject{"etag": s.job["etag"], "person": "Ada Quill"}, "job.revision", "job.etag", "job.state.datumMm", "job.state.plan.datumMm", "job.state.plan.touchedRows",
		"job.state.plan.spreadBeforeMm", "job.state.plan.spreadAfterMm", "job.state.plan.tradeoff")
	s.say("\nWhat it says of the rows that are to be moved, and of the rest:\n\n| row | mechanism | next | move | why |\n| --- | --- | --- | --- | --- |\n")
	for _, r := range s.state()["rows"].([]any) {
		row := r.(jsonObject)
		move := ""
		if m, ok := row["move"].(jsonObject); ok {
			move = m["say"].(string)
		}
		s.say(fmt.Sprintf("| %d | `%s` | `%s` | %s | %s |\n", number(row), row["mechanism"], row["next"], move, row["why"]))
	}
}

func (s *script) move(rows []jsonObject) {
	s.say("\n## Move, and say so\n\n`settingBefore` is where the row stood: had somebody else moved it, this would be refused.\n")
	s.about = numbers(rows)
	var moves []any
	for _, row := range rows {
		m := row["move"].(jsonObject)
		moves = append(moves, jsonObject{"row": row["row"], "settingBefore": row["setting"], "count": m["count"], "settingAfter": m["settingAfter"]})
		s.rows[number(row)].move(m["effectMm"].(float64))
	}
	s.append("addMoves", jsonObject{"moves": moves, "person": "Ada Quill"}, "events.revision", "events.move", "job.revision", "job.state.rows.row", "job.state.rows.setting",
		"job.state.rows.lastMove", "job.state.rows.next")
}

// finish signs, and shows what the planter learned.
func (s *script) finish() {
	s.say("\n## Sign\n\nWhat is not proven even is excepted, row by row, with a reason. After this the job takes no more events.\n")
	var exceptions []any
	for _, row := range s.next("EXCEPT") {
		exceptions = append(exceptions, jsonObject{"row": row["row"], "reason": "arm bushing loose, parts on order"})
	}
	if len(exceptions) == 0 {
		s.t.Error("no row is excepted, but row 11 is worn out")
	}
	s.append("sign", jsonObject{"etag": s.job["etag"], "person": "Ada Quill", "exceptions": exceptions}, "job.stage", "job.revision", "job.state.spreadMm", "job.state.signature")
	s.say("\nThe sheet of the signed job:\n\n| row | as found, mm | as left, mm | measured | verdict | exception |\n| --- | --- | --- | --- | --- | --- |\n")
	for _, r := range s.state()["rows"].([]any) {
		row := r.(jsonObject)
		s.say(fmt.Sprintf("| %d | %.2f ± %.2f | %.2f ± %.2f | %s | `%s` | %s |\n", number(row), row["asFoundMm"], row["asFoundUncertaintyMm"], row["estimateMm"], row["uncertaintyMm"],
			map[bool]string{true: "yes", false: "predicted"}[row["measured"].(bool)], row["verdict"], row["exception"]))
	}
	s.say("\n## What the planter learned\n\nSettings and scales go back to it, as the next job's beginning.\n")
	s.checkLearned(s.call("GET", "/v1/planters/depot-sixteen", nil, "name", "etag", "rows.row", "rows.setting", "rows.scale", "rows.scaleSd", "rows.asLeftMm"))
}

// checkLearned holds the planter against the job.
func (s *script) checkLearned(planter jsonObject) {
	moved := 0
	for i, r := range planter["rows"].([]any) {
		row, left := r.(jsonObject), s.state()["rows"].([]any)[i].(jsonObject)
		if fmt.Sprint(row["setting"]) != fmt.Sprint(left["setting"]) || math.Abs(row["asLeftMm"].(float64)-left["estimateMm"].(float64)) > 1e-6 {
			s.t.Errorf("row %d: the planter has %v, the job %v", number(row), row, left)
		}
		if left["lastMove"].(float64) > 0 {
			moved++
			if row["scale"] == nil {
				s.t.Errorf("row %d was moved and read, and nothing was learned of its scale", number(row))
			}
		}
	}
	if moved == 0 {
		s.t.Error("no row was moved")
	}
}

func number(row jsonObject) int { return int(row["row"].(float64)) }

var (
	moment  = regexp.MustCompile(`^\d{4}-\d\d-\d\dT[\d:.]+Z$`)
	hashSum = regexp.MustCompile(`^[0-9a-f]{64}$`)
)

// show writes JSON as a person reads it: lists of objects cut after a few, moments and hashes masked.
func show(text []byte, few int) string {
	var v any
	if err := json.Unmarshal(text, &v); err != nil {
		return err.Error()
	}
	return written(shortened(v, few), "")
}

func shortened(v any, few int) any {
	switch v := v.(type) {
	case jsonObject:
		for name, value := range v {
			v[name] = shortened(value, few)
		}
	case []any:
		for i := range v {
			v[i] = shortened(v[i], few)
		}
		if len(v) > few+1 {
			if _, objects := v[0].(jsonObject); objects {
				return append(v[:few:few], fmt.Sprintf("… %d more", len(v)-few))
			}
		}
	case string:
		if moment.MatchString(v) || hashSum.MatchString(v) {
			return "…"
		}
	case float64:
		return math.Round(v*1e4) / 1e4
	}
	return v
}

// lineMost is how long a line may be before it is broken.
const lineMost = 110

func written(v any, indent string) string {
	line := inline(v)
	if len([]rune(indent+line)) <= lineMost {
		return line
	}
	deeper := indent + "  "
	var parts []string
	switch v := v.(type) {
	case jsonObject:
		for _, name := range sortedNames(v) {
			parts = append(parts, strconv.Quote(name)+": "+written(v[name], deeper))
		}
		return "{\n" + deeper + strings.Join(parts, ",\n"+deeper) + "\n" + indent + "}"
	case []any:
		for _, entry := range v {
			parts = append(parts, written(entry, deeper))
		}
		return "[\n" + deeper + strings.Join(parts, ",\n"+deeper) + "\n" + indent + "]"
	}
	return line
}

func inline(v any) string {
	var parts []string
	switch v := v.(type) {
	case jsonObject:
		for _, name := range sortedNames(v) {
			parts = append(parts, strconv.Quote(name)+": "+inline(v[name]))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case []any:
		for _, entry := range v {
			parts = append(parts, inline(entry))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return err.Error()
	}
	return strings.TrimSpace(out.String())
}

// sortedNames puts what a thing is called before the rest.
func sortedNames(o jsonObject) []string {
	first := []string{"name", "row", "revision", "etag"}
	var names []string
	for name := range o {
		names = append(names, name)
	}
	slices.SortFunc(names, func(a, b string) int {
		i, j := slices.Index(first, a), slices.Index(first, b)
		switch {
		case i >= 0 && j >= 0:
			return i - j
		case i >= 0:
			return -1
		case j >= 0:
			return 1
		}
		return strings.Compare(a, b)
	})
	return names
}
