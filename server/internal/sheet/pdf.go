package sheet

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

// Paper is what a PDF is laid out for.
type Paper int

// The papers.
const (
	A4 Paper = iota
	Letter
)

// The page's measures, mm; sizes of letters in points.
const (
	margin               = 14.0
	footY                = 9.0 // above the lower edge
	plainSize, smallSize = 9.0, 8.2
	tableSize, headSize  = 8.2, 11.5
	leading              = 1.32 // of a line, in sizes of letters
	mmPerPoint           = 25.4 / 72
	gap                  = 3.0 // between columns
	sans, mono           = "go", "gomono"
	cellWide, cellTall   = 18.2, 12.4
)

// PDF writes the sheet for paper. Its times are the job's, so that the same job is the same bytes.
func (s *Sheet) PDF(ctx context.Context, w io.Writer, paper Paper) error {
	p, err := newPrinter(s, paper)
	if err != nil {
		return err
	}
	p.head(s)
	blocks := s.page()
	for i, b := range blocks {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("writing the sheet for paper: %w", err)
		}
		p.block(b, blocks[i+1:])
	}
	p.feet(s)
	if err := p.Output(w); err != nil {
		return fmt.Errorf("writing the sheet for paper: %w", err)
	}
	return nil
}

// printer sets blocks on paper, one under the other.
type printer struct {
	*fpdf.Fpdf
	glyphs     *sfnt.Font
	buffer     sfnt.Buffer
	wide, tall float64 // of the paper
	y          float64
}

func newPrinter(s *Sheet, paper Paper) (*printer, error) {
	glyphs, err := sfnt.Parse(goregular.TTF)
	if err != nil {
		return nil, fmt.Errorf("reading the sheet's letters: %w", err)
	}
	p := &printer{Fpdf: fpdf.New("P", "mm", [...]string{"A4", "Letter"}[paper], ""), glyphs: glyphs, y: margin}
	p.SetCatalogSort(true)
	at := time.UnixMicro(int64(s.s.UpdateTime)).UTC()
	p.SetCreationDate(at)
	p.SetModificationDate(at)
	p.SetProducer("rowdatum", true)
	p.SetTitle(p.clean(s.running()+" · "+s.planter()), true)
	p.SetLang(s.voice.Language.Tag())
	// Cutting a font down to its used letters writes into the bytes that the font was given as.
	p.AddUTF8FontFromBytes(sans, "", slices.Clone(goregular.TTF))
	p.AddUTF8FontFromBytes(sans, "B", slices.Clone(gobold.TTF))
	p.AddUTF8FontFromBytes(mono, "", slices.Clone(gomono.TTF))
	p.SetAutoPageBreak(false, 0)
	p.SetMargins(0, 0, 0)
	p.SetCellMargin(0)
	p.AddPage()
	p.wide, p.tall = p.GetPageSize()
	return p, p.Error()
}

// clean is a text in letters that there are: what has none becomes a question mark, what is not to be seen
// a space.
func (p *printer) clean(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == unbreakable:
			return r
		case unicode.IsSpace(r), unicode.IsControl(r):
			return ' '
		}
		if i, err := p.glyphs.GlyphIndex(&p.buffer, r); err != nil || i == 0 || r > 0xffff {
			return '?'
		}
		return r
	}, norm.NFC.String(text))
}

const unbreakable = '\u00a0'

func (p *printer) font(style string, size float64) {
	p.SetFont(sans, style, size)
}

// width is the room between the margins.
func (p *printer) width() float64 { return p.wide - 2*margin }

func (p *printer) bottom() float64 { return p.tall - margin }

func line(size float64) float64 { return size * mmPerPoint * leading }

// room goes to a new page where so much does not fit any more; it says whether it did.
func (p *printer) room(tall float64) bool {
	if p.y+tall <= p.bottom() {
		return false
	}
	p.AddPage()
	p.y = margin
	return true
}

// wrap breaks a text into lines for the font that is set; a word that is too long is broken too.
func (p *printer) wrap(text string, wide float64) []string {
	wide += 1e-6 // a column made to measure holds what it was measured for
	var out []string
	now := ""
	for word := range strings.SplitSeq(p.clean(text), " ") {
		if word == "" {
			continue
		}
		if now != "" && p.GetStringWidth(now+" "+word) <= wide {
			now += " " + word
			continue
		}
		if now != "" {
			out = append(out, now)
		}
		for now = word; p.GetStringWidth(now) > wide; {
			head := p.fitting(now, wide)
			out, now = append(out, now[:head]), now[head:]
		}
	}
	return append(out, now)
}

