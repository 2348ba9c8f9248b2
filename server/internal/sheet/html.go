package sheet

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strconv"
	"strings"
)

//go:embed sheet.html
var pageText string

//go:embed sheet.css
var style string

// Policy is the Content-Security-Policy that lets the page use its one style and nothing else. The page
// says it of itself too, for whoever keeps it as a file; a server that sends a stricter one takes the
// page's style away.
func Policy() string {
	return ownPolicy() + "; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
}

// ownPolicy is as much of Policy as a page may say of itself.
func ownPolicy() string {
	sum := sha256.Sum256([]byte(style))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}

// HTML writes the sheet as one page that needs nothing else.
func (s *Sheet) HTML(w io.Writer) error {
	t, err := template.New("sheet").Funcs(template.FuncMap{"svg": svg}).Parse(pageText)
	if err != nil {
		return fmt.Errorf("reading the sheet's page: %w", err)
	}
	err = t.Execute(w, struct {
		Tag, Planter, Running, Policy string
		CSS                           template.CSS
		Blocks                        []block
	}{s.voice.Language.Tag(), s.planter(), s.running(), ownPolicy(), template.CSS(style), s.page()})
	if err != nil {
		return fmt.Errorf("writing the sheet's page: %w", err)
	}
	return nil
}

// svg draws a drawing. Whatever text is in it is escaped here.
func svg(d drawing, label string) template.HTML {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %s %s" role="img" aria-label="%s" font-family="sans-serif">`, num(d.Wide), num(d.Tall), template.HTMLEscapeString(label))
	for _, s := range d.Shapes {
		b.WriteString("\n")
		switch p := s.Points[0]; {
		case s.Text != "":
			fmt.Fprintf(&b, `<text x="%s" y="%s" font-size="%s" text-anchor="%s">%s</text>`, num(p.X), num(p.Y), num(s.Size),
				[...]string{"start", "middle", "end"}[s.Anchor], template.HTMLEscapeString(s.Text))
		case s.Radius > 0:
			fmt.Fprintf(&b, `<circle cx="%s" cy="%s" r="%s"%s/>`, num(p.X), num(p.Y), num(s.Radius), paint(s))
		default:
			fmt.Fprintf(&b, `<path d="%s"%s/>`, path(s), paint(s))
		}
	}
	b.WriteString("\n</svg>")
	return template.HTML(b.String())
}

func path(s shape) string {
	var b strings.Builder
	for i, p := range s.Points {
		b.WriteString([...]string{"M", "L"}[min(i, 1)] + num(p.X) + " " + num(p.Y))
	}
	if s.Closed {
		b.WriteString("z")
	}
	return b.String()
}

func paint(s shape) string {
	out := ` fill="none"`
	if s.Fill != nil {
		out = ` fill="` + hex(*s.Fill) + `"`
	}
	if s.Stroke > 0 {
		out += ` stroke="` + hex(s.Gray) + `" stroke-width="` + num(s.Stroke) + `"`
	}
	if s.Dashed {
		out += ` stroke-dasharray="1 0.8"`
	}
	return out
}

func hex(gray float64) string { return fmt.Sprintf("#%[1]x%[1]x%[1]x", int(gray*15)) }

func num(x float64) string {
	text := strconv.FormatFloat(x, 'f', 2, 64)
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}
