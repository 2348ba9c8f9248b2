package sheet_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/csv"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"rowdatum/server/internal/sheet"
	"rowdatum/server/leveling"
)

// The same job is the same bytes, whatever order maps are walked in.
func TestSameBytes(t *testing.T) {
	for _, s := range stories() {
		var first []byte
		for range 5 {
			var b bytes.Buffer
			made := s.sheet(t)
			for _, err := range []error{made.HTML(&b), made.CSV(&b), made.PDF(t.Context(), &b, s.paper)} {
				if err != nil {
					t.Fatal(err)
				}
			}
			if first == nil {
				first = b.Bytes()
			} else if !bytes.Equal(first, b.Bytes()) {
				t.Fatalf("%s came out in two ways", s.name)
			}
		}
	}
}

// What an outside reader finds in the PDFs: everything that a page says in words, on as few pages as
// promised.
func TestPDFAsRead(t *testing.T) {
	for name, c := range map[string]struct {
		make   func(*testing.T) *visit
		pages  int
		says   []string
		wanted leveling.Language
	}{
		"depot":  {depot, 2, []string{"Depot sixteen", "Larkfield Farms", "WO-1174", "P-0031", "77120", "WORN", "gauge wheel arm, left", "Ada Mere", "1 15/16 in (48.7 mm)"}, leveling.English},
		"yard":   {yard, 2, []string{"Nuria Peñalosa Ibáñez", "Íñigo Orduña", "Fuera *", "gastada: se cambia en otoño", "23 de 24", "Nunca se meta debajo"}, leveling.Spanish},
		"wings":  {wings, 3, []string{"estimated", "an estimate, not a measurement", "36 of 36", "floor uneven by 0.50 mm"}, leveling.English},
		"coarse": {coarse, 2, []string{"Stuck *", "Unsure *", "the fixture is too coarse", "repeat to 0.059 in (1.50 mm)"}, leveling.English},
		"draft":  {single, 2, []string{"DRAFT", "not signed", "Before it can be signed"}, leveling.English},
		"void":   {given, 2, []string{"VOID", "the owner came for it", "not read"}, leveling.English},
	} {
		t.Run(name, func(t *testing.T) {
			v := c.make(t)
			for _, paper := range []sheet.Paper{sheet.A4, sheet.Letter} {
				text := read(t, v, c.wanted, paper)
				if pages := strings.Count(text, "\f"); pages > c.pages {
					t.Errorf("%d pages, at most %d are wanted", pages, c.pages)
				}
				if v.state.Signature != nil {
					c.says = append(c.says, v.state.Signature.ContentHash)
				}
				for _, want := range c.says {
					if !strings.Contains(plain(text), plain(want)) {
						t.Errorf("does not say %q:\n%s", want, text)
					}
				}
			}
		})
	}
}

// read is the text of a PDF as another program reads it.
func read(t *testing.T, v *visit, l leveling.Language, paper sheet.Paper) string {
	t.Helper()
	var b bytes.Buffer
	if err := sheet.New(v.head, v.state, sheet.Options{Language: l}).PDF(t.Context(), &b, paper); err != nil {
		t.Fatal(err)
	}
	return extract(t, b.Bytes())
}

func extract(t *testing.T, pdf []byte) string {
	t.Helper()
	cmd := exec.Command("pdftotext", "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	if err != nil || complaint.Len() > 0 {
		t.Fatalf("pdftotext (of poppler-utils, which this test needs): %v %s", err, &complaint)
	}
	return string(out)
}

// plain joins broken lines and unbroken spaces.
func plain(text string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(text, "\u00a0", " ")), " ")
}

// The policy lets in the very style that is in the page, and nothing in the page needs more.
func TestPolicy(t *testing.T) {
	page := page(t, depot(t))
	style := regexp.MustCompile(`(?s)<style>(.*)</style>`).FindStringSubmatch(page)[1]
	sum := sha256.Sum256([]byte(style))
	if want := "style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"; !strings.Contains(sheet.Policy(), want) {
		t.Errorf("%s does not let in %s", sheet.Policy(), want)
	}
	if bad := regexp.MustCompile(`<script|<link|<img|<iframe|\sstyle=|\son\w+=|(href|src)=`).FindString(page); bad != "" {
		t.Errorf("the page has %q, which its policy does not let in", bad)
	}
}

