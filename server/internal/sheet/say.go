package sheet

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

const (
	nothing   = "–"
	mmPerInch = 25.4
)

// tenth is a figure to a tenth.
func tenth(x float64) string {
	const pico = 1e9 // halves are told by whole picometres, as everywhere in the service
	rounded := math.Round(math.Round(x*pico)/pico*10) / 10
	if rounded == 0 {
		rounded = 0 // not minus nothing
	}
	return minus(strconv.FormatFloat(rounded, 'f', 1, 64))
}

// minus writes a figure's sign as a minus.
func minus(figure string) string { return strings.Replace(figure, "-", "−", 1) }

// signed is a figure with its sign, also where it is above nothing.
func signed(figure string) string {
	if figure = minus(figure); !strings.HasPrefix(figure, "−") && strings.Trim(figure, "0.") != "" {
		return "+" + figure
	}
	return figure
}

// unit is the word behind the lengths of the sheet.
func (s *Sheet) unit() string {
	said := s.voice.Length(mmPerInch)
	return said[strings.LastIndex(said, " ")+1:]
}

// bare is a length without its unit.
func (s *Sheet) bare(mm float64) string {
	return minus(strings.TrimSuffix(s.voice.Length(mm), " "+s.unit()))
}

// both is a length with its unit, in mm too where it is said in inches.
func (s *Sheet) both(mm float64) string { return s.beside(s.voice.Length(mm), tenth(mm)) }

// nominal is likewise a length that somebody chose.
func (s *Sheet) nominal(mm float64) string {
	return s.beside(s.voice.Nominal(mm), tenthless(mm))
}

// fine is likewise a small length.
func (s *Sheet) fine(mm float64) string {
	return s.beside(s.voice.Fine(mm), strings.TrimSuffix(leveling.Voice{}.Fine(mm), " mm"))
}

// beside joins a length as said and in mm; neither is torn from its unit at the end of a line.
func (s *Sheet) beside(said, mm string) string {
	said = unbroken(minus(said))
	if s.voice.PerInch == 0 {
		return said
	}
	return said + " (" + unbroken(mm+" mm") + ")"
}

func unbroken(text string) string { return strings.ReplaceAll(text, " ", "\u00a0") }

// units heads a column of lengths.
func (s *Sheet) units(title string) string {
	if s.voice.PerInch == 0 {
		return title + ", mm"
	}
	return title + ", " + s.unit() + " (mm)"
}

// tenthless is a figure to a tenth, without one where there is none.
func tenthless(x float64) string { return strings.TrimSuffix(tenth(x), ".0") }

// depth is a depth with twice its standard uncertainty, without units.
func (s *Sheet) depth(mm, uncertaintyMm float64) string {
	figure := tenth(mm) + " ± " + tenth(2*uncertaintyMm)
	if s.voice.PerInch == 0 {
		return figure
	}
	return s.bare(mm) + " (" + figure + ")"
}

// away is a difference without units.
func (s *Sheet) away(mm float64) string {
	figure := signed(tenth(mm))
	line := mmPerInch / float64(s.voice.PerInch)
	switch {
	case s.voice.PerInch == 0, figure == "0.0":
		return figure
	case math.Abs(mm) < line/2:
		return "< " + s.bare(line) + " (" + figure + ")"
	}
	return signed(s.bare(mm)) + " (" + figure + ")"
}

// leftOver is what the steps of a mechanism leave of a row.
func (s *Sheet) leftOver(mm float64) string {
	says, off := s.p.deep, mm
	if mm < 0 {
		says, off = s.p.shallow, -mm
	}
	switch {
	case tenth(mm) == "0.0":
		return s.p.level
	case s.voice.PerInch > 0:
		return fmt.Sprintf(says, s.beside(s.voice.Fine(off), tenth(off)))
	}
	return fmt.Sprintf(says, tenth(off)+" mm")
}

// chance is short for a table.
func chance(p float64) string {
	switch {
	case p >= 0.9995:
		return "> 99.9 %"
	case p < 0.0005:
		return "< 0.1 %"
	}
	return tenth(100*p) + " %"
}