// fitting is how many bytes of a word fit, at least those of one letter.
func (p *printer) fitting(word string, wide float64) int {
	fits := 0
	for i := range word {
		if i > 0 && p.GetStringWidth(word[:i]) > wide {
			break
		}
		if i > 0 {
			fits = i
		}
	}
	if fits == 0 {
		return len(string([]rune(word)[:1]))
	}
	return fits
}

// write sets one line with its top at y.
func (p *printer) write(x, y, size float64, text string) {
	const rise = 0.97 // from the top of a line to its foot, in sizes of letters
	p.Text(x, y+size*mmPerPoint*rise, text)
}

// writeRight sets one line that ends at x.
func (p *printer) writeRight(x, y, size float64, text string) {
	p.write(x-p.GetStringWidth(text), y, size, text)
}

// lines sets lines from where the page has come to, which stays there.
func (p *printer) lines(x, size float64, all []string) {
	for i, l := range all {
		p.write(x, p.y+float64(i)*line(size), size, l)
	}
}

// paragraph sets a text across the page, going on on the next where it must.
func (p *printer) paragraph(x, size float64, text string) {
	for _, l := range p.wrap(text, p.wide-margin-x) {
		p.room(line(size))
		p.write(x, p.y, size, l)
		p.y += line(size)
	}
}

func (p *printer) rule(y, width float64, gray int) {
	p.SetDrawColor(gray, gray, gray)
	p.SetLineWidth(width)
	p.Line(margin, y, p.wide-margin, y)
}

func (p *printer) head(s *Sheet) {
	p.font("", plainSize)
	p.write(margin, p.y, plainSize, p.clean(s.p.title))
	p.y += line(plainSize)
	const size = 17
	p.font("B", size)
	p.paragraph(margin, size, s.planter())
	p.y += 1.5
	p.rule(p.y, 0.4, 0)
	p.y += 2.5
}

// feet writes the foot of every page, once it is known how many there are.
func (p *printer) feet(s *Sheet) {
	pages := p.PageCount()
	for n := 1; n <= pages; n++ {
		p.SetPage(n)
		y := p.tall - footY - line(smallSize)/2
		p.font("", smallSize)
		number := fmt.Sprintf(s.p.page, n, pages)
		p.writeRight(p.wide-margin, y, smallSize, p.clean(number))
		left := p.width() - p.GetStringWidth(number) - 5
		p.write(margin, y, smallSize, p.wrap(s.running()+" · "+s.planter(), left)[0])
	}
}

func (p *printer) block(b block, rest []block) {
	switch b.Kind {
	case stamp:
		p.stamp(b)
	case heading:
		p.heading(b.Head, rest)
	case prose:
		p.font("", plainSize)
		p.paragraph(margin, plainSize, b.Text)
		p.y += 1
	case small:
		p.font("", smallSize)
		p.paragraph(margin, smallSize, b.Text)
		p.y += 1
	case facts:
		p.facts(b.Facts)
	case listing:
		p.list(b.Items)
	case table:
		p.table(b)
	case cells:
		p.cells(b.Cells)
	case picture:
		p.draw(b.Picture)
		p.y += 2
		p.font("", smallSize)
		p.paragraph(margin, smallSize, b.Text)
	case code:
		p.SetFont(mono, "", smallSize)
		p.paragraph(margin, smallSize, b.Text)
		p.y += 1
	}
}

func (p *printer) stamp(b block) {
	const size, pad = 20.0, 2.5
	p.font("B", size)
	indent := margin + pad + p.GetStringWidth(p.clean(b.Head)) + 5
	p.font("", plainSize)
	lines := p.wrap(b.Text, p.wide-margin-pad-indent)
	tall := max(line(size), float64(len(lines))*line(plainSize)) + 2*pad
	p.SetDrawColor(0, 0, 0)
	p.SetLineWidth(0.9)
	p.Rect(margin, p.y, p.width(), tall, "D")
	p.font("B", size)
	p.write(margin+pad, p.y+(tall-line(size))/2, size, p.clean(b.Head))
	p.font("", plainSize)
	y := p.y + (tall-float64(len(lines))*line(plainSize))/2
	for i, l := range lines {
		p.write(indent, y+float64(i)*line(plainSize), plainSize, l)
	}
	p.y += tall + 3
}

