package seal_test

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"rowdatum/proto/seal"
)

const scenario = "../../testdata/seal/"

type sealed struct {
	Planter string            `json:"planter"`
	Job     string            `json:"job"`
	Events  []json.RawMessage `json:"events"`
	Hash    string            `json:"hash"` // of random.jsonl
}

func (s sealed) name() string { return "planters/" + s.Planter + "/jobs/" + s.Job }

func (s sealed) log() [][]byte {
	out := make([][]byte, len(s.Events))
	for i, e := range s.Events {
		out[i] = e
	}
	return out
}

// lines reads the jobs of a file of JSON lines; pick finds the job in a line.
func lines(t *testing.T, file string, pick func([]byte) (sealed, bool)) (out []sealed) {
	t.Helper()
	text, err := os.ReadFile(scenario + file)
	if err != nil {
		t.Fatal(err)
	}
	in := bufio.NewScanner(bytes.NewReader(text))
	in.Buffer(nil, len(text)+1)
	for in.Scan() {
		if one, ok := pick(in.Bytes()); ok {
			out = append(out, one)
		}
	}
	return out
}

// exported are the two jobs that a program of 2026-12-01, before there were recipes, signed and exported.
func exported(t *testing.T) []sealed {
	t.Helper()
	jobs := lines(t, "export.jsonl", func(line []byte) (sealed, bool) {
		var one struct{ Job *sealed }
		if err := json.Unmarshal(line, &one); err != nil {
			t.Fatal(err)
		}
		if one.Job == nil {
			return sealed{}, false
		}
		return *one.Job, true
	})
	if len(jobs) != 2 {
		t.Fatalf("%d jobs", len(jobs))
	}
	return jobs
}

// TestOldJobsHoldForEver holds recipe 1 against what the program that it is of hashed: two jobs worked at a bench, and 40 logs filled at random.
func TestOldJobsHoldForEver(t *testing.T) {
	for _, j := range exported(t) {
		if s := seal.Check(j.name(), j.log()); !s.Holds() || s.Recipe != 1 {
			t.Errorf("%s: %+v", j.Job, s)
		}
	}
	sheet, err := os.ReadFile(scenario + "first.csv")
	if err != nil {
		t.Fatal(err)
	}
	if first := seal.Check("", exported(t)[1].log()); !strings.Contains(string(sheet), first.Gives) {
		t.Errorf("the sheet of that time does not have the hash %s", first.Gives)
	}
	random := lines(t, "random.jsonl", func(line []byte) (s sealed, ok bool) {
		if err := json.Unmarshal(line, &s); err != nil {
			t.Fatal(err)
		}
		return s, true
	})
	if len(random) != 40 {
		t.Fatalf("%d logs", len(random))
	}
	for i, j := range random {
		if s := seal.Check("", j.log()); s.Gives != j.Hash {
			t.Errorf("log %d gives %+v, not %s", i, s, j.Hash)
		}
	}
}

// TestEveryFieldIsSealed changes every value of a log in turn, and adds to every object: nothing goes unnoticed.
func TestEveryFieldIsSealed(t *testing.T) {
	for _, recipe := range []int{1, 2} {
		j := exported(t)[1]
		if recipe == 2 {
			j = resigned(t, j)
		}
		before := seal.Check(j.name(), j.log())
		if !before.Holds() || before.Recipe != recipe {
			t.Fatalf("recipe %d: %+v", recipe, before)
		}
		changes := 0
		for i := range j.Events {
			var event any
			if err := json.Unmarshal(j.Events[i], &event); err != nil {
				t.Fatal(err)
			}
			eachChange(event, func(what string) {
				changes++
				text, err := json.Marshal(event)
				if err != nil {
					t.Fatal(err)
				}
				log := j.log()
				log[i] = text
				if s := seal.Check(j.name(), log); s.Holds() {
					t.Errorf("recipe %d, event %d: %s, and the seal holds", recipe, i+1, what)
				}
			})
		}
		if changes < 1000 {
			t.Errorf("only %d changes were tried", changes)
		}
	}
}

