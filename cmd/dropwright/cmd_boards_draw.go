package main

import (
	"fmt"
	"math"
	"strings"

	"dropwright/bundle/unit"
)

// drawing is an SVG in millimetres, one to one; y grows upwards as on the board.
type drawing struct {
	b              strings.Builder
	x0, y0, x1, y1 float64
	taken          []area // where ink is, so that names keep off it
}

// The look: a workshop drawing. Sizes are millimetres on paper; line widths follow ISO 128 (0.5 for what is
// seen, 0.25 for the rest), letters ISO 3098 (2.5 high).
const (
	thick  = 0.5
	thin   = 0.25
	letter = 2.5
)

func (d *drawing) line(x0, y0, x1, y1 float64, class string) {
	d.take(x0, y0, x1, y1)
	fmt.Fprintf(&d.b, "<line class=\"%s\" x1=\"%s\" y1=\"%s\" x2=\"%s\" y2=\"%s\"/>\n", class, num(x0), num(-y0), num(x1), num(-y1))
}

func (d *drawing) rect(x0, y0, x1, y1 float64, class string) {
	x0, x1 = min(x0, x1), max(x0, x1)
	y0, y1 = min(y0, y1), max(y0, y1)
	if class == "body" {
		d.take(x0, y0, x1, y1)
	} else {
		d.take(x0, y0, x1, y0)
		d.take(x0, y1, x1, y1)
		d.take(x0, y0, x0, y1)
		d.take(x1, y0, x1, y1)
	}
	fmt.Fprintf(&d.b, "<rect class=\"%s\" x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\"/>\n", class, num(x0), num(-y1), num(x1-x0), num(y1-y0))
}

func (d *drawing) circle(x, y, r float64, class string) {
	d.take(x-r, y-r, x+r, y+r)
	fmt.Fprintf(&d.b, "<circle class=\"%s\" cx=\"%s\" cy=\"%s\" r=\"%s\"/>\n", class, num(x), num(-y), num(r))
}

// text puts words at a place; anchor is start, middle or end; turned reads from below.
func (d *drawing) text(x, y float64, anchor string, turned bool, words string) {
	if words == "" {
		return
	}
	d.taken = append(d.taken, stand{x, y, anchor, turned}.area(words))
	turn := ""
	if turned {
		turn = fmt.Sprintf(" transform=\"rotate(-90 %s %s)\"", num(x), num(-y))
	}
	fmt.Fprintf(&d.b, "<text x=\"%s\" y=\"%s\" text-anchor=\"%s\"%s>%s</text>\n", num(x), num(-y), anchor, turn, escaped(words))
}

// across dimensions a length along x, below the things it measures. Words that are longer than it stand before it.
func (d *drawing) across(x0, x1, from, y float64, words string) {
	d.line(x0, from, x0, y-1, "thin")
	d.line(x1, from, x1, y-1, "thin")
	d.line(x0, y, x1, y, "arrow")
	if wordsWidth(words)+1 > x1-x0 {
		d.text(x0-1.2, y-letter*0.35, "end", false, words)
		return
	}
	d.text((x0+x1)/2, y+0.8, "middle", false, words)
}

// upright dimensions a length along y, left of the things it measures. Words that are longer than it stand below it.
func (d *drawing) upright(y0, y1, from, x float64, words string) {
	d.line(from, y0, x-1, y0, "thin")
	d.line(from, y1, x-1, y1, "thin")
	d.line(x, y0, x, y1, "arrow")
	if wordsWidth(words)+1 > y1-y0 {
		d.text(x+letter*0.35, y0-1.2, "end", true, words)
		return
	}
	d.text(x-0.8, (y0+y1)/2, "middle", true, words)
}

func num(v float64) string {
	v = math.Round(v*1000)/1000 + 0 // no negative zero
	return unit.Number(v)
}

func escaped(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(s)
}

