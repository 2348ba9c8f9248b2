package optimum

import (
	"fmt"
	"time"

	"rowdatum/clients/prove/internal/proof"
)

// tabulate makes a line for each aim and class of size.
func tabulate(trials []trial) proof.Table {
	table := proof.Table{
		Title: "No plan beats it: larger plans against a mixed-integer program",
		Notes: []string{
			"Invented planters of 12 to 40 rows with one to four of threaded handles, notched stops (even and uneven) and shimmed arms; one to three readings a row, ruled; some settings not known, some scales learned, travel to be kept on a third of them; one planter in six read to the millimetre without a doubt, so that ends of acceptance meet exactly. Each was asked of the running service with the aims least work and closest.",
			"Options, predictions, uncertainties, half-widths and the parts that a row may play were worked out anew from the same figures, by plain code that shares none with the service, and written as mixed-integer programs that Debian's glpsol solved to a proven optimum. " +
				"A plan of least work agrees if its cost, told from its verdicts and moves, is not below the optimum with every acceptance grown by 1e-6 mm, and not above it with every acceptance shrunk by as much; a closest plan if its spread is the optimum within 1e-6 mm. " +
				"Either also must say our depths and uncertainties within 1e-6 mm, and give every row the part that is its due.",
			"On an end: the plan's cost hangs on less than 1e-6 mm, so that the two optima differ. Worst: how far a cost lay outside the optima, and the largest difference of any depth, uncertainty or spread. The solver's time is of all its programs for one plan, two optima for least work. Ratio: plans that agreed over plans asked.",
		},
		Columns: []string{"aim", "rows", "plans", "agreed", "on an end", "worst, s", "worst, mm", "solver a plan, ms", "service a plan, ms"},
	}
	for _, aim := range aims {
		for class, size := range sizes {
			table.Rows = append(table.Rows, line(aim.name, fmt.Sprintf("%d to %d", size[0], size[1]), outcomes(trials, class, aim.of)))
		}
	}
	return table
}

var aims = []struct {
	name string
	of   func(trial) outcome
}{
	{"least work", func(t trial) outcome { return t.leastWork }},
	{"closest", func(t trial) outcome { return t.closest }},
}

func outcomes(trials []trial, class int, of func(trial) outcome) (out []outcome) {
	for _, t := range trials {
		if t.class == class {
			out = append(out, of(t))
		}
	}
	return out
}

func line(aim, rows string, all []outcome) proof.Row {
	agreed, ends, over, worst := 0, 0, 0.0, 0.0
	var solver, service time.Duration
	for _, o := range all {
		if o.wrong == nil {
			agreed++
		}
		if o.ends {
			ends++
		}
		over, worst = max(over, o.over), max(worst, o.worst)
		solver, service = solver+o.solver, service+o.service
	}
	overSaid := proof.Figure(over)
	if aim == "closest" {
		overSaid = ""
	}
	each := func(d time.Duration) string { return proof.Figure(d.Seconds() * 1e3 / float64(len(all))) }
	return proof.Row{
		Cells: []string{aim, rows, fmt.Sprint(len(all)), fmt.Sprint(agreed), fmt.Sprint(ends), overSaid, fmt.Sprintf("%.1e", worst), each(solver), each(service)},
		Ratio: float64(agreed) / float64(len(all)),
		Goal:  proof.AtLeast(1),
	}
}

// tell says which plans did not agree.
func tell(trials []trial, say func(string, ...any)) {
	for i, t := range trials {
		for _, aim := range aims {
			if wrong := aim.of(t).wrong; wrong != nil {
				say("planter %d, %s: %v", i, aim.name, wrong)
			}
		}
	}
}
