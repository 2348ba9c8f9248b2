package sheet

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// columns are the columns of the CSV, named as in the API: the same in every language, so that what reads
// them goes on reading them.
var columns = []string{
	"row", "mechanism", "asFoundMm", "asFoundUncertaintyMm", "asLeftMm", "asLeftUncertaintyMm", "asLeft", "readings", "fromDatumMm",
	"verdict", "chance", "movedCount", "countUnit", "moves", "partsChanged", "exception", "datumMm", "toleranceMm",
	"planter", "owner", "workOrder", "job", "stage", "signedBy", "signTime", "contentHash",
}

// CSV writes a line a row. Uncertainties are standard uncertainties. It begins with the mark by which
// spreadsheets know UTF-8.
func (s *Sheet) CSV(w io.Writer) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return fmt.Errorf("writing the sheet's lines: %w", err)
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true // RFC 4180
	_ = out.Write(columns)
	for i := range s.s.Rows {
		_ = out.Write(s.csvLine(&s.s.Rows[i]))
	}
	if out.Flush(); out.Error() != nil { // keeps the first error of all
		return fmt.Errorf("writing the sheet's lines: %w", out.Error())
	}
	return nil
}

func (s *Sheet) csvLine(r *job.RowState) []string {
	found, left := []string{"", ""}, []string{"", "", "", ""}
	if r.AsFound != nil {
		found = []string{figure(r.AsFound.Mm), figure(r.AsFound.UncertaintyMm)}
	}
	if r.Known {
		left = []string{figure(r.Estimate.DepthMm), figure(r.Estimate.UncertaintyMm), "PREDICTED", strconv.Itoa(r.Estimate.Readings)}
	}
	if r.Measured {
		left[2] = "MEASURED"
	}
	from, verdict, chance := "", "", ""
	if r.FromDatumMm != nil {
		from = figure(*r.FromDatumMm)
	}
	if r.Verdict != 0 {
		verdict, chance = r.Verdict.String(), strconv.FormatFloat(r.Chance, 'f', 4, 64)
	}
	d := s.done[r.Row]
	net := 0.0
	for _, n := range d.counts {
		net += n
	}
	line := append([]string{strconv.Itoa(r.Row), defused(r.Mechanism)}, found...)
	line = append(append(line, left...), from, verdict, chance, leveling.Figure(net), defused(s.style(r.Mechanism).CountUnit.Other), strconv.Itoa(len(d.counts)),
		defused(strings.Join(d.parts, "; ")), defused(r.Exception))
	return append(line, s.ofJob()...)
}

// ofJob is what every line says of the job.
func (s *Sheet) ofJob() []string {
	datum, by, at, hash := "", "", "", ""
	if s.s.DatumMm != nil {
		datum = figure(*s.s.DatumMm)
	}
	if x := s.s.Signature; x != nil {
		by, at, hash = x.Person, time.UnixMicro(int64(x.SignTime)).UTC().Format(time.RFC3339), x.ContentHash
	}
	p := &s.s.Opened.Planter
	return []string{datum, figure(s.s.Aim.ToleranceMm), defused(p.DisplayName), defused(p.Owner), defused(s.head.WorkOrder), defused(s.head.Planter + "/" + s.head.Job),
		s.s.Stage.String(), defused(by), at, hash}
}

// figure is a length to a ten-thousandth of a mm.
func figure(mm float64) string {
	return strconv.FormatFloat(math.Round(mm*1e4)/1e4+0, 'f', 4, 64) // +0: no minus before nothing
}

// defused is a text that no spreadsheet takes for a formula. Some of them skip spaces and a mark of UTF-8 before the sign of
// a formula, and take its full-width twin for it.
func defused(text string) string {
	begin := strings.TrimLeftFunc(text, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) || unicode.Is(unicode.Cf, r) })
	if begin != "" && strings.ContainsRune(formulaSigns, []rune(begin)[0]) || text != "" && strings.ContainsRune("\t\r\n", rune(text[0])) {
		return "'" + text
	}
	return text
}

// formulaSigns begin a formula.
const formulaSigns = "=+-@\uff1d\uff0b\uff0d\uff20"
