package site

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"strconv"
	"strings"
)

// Chart is a drawing of figures with the same figures as a table: who cannot see the drawing reads the table.
// A drawing uses the classes of the page's style, so that it follows light, dark and paper.
type Chart struct {
	ID      string // unique on the page
	Title   string
	Says    string // what there is to be seen, in a sentence
	Drawing template.HTML
	Key     []KeyEntry
	Head    []string   // a title that begins with a tab is over figures
	Rows    [][]string // the first cell names the row
}

// KeyEntry explains one mark of a drawing.
type KeyEntry struct {
	Mark template.HTML
	Text string
}

// Bar is one figure against a limit.
type Bar struct {
	Label string
	Long  string // the label in the table and for readers; "" is Label
	Value float64
	Limit float64 // drawn as a stroke across; 0: none
	Over  float64 // how much of the value is too much: lined
	None  bool    // the figure is not known
	Mark  bool    // the one that is now
}

// over is the part of a bar that is lined.
func (b Bar) over() float64 { return min(max(0, b.Over), b.Value) }

// svg is a drawing in the making; sizes are in pixels of a screen of ordinary fineness.
type svg struct {
	b    strings.Builder
	w, h float64
}

func n(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100+0, 'f', -1, 64) }

func (s *svg) rect(x, y, w, h float64, class string) {
	if w > 0 && h > 0 {
		fmt.Fprintf(&s.b, `<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, n(x), n(y), n(w), n(h))
	}
}

func (s *svg) line(x0, y0, x1, y1 float64, class string) {
	fmt.Fprintf(&s.b, `<line class="%s" x1="%s" y1="%s" x2="%s" y2="%s"/>`, class, n(x0), n(y0), n(x1), n(y1))
}

// text puts words at a place; anchor is start, middle or end.
func (s *svg) text(x, y float64, anchor, class, words string) {
	if class != "" {
		class = ` class="` + class + `"`
	}
	fmt.Fprintf(&s.b, `<text%s x="%s" y="%s" text-anchor="%s">%s</text>`, class, n(x), n(y), anchor, html.EscapeString(words))
}

// done wraps the drawing up with what it says for who cannot see it (WAI-ARIA 1.2, role img with a name).
func (s *svg) done(id, title, says string) template.HTML {
	id = html.EscapeString(id)
	return template.HTML(fmt.Sprintf(`<svg class="drawing" role="img" aria-labelledby="%s-t %s-d" width="%s" height="%s" viewBox="0 0 %s %s"><title id="%s-t">%s</title><desc id="%s-d">%s</desc>%s%s</svg>`,
		id, id, n(s.w), n(s.h), n(s.w), n(s.h), id, html.EscapeString(title), id, html.EscapeString(says), hatch(id), s.b.String()))
}

// hatch is the section lining of a workshop drawing (ISO 128-3: 45 degrees): what is too much or amiss, without a colour.
func hatch(id string) string {
	return `<defs><pattern id="` + id + `-h" patternUnits="userSpaceOnUse" width="5" height="5" patternTransform="rotate(45)"><line class="hatch" x1="0" y1="0" x2="0" y2="5"/></pattern></defs>`
}

// Sample draws one kind of mark for the key of a chart: bar, limit or over. id is the chart's.
func Sample(id, kind string) template.HTML {
	s, lined := &svg{w: 26, h: 16}, ""
	switch kind {
	case "over":
		lined = hatch(html.EscapeString(id) + "-key")
		s.hatched(id+"-key", 3, 2, 20, 12)
	case "limit":
		s.line(3, 8, 23, 8, "limit")
	default:
		s.rect(3, 2, 20, 12, "bar")
	}
	return template.HTML(fmt.Sprintf(`<svg class="drawing mark" width="26" height="16" viewBox="0 0 26 16" aria-hidden="true" focusable="false">%s%s</svg>`, lined, s.b.String()))
}

// hatched draws an area with section lining and an outline.
func (s *svg) hatched(id string, x, y, w, h float64) {
	if w > 0 && h > 0 {
		fmt.Fprintf(&s.b, `<rect class="over" fill="url(#%s-h)" x="%s" y="%s" width="%s" height="%s"/>`, html.EscapeString(id), n(x), n(y), n(w), n(h))
	}
}

// steps are round figures from 0 to at least top, at most five of them.
func steps(top float64) []float64 {
	if !(top > 0) || math.IsInf(top, 0) {
		return []float64{0, 1}
	}
	size := math.Pow(10, math.Floor(math.Log10(top)))
	for _, k := range []float64{0.2, 0.25, 0.5, 1, 2, 2.5, 5, 10} {
		if d := size * k; top/d <= 4.000001 && (k != 0.25 && k != 2.5 || d >= 10) {
			var out []float64
			for i := 0; ; i++ {
				out = append(out, float64(i)*d)
				if out[i] >= top-d*1e-9 {
					return out
				}
			}
		}
	}
	return []float64{0, top}
}

// Columns draws upright bars, one for each label, with a short line across at its limit. What is too much is lined. top fixes the height of the scale; 0 lets the figures decide.
func Columns(id, title, says, unit string, top float64, bars []Bar) template.HTML {
	const left, under, over, high = 46.0, 34.0, 22.0, 150.0
	pitch := 34.0
	if len(bars) > 26 {
		pitch = 22
	}
	for _, b := range bars {
		top = max(top, b.Value, b.Limit)
	}
	scale := steps(top)
	top = scale[len(scale)-1]
	s := &svg{w: left + pitch*float64(len(bars)) + 12, h: over + high + under}
	at := func(v float64) float64 { return over + high - v/top*high }
	s.text(left-8, over-9, "end", "small", unit)
	for _, v := range scale {
		s.line(left, at(v), s.w-12, at(v), "grid")
		s.text(left-8, at(v)+4, "end", "small", figure(v))
	}
	for i, b := range bars {
		x := left + pitch*float64(i)
		w := pitch * 0.56
		bx := x + (pitch-w)/2
		if b.None {
			s.text(x+pitch/2, at(0)-4, "middle", "small", "?")
		} else {
			fits := b.Value - b.over()
			s.rect(bx, at(fits), w, at(0)-at(fits), "bar")
			s.hatched(id, bx, at(b.Value), w, at(fits)-at(b.Value))
		}
		if b.Limit > 0 {
			s.line(x+pitch*0.1, at(b.Limit), x+pitch*0.9, at(b.Limit), "limit")
		}
		class := "small"
		if b.Mark {
			class = "now"
			s.line(bx, over+high+20, bx+w, over+high+20, "limit")
		}
		s.text(x+pitch/2, over+high+15, "middle", class, b.Label)
	}
	s.line(left, at(0), s.w-12, at(0), "axis")
	return s.done(id, title, says)
}

// Levels draws lying bars, one for each label, with a stroke at its limit; words are printed at the end of each.
func Levels(id, title, says string, bars []Bar, words func(Bar) string) template.HTML {
	const left, row, wide, right = 120.0, 30.0, 320.0, 170.0
	top := 0.0
	for _, b := range bars {
		top = max(top, b.Value, b.Limit)
	}
	if !(top > 0) {
		top = 1
	}
	s := &svg{w: left + wide + right, h: row*float64(len(bars)) + 8}
	at := func(v float64) float64 { return left + v/top*wide }
	for i, b := range bars {
		y := 6 + row*float64(i)
		s.text(left-10, y+15, "end", "", b.Label)
		fits := b.Value - b.over()
		s.rect(left, y+4, at(fits)-left, row-14, "bar")
		s.hatched(id, at(fits), y+4, at(b.Value)-at(fits), row-14)
		s.line(at(b.Limit), y, at(b.Limit), y+row-6, "limit")
		s.text(max(at(b.Value), at(b.Limit))+8, y+15, "start", "small", words(b))
	}
	s.line(left, 2, left, s.h-4, "axis")
	return s.done(id, title, says)
}

// figure prints a number of a scale without needless zeros.
func figure(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
