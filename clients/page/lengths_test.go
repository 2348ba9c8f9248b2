package page

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"rowdatum/clients/internal/absent"
	"rowdatum/proto/length"
)

// TestLengthsAreReadAlike has app/lengths.js and the package length read the shared table, and thousands of random texts
// made of what people type: the same numbers to the last bit, the same reasons, the same cuts.
func TestLengthsAreReadAlike(t *testing.T) {
	if _, err := exec.LookPath("node"); err != nil {
		absent.Skip(t, "node")
	}
	texts := append(tableTexts(t), randomTexts(10000)...)
	theirs := readByNode(t, texts)
	read := 0
	for i, text := range texts {
		ours := readByGo(text)
		if ours != theirs[i] {
			t.Errorf("%q: the package reads %s, the page %s", text, ours, theirs[i])
		}
		if !strings.Contains(ours, "|NaN|") {
			read++
		}
	}
	if read < len(texts)/20 {
		t.Errorf("only %d of %d texts are lengths: the test looks at little else than refusals", read, len(texts))
	}
}

// tableTexts are those of testdata/lengths.json, whose answers the package is tested with.
func tableTexts(t *testing.T) (texts []string) {
	t.Helper()
	file, err := os.ReadFile("../../testdata/lengths.json")
	if err != nil {
		t.Fatal(err)
	}
	var table map[string][]struct{ Text string }
	if err := json.Unmarshal(file, &table); err != nil {
		t.Fatal(err)
	}
	for _, cases := range table {
		for _, c := range cases {
			texts = append(texts, c.Text)
		}
	}
	return texts
}

// randomTexts are numbers of every form, and the same with a piece changed, left out or put in twice.
func randomTexts(n int) []string {
	rng := rand.New(rand.NewPCG(15, 2))
	pieces := []string{"0", "1", "2", "7", "8", "50", "625", "00", "123456", ".", ",", ", ", "/", "⁄", " ", "\u00a0", "\u2009", "\u0085", "\ufeff", "-", "−", "–", "+", ";", "\t", "½", "⅞", "1/4", "7/8",
		"mm", " mm", "cm", "in", "in.", `"`, "”", "''", "IN", "İN", "pulg", "e", "x", "²", "５", "é", "😀", "50,5", "1,500", "50.8", "52.387499999999996", "1234567890123"}
	shapes := [][]string{{"2", " ", "1/4"}, {"2", "-", "1/4", "in"}, {"2", "½", `"`}, {"50.8"}, {"50,5", " mm"}, {"1", " ", "50,5", " ", "50,5"}, {"1", ",", "50.8", ",", "50.8", ",", "8"}, {"1", ";", "50,5", ";", "8"}, {"2", "+", "1"}, {"1", ", ", "7/8", ", ", "2", " ", "7/8"}}
	texts := make([]string, n)
	for i := range texts {
		shape := append([]string{}, shapes[rng.IntN(len(shapes))]...)
		if rng.IntN(3) == 0 {
			shape = make([]string, 1+rng.IntN(7))
			for k := range shape {
				shape[k] = pieces[rng.IntN(len(pieces))]
			}
		}
		for range rng.IntN(3) {
			shape[rng.IntN(len(shape))] = strings.Repeat(pieces[rng.IntN(len(pieces))], rng.IntN(3))
		}
		texts[i] = strings.Join(shape, "")
	}
	return texts
}

// readByGo is what the package reads a text as: alone in inches, alone in mm with each kind of comma, as seeds of a
// row, as a list.
func readByGo(text string) string {
	var b strings.Builder
	for _, r := range []length.Reading{{Bare: length.Inch}, {Bare: length.Millimeter, Comma: length.CommaDecimal}, {Comma: length.CommaRefused}} {
		value, unit, err := r.Typed(text)
		if err != nil {
			fmt.Fprintf(&b, "|NaN|NaN||%s", string(reason(err)))
			continue
		}
		mm, _ := r.Mm(text)
		fmt.Fprintf(&b, "|%s|%s|%v|", float(length.Float(value)), float(length.Float(mm)), unit)
	}
	for _, l := range []length.Line{{Row: true}, {Row: true, Columns: 3}, {Plus: true}} {
		cells, comma, err := l.Cut(text)
		in, _ := errors.AsType[*length.CommaError](err)
		if in != nil {
			fmt.Fprintf(&b, "|%s", in.Text)
			continue
		}
		fmt.Fprintf(&b, "|%s|%d", strings.Join(cells, "~"), comma)
	}
	return b.String()
}

func reason(err error) length.Reason {
	r, _ := errors.AsType[length.Reason](err)
	return r
}

// float writes a number as JavaScript's JSON does, to the last bit.
func float(x float64) string {
	text, err := json.Marshal(x)
	if err != nil {
		return err.Error()
	}
	return string(text)
}

// readByNode does as readByGo, by the page's module.
func readByNode(t *testing.T, texts []string) (out []string) {
	t.Helper()
	module, err := filepath.Abs("app/lengths.js")
	if err != nil {
		t.Fatal(err)
	}
	script := `
		const { readLength, cutLine } = await import("file://" + process.argv[1]);
		const commas = ["IF_CLEAR", "DECIMAL", "REFUSED"];
		const read = (text) => [{ bare: "in" }, { bare: "mm", comma: "DECIMAL" }, { comma: "REFUSED" }].map((how) => {
			const r = readLength(text, how);
			return "|" + [r.value, r.mm].map((x) => (Number.isNaN(x) ? "NaN" : JSON.stringify(x))).join("|") + "|" + (r.unit ?? "") + "|" + (r.refused ?? "");
		}).join("") + [{ row: true }, { row: true, columns: 3 }, { plus: true }].map((line) => {
			const c = cutLine(text, line);
			return "|" + (c.refused ?? c.cells.join("~") + "|" + commas.indexOf(c.comma));
		}).join("");
		let text = "";
		for await (const chunk of process.stdin.setEncoding("utf8")) text += chunk;
		process.stdout.write(JSON.stringify(JSON.parse(text).map(read)));`
	in, err := json.Marshal(texts)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), "node", "--input-type=module", "-e", script, module)
	var answer, complaint bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = bytes.NewReader(in), &answer, &complaint
	if err := cmd.Run(); err != nil {
		t.Fatalf("node: %v\n%s", err, &complaint)
	}
	if err := json.Unmarshal(answer.Bytes(), &out); err != nil || len(out) != len(texts) {
		t.Fatalf("node answered for %d of %d texts: %v", len(out), len(texts), err)
	}
	return out
}