func count(n float64, u leveling.CountUnit) string {
	return strings.TrimSpace(signed(leveling.Figure(n)) + " " + u.For(n))
}

func (s *Sheet) verdict(v leveling.Verdict) string {
	switch v {
	case leveling.Even:
		return s.p.even
	case leveling.Off:
		return s.p.off
	case leveling.Unsure:
		return s.p.unsure
	case leveling.Stuck:
		return s.p.stuck
	}
	return nothing
}

// time is to the minute, the same in every language.
func (s *Sheet) time(t leveling.Micros) string {
	return unbroken(time.UnixMicro(int64(t)).In(s.zone).Format("2006-01-02 15:04 MST"))
}

// rowList names rows, runs joined: Rows 1–4, 7.
func (s *Sheet) rowList(rows []int) string {
	if len(rows) == 1 {
		return fmt.Sprintf(s.p.oneRow, rows[0])
	}
	return fmt.Sprintf(s.p.manyRows, runs(rows))
}

func runs(rows []int) string {
	var out []string
	for i := 0; i < len(rows); i++ {
		from := i
		for i+1 < len(rows) && rows[i+1] == rows[i]+1 {
			i++
		}
		switch i - from {
		case 0:
			out = append(out, strconv.Itoa(rows[i]))
		case 1:
			out = append(out, strconv.Itoa(rows[from]), strconv.Itoa(rows[i]))
		default:
			out = append(out, fmt.Sprintf("%d–%d", rows[from], rows[i]))
		}
	}
	return strings.Join(out, ", ")
}

// setting is where a mechanism stands, under the names of its style's schema where that is known.
func (s *Sheet) setting(style leveling.Style, at leveling.JSON) string {
	var schema struct {
		Properties map[string]struct {
			Title string `json:"title"`
			Unit  string `json:"x-unit"`
			Items struct {
				Unit string `json:"x-unit"`
			} `json:"items"`
		} `json:"properties"`
	}
	if style.SettingSchema != "" {
		_ = json.Unmarshal([]byte(style.SettingSchema), &schema) // what it does not say keeps its own name
	}
	var out []string
	for _, f := range fields(at) {
		p := schema.Properties[f.name]
		value, unit := "", p.Unit+p.Items.Unit
		if unit == "mm" && s.voice.PerInch > 0 {
			value, unit = plain(f.value, s.voice.Stamped), ""
		} else {
			value = plain(f.value, leveling.Figure)
		}
		out = append(out, strings.TrimSpace(cmp.Or(p.Title, f.name)+" "+value+" "+unit))
	}
	return strings.Join(out, ", ")
}

type field struct {
	name  string
	value any
}

// fields are those of a JSON object, in its order.
func fields(object leveling.JSON) []field {
	in := json.NewDecoder(strings.NewReader(string(object)))
	if start, err := in.Token(); err != nil || start != json.Delim('{') {
		return nil
	}
	var out []field
	for in.More() {
		name, err := in.Token()
		if err != nil {
			return out
		}
		var value any
		if err := in.Decode(&value); err != nil {
			return out
		}
		out = append(out, field{fmt.Sprint(name), value})
	}
	return out
}

// plain is a value of a setting; figure says its numbers.
func plain(value any, figure func(float64) string) string {
	switch v := value.(type) {
	case float64:
		return minus(figure(v))
	case []any:
		parts := make([]string, len(v))
		for i := range v {
			parts[i] = plain(v[i], figure)
		}
		if len(parts) == 0 {
			return nothing
		}
		return strings.Join(parts, " + ")
	}
	return fmt.Sprint(value)
}

// moved is what was done to a row, in counts.
func (s *Sheet) moved(r *job.RowState) string {
	var out []string
	d, u := s.done[r.Row], s.style(r.Mechanism).CountUnit
	net := 0.0
	for _, n := range d.counts {
		net += n
	}
	switch n := len(d.counts); {
	case n == 1:
		out = append(out, count(net, u))
	case n > 1:
		out = append(out, fmt.Sprintf(s.p.inMoves, count(net, u), n))
	}
	if len(d.parts) > 0 {
		out = append(out, s.p.newPart)
	}
	if out == nil {
		return nothing
	}
	return strings.Join(out, ", ")
}
