package job_test

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// Understand every difference before a re-recorded story is kept.
var update = flag.Bool("update", false, "record the stories as they now come out")

// A story is a text of blocks: commands, a line of four hyphens, and what came of them. Text above the
// commands, on lines with #, is for the reader.
func TestStories(t *testing.T) {
	files, err := filepath.Glob("testdata/jobs/*.txt")
	if err != nil || len(files) < 7 {
		t.Fatalf("%d stories, %v", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			text, err := os.ReadFile(file)
			must(t, err)
			got := tell(t, string(text))
			if *update {
				must(t, os.WriteFile(file, []byte(got), 0o644))
			} else if got != string(text) {
				t.Errorf("the story is now\n%s", got)
			}
		})
	}
}

func tell(t *testing.T, story string) string {
	var out []string
	s := &teller{}
	for _, block := range strings.Split(strings.TrimSpace(story), "\n\n") {
		told, _, _ := strings.Cut(block, "\n----")
		var came strings.Builder
		for _, line := range strings.Split(told, "\n") {
			if !strings.HasPrefix(line, "#") {
				came.WriteString(s.do(t, line))
			}
		}
		if came.Len() > 0 {
			told += "\n----\n" + strings.TrimSuffix(came.String(), "\n")
		}
		out = append(out, told)
	}
	if s.shop != nil {
		s.check(t)
	}
	return strings.Join(out, "\n\n") + "\n"
}

type teller struct {
	*shop
	voice leveling.Voice // of show
}

// check sees that the story as told piece by piece is the story as a whole, and that a signature holds.
func (s *teller) check(t *testing.T) {
	whole, err := job.Fold(s.log)
	must(t, err)
	if whole.Describe() != s.state.Describe() {
		t.Errorf("folded whole it is\n%s", whole.Describe())
	}
	if s.state.Signature != nil && !sealHolds(s.log) {
		t.Error("the signature does not hold")
	}
}

// do runs one command and says what came of it.
func (s *teller) do(t *testing.T, line string) string {
	words := strings.Fields(line)
	var err error
	switch words[0] {
	case "open":
		return s.open(words[1:])
	case "read":
		err = s.readAll(strings.Split(strings.TrimPrefix(line, "read "), ","))
	case "move":
		err = s.moveOne(words[1:])
	case "do":
		err = s.doPlan()
	case "part":
		c := job.PartChange{Row: number(words[1]), Part: strings.Join(words[2:], " ")}
		if err = s.state.CheckPartChanges([]job.PartChange{c}); err == nil {
			err = s.append("Ada", job.Event{PartChange: &c})
		}
	case "strike":
		x := job.Strike{Revision: number(words[1]), Reason: strings.Join(words[2:], " ")}
		if err = s.state.CheckStrikes([]job.Strike{x}); err == nil {
			err = s.append("Ada", job.Event{Strike: &x})
		}
	case "inspect":
		value, _ := strconv.ParseFloat(words[3], 64)
		in := job.Inspection{Row: number(words[1]), Point: words[2], Value: &value}
		if err = s.state.CheckInspections([]job.Inspection{in}); err == nil {
			in = s.state.JudgeInspection(in)
			err = s.append("Ada", job.Event{Inspection: &in})
		}
	case "note":
		n := job.Note{Row: number(words[1]), Text: strings.Join(words[2:], " ")}
		if err = s.state.CheckNotes([]job.Note{n}); err == nil {
			err = s.append("Ada", job.Event{Note: &n})
		}
	case "tick":
		err = s.tickAll(words[1])
	case "plan":
		return s.planOne(words[1:])
	case "sign":
		err = s.signOne(strings.Split(strings.TrimPrefix(line, "sign "), "; "))
	case "voice":
		s.voice = s.state.Voice(leveling.Language(words[1]))
		return s.voice.Length(57.15) + "\n"
	case "show":
		return s.show(words[1:])
	case "teach":
		return s.teach()
	default:
		t.Fatalf("no command %q", line)
	}
	return s.said(err)
}

func (s *teller) said(err error) string {
	if err == nil {
		return fmt.Sprintf("ok, revision %d\n", s.state.Revision)
	}
	var e *leveling.Error
	if !errors.As(err, &e) {
		return fmt.Sprintf("an error of another kind: %v\n", err)
	}
	out := fmt.Sprintf("%s: %s\n", e.Reason, e.Message)
	for _, v := range e.Violations {
		out += fmt.Sprintf("  %s %s\n", v.Field, v.Say(leveling.Voice{}))
	}
	return out
}

func number(word string) int {
	n, err := strconv.Atoi(word)
	if err != nil {
		panic(err)
	}
	return n
}

func decimal(word string) float64 {
	x, err := strconv.ParseFloat(word, 64)
	if err != nil {
		panic(err)
	}
	return x
}

