package coverage

import (
	"context"
	"fmt"
	"math"
	"strconv"

	"rowdatum/clients/prove/internal/proof"
)

const wanted = 0.9 // share of true depths that an interval is to hold

// goal is what is asked of intervals: at 1/8 inch the ruling is coarser than anything that it is to prove.
func goal(ruling float64) proof.Goal {
	if ruling > 1.6 {
		return proof.AtLeast(0.88)
	}
	return proof.Between(0.86, 0.94)
}

// worst is the share that is worst for a goal: the smallest where only few are bad, else the farthest from what is wanted.
func worst(ruling float64, shares []float64) float64 {
	out := shares[0]
	for _, s := range shares[1:] {
		if farther := math.Abs(s-wanted) > math.Abs(out-wanted); ruling > 1.6 && s < out || ruling <= 1.6 && farther {
			out = s
		}
	}
	return out
}

// cells writes a line's shares after what it is of.
func cells(ruling float64, readings, rows int, shares []float64) []string {
	out := []string{fmt.Sprintf("%v mm, %d a row", ruling, readings), strconv.Itoa(rows)}
	for _, s := range shares {
		out = append(out, fmt.Sprintf("%.3f", s))
	}
	return out
}

func (p prover) foundTable(ctx context.Context, calls int) (proof.Table, error) {
	table := proof.Table{
		Title: "Stated uncertainties are what happens: rows as found",
		Notes: []string{
			"True depths lie anywhere within 9 mm of 50 mm, so anywhere between two lines of the ruling; readings scatter normally and are rounded to it. The service is given readings, ruling and scatter in a plans:compute, and states an estimate and its standard uncertainty for each row: " +
				"the interval of 1.645 uncertainties either side is to hold nine true depths in ten.",
			"Shares of true depths held, by scatter. Ratio: the share farthest from 0.9, of rows held over rows; at 1/8 inch (3.175 mm) the smallest.",
		},
		Columns: []string{"ruling, readings", "rows a share"},
	}
	for _, s := range scatters {
		table.Columns = append(table.Columns, fmt.Sprintf("held, scatter %v mm", s))
	}
	for _, ruling := range rulings {
		for readings := 1; readings <= mostReadings; readings++ {
			var shares []float64
			for _, scatter := range scatters {
				counted, err := p.asFound(ctx, fixture{ruling, scatter}, readings, calls)
				if err != nil {
					return table, err
				}
				shares = append(shares, counted.share())
			}
			table.Rows = append(table.Rows, proof.Row{Cells: cells(ruling, readings, calls*rowsAtOnce, shares), Ratio: worst(ruling, shares), Goal: goal(ruling)})
		}
	}
	return table, nil
}

func (p prover) visitTable(ctx context.Context, jobs int) (proof.Table, error) {
	table := proof.Table{
		Title: "Stated uncertainties are what happens: before and after moves",
		Notes: []string{
			"Jobs on planters of 120 rows, half threaded handles, half notched stops. Each row gives its own share of the nominal travel, and seats a little differently after every move, by as much as its style says; nobody tells the service how. " +
				"All rows are read, moved by one to three steps of 1.6 or 6 mm either way, read, moved and read again, through the jobs of the API. Scatter 0.5 mm, which the service pools with the scatter that it sees; where each row is read once it sees none, and makes its intervals a little wider.",
			"Shares of true depths held by the interval that the job's state gives, 1.645 uncertainties either side of the estimate. Ratio as above.",
		},
		Columns: []string{"ruling, readings", "rows a share", "as found", "moved, not read", "moved, read", "moved again, not read", "moved again, read"},
	}
	for _, ruling := range rulings {
		for readings := 1; readings <= mostReadings; readings++ {
			counted, err := p.visits(ctx, fixture{ruling, 0.5}, readings, jobs)
			if err != nil {
				return table, err
			}
			var shares []float64
			for _, c := range counted {
				shares = append(shares, c.share())
			}
			table.Rows = append(table.Rows, proof.Row{Cells: cells(ruling, readings, jobs*rowsAtOnce, shares), Ratio: worst(ruling, shares), Goal: goal(ruling)})
		}
	}
	return table, nil
}

// fewest is how many rows a class has of which a share is told.
const fewest = 200

func (p prover) chanceTable(ctx context.Context, calls int) (proof.Table, error) {
	table := proof.Table{
		Title: "Stated chances are what happens",
		Notes: []string{
			"Rows read one to three times with a ruling of 1/16 inch and a scatter of 0.5 mm. Of the rows that were said to be within 1/8 inch of the datum with a chance of so much, how many are? As found at a datum that is given, as found at the datum of a plan of least work, " +
				"and after the moves of the plans of both were done, where each row gives its own share of the nominal travel and seats a little differently.",
			fmt.Sprintf("Ratio: from a chance of 0.5 the rows within tolerance over what their chances add up to, below it the rows not within tolerance over what is left to 1. Classes of fewer than %d rows are left out.", fewest),
		},
		Columns: []string{"chance", "rows", "said, on average", "seen"},
	}
	set, err := p.chances(ctx, setDepth, calls)
	if err != nil {
		return table, err
	}
	least, err := p.chances(ctx, leastWork, calls)
	if err != nil {
		return table, err
	}
	moved := set.moved
	moved.add(least.moved)
	picture := proof.Picture{File: "chances.svg", Title: "Chances of being even: said and seen", X: "chance said", Y: "share of rows seen within tolerance", Left: true,
		Lines: []proof.Line{{Name: "as said", Points: []proof.Point{{X: 0, Y: 0}, {X: 1, Y: 1}}}}}
	for _, l := range []struct {
		name string
		said said
	}{{"as found, datum given", set.found}, {"as found, least work", least.found}, {"after the plan's moves", moved}} {
		line := proof.Line{Name: l.name}
		for i, c := range l.said {
			if c.of < fewest {
				continue
			}
			name := fmt.Sprintf("%s, %.1f to %.1f", l.name, float64(i)/tenths, float64(i+1)/tenths)
			table.Rows = append(table.Rows, proof.Row{
				Cells: []string{name, strconv.Itoa(c.of), fmt.Sprintf("%.3f", c.average()), fmt.Sprintf("%.3f", c.share())},
				Ratio: c.held(),
				Goal:  proof.Between(0.9, 1.1),
			})
			line.Points = append(line.Points, proof.Point{X: c.average(), Y: c.share()})
		}
		if len(line.Points) > 0 {
			picture.Lines = append(picture.Lines, line)
		}
	}
	table.Pictures = []proof.Picture{picture}
	return table, nil
}
