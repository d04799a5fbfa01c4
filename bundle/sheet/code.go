package sheet

import (
	"fmt"
	"html"
	"html/template"
	"strings"

	"rsc.io/qr"
)

// quiet is the empty margin that a reader needs around a square code, in modules: ISO/IEC 18004:2015, 6.3.8, from
// memory.
const quiet = 4

// codeSide is how wide the code is on paper with its margin, mm. An address of 50 signs makes 29 modules and the
// margin 37: modules of 0.6 mm, which any phone reads at arm's length.
const codeSide = 22.0

// maxCode is the longest address that is made into a code: beyond it the modules get too small for codeSide.
const maxCode = 150

// squareCode is a QR code of an address at level M, as rows of # and blanks without the quiet zone; nil for none.
func squareCode(address string) []string {
	if address == "" || len(address) > maxCode {
		return nil
	}
	c, err := qr.Encode(address, qr.M)
	if err != nil {
		return nil
	}
	out := make([]string, c.Size)
	for y := range out {
		var b strings.Builder
		for x := range c.Size {
			if c.Black(x, y) {
				b.WriteByte('#')
			} else {
				b.WriteByte(' ')
			}
		}
		out[y] = b.String()
	}
	return out
}

// eachRun calls f for every run of dark modules: its column, row and length.
func eachRun(code []string, f func(x, y, n int)) {
	for y, row := range code {
		for x := 0; x < len(row); {
			n := 0
			for x+n < len(row) && row[x+n] == '#' {
				n++
			}
			if n > 0 {
				f(x, y, n)
			}
			x += max(n, 1)
		}
	}
}

// codeSVG prints the code on white, whatever the page's colours: readers want it dark on light.
func codeSVG(code []string, title string) template.HTML {
	side := len(code) + 2*quiet
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="code" role="img" aria-label="%s" width="%smm" height="%smm" viewBox="0 0 %d %d" shape-rendering="crispEdges"><path fill="#fff" d="M0 0h%dv%dH0z"/><path fill="#000" d="`,
		html.EscapeString(title), n3(codeSide), n3(codeSide), side, side, side, side)
	eachRun(code, func(x, y, n int) { fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", x+quiet, y+quiet, n, n) })
	b.WriteString(`"/></svg>`)
	return template.HTML(b.String())
}

// drawCode paints the code as rectangles with its upper right corner at x, y, its quiet zone outside the text's edge.
func (p *pdfPrinter) drawCode(x, y float64) {
	m := codeSide / float64(len(p.s.Code)+2*quiet)
	x -= float64(len(p.s.Code)) * m
	p.f.SetFillColor(0, 0, 0)
	eachRun(p.s.Code, func(cx, cy, n int) {
		p.f.Rect(x+float64(cx)*m, y+float64(cy)*m, float64(n)*m, m, "F")
	})
	p.f.LinkString(x, y, float64(len(p.s.Code))*m, float64(len(p.s.Code))*m, p.s.Page)
}