// heading keeps with what follows it.
func (p *printer) heading(text string, rest []block) {
	const before, after = 2.4, 1.0
	need := 10.0
	switch next := rest[0]; next.Kind {
	case picture:
		need = next.Picture.Tall/next.Picture.Wide*p.width() + 6
	case small:
		p.font("", smallSize)
		need = float64(len(p.wrap(next.Text, p.width()))) * line(smallSize)
	case table:
		need = 4 * line(tableSize)
	case prose, code: // a line, and what it leads to
		need = 20
	}
	if !p.room(before + line(headSize) + after + need) {
		p.y += before
	}
	p.font("B", headSize)
	p.paragraph(margin, headSize, text)
	p.y += after
}

// The columns of facts.
const factsApart, labelWide, factSize = 8.0, 31.0, 9.0

// facts go in two columns, down the left one first; in one where that is more than a page can hold.
func (p *printer) facts(all []fact) {
	wide := (p.width() - factsApart) / 2
	lines, total := p.factLines(all, wide)
	if p.y+(float64(total)/2+10)*line(factSize) > p.bottom() {
		p.longFacts(all)
		return
	}
	x, top, deepest, done := margin, p.y, p.y, 0
	for i, f := range all {
		if x == margin && done > 0 && 2*done+lines[i] > total {
			x, p.y = margin+wide+factsApart, top
		}
		p.fact(f, x, wide, lines[i])
		done += lines[i]
		deepest = max(deepest, p.y)
	}
	p.y = deepest
}

func (p *printer) longFacts(all []fact) {
	lines, _ := p.factLines(all, p.width())
	for i, f := range all {
		p.room(float64(lines[i]) * line(factSize))
		p.fact(f, margin, p.width(), lines[i])
	}
}

// factLines is how many lines each fact takes, and all.
func (p *printer) factLines(all []fact, wide float64) (lines []int, total int) {
	p.font("", factSize)
	for _, f := range all {
		n := max(len(p.wrap(f.Label, labelWide-2)), len(p.wrap(f.Value, wide-labelWide)))
		lines, total = append(lines, n), total+n
	}
	return lines, total
}

func (p *printer) fact(f fact, x, wide float64, lines int) {
	p.font("", factSize)
	p.SetTextColor(70, 70, 70)
	p.lines(x, factSize, p.wrap(f.Label, labelWide-2))
	p.SetTextColor(0, 0, 0)
	p.lines(x+labelWide, factSize, p.wrap(f.Value, wide-labelWide))
	p.y += float64(lines)*line(factSize) + 0.5
}

func (p *printer) list(items []string) {
	for _, item := range items {
		p.font("", plainSize)
		p.room(line(plainSize))
		p.write(margin, p.y, plainSize, "•")
		p.paragraph(margin+3.5, plainSize, item)
	}
}

// table sets a table; its head stands on every page that it comes to.
func (p *printer) table(b block) {
	if b.Head != "" {
		p.font("", plainSize)
		p.y += 1
		p.room(4 * line(plainSize))
		p.paragraph(margin, plainSize, b.Head)
	}
	var titles []string
	for _, c := range b.Table.Columns {
		titles = append(titles, c.Title)
	}
	wide := p.columns(titles, b.Table.Rows)
	head := func() {
		p.font("B", tableSize)
		p.tableRow(b.Table.Columns, wide, titles, 0.35, 0)
	}
	p.room(4 * line(tableSize))
	head()
	for _, row := range b.Table.Rows {
		p.font("", tableSize)
		if p.room(p.rowTall(wide, row)) {
			head()
			p.font("", tableSize)
		}
		p.tableRow(b.Table.Columns, wide, row, 0.1, 150)
	}
	p.y += 1
}

const rowPad = 0.3

// columns are the widths of a table's columns. They hold their longest words; then what is left makes as
// many columns as it can hold their texts, then their titles, on one line; the rest goes to all alike.
func (p *printer) columns(titles []string, rows [][]string) []float64 {
	words, texts, heads := make([]float64, len(titles)), make([]float64, len(titles)), make([]float64, len(titles))
	p.font("B", tableSize)
	for i, title := range titles {
		words[i], heads[i] = p.longestWord(title), p.GetStringWidth(p.clean(title))
	}
	p.font("", tableSize)
	for _, row := range rows {
		for i, text := range row {
			words[i], texts[i] = max(words[i], p.longestWord(text)), max(texts[i], p.GetStringWidth(p.clean(text)))
		}
	}
	wide, left := make([]float64, len(titles)), p.width()
	for _, want := range [][]float64{words, texts, heads} {
		left = widen(wide, want, left)
	}
	for i := range wide {
		wide[i] += left / float64(len(wide))
	}
	return wide
}

