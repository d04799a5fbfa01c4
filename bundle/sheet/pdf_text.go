package sheet

import (
	"strings"
	"unicode/utf8"
)

// run is a stretch of one style on a line.
type run struct {
	Span
	x, width float64
}

// textLine is one line of set text.
type textLine struct {
	runs  []run
	width float64
}

// word is what a line is filled with: it is never broken unless it is wider than the line.
type word struct {
	span  Span
	text  string
	width float64
	space float64 // before it
	brk   bool    // a line break after it
}

// font puts the font of a span in place.
func (p *pdfPrinter) font(s Span, size float64, bold bool) {
	family, style := "sans", ""
	switch {
	case s.Code:
		family = "mono"
	case s.Strong || bold:
		style = "B"
	case s.Em:
		style = "I"
	}
	p.f.SetFont(family, style, size)
}

// setLines breaks spans into lines of a width. Sizes in pt, widths in mm.
func (p *pdfPrinter) setLines(spans []Span, size, width float64, bold bool) []textLine {
	var lines []textLine
	line := textLine{}
	put := func(w word) {
		x := line.width
		if len(line.runs) > 0 {
			x += w.space
		}
		last := len(line.runs) - 1
		if last >= 0 && w.span.Swatch == "" && same(line.runs[last].Span, w.span) {
			gap := " "
			if w.space == 0 {
				gap = ""
			}
			line.runs[last].Text += gap + w.text
			line.runs[last].width = x + w.width - line.runs[last].x
		} else {
			r := run{Span: w.span, x: x, width: w.width}
			r.Text = w.text
			line.runs = append(line.runs, r)
		}
		line.width = x + w.width
	}
	flush := func() { lines, line = append(lines, line), textLine{} }
	for _, w := range p.words(spans, size, bold) {
		if len(line.runs) > 0 && line.width+w.space+w.width > width+0.01 {
			flush()
		}
		for w.width > width && utf8.RuneCountInString(w.text) > 1 { // wider than a whole line
			head, rest := p.cut(w, size, width, bold)
			put(head)
			flush()
			w = rest
		}
		put(w)
		if w.brk {
			flush()
		}
	}
	if len(line.runs) > 0 || len(lines) == 0 {
		flush()
	}
	return lines
}

func same(a, b Span) bool {
	return a.Strong == b.Strong && a.Em == b.Em && a.Code == b.Code && a.Href == b.Href
}

// words splits spans at blanks, keeping whether a blank stood between two spans.
func (p *pdfPrinter) words(spans []Span, size float64, bold bool) []word {
	var out []word
	blank := false
	for _, s := range spans {
		p.font(s, size, bold)
		space := p.f.GetStringWidth(" ")
		text := fit(s.Text)
		swatch := s.Swatch
		for i, t := range strings.Split(text, " ") {
			if i > 0 {
				blank = true
			}
			if t == "" {
				continue
			}
			w := word{span: s, text: t, width: p.f.GetStringWidth(t)}
			w.span.Text, w.span.Swatch = "", swatch
			if swatch != "" {
				w.width += size*pt + 0.6
				swatch = ""
			}
			if blank {
				w.space = space
			}
			blank = false
			out = append(out, w)
		}
		if s.Break && len(out) > 0 {
			out[len(out)-1].brk = true
			blank = false
		}
	}
	return out
}

// cut splits a word so that its head fills a width.
func (p *pdfPrinter) cut(w word, size, width float64, bold bool) (head, rest word) {
	p.font(w.span, size, bold)
	n, total := 0, 0.0
	if w.span.Swatch != "" {
		total = size*pt + 0.6
	}
	for i, r := range w.text {
		x := p.f.GetStringWidth(string(r))
		if total+x > width && i > 0 {
			break
		}
		total += x
		n = i + utf8.RuneLen(r)
	}
	head, rest = w, w
	head.text, head.width, head.brk = w.text[:n], total, false
	rest.text, rest.space = w.text[n:], 0
	rest.span.Swatch = ""
	rest.width = p.f.GetStringWidth(rest.text)
	return head, rest
}

// drawLine paints a line with its base at y.
func (p *pdfPrinter) drawLine(l textLine, x, y, size float64, bold bool, ink int) {
	for _, r := range l.runs {
		p.font(r.Span, size, bold)
		p.f.SetTextColor(grey(ink))
		at := x + r.x
		if r.Swatch != "" {
			side := size * pt * 0.8
			p.f.SetFillColor(rgb(r.Swatch))
			p.f.SetDrawColor(grey(0x15))
			p.f.SetLineWidth(0.2)
			p.f.Rect(at+0.1, y-side+0.2, side, side, "FD")
			at += size*pt + 0.6
		}
		p.f.Text(at, y, r.Text)
		if h := SafeLink(r.Href); strings.HasPrefix(h, "http") {
			p.f.LinkString(at, y-size*pt, r.width, size*pt*1.3, h)
			p.f.SetDrawColor(grey(0x80))
			p.f.SetLineWidth(0.15)
			p.f.Line(at, y+0.5, x+r.x+r.width, y+0.5)
		}
	}
}

// leading is the height of a line of a size, mm.
func leading(size float64) float64 { return size * pt * 1.42 }

// base is how far below its top a line's base stands.
func base(size float64) float64 { return size * pt * 1.08 }

// para sets spans as strips of one line each, indented, no line of a paragraph alone on a page.
func (p *pdfPrinter) para(spans []Span, size, width, indent, gap float64, bold bool, ink int) []strip {
	var out []strip
	lines := p.setLines(spans, size, width-indent, bold)
	for i, l := range lines {
		x := strip{height: leading(size), draw: func(x, y float64) { p.drawLine(l, x+indent, y+base(size), size, bold, ink) }}
		if i == 0 {
			x.gap = gap
		}
		// Widows and orphans: the first two lines and the last two stay together.
		x.keepNext = i == 0 && len(lines) > 1 || i == len(lines)-2
		out = append(out, x)
	}
	return out
}
