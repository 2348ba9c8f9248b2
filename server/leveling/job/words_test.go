package job_test

import (
	"testing"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// A fixture that somebody named speaks as it is ruled; one that is only supposed, as the last reading was
// typed.
func TestVoice(t *testing.T) {
	for _, c := range []struct {
		asked        leveling.LengthUnit
		fixture      string
		resolutionMm float64
		typed        []leveling.LengthUnit
		perInch      int
	}{
		{"", "tape", 25.4 / 16, nil, 16},
		{"", "tape", 25.4 / 16, []leveling.LengthUnit{leveling.MM}, 16},
		{"", "tape", 25.4 / 32, []leveling.LengthUnit{leveling.Inch}, 32},
		{"", "tape", 1, []leveling.LengthUnit{leveling.Inch}, 32},
		{"", "tape", 1, nil, 0},
		{"", "tape", 1, []leveling.LengthUnit{leveling.MM}, 0},
		{"", "", 25.4 / 16, nil, 16},
		{"", "", 25.4 / 16, []leveling.LengthUnit{leveling.Inch}, 16},
		{"", "", 25.4 / 16, []leveling.LengthUnit{leveling.Inch, leveling.MM}, 0},
		{"", "", 25.4 / 16, []leveling.LengthUnit{leveling.MM, leveling.Inch}, 16},
		{leveling.MM, "tape", 25.4 / 16, []leveling.LengthUnit{leveling.Inch}, 0},
		{leveling.Inch, "dial", 0.1, []leveling.LengthUnit{leveling.MM}, 64},
		{leveling.Inch, "not ruled", 0, nil, 16},
	} {
		o := opened(2, 0)
		o.LengthUnit = c.asked
		o.Fixture.ID, o.Fixture.Figures.ResolutionMm = c.fixture, c.resolutionMm
		log := []job.Event{{Revision: 1, CreateTime: 1, Opened: o}}
		for i, unit := range c.typed {
			value := 50.8
			if unit == leveling.Inch {
				value = 2
			}
			log = append(log, job.Event{Revision: i + 2, CreateTime: 1, Reading: &job.Reading{Row: 1, Value: value, Unit: unit}})
		}
		state, err := job.Fold(log)
		must(t, err)
		if got, want := state.Voice(leveling.Spanish), (leveling.Voice{Language: leveling.Spanish, PerInch: c.perInch}); got != want {
			t.Errorf("%+v: %+v", c, got)
		}
	}
}

// Two readers of one job are told the same in their own words, and neither changes what the other is told.
func TestReadersOfOneJob(t *testing.T) {
	o := opened(2, 0)
	state, err := job.Fold([]job.Event{{Revision: 1, CreateTime: 1, Opened: o}})
	must(t, err)
	english, spanish := state.In(leveling.English), state.In(leveling.Spanish)
	if state.Rows[0].Why != "" || english.Rows[0].Why != "not read yet" || spanish.Rows[0].Why != "todavía sin leer" {
		t.Errorf("%q, %q, %q", state.Rows[0].Why, english.Rows[0].Why, spanish.Rows[0].Why)
	}
	if e, s := english.Cautions[0], spanish.Cautions[0]; e.ID != s.ID || e.Text == s.Text || state.Cautions[0].Text != "" {
		t.Errorf("%v, %v, %v", e, s, state.Cautions[0])
	}
	if len(english.SigningNeeds) != len(spanish.SigningNeeds) || english.SigningNeeds[0] == spanish.SigningNeeds[0] {
		t.Errorf("%q, %q", english.SigningNeeds, spanish.SigningNeeds)
	}
}
