package main

import (
	"math"
	"unicode/utf8"
)

// area is an upright rectangle on a drawing, mm.
type area struct{ x0, y0, x1, y1 float64 }

// shared is how much of two areas is common, mm².
func (a area) shared(b area) float64 {
	w, h := math.Min(a.x1, b.x1)-math.Max(a.x0, b.x0), math.Min(a.y1, b.y1)-math.Max(a.y0, b.y0)
	if w <= 0 || h <= 0 {
		return 0
	}
	return w * h
}

// take notes ink. Half a line's width is added all round, so that lines have an area.
func (d *drawing) take(x0, y0, x1, y1 float64) {
	d.taken = append(d.taken, area{min(x0, x1) - thick/2, min(y0, y1) - thick/2, max(x0, x1) + thick/2, max(y0, y1) + thick/2})
}

// Measures of letters relative to their size, for sans-serif fonts that are not known here: wide rather than narrow.
const (
	letterWide = 0.6
	letterUp   = 0.78
	letterDown = 0.24
)

func wordsWidth(words string) float64 {
	return float64(utf8.RuneCountInString(words)) * letter * letterWide
}

// stand is where words may stand: their base line begins, has its middle or ends there. Turned words are read from
// the right.
type stand struct {
	x, y   float64
	anchor string
	turned bool
}

// area is what words cover.
func (p stand) area(words string) area {
	w := wordsWidth(words)
	from := map[string]float64{"start": 0, "middle": -w / 2, "end": -w}[p.anchor]
	if p.turned {
		return area{p.x - letter*letterUp, p.y + from, p.x + letter*letterDown, p.y + from + w}
	}
	return area{p.x + from, p.y - letter*letterDown, p.x + from + w, p.y + letter*letterUp}
}

// label puts words at the first place where they touch nothing, or where they touch least.
func (d *drawing) label(words string, places []stand) {
	best, least := -1, math.Inf(1)
	for i, p := range places {
		a, n := p.area(words), 0.0
		for _, t := range d.taken {
			n += a.shared(t)
		}
		if n < least {
			best, least = i, n
		}
		if n == 0 {
			break
		}
	}
	if best >= 0 {
		p := places[best]
		d.text(p.x, p.y, p.anchor, p.turned, words)
	}
}

// around are the places round an area, the nearest first; inside first when they fit. inward is where the middle of
// the drawing lies, for things at its rim: -1 left, +1 right.
func around(a area, words string, inward float64) []stand {
	mx, my := (a.x0+a.x1)/2, (a.y0+a.y1)/2-letter*0.35
	var out []stand
	w := wordsWidth(words)
	if w+1 < a.x1-a.x0 && letter+1 < a.y1-a.y0 {
		out = append(out, stand{mx, my, "middle", false})
	}
	if w+1 < a.y1-a.y0 && letter+1 < a.x1-a.x0 {
		out = append(out, stand{mx + letter*0.35, (a.y0 + a.y1) / 2, "middle", true})
	}
	for _, gap := range []float64{0.9, 2, 3.5, 5, 7} {
		right, left := stand{a.x1 + gap, my, "start", false}, stand{a.x0 - gap, my, "end", false}
		if inward < 0 {
			right, left = left, right
		}
		over, under := a.y1+gap+letter*letterDown, a.y0-gap-letter*letterUp
		out = append(out, right, stand{mx, over, "middle", false}, stand{mx, under, "middle", false}, left)
		for _, p := range []stand{right, left} {
			out = append(out, stand{p.x, over, p.anchor, false}, stand{p.x, under, p.anchor, false})
		}
	}
	return out
}

// spread moves positions in ascending order apart so that neighbours keep a distance, each as near as may be to
// where it was.
func spread(at []float64, apart float64) []float64 {
	out := append([]float64(nil), at...)
	for range len(out) * 4 { // each round halves what is left of an overlap; four for each name are plenty
		moved := false
		for i := 1; i < len(out); i++ {
			if lack := apart - (out[i] - out[i-1]); lack > 1e-6 {
				out[i-1] -= lack / 2
				out[i] += lack / 2
				moved = true
			}
		}
		if !moved {
			break
		}
	}
	for i := 1; i < len(out); i++ {
		out[i] = math.Max(out[i], out[i-1]+apart)
	}
	return out
}
