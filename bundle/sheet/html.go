package sheet

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"html"
	"html/template"
	"io"
	"strconv"
	"strings"
	"sync"

	"dropwright/templates"
)

// Images hands out a picture by its path: its bytes and their media type, image/jpeg or image/png. It is asked
// once for each place where a picture stands.
type Images func(path string) (data []byte, mime string, err error)

var page = sync.OnceValues(func() (*template.Template, error) {
	nothing := template.FuncMap{ // named for the parser; each print puts its own in place
		"say": func(string, ...any) string { return "" }, "image": func(string) template.URL { return "" }, "css": func() template.CSS { return "" },
		"words": func(b []Block) []Block { return split(b, false) }, "figures": func(b []Block) []Block { return split(b, true) },
		"svg": svgOf, "code": codeSVG, "span": spanOf, "heading": headingOf,
	}
	return template.New("").Funcs(nothing).ParseFS(templates.FS, "sheet/*.html")
})

// HTML prints the sheet as one self-contained page: its style is inside, pictures are data: addresses, there is
// no script, and the page's own policy forbids the browser to fetch anything. An error is the writer's, or a
// picture's that could not be had.
func (s *Sheet) HTML(w io.Writer, image Images) error { return s.render(w, "sheet", s, image) }

// fragment prints blocks without a page around them; they have no pictures.
func (s *Sheet) fragment(w io.Writer, blocks []Block) error {
	return s.render(w, "blocks", blocks, func(string) ([]byte, string, error) { return nil, "", errors.New("no pictures here") })
}

func (s *Sheet) render(w io.Writer, name string, data any, image Images) error {
	base, err := page()
	if err != nil {
		return fmt.Errorf("reading the sheet's template: %w", err)
	}
	t, err := base.Clone()
	if err != nil {
		return fmt.Errorf("reading the sheet's template: %w", err)
	}
	css, err := templates.FS.ReadFile("sheet/sheet.css")
	if err != nil {
		return fmt.Errorf("reading the sheet's style: %w", err)
	}
	t.Funcs(template.FuncMap{
		"say": tongueOf(s.Language).say,
		"css": func() template.CSS { return template.CSS(css) },
		"image": func(path string) (template.URL, error) {
			data, mime, err := image(path)
			if err != nil {
				return "", fmt.Errorf("picture %q: %w", path, err)
			}
			if mime != "image/jpeg" && mime != "image/png" {
				return "", fmt.Errorf("picture %q: expected image/jpeg or image/png, found %q", path, mime)
			}
			return template.URL("data:" + mime + ";base64," + base64.StdEncoding.EncodeToString(data)), nil
		},
	})
	var b bytes.Buffer // so that nothing is written when a picture fails
	if err := t.ExecuteTemplate(&b, name, data); err != nil {
		return fmt.Errorf("printing the sheet of %s as HTML: %w", s.Design, err)
	}
	_, err = w.Write(b.Bytes())
	return err
}

// split gives the pictures of a step, or everything else: they stand beside one another where there is room.
func split(blocks []Block, pictures bool) []Block {
	var out []Block
	for _, b := range blocks {
		if (b.Kind == Pictures) == pictures {
			out = append(out, b)
		}
	}
	return out
}

// spanOf prints a run of text. Every text and address is escaped here, the one place where markup is put
// together by hand; addresses went through SafeLink or the manifest's own check before.
func spanOf(s Span) template.HTML {
	if s.Break {
		return template.HTML(html.EscapeString(s.Text) + "<br>")
	}
	out := html.EscapeString(s.Text)
	if s.Code {
		out = "<code>" + out + "</code>"
	}
	if s.Em {
		out = "<em>" + out + "</em>"
	}
	if s.Strong {
		out = "<strong>" + out + "</strong>"
	}
	if href := SafeLink(s.Href); href != "" {
		out = `<a href="` + html.EscapeString(href) + `">` + out + "</a>"
	}
	if s.Swatch != "" {
		out = swatch(s.Swatch) + out
	}
	return template.HTML(out)
}

// swatch is a small square of colour. It is drawn, not a background, so that browsers print it; the name that
// follows says the colour, so it is hidden from who cannot see it.
func swatch(hex string) string {
	return `<svg class="swatch" viewBox="0 0 12 12" aria-hidden="true" focusable="false"><rect x="1" y="1" width="10" height="10" fill="` + colourOf(hex) + `"/></svg>`
}

// colourOf lets only #rrggbb through.
func colourOf(hex string) string {
	if len(hex) == 7 && hex[0] == '#' && strings.Trim(hex[1:], "0123456789abcdefABCDEF") == "" {
		return hex
	}
	return "#808080"
}

func headingOf(b Block) template.HTML {
	level := min(6, max(2, b.Level))
	var out strings.Builder
	fmt.Fprintf(&out, "<h%d>", level)
	for _, s := range b.Spans {
		out.WriteString(string(spanOf(s)))
	}
	fmt.Fprintf(&out, "</h%d>", level)
	return template.HTML(out.String())
}

// svgOf prints a drawing with one unit a millimetre; its size is in mm, so that paper shows it true.
func svgOf(d *Drawing) template.HTML {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg role="img" aria-label="%s" width="%smm" height="%smm" viewBox="0 0 %s %s" fill="none" stroke-linejoin="round">`,
		html.EscapeString(d.Title), n3(d.Width), n3(d.Height), n3(d.Width), n3(d.Height))
	for _, s := range d.Shapes {
		svgShape(&b, s)
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

func svgShape(b *strings.Builder, s Shape) {
	colour := "currentColor"
	if s.Colour != "" {
		colour = colourOf(s.Colour)
	}
	if len(s.Points) == 0 {
		return
	}
	if s.Text != "" {
		fmt.Fprintf(b, `<text x="%s" y="%s" font-size="%s" fill="%s"`, n3(s.Points[0].X), n3(s.Points[0].Y), n3(s.Size), colour)
		if s.Anchor != "" && s.Anchor != "start" {
			fmt.Fprintf(b, ` text-anchor="%s"`, html.EscapeString(s.Anchor))
		}
		if s.Bold {
			b.WriteString(` font-weight="600"`)
		}
		fmt.Fprintf(b, ">%s</text>", html.EscapeString(s.Text))
		return
	}
	fill := ""
	switch s.Fill {
	case "":
	case "ink":
		fill = ` fill="currentColor"`
	case "paper":
		fill = ` fill="var(--paper)"`
	default:
		fill = ` fill="` + colourOf(s.Fill) + `"`
	}
	dash := ""
	if s.Dash {
		dash = ` stroke-dasharray="3 0.8 0.6 0.8"`
	}
	stroke := fmt.Sprintf(` stroke="%s" stroke-width="%s"`, colour, n3(s.Stroke))
	if s.Radius > 0 {
		fmt.Fprintf(b, `<circle cx="%s" cy="%s" r="%s"%s%s%s/>`, n3(s.Points[0].X), n3(s.Points[0].Y), n3(s.Radius), stroke, fill, dash)
		return
	}
	name := "polyline"
	if s.Closed {
		name = "polygon"
	}
	fmt.Fprintf(b, `<%s points="`, name)
	for i, p := range s.Points {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(n3(p.X) + "," + n3(p.Y))
	}
	fmt.Fprintf(b, `"%s%s%s/>`, stroke, fill, dash)
}

// n3 writes a number to a thousandth without trailing zeros.
func n3(x float64) string {
	return strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(x, 'f', 3, 64), "0"), ".")
}