// eachChange makes every small change within a value, calls tried and takes it back.
func eachChange(v any, tried func(what string)) {
	switch v := v.(type) {
	case map[string]any:
		v["unknown"] = 1
		tried("a field was added")
		delete(v, "unknown")
		for _, name := range slices.Sorted(keys(v)) {
			was := v[name]
			if other := changed(was); other != nil {
				v[name] = other
				tried(fmt.Sprintf("%s was %v, is %v", name, was, other))
			}
			if upper := strings.ToUpper(name); other(was) {
				v[upper] = 7
				tried(upper + " was added beside " + name)
				delete(v, upper)
			}
			v[name] = was
			eachChange(was, tried)
		}
	case []any:
		for i, was := range v {
			if other := changed(was); other != nil {
				v[i] = other
				tried(fmt.Sprintf("%v became %v", was, other))
				v[i] = was
			}
			eachChange(was, tried)
		}
	}
}

func other(v any) bool { return changed(v) != nil }

// changed is another value in the place of a plain one, nil for others.
func changed(v any) any {
	switch v := v.(type) {
	case float64:
		return math.Nextafter(v, math.Inf(1))
	case string:
		return v + " "
	case bool:
		return !v
	}
	return nil
}

func keys[V any](m map[string]V) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// resigned is a job as it would be signed today.
func resigned(t *testing.T, j sealed) sealed {
	t.Helper()
	j.Events = slices.Clone(j.Events)
	last := &j.Events[len(j.Events)-1]
	put := func(hash string) {
		var event map[string]any
		if err := json.Unmarshal(*last, &event); err != nil {
			t.Fatal(err)
		}
		signed := event["signed"].(map[string]any)
		signed["recipe"], signed["contentHash"] = seal.Newest, hash
		text, err := json.Marshal(event)
		if err != nil {
			t.Fatal(err)
		}
		*last = text
	}
	put("")
	hash, err := seal.Hash(j.name(), j.log())
	if err != nil {
		t.Fatal(err)
	}
	put(hash)
	return j
}

func TestWhatIsNoSealedLog(t *testing.T) {
	j := exported(t)[1]
	whole := j.log()
	last := len(whole) - 1
	with := func(i int, text string) [][]byte {
		log := slices.Clone(whole)
		log[i] = []byte(text)
		return log
	}
	swapped := slices.Clone(whole)
	swapped[6], swapped[8] = swapped[8], swapped[6]
	reading := string(whole[6])
	for what, log := range map[string][][]byte{
		"none":                        nil,
		"the signature is gone":       whole[:last],
		"the first event is gone":     whole[1:],
		"an event is gone":            slices.Delete(slices.Clone(whole), 7, 8),
		"an event is there twice":     slices.Insert(slices.Clone(whole), 7, whole[6]),
		"two events changed places":   swapped,
		"an event of another job":     with(6, string(exported(t)[0].Events[6])),
		"an event is no JSON":         with(6, reading[:20]),
		"an event is empty":           with(6, ""),
		"an event is a word":          with(6, `"reading"`),
		"an event is null":            with(6, "null"),
		"a name twice":                with(6, strings.Replace(reading, `"reading":`, `"reading":{"side":"LEFT"},"reading":`, 1)),
		"a name twice, one escaped":   with(6, strings.Replace(reading, `"row":1`, `"r\u006fw":2,"row":1`, 1)),
		"letters that are no letters": with(6, strings.Replace(reading, "Ada", "A\xff", 1)),
		"an object for a number":      with(6, strings.Replace(reading, `50.8`, `{}`, 1)),
		"a list for an object":        with(6, strings.Replace(reading, `{"row":1,"value":50.8,"unit":"MM"}`, `[]`, 1)),
		"too deep":                    with(6, strings.Replace(reading, `50.8`, strings.Repeat("[", 5000)+strings.Repeat("]", 5000), 1)),
		"too large a number":          with(6, strings.Replace(reading, `50.8`, `1e999`, 1)),
		"a recipe of the future":      with(last, strings.Replace(string(whole[last]), `"contentHash"`, `"recipe":3,"contentHash"`, 1)),
		"a recipe that is none":       with(last, strings.Replace(string(whole[last]), `"contentHash"`, `"recipe":"x","contentHash"`, 1)),
		"the other recipe":            with(last, strings.Replace(string(whole[last]), `"contentHash"`, `"recipe":2,"contentHash"`, 1)),
		"no hash":                     with(last, strings.Replace(string(whole[last]), `"contentHash"`, `"was"`, 1)),
	} {
		if s := seal.Check(j.name(), log); s.Holds() {
			t.Errorf("%s: %+v", what, s)
		}
	}
	if s := seal.Check(j.name(), with(6, strings.ReplaceAll(reading, `,`, " ,\n\t"))); !s.Holds() {
		t.Errorf("other spacing changes the content: %+v", s)
	}
	if s := seal.Check("planters/creek-six/jobs/other", resigned(t, j).log()); s.Holds() {
		t.Error("the whole log passes for that of another job")
	}
}

