package wear_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"rowdatum/server/leveling/wear"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.15g, want %.15g within %g", what, got, want, within)
	}
}

func relative(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	near(t, what, got, want, within*math.Abs(want))
}

// points reads a file of y and its predictors.
func points(t *testing.T, name string) (y []float64, x [][]float64) {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range lines[1:] {
		var row []float64
		for _, text := range line {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				t.Fatal(err)
			}
			row = append(row, v)
		}
		y, x = append(y, row[0]), append(x, row[1:])
	}
	return y, x
}

func withConstant(x [][]float64) [][]float64 {
	out := make([][]float64, len(x))
	for i, row := range x {
		out[i] = append([]float64{1}, row...)
	}
	return out
}

// Certified values: NIST Statistical Reference Datasets, linear regression.
func TestNIST(t *testing.T) {
	for _, c := range []struct {
		name, file string
		constant   bool
		b, sd      []float64
		residualSd float64
		degrees    float64
		within     float64
	}{
		{"Norris", "Norris.csv", true, []float64{-0.262323073774029, 1.00211681802045}, []float64{0.232818234301152, 0.429796848199937e-03}, 0.884796396144373, 34, 1e-12},
		{"NoInt1", "NoInt1.csv", false, []float64{2.07438016528926}, []float64{0.165289256198347e-01}, 3.56753034006338, 10, 1e-13},
		{"Longley", "Longley.csv", true,
			[]float64{-3482258.63459582, 15.0618722713733, -0.358191792925910e-01, -2.02022980381683, -1.03322686717359, -0.511041056535807e-01, 1829.15146461355},
			[]float64{890420.383607373, 84.9149257747669, 0.334910077722432e-01, 0.488399681651699, 0.214274163161675, 0.226073200069370, 455.478499142212}, 304.854073561965, 9, 1e-9},
	} {
		y, x := points(t, c.file)
		if c.constant {
			x = withConstant(x)
		}
		b, sd, squares := wear.LeastSquares(x, y)
		for i := range c.b {
			relative(t, c.name+" coefficient", b[i], c.b[i], c.within)
			relative(t, c.name+" its sd", sd[i], c.sd[i], c.within)
		}
		relative(t, c.name+" residual sd", math.Sqrt(squares/c.degrees), c.residualSd, c.within)
	}
}

// NIST StRD Wampler1: a polynomial of degree 5 without scatter; every coefficient is 1.
func TestWampler1(t *testing.T) {
	y, x := points(t, "Wampler1.csv")
	for i, row := range x {
		powers := make([]float64, 6)
		for j := range powers {
			powers[j] = math.Pow(row[0], float64(j))
		}
		x[i] = powers
	}
	b, sd, _ := wear.LeastSquares(x, y)
	for i := range b {
		near(t, "Wampler1 coefficient", b[i], 1, 1e-7)
		near(t, "Wampler1 its sd", sd[i], 0, 1e-7)
	}
}

// A column that depends on the others is left out, not divided by nothing.
func TestDependentColumn(t *testing.T) {
	x := [][]float64{{1, 1, 2}, {1, 2, 3}, {1, 3, 4}, {1, 5, 6}}
	b, _, squares := wear.LeastSquares(x, []float64{3, 5, 7, 11})
	near(t, "level", b[0], 1, 1e-12)
	near(t, "slope", b[1], 2, 1e-12)
	near(t, "dependent", b[2], 0, 0)
	near(t, "squares", squares, 0, 1e-20)
}

// JCGM 100:2008 (GUM), H.3: the calibration of a thermometer, b = y₁ + y₂(t − 20), projected to 30 °C. To the
// printed digits, and to nine digits of our own recomputation.
func TestProjectedLine(t *testing.T) {
	temperature := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	correction := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	for i := range temperature {
		temperature[i] -= 20
	}
	l := wear.FitLine(temperature, correction)
	near(t, "y1, printed", l.Intercept, -0.1712, 0.00005)
	near(t, "u(y1), printed", l.InterceptSd, 0.0029, 0.00005)
	near(t, "y2, printed", l.Slope, 0.00218, 0.000005)
	near(t, "u(y2), printed", l.SlopeSd, 0.00067, 0.000005)
	near(t, "r, printed", l.Covariance/l.InterceptSd/l.SlopeSd, -0.93, 0.005)
	near(t, "s, printed", l.ResidualSd, 0.0035, 0.00005)
	y, sd := l.At(10)
	near(t, "b(30), printed", y, -0.1494, 0.00005)
	near(t, "u(b(30)), printed", sd, 0.0041, 0.00005)
	relative(t, "y1", l.Intercept, -0.171203790131, 1e-9)
	relative(t, "y2", l.Slope, 0.00218269773989, 1e-9)
	relative(t, "b(30)", y, -0.149376812732, 1e-9)
	relative(t, "u(b(30))", sd, 0.00413859575285, 1e-9)
}

// A made-up row over seven checks (acres, mm); R 4.2.2 lm.
func TestLineOfOneRow(t *testing.T) {
	l := wear.FitLine([]float64{0, 310, 655, 980, 1290, 1640, 1985}, []float64{50.8, 50.2, 49.7, 48.9, 48.5, 47.7, 47.2})
	relative(t, "intercept", l.Intercept, 50.80104035463662, 1e-12)
	relative(t, "slope", l.Slope, -0.00183779628024, 1e-11)
	relative(t, "intercept sd", l.InterceptSd, 0.057508361123582, 1e-11)
	relative(t, "slope sd", l.SlopeSd, 4.8654475585e-05, 1e-10)
	relative(t, "residual sd", l.ResidualSd, 0.0850639709204, 1e-11)
	y, sd := l.At(2400)
	const t975 = 2.57058183563632 // 5 degrees of freedom
	near(t, "at 2400", y, 46.3903292821, 1e-9)
	near(t, "lower end at 2400", y-t975*sd, 46.1944408928, 1e-9)
	near(t, "lower end of a prediction", y-t975*math.Hypot(sd, l.ResidualSd), 46.0967544849, 1e-9)
}
