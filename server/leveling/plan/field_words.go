package plan

import (
	"fmt"
	"math"
	"strings"

	"rowdatum/server/leveling"
)

// fieldPhrases are the sentences about field moves in one language; what a phrase takes is said behind it.
type fieldPhrases struct {
	about       string // rows, what
	outOfTravel string
	trimmed     string
	unknown     string
	noneMoves   string
	notReached  string // length
	estimated   string
	notAll      string
}

var englishField = fieldPhrases{
	about:       "%s: %s",
	outOfTravel: "cannot take the whole count; stop at the end of the travel, and the depth there differs from the other rows.",
	trimmed:     "this mechanism only trims the row; change its planting depth by the same amount where the row unit sets it.",
	unknown:     "nobody has said where the mechanism stands, so the travel left was not checked.",
	noneMoves:   "No row of this planter has a mechanism that sets planting depth.",
	notReached:  "No counts bring the rows as deep as asked: the nearest miss it by %s.",
	estimated:   "These depths are predicted, not measured: dig seeds, row by row, to prove them. Lock out the lift before reaching under the frame.",
	notAll:      "This planter has too many mechanisms to weigh every choice of counts; the best one found is told.",
}

var spanishField = fieldPhrases{
	about:       "%s: %s.",
	outOfTravel: "no puede dar toda la cuenta; pare al final del recorrido, y ahí la profundidad difiere de la de los demás surcos",
	trimmed:     "este mecanismo solo corrige el surco; cambie su profundidad de siembra lo mismo donde la regula el cuerpo de siembra",
	unknown:     "nadie ha dicho en qué posición está el mecanismo, así que no se revisó el recorrido que queda",
	noneMoves:   "Ningún surco de esta sembradora tiene un mecanismo que regule la profundidad de siembra.",
	notReached:  "Ninguna cuenta lleva los surcos a la profundidad pedida: la más cercana queda a %s.",
	estimated:   "Estas profundidades están calculadas, no medidas: desentierre semillas, surco por surco, para comprobarlas. Trabe el levante antes de meter la mano debajo del bastidor.",
	notAll:      "Esta sembradora tiene demasiados mecanismos para comparar todas las combinaciones de cuentas; se da la mejor que se encontró.",
}

func (f *fielder) fieldCautions(out *FieldMove) {
	p := leveling.In(f.Voice.Language, &englishField, &spanishField)
	var short, trimmed, unknown []int
	for i, r := range out.Rows {
		switch {
		case r.Trimmed:
			trimmed = append(trimmed, r.Row)
		case r.OutOfTravel:
			short = append(short, r.Row)
		}
		if !r.Trimmed && f.rows[i].Setting == "" {
			unknown = append(unknown, r.Row)
		}
	}
	say := func(what string) { out.Cautions = append(out.Cautions, what) }
	about := func(rows []int, what string) {
		if len(rows) > 0 {
			say(fmt.Sprintf(p.about, f.Voice.RowList(rows), what))
		}
	}
	about(short, p.outOfTravel)
	about(trimmed, p.trimmed)
	about(unknown, p.unknown)
	if len(f.groups) == 0 {
		say(p.noneMoves)
		return
	}
	if !out.Reached {
		say(fmt.Sprintf(p.notReached, f.Voice.Fine(math.Abs(out.MeanMm-out.TargetMm))))
	}
	if !out.Exact {
		say(p.notAll)
	}
	say(p.estimated)
}

// Describe draws the field move as text.
func (m FieldMove) Describe() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("by %+.4f mm to %.4f mm: mean %.4f (%+.4f), spread %.4f -> %.4f mm, coarsest step %.4f mm, reached %v",
		m.DeltaMm, m.TargetMm, m.MeanMm, m.MeanChangeMm, m.SpreadBeforeMm, m.SpreadAfterMm, m.CoarsestStepMm, m.Reached)
	for _, g := range m.Groups {
		line("%s: %+g %s on rows %v", g.Mechanism, g.Count, g.Unit.For(g.Count), g.Rows)
	}
	for _, r := range m.Rows {
		how := fmt.Sprintf("count %+g %s", r.Option.Count, r.Option.SettingAfter)
		switch {
		case r.Trimmed:
			how = "only trimmed"
		case r.OutOfTravel:
			how += " out of travel"
		}
		line("row %3d %+9.4f -> %9.4f u %.4f %s", r.Row, r.ChangeMm, r.DepthMm, r.UncertaintyMm, how)
	}
	for _, c := range m.Cautions {
		line("! %s", c)
	}
	return b.String()
}
