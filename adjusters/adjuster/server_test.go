package adjuster

import (
	"errors"
	"math"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

// lever is a mechanism that does what a test says.
type lever struct {
	travel func(f leverFigures, at *leverSetting) (Travel[leverSetting], error)
	say    func(m Move[leverFigures, leverSetting]) Words
}

type leverFigures struct {
	Mm float64 `json:"mm"`
}

type leverSetting struct {
	Step float64 `json:"step"`
	Mark string  `json:"a,omitempty"`
}

func (l lever) Travel(f leverFigures, at *leverSetting) (Travel[leverSetting], error) {
	return l.travel(f, at)
}

func (l lever) Say(m Move[leverFigures, leverSetting]) Words { return l.say(m) }

const (
	leverFiguresSchema = `{"type": "object", "additionalProperties": false, "required": ["mm"], "properties": {"mm": {"type": "number"}}}`
	leverSettingSchema = `{"type": "object", "additionalProperties": false, "required": ["step"], "properties": {"step": {"type": "number"}, "a": {"type": "string"}}}`
)

func leverStyle() Style {
	return Style{ID: "lever", Version: "1", FiguresSchema: leverFiguresSchema, SettingSchema: leverSettingSchema, TouchSeconds: 1,
		English: Text{Title: "Lever", CountUnit: CountUnit{"click", "clicks"}}}
}

func newLever(t *testing.T, style Style, l lever) adjusterv1.AdjusterServer {
	t.Helper()
	s, err := New(style, l)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func ask(t *testing.T, s adjusterv1.AdjusterServer, figures, setting string) (*adjusterv1.RowOptions, error) {
	t.Helper()
	r, err := s.Options(t.Context(), &adjusterv1.OptionsRequest{
		Mechanisms: []*adjusterv1.MechanismFigures{{Figures: figures}},
		Rows:       []*adjusterv1.RowSetting{{Setting: setting}},
	})
	if err != nil {
		return nil, err
	}
	return r.GetRows()[0], nil
}

// positions gives a travel function with fixed positions around 0.
func positions(depths ...float64) func(leverFigures, *leverSetting) (Travel[leverSetting], error) {
	return func(leverFigures, *leverSetting) (Travel[leverSetting], error) {
		return Travel[leverSetting]{Positions: Steps(0, len(depths)-1, func(i int) Position[leverSetting] {
			return Position[leverSetting]{Setting: leverSetting{Step: depths[i]}, DepthMm: depths[i], Count: depths[i]}
		})}, nil
	}
}

func TestOptionsAreSortedWithOneLeave(t *testing.T) {
	for _, depths := range [][]float64{nil, {0}, {3, 0, -2, 1}, {3, -2, 1}, {0, 0, 1}} {
		row, err := ask(t, newLever(t, leverStyle(), lever{travel: positions(depths...)}), `{"mm": 1}`, `{"step": 0}`)
		if err != nil {
			t.Fatal(err)
		}
		leaves := 0
		for i, o := range row.GetOptions() {
			if o.GetLeave() {
				leaves++
			}
			if i > 0 && o.GetEffectMm() <= row.GetOptions()[i-1].GetEffectMm() {
				t.Errorf("%v: option %d does not rise: %v", depths, i, row)
			}
		}
		if leaves != 1 {
			t.Errorf("%v: %d options leave the row", depths, leaves)
		}
	}
}

func TestTravelLeft(t *testing.T) {
	for _, c := range []struct {
		name              string
		beyond            [2]float64 // shallower, deeper
		shallower, deeper float64    // left after leaving
	}{
		{"positions alone", [2]float64{}, 2, 3},
		{"ends beyond them", [2]float64{2.5, 4}, 2.5, 4},
		{"ends within them change nothing", [2]float64{1, 1}, 2, 3},
	} {
		at := positions(-2, 0, 3)
		s := newLever(t, leverStyle(), lever{travel: func(f leverFigures, s *leverSetting) (Travel[leverSetting], error) {
			travel, err := at(f, s)
			travel.ShallowerLeftMm, travel.DeeperLeftMm = c.beyond[0], c.beyond[1]
			return travel, err
		}})
		row, err := ask(t, s, `{"mm": 1}`, `{"step": 0}`)
		if err != nil {
			t.Fatal(err)
		}
		for _, o := range row.GetOptions() {
			if o.GetShallowerLeftMm() != c.shallower+o.GetEffectMm() || o.GetDeeperLeftMm() != c.deeper-o.GetEffectMm() {
				t.Errorf("%s: %v leaves %v and %v", c.name, o.GetEffectMm(), o.GetShallowerLeftMm(), o.GetDeeperLeftMm())
			}
		}
	}
}

func TestUnknownSetting(t *testing.T) {
	style := leverStyle()
	row, err := ask(t, newLever(t, style, lever{travel: positions(1)}), `{"mm": 1}`, "")
	if err != nil || len(row.GetViolations()) != 1 || row.GetViolations()[0].GetField() != "setting" {
		t.Errorf("a style that needs the setting answered %v, %v", row, err)
	}
	style.SettingOptional = true
	row, err = ask(t, newLever(t, style, lever{travel: positions(1)}), `{"mm": 1}`, "")
	if err != nil || len(row.GetOptions()) != 2 {
		t.Fatalf("a style that can do without answered %v, %v", row, err)
	}
	for _, o := range row.GetOptions() {
		if o.GetSettingAfter() != "" || o.ShallowerLeftMm != nil || o.DeeperLeftMm != nil {
			t.Errorf("%v says where the row stands", o)
		}
	}
}

func TestSettingsAreCanonical(t *testing.T) {
	s := newLever(t, leverStyle(), lever{travel: func(leverFigures, *leverSetting) (Travel[leverSetting], error) {
		return Travel[leverSetting]{Positions: Steps(1, 1, func(int) Position[leverSetting] {
			return Position[leverSetting]{Setting: leverSetting{Step: 0.1 + 0.2, Mark: "x"}, DepthMm: 57.15 - 50.8}
		})}, nil
	}})
	row, err := ask(t, s, `{"mm": 1}`, ` { "step" : 1.50e0, "a":"b" } `)
	if err != nil {
		t.Fatal(err)
	}
	leave, o := row.GetOptions()[0], row.GetOptions()[1]
	if got, want := leave.GetSettingAfter(), `{"a":"b","step":1.5}`; got != want {
		t.Errorf("left at %s, want %s", got, want)
	}
	if got, want := o.GetSettingAfter(), `{"a":"x","step":0.3}`; got != want {
		t.Errorf("brought to %s, want %s", got, want)
	}
	if o.GetEffectMm() != 6.35 {
		t.Errorf("effect is %v, want 6.35", o.GetEffectMm())
	}
}

func TestTooMany(t *testing.T) {
	asked := 0
	s := newLever(t, leverStyle(), lever{travel: func(leverFigures, *leverSetting) (Travel[leverSetting], error) {
		return Travel[leverSetting]{Positions: Steps(1, 1e9, func(i int) Position[leverSetting] {
			asked++
			return Position[leverSetting]{Setting: leverSetting{Step: float64(i)}, DepthMm: float64(i)}
		})}, nil
	}})
	row, err := ask(t, s, `{"mm": 1}`, `{"step": 0}`)
	if err != nil || len(row.GetViolations()) != 1 || len(row.GetOptions()) != 0 {
		t.Errorf("a thousand million positions were answered with %d options, %v, %v", len(row.GetOptions()), row.GetViolations(), err)
	}
	if asked > MaxOptions {
		t.Errorf("%d positions were asked for, at most %d are needed", asked, MaxOptions)
	}
	long := strings.Repeat("x", 1000)
	s = newLever(t, leverStyle(), lever{travel: func(leverFigures, *leverSetting) (Travel[leverSetting], error) {
		return Travel[leverSetting]{Positions: Steps(1, MaxOptions-1, func(i int) Position[leverSetting] {
			return Position[leverSetting]{Setting: leverSetting{Step: float64(i), Mark: long}, DepthMm: float64(i)}
		})}, nil
	}})
	row, err = ask(t, s, `{"mm": 1}`, `{"step": 0}`)
	if err != nil || len(row.GetViolations()) != 1 {
		t.Errorf("settings too long for a message were answered with %d options, %v", len(row.GetOptions()), err)
	}
}

func TestAuthorsMistakes(t *testing.T) {
	travel := Travel[leverSetting]{}
	one := func(p Position[leverSetting]) func(leverFigures, *leverSetting) (Travel[leverSetting], error) {
		return func(leverFigures, *leverSetting) (Travel[leverSetting], error) {
			return Travel[leverSetting]{Positions: Steps(1, 1, func(int) Position[leverSetting] { return p })}, nil
		}
	}
	for _, c := range []struct {
		name     string
		travel   func(leverFigures, *leverSetting) (Travel[leverSetting], error)
		code     codes.Code
		violated string
	}{
		{"panic", func(leverFigures, *leverSetting) (Travel[leverSetting], error) { panic("boom") }, codes.Internal, ""},
		{"nil pointer", func(leverFigures, *leverSetting) (Travel[leverSetting], error) {
			var at *leverSetting
			return travel, errors.New(at.Mark)
		}, codes.Internal, ""},
		{"error", func(leverFigures, *leverSetting) (Travel[leverSetting], error) { return travel, errors.New("broken") }, codes.Internal, ""},
		{"violation", func(leverFigures, *leverSetting) (Travel[leverSetting], error) {
			return travel, Wrong("figures.mm", "is odd")
		}, codes.OK, "figures.mm"},
		{"not a number", one(Position[leverSetting]{DepthMm: math.NaN()}), codes.OK, "figures"},
		{"infinite count", one(Position[leverSetting]{Count: math.Inf(-1)}), codes.OK, "figures"},
		{"unwritable setting", one(Position[leverSetting]{DepthMm: 1, Setting: leverSetting{Step: math.Inf(1)}}), codes.Internal, ""},
	} {
		s := newLever(t, leverStyle(), lever{travel: c.travel})
		row, err := ask(t, s, `{"mm": 1}`, `{"step": 0}`)
		if status.Code(err) != c.code {
			t.Errorf("%s: got %v, want %v", c.name, err, c.code)
		}
		if c.violated != "" && (len(row.GetViolations()) != 1 || row.GetViolations()[0].GetField() != c.violated) {
			t.Errorf("%s: violations are %v, want one of %s", c.name, row.GetViolations(), c.violated)
		}
		if strings.Contains(status.Convert(err).Message(), "goroutine") {
			t.Errorf("%s: the stack crosses the wire: %v", c.name, err)
		}
	}
}

func TestTypeAndSchemaDisagree(t *testing.T) {
	style := leverStyle()
	style.SettingSchema = strings.ReplaceAll(leverSettingSchema, `"step"`, `"Step"`)
	if _, err := ask(t, newLever(t, style, lever{travel: positions(1)}), `{"mm": 1}`, `{"Step": 0}`); status.Code(err) != codes.Internal {
		t.Errorf("settings that the schema refuses were given out: %v", err)
	}
	style = leverStyle()
	style.FiguresSchema = strings.ReplaceAll(leverFiguresSchema, `"number"`, `"string"`)
	if _, err := ask(t, newLever(t, style, lever{travel: positions(1)}), `{"mm": "1"}`, `{"step": 0}`); status.Code(err) != codes.Internal {
		t.Errorf("figures that the type cannot hold were taken: %v", err)
	}
}

func TestCallersMistakes(t *testing.T) {
	s := newLever(t, leverStyle(), lever{travel: positions(1), say: func(Move[leverFigures, leverSetting]) Words { return Words{Say: "x"} }})
	figures := []*adjusterv1.MechanismFigures{{Figures: `{"mm": 1}`}}
	for name, r := range map[string]*adjusterv1.OptionsRequest{
		"no such mechanism": {Mechanisms: figures, Rows: []*adjusterv1.RowSetting{{Mechanism: 1, Setting: `{"step": 0}`}}},
		"below zero":        {Mechanisms: figures, Rows: []*adjusterv1.RowSetting{{Mechanism: -1, Setting: `{"step": 0}`}}},
		"too many rows":     {Mechanisms: figures, Rows: make([]*adjusterv1.RowSetting, MaxRows+1)},
	} {
		if _, err := s.Options(t.Context(), r); status.Code(err) != codes.InvalidArgument {
			t.Errorf("%s: got %v", name, err)
		}
	}
	at, option := `{"step": 0}`, &adjusterv1.Option{EffectMm: 1, Count: 1, SettingAfter: `{"step": 1}`}
	for name, c := range map[string]*adjusterv1.Choice{
		"no option":             {Setting: at},
		"no such mechanism":     {Mechanism: 3, Setting: at, Option: option},
		"not finite":            {Setting: at, Option: &adjusterv1.Option{EffectMm: math.NaN(), SettingAfter: at}},
		"wrong setting":         {Setting: `{}`, Option: option},
		"wrong setting after":   {Setting: at, Option: &adjusterv1.Option{EffectMm: 1, SettingAfter: `{}`}},
		"no setting afterwards": {Setting: at, Option: &adjusterv1.Option{EffectMm: 1}},
	} {
		if _, err := s.Say(t.Context(), &adjusterv1.SayRequest{Mechanisms: figures, Choices: []*adjusterv1.Choice{c}}); status.Code(err) != codes.InvalidArgument {
			t.Errorf("%s: got %v", name, err)
		}
	}
	if _, err := s.Say(t.Context(), &adjusterv1.SayRequest{Mechanisms: figures, Choices: []*adjusterv1.Choice{{Setting: at, Option: option}}}); err != nil {
		t.Errorf("a right choice was refused: %v", err)
	}
}

func TestSayNeedsWords(t *testing.T) {
	s := newLever(t, leverStyle(), lever{say: func(Move[leverFigures, leverSetting]) Words { return Words{Cautions: []string{"Mind it."}} }})
	say := func(o *adjusterv1.Option) (*adjusterv1.SayResponse, error) {
		return s.Say(t.Context(), &adjusterv1.SayRequest{Mechanisms: []*adjusterv1.MechanismFigures{{Figures: `{"mm": 1}`}},
			Choices: []*adjusterv1.Choice{{Setting: `{"step": 0}`, Option: o}}})
	}
	if _, err := say(&adjusterv1.Option{EffectMm: 1, SettingAfter: `{"step": 1}`}); status.Code(err) != codes.Internal {
		t.Errorf("a move without words was answered: %v", err)
	}
	r, err := say(&adjusterv1.Option{Leave: true, SettingAfter: `{"step": 0}`})
	if err != nil || r.GetWords()[0].GetSay() != "" || len(r.GetWords()[0].GetCautions()) != 1 {
		t.Errorf("leaving the row is answered with %v, %v", r, err)
	}
}

func TestStyleIsChecked(t *testing.T) {
	for name, spoil := range map[string]func(*Style){
		"ID":            func(s *Style) { s.ID = "Threaded Handle" },
		"Version":       func(s *Style) { s.Version = "" },
		"Title":         func(s *Style) { s.English.Title = "" },
		"CountUnit":     func(s *Style) { s.English.CountUnit.Other = "" },
		"ScaleSd":       func(s *Style) { s.ScaleSd = math.NaN() },
		"SeatingMm":     func(s *Style) { s.SeatingMm = -1 },
		"TouchSeconds":  func(s *Style) { s.TouchSeconds = 0 },
		"SlackMm":       func(s *Style) { s.SlackMm = 0.6 },
		"Approach":      func(s *Style) { s.Approach = ApproachDeeper },
		"CountStep":     func(s *Style) { s.CountStep = math.Inf(1) },
		"inspection":    func(s *Style) { s.English.InspectionPoints = []InspectionPoint{{ID: "x"}} },
		"FiguresSchema": func(s *Style) { s.FiguresSchema = "{" },
		"SettingSchema": func(s *Style) { s.SettingSchema = `{"type": "object"}` },
		"outer reference": func(s *Style) {
			s.SettingSchema = `{"type": "object", "additionalProperties": false, "$ref": "file:///etc/hostname"}`
		},
		"too long": func(s *Style) { s.FiguresSchema += strings.Repeat(" ", MaxSchemaBytes) },
	} {
		style := leverStyle()
		spoil(&style)
		if _, err := New(style, lever{}); err == nil {
			t.Errorf("a style with a wrong %s was taken", name)
		}
	}
}

func FuzzOptions(f *testing.F) {
	f.Add(`{"mm": 1}`, `{"step": 0}`)
	f.Add(`{"mm": 1e308}`, `{"step": -1e-300, "a": "\ud800"}`)
	f.Add(`[]`, `{"step": 1e999}`)
	s, err := New(leverStyle(), lever{travel: func(f leverFigures, at *leverSetting) (Travel[leverSetting], error) {
		return Travel[leverSetting]{Positions: Steps(-3, 3, func(i int) Position[leverSetting] {
			return Position[leverSetting]{Setting: leverSetting{Step: at.Step + float64(i)}, DepthMm: f.Mm * float64(i), Count: float64(i)}
		})}, nil
	}})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, figures, setting string) {
		row, err := ask(t, s, figures, setting)
		if err != nil {
			t.Fatalf("%q at %q: %v", figures, setting, err)
		}
		if (len(row.GetOptions()) == 0) == (len(row.GetViolations()) == 0) {
			t.Fatalf("%q at %q: %v", figures, setting, row)
		}
		for _, o := range row.GetOptions() {
			if !finite(o.GetEffectMm()) || !finite(o.GetShallowerLeftMm()) || !finite(o.GetDeeperLeftMm()) {
				t.Fatalf("%q at %q: %v is not finite", figures, setting, o)
			}
		}
	})
}