// TestCanonical is the example of RFC 8785, 3.2.3 and appendix B, and names that sort otherwise by UTF-16 than by bytes.
func TestCanonical(t *testing.T) {
	for text, want := range map[string]string{
		`{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
		  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}`: `{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
		`{"\ufb33": 1, "\ud83d\ude00": 2, "\u20ac": 3, "\r": 4, "1": 5, "\u0080": 6, "\u00f6": 7}`:  `{"\r":4,"1":5,"` + "\u0080" + `":6,"ö":7,"€":3,"😀":2,"` + "\ufb33" + `":1}`,
		`[-0, 0.0, 1e21, 1e20, 5e-324, -1.7976931348623157e+308, 9007199254740992, 1e-7, 0.000001]`: `[0,0,1e+21,100000000000000000000,5e-324,-1.7976931348623157e+308,9007199254740992,1e-7,0.000001]`,
	} {
		event := `{"signed":` + text + `}`
		if strings.HasPrefix(text, "[") {
			event = `{"signed":{"x":` + text + `}}`
			want = `{"x":` + want + `}`
		}
		sum := sha256.Sum256([]byte("\"j\"\n{\"signed\":" + want + "}\n"))
		if got, err := seal.Hash("j", [][]byte{[]byte(event)}); err != nil || got != hex.EncodeToString(sum[:]) {
			t.Errorf("%s is not written %s (%v)", text, want, err)
		}
	}
}

// TestNumbersAsGoWritesThem: a service writes logs with encoding/json, whose numbers are those of RFC 8785 already.
func TestNumbersAsGoWritesThem(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 20_000 {
		x := math.Float64frombits(r.Uint64())
		if math.IsNaN(x) || math.IsInf(x, 0) {
			continue
		}
		text, err := json.Marshal(x)
		if err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(fmt.Appendf(nil, "\"\"\n{\"signed\":{\"x\":%s}}\n", text))
		if got, err := seal.Hash("", [][]byte{fmt.Appendf(nil, `{"signed":{"x":%s}}`, text)}); err != nil || got != hex.EncodeToString(sum[:]) {
			t.Fatalf("%s: %v", text, err)
		}
	}
}

func FuzzCheck(f *testing.F) {
	f.Add([]byte(`{"revision":1,"signed":{"contentHash":"x"}}`))
	f.Add([]byte(`{"signed":{"recipe":2,"x":[1e3,"\ud800",{"a":{}}]}}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		if s := seal.Check("j", [][]byte{text}); s.Holds() {
			t.Fatalf("%s holds", text)
		}
	})
}

func BenchmarkCheck(b *testing.B) {
	text, err := os.ReadFile(scenario + "export.jsonl")
	if err != nil {
		b.Fatal(err)
	}
	var one struct{ Job *sealed }
	for line := range bytes.Lines(text) {
		if json.Unmarshal(line, &one) == nil && one.Job != nil {
			break
		}
	}
	log, size := one.Job.log(), 0
	for _, e := range log {
		size += len(e)
	}
	b.SetBytes(int64(size))
	for b.Loop() {
		seal.Check(one.Job.name(), log)
	}
}