// open handles=4 stops=2 unknown=3 verify=WHEN_NEEDED tolerance=2 asleft=1:60 scale=2:0.7 blocks=300
func (s *teller) open(words []string) string {
	args := map[string]string{}
	for _, w := range words {
		key, value, _ := strings.Cut(w, "=")
		args[key] = value
	}
	count := func(key string) int {
		n, _ := strconv.Atoi(args[key])
		return n
	}
	o := opened(count("handles"), count("stops"))
	for key, value := range args {
		row, figure, _ := strings.Cut(value, ":")
		n, _ := strconv.Atoi(row)
		switch key {
		case "unknown":
			o.Planter.Rows[n-1].Setting = ""
		case "verify":
			o.Verify = job.VerifyWhenNeeded
		case "tolerance":
			o.Aim.ToleranceMm = decimal(value)
		case "asleft":
			x := decimal(figure)
			o.Planter.Rows[n-1].AsLeftMm, o.Planter.Rows[n-1].AsLeftFixture = &x, "box"
		case "scale":
			x, sd := decimal(figure), 0.04
			o.Planter.Rows[n-1].Scale, o.Planter.Rows[n-1].ScaleSd = &x, &sd
		case "ruling":
			o.Fixture.Figures.ResolutionMm = decimal(value)
		case "blocks":
			o.Fixture.Kind, o.Fixture.ZeroMm = leveling.Blocks, decimal(value)
			o.Fixture.Figures = leveling.Fixture{ResolutionMm: 1.5875, RepeatabilityMm: 0.8, FloorMm: 1}
		}
	}
	s.shop = newShop(o)
	return s.said(nil)
}

// ROW VALUE [in] [left|right] [after REVISION], several with commas
func (s *teller) readAll(all []string) error {
	var rs []job.Reading
	for _, one := range all {
		words := strings.Fields(one)
		r := job.Reading{Row: number(words[0]), Value: decimal(words[1]), Unit: leveling.MM}
		if row := s.state.Row(r.Row); row != nil {
			r.AfterMove = row.LastMove
		}
		for i := 2; i < len(words); i++ {
			switch words[i] {
			case "in":
				r.Unit = leveling.Inch
			case "left":
				r.Side = job.Left
			case "right":
				r.Side = job.Right
			case "after":
				i++
				r.AfterMove = number(words[i])
			}
		}
		rs = append(rs, r)
	}
	return s.read(rs...)
}

// ROW COUNT [from POSITION] [after REVISION] [by PERSON]
func (s *teller) moveOne(words []string) error {
	row := s.state.Row(number(words[0]))
	person := "Ada"
	m := job.Move{Row: row.Row, Count: decimal(words[1]), SettingBefore: row.Setting}
	for i := 2; i+1 < len(words); i += 2 {
		switch words[i] {
		case "from":
			m.SettingBefore = travelOf(row.Mechanism).setting(decimal(words[i+1]))
		case "after":
			after := number(words[i+1])
			m.AfterMove = &after
		case "by":
			person = words[i+1]
		}
	}
	return s.move(person, m)
}

func (s *teller) doPlan() error {
	for _, r := range s.state.Rows {
		if r.Move != nil {
			if err := s.moveNow(r.Row, r.Move.Option.Count); err != nil {
				return err
			}
		}
	}
	return nil
}

// plan [free] [closest] [match ROW] [depth MM]
func (s *teller) planOne(words []string) string {
	var ask job.Ask
	aim := s.state.Opened.Aim
	for i, w := range words {
		switch w {
		case "free":
			ask.Replan = true
		case "closest":
			aim.Kind = leveling.Closest
		case "match":
			aim.Kind, aim.Row = leveling.MatchRow, number(words[i+1])
		case "depth":
			x := decimal(words[i+1])
			aim.Kind, aim.DatumMm = leveling.SetDepth, &x
		}
	}
	ask.Aim = &aim
	if err := s.shop.plan(ask); err != nil {
		return s.said(err)
	}
	held := "held by the rows that were moved and are even"
	if s.state.Issued.Free {
		held = "free"
	}
	p := s.state.Issued.Plan
	return fmt.Sprintf("%sdatum %.4f mm, %s; spread %.4f -> %.4f mm, touch %d, read again %d\n", s.said(nil), p.DatumMm, held, p.SpreadBeforeMm, p.SpreadAfterMm, p.TouchedRows, p.RereadRows)
}

// sign PERSON; ROW: REASON; unproven: REASON
func (s *teller) signOne(parts []string) error {
	var exceptions []job.Exception
	for _, p := range parts[1:] {
		who, reason, _ := strings.Cut(p, ": ")
		x := job.Exception{Reason: reason, Unproven: who == "unproven"}
		if !x.Unproven {
			x.Row = number(who)
		}
		exceptions = append(exceptions, x)
	}
	return s.sign(parts[0], exceptions...)
}

// show [ROW…]: everything, or these rows alone.
func (s *teller) show(rows []string) string {
	var out []string
	keep := len(rows) == 0
	for _, line := range strings.Split(strings.TrimSuffix(s.state.DescribeIn(s.voice), "\n"), "\n") {
		if len(rows) > 0 && !strings.HasPrefix(line, "    ") {
			words := strings.Fields(line)
			keep = words[0] == "row" && slices.Contains(rows, words[1])
		}
		if keep {
			out = append(out, line)
		}
	}
	return strings.Join(out, "\n") + "\n"
}

func (s *teller) teach() string {
	out := ""
	for _, r := range s.state.Teach(s.state.Opened.Planter).Rows {
		out += fmt.Sprintf("row %d at %s", r.Number, r.Setting)
		if r.Scale != nil {
			out += fmt.Sprintf(", scale %.4f sd %.4f", *r.Scale, *r.ScaleSd)
		}
		if r.AsLeftMm != nil {
			out += fmt.Sprintf(", left at %.4f mm by %s", *r.AsLeftMm, r.AsLeftFixture)
		}
		out += "\n"
	}
	return out
}