// widen gives columns what they lack of what they want, those that lack least first; it returns what is
// left.
func widen(wide, want []float64, left float64) float64 {
	order := make([]int, len(wide))
	for i := range order {
		order[i] = i
	}
	lacks := func(i int) float64 { return max(0, want[i]+gap-wide[i]) }
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(lacks(a), lacks(b)) })
	for n, i := range order {
		give := min(lacks(i), left/float64(len(order)-n))
		wide[i], left = wide[i]+give, left-give
	}
	return left
}

func (p *printer) longestWord(text string) float64 {
	most := 0.0
	for word := range strings.SplitSeq(p.clean(text), " ") {
		most = max(most, p.GetStringWidth(word))
	}
	return most
}

// rowTall is how tall a row is set. One that is taller than a page is cut there: no text of a job is so
// long.
func (p *printer) rowTall(wide []float64, row []string) float64 {
	most := 1
	for i, text := range row {
		most = max(most, len(p.wrap(text, wide[i]-gap)))
	}
	return float64(most)*line(tableSize) + 2*rowPad
}

func (p *printer) tableRow(columns []column, wide []float64, row []string, rule float64, gray int) {
	tall := p.rowTall(wide, row)
	x := margin
	for i, text := range row {
		for n, l := range p.wrap(text, wide[i]-gap) {
			y := p.y + rowPad + float64(n)*line(tableSize)
			if columns[i].Right {
				p.writeRight(x+wide[i]-gap, y, tableSize, l)
			} else {
				p.write(x, y, tableSize, l)
			}
		}
		x += wide[i]
	}
	p.y += tall
	p.rule(p.y, rule, gray)
}

func (p *printer) cells(all []cell) {
	const apart = 2.0
	each := int((p.width() + apart) / (cellWide + apart))
	for row := range slices.Chunk(all, each) {
		p.room(cellTall + apart)
		for i, c := range row {
			p.cell(margin+float64(i)*(cellWide+apart), c)
		}
		p.y += cellTall + apart
	}
}

func (p *printer) cell(x float64, c cell) {
	p.SetDrawColor(0, 0, 0)
	p.SetLineWidth(0.15)
	if c.Strong {
		p.SetLineWidth(0.7)
	}
	p.RoundedRect(x, p.y, cellWide, cellTall, 1, "1234", "D")
	y := p.y + 0.8
	for _, l := range []struct {
		style, text string
		size        float64
	}{{"", c.Head, 7.5}, {"B", c.Big, 12}, {"", c.Small, 6.5}} {
		p.font(l.style, l.size)
		text := p.clean(l.text)
		if wide := p.GetStringWidth(text); wide > cellWide-1 {
			p.font(l.style, l.size*(cellWide-1)/wide)
		}
		p.write(x+(cellWide-p.GetStringWidth(text))/2, y, l.size, text)
		y += line(l.size) * 0.92
	}
}

// draw sets a drawing across the page.
func (p *printer) draw(d drawing) {
	k := p.width() / d.Wide
	p.room(d.Tall * k)
	at := func(q point) fpdf.PointType { return fpdf.PointType{X: margin + q.X*k, Y: p.y + q.Y*k} }
	for _, s := range d.Shapes {
		p.shape(s, k, at)
	}
	p.SetDashPattern(nil, 0)
	p.y += d.Tall * k
}

func (p *printer) shape(s shape, k float64, at func(point) fpdf.PointType) {
	first := at(s.Points[0])
	if s.Text != "" {
		p.font("", s.Size*k/mmPerPoint)
		text := p.clean(s.Text)
		p.Text(first.X-p.GetStringWidth(text)*float64(s.Anchor)/2, first.Y, text)
		return
	}
	how := p.paint(s, k)
	switch {
	case s.Radius > 0:
		p.Circle(first.X, first.Y, s.Radius*k, how)
	case s.Closed:
		var corners []fpdf.PointType
		for _, q := range s.Points {
			corners = append(corners, at(q))
		}
		p.Polygon(corners, how)
	default:
		last := at(s.Points[len(s.Points)-1])
		p.Line(first.X, first.Y, last.X, last.Y)
	}
}

// paint takes up the pens of a shape and says how it is drawn with them.
func (p *printer) paint(s shape, k float64) string {
	gray := func(g float64) int { return int(g * 255) }
	how := ""
	if s.Fill != nil {
		g := gray(*s.Fill)
		p.SetFillColor(g, g, g)
		how += "F"
	}
	if s.Stroke > 0 {
		g := gray(s.Gray)
		p.SetDrawColor(g, g, g)
		p.SetLineWidth(s.Stroke * k)
		how += "D"
	}
	if s.Dashed {
		p.SetDashPattern([]float64{1 * k, 0.8 * k}, 0)
	} else {
		p.SetDashPattern(nil, 0)
	}
	return how
}