func page(t *testing.T, v *visit) string {
	t.Helper()
	var b bytes.Buffer
	if err := sheet.New(v.head, v.state, sheet.Options{}).HTML(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Each line of the CSV has every column.
func TestCSVIsWhole(t *testing.T) {
	text, err := os.ReadFile("testdata/depot.csv")
	if err != nil {
		t.Fatal(err)
	}
	lines, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(text, []byte("\ufeff")))).ReadAll()
	if err != nil || len(lines) != 17 || lines[0][0] != "row" || lines[16][0] != "16" {
		t.Errorf("%d lines, %v", len(lines), err)
	}
}

// FuzzNames: whatever people call things, the page keeps its own markup, the CSV its columns, and the PDF
// can be written.
func FuzzNames(f *testing.F) {
	for _, name := range []string{
		"<script>alert(1)</script>", `"><img src=x onerror=alert(1)>`, "</style><b>", "=cmd|' /C calc'!A0", "{{.}}", "{nb}", ") Tj ET (", "\\", "\x00\x01\x7f", "\xff\xfe",
		"漢字 עברית 😀 \u202e ﷽", "n\u0303", "\u00a0", " ", "", "a,b\"c\r\nd", strings.Repeat("W", 500), "Ω Ж Ł ½ →",
	} {
		f.Add(name, name)
	}
	f.Fuzz(func(t *testing.T, name, text string) {
		if name == "" || text == "" || len(name) > 2000 || len(text) > 2000 { // what the service does not take
			return
		}
		v := named(t, name, text)
		made := sheet.New(v.head, v.state, sheet.Options{})
		var b bytes.Buffer
		if err := made.PDF(t.Context(), &b, sheet.A4); err != nil {
			t.Fatalf("PDF: %v", err)
		}
		b.Reset()
		if err := made.HTML(&b); err != nil {
			t.Fatalf("HTML: %v", err)
		}
		if got, want := tags(t, b.String()), tags(t, page(t, named(t, "name", "text"))); got != want {
			t.Errorf("the page's markup is now\n%s", got)
		}
		b.Reset()
		if err := made.CSV(&b); err != nil {
			t.Fatalf("CSV: %v", err)
		}
		checkCells(t, b.Bytes())
	})
}

// named is a finished job in which everything that people may name has a name.
func named(t *testing.T, name, text string) *visit {
	v := begin(t, "Ada Mere", name, name, times("handle", 2), []float64{50, 50}, nil)
	v.head.WorkOrder, v.head.ExternalIDs = text, map[string]string{"key": text}
	v.tick("Ada Mere")
	v.inspect(1, "face", 0, text)
	v.read("Ada Mere", 1, 2)
	v.named(text)
	v.plan()
	v.sign("Ada Mere", "reason")
	return v
}

// tags are the elements of a page with the names of their attributes.
func tags(t *testing.T, page string) string {
	t.Helper()
	var out strings.Builder
	for in := html.NewTokenizer(strings.NewReader(page)); ; {
		switch in.Next() {
		case html.ErrorToken:
			return out.String()
		case html.StartTagToken, html.EndTagToken, html.SelfClosingTagToken, html.CommentToken:
			token := in.Token()
			out.WriteString(token.Type.String() + " " + token.Data)
			for _, a := range token.Attr {
				out.WriteString(" " + a.Key)
			}
			out.WriteString("\n")
		}
	}
}

// checkCells sees that no cell of a CSV is taken for a formula: one that begins like it is a number.
func checkCells(t *testing.T, text []byte) {
	t.Helper()
	lines, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(text, []byte("\ufeff")))).ReadAll()
	if err != nil || len(lines) != 3 {
		t.Fatalf("%d lines, %v", len(lines), err)
	}
	number := regexp.MustCompile(`^-?\d+(\.\d+)?$`)
	for _, line := range lines {
		for _, c := range line {
			if c != "" && strings.ContainsRune("=+-@\t\r\n", rune(c[0])) && !number.MatchString(c) {
				t.Errorf("a cell begins a formula: %q", c)
			}
		}
	}
}