// done wraps the drawing up.
func (d *drawing) done(title, words string) string {
	var b strings.Builder
	w, h := d.x1-d.x0, d.y1-d.y0
	fmt.Fprintf(&b, "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%smm\" height=\"%smm\" viewBox=\"%s %s %s %s\" role=\"img\" aria-labelledby=\"t d\">\n", num(w), num(h), num(d.x0), num(-d.y1), num(w), num(h))
	fmt.Fprintf(&b, "<title id=\"t\">%s</title>\n<desc id=\"d\">%s</desc>\n", escaped(title), escaped(words))
	fmt.Fprintf(&b, `<style>
line, rect, circle, path { fill: none; stroke: #000; stroke-width: %s }
.thick { stroke-width: %s } .dash { stroke-dasharray: 1.5 1 } .thin, .arrow { stroke: #555 }
.arrow { marker-start: url(#a); marker-end: url(#a) }
.body { fill: #eee } .plug { stroke-dasharray: 3 1 0.5 1 }
text { font: %spx sans-serif; fill: #000; font-variant-numeric: tabular-nums }
</style>
<defs><marker id="a" viewBox="0 0 6 4" refX="6" refY="2" markerWidth="8" markerHeight="8" orient="auto-start-reverse"><path d="M0 0.5 6 2 0 3.5z" style="fill:#555;stroke:none"/></marker></defs>
<rect x="%s" y="%s" width="%s" height="%s" style="fill:#fff;stroke:none"/>
`, num(thin), num(thick), num(letter), num(d.x0), num(-d.y1), num(w), num(h))
	b.WriteString(d.b.String())
	b.WriteString("</svg>\n")
	return b.String()
}

// drawMeasures draws what is measured with a caliper, and with which letter the command takes it.
func drawMeasures() string {
	d := &drawing{}
	const l, w = 80.0, 50.0
	d.rect(0, 0, l, w, "thick")
	d.circle(8, 8, 1.6, "thick")
	for _, c := range [][2]float64{{72, 8}, {8, 42}, {72, 42}} {
		d.circle(c[0], c[1], 1.6, "thin")
	}
	d.rect(30, -1, 44, 8, "body")
	d.text(37, 3, "middle", false, "usb")
	d.across(0, l, -2, -28, "A  --length")
	d.upright(0, w, -2, -28, "B  --width")
	d.across(0, 6.4, 7, -8, "LEFT")
	d.upright(0, 6.4, 7, -8, "FRONT")
	d.line(14, 20, 9.2, 9.2, "arrow")
	d.text(15, 20, "start", false, "--hole D,LEFT,FRONT")
	d.text(15, 16.5, "start", false, "D: across the hole; LEFT, FRONT:")
	d.text(15, 13, "start", false, "from the edge to the near rim")
	d.across(0, 30, -2, -15, "NEAR")
	d.across(0, 44, -2, -21, "FAR")
	d.line(44, -1, l+14, -1, "thin")
	d.line(l+1, 0, l+14, 0, "thin")
	d.text(l+15, -1.4, "start", false, "OUT: how far it stands beyond the edge")
	d.text(l+15, 4, "start", false, "--port usb,CONNECTOR,front,NEAR,FAR,OUT")
	d.text(0, w+3, "start", false, "Component side up. The front edge is the one towards you; left is left.")
	// The side view.
	const y = 70.0
	d.rect(0, y, l, y+1.6, "thick")
	d.rect(30, y+1.6, 44, y+8, "body")
	d.rect(55, y-2, 62, y, "body")
	d.upright(y, y+1.6, -2, -10, "")
	d.text(-12, y+0.2, "end", false, "C  --thickness")
	d.upright(y+1.6, y+8, 30, 24, "")
	d.text(22.5, y+4.4, "end", false, "--top: the tallest part over the board")
	d.line(62, y-2, 68, y-2, "thin")
	d.text(69, y-3, "start", false, "--bottom: the longest joint or part under it")
	d.x0, d.y0, d.x1, d.y1 = -46, -34, l+72, y+14
	return d.done("What to measure on a board", "A board from above and from the side. Length and width over all; for each hole its diameter and the way from the left and front edge to its near rim; for each connector its near and far side along the edge and how far it stands out; thickness; the tallest parts over and under the board.")
}
