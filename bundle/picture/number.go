package picture

import (
	"image"
	"math"
	"slices"
)

// insetOf is the room that item numbers take on the left and right of a picture.
func insetOf(o Options) float64 { return 3.4 * radiusOf(o) }

// radiusOf is the radius of an item number's circle, pixels: figures 1/40 of the shorter side high can be read
// on a sheet where the picture is 60 mm high (3.5 mm lettering is the least that ISO 3098-1 uses at A4, its
// next smaller size 2.5 mm).
func radiusOf(o Options) float64 { return math.Max(float64(min(o.Width, o.Height))/28, 7) }

// balloon is an item number in its circle, with a line to a dot on the body (ISO 6433:2012).
type balloon struct {
	number int
	x, y   float64 // of the dot, pixels
	cy     float64 // of the circle
}

// number draws the item numbers of all bodies that have one. Bodies with one number share one circle; the line
// leads to the one that shows best.
func (s *stage) number(img *image.NRGBA, seen []shown, inset float64, o Options) {
	best := map[int]shown{}
	for i, x := range s.solids {
		if x.Number <= 0 || seen[i].length == 0 {
			continue
		}
		if b, ok := best[x.Number]; !ok || seen[i].length > b.length {
			best[x.Number] = seen[i]
		}
	}
	var all []balloon
	for n, b := range best {
		all = append(all, balloon{number: n, x: (float64(b.x) + 0.5) / float64(s.n), y: (float64(b.y) + 0.5) / float64(s.n)})
	}
	slices.SortFunc(all, func(a, b balloon) int { return a.number - b.number })
	slices.SortStableFunc(all, func(a, b balloon) int {
		switch {
		case a.x < b.x:
			return -1
		case a.x > b.x:
			return 1
		}
		return 0
	})
	// What shows on the left is numbered there, so that lines are short; a side that is full gives half away.
	r := radiusOf(o)
	half := 0
	for half < len(all) && all[half].x < float64(o.Width)/2 {
		half++
	}
	if most := int((float64(o.Height)-2.4*r)/(2.6*r)) + 1; half > most || len(all)-half > most {
		half = (len(all) + 1) / 2
	}
	for i, side := range [2][]balloon{all[:half], all[half:]} {
		x := o.Margin + r
		if i == 1 {
			x = float64(o.Width) - o.Margin - r
		}
		spread(side, r, float64(o.Height))
		for _, b := range side {
			b.draw(img, x, r)
		}
	}
}

// spread sets the circles at the heights of their dots, as far as they do not touch.
func spread(side []balloon, r, height float64) {
	slices.SortStableFunc(side, func(a, b balloon) int {
		switch {
		case a.y < b.y:
			return -1
		case a.y > b.y:
			return 1
		}
		return 0
	})
	gap := 2.6 * r
	if n := float64(len(side) - 1); n > 0 {
		gap = math.Min(gap, (height-2.4*r)/n)
	}
	at := 1.2 * r
	for i := range side {
		side[i].cy = math.Max(side[i].y, at)
		at = side[i].cy + gap
	}
	at = height - 1.2*r
	for i := len(side) - 1; i >= 0; i-- {
		side[i].cy = math.Min(side[i].cy, at)
		at = side[i].cy - gap
	}
}

// draw puts the circle at (cx, b.cy).
func (b balloon) draw(img *image.NRGBA, cx, r float64) {
	line := math.Max(r/14, 0.7)
	end := cx + r
	if b.x < cx {
		end = cx - r
	}
	stroke(img, [][2]float64{{end, b.cy}, {b.x, b.y}}, line, Ink)
	stroke(img, [][2]float64{{b.x, b.y}, {b.x, b.y}}, 5*line, Ink)
	disc(img, cx, b.cy, r, White)
	var ring [][2]float64
	for i := range 49 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 48)
		ring = append(ring, [2]float64{cx + r*cos, b.cy + r*sin})
	}
	stroke(img, ring, 1.6*line, Ink)
	digits := digitsOf(b.number)
	h := 1.05 * r
	switch len(digits) {
	case 1:
	case 2:
		h = 0.9 * r
	default:
		h = 0.65 * r
	}
	w, space := 0.58*h, 0.2*h
	x := cx - (float64(len(digits))*(w+space)-space)/2
	for _, d := range digits {
		for _, path := range figures[d] {
			var p [][2]float64
			for _, q := range path {
				p = append(p, [2]float64{x + q[0]*w, b.cy - h/2 + q[1]*h})
			}
			stroke(img, p, math.Max(h/8, 1), Ink)
		}
		x += w + space
	}
}

func digitsOf(n int) []int {
	var out []int
	for ; n > 0; n /= 10 {
		out = append(out, n%10)
	}
	slices.Reverse(out)
	return out
}

// figures are the digits as strokes in a box of 1 by 1, y downwards, drawn after the upright single-stroke
// lettering of ISO 3098-1 by eye.
var figures = [10][][][2]float64{
	0: {arc(0.5, 0.5, 0.5, 0.5, 0, 360)},
	1: {{{0.1, 0.25}, {0.55, 0}, {0.55, 1}}},
	2: {append(arc(0.5, 0.28, 0.46, 0.28, 170, 410), [2]float64{0, 1}, [2]float64{1, 1})},
	3: {append(arc(0.46, 0.25, 0.44, 0.25, 200, 450), arc(0.46, 0.73, 0.5, 0.27, 270, 520)...)},
	4: {{{0.7, 1}, {0.7, 0}, {0, 0.72}, {1, 0.72}}},
	5: {append([][2]float64{{0.92, 0}, {0.16, 0}, {0.08, 0.46}}, arc(0.48, 0.67, 0.5, 0.33, 220, 520)...)},
	6: {append([][2]float64{{0.72, 0}, {0.1, 0.5}}, arc(0.5, 0.68, 0.48, 0.32, 200, 560)...)},
	7: {{{0, 0}, {1, 0}, {0.35, 1}}},
	8: {arc(0.5, 0.25, 0.42, 0.25, 0, 360), arc(0.5, 0.75, 0.5, 0.25, 0, 360)},
	9: {append([][2]float64{{0.28, 1}, {0.9, 0.5}}, arc(0.5, 0.32, 0.48, 0.32, 20, 380)...)},
}

// arc is part of an ellipse from one angle to another in degrees, clockwise as seen.
func arc(cx, cy, rx, ry, from, to float64) [][2]float64 {
	var out [][2]float64
	const steps = 20
	for i := range steps + 1 {
		sin, cos := math.Sincos((from + (to-from)*float64(i)/steps) * math.Pi / 180)
		out = append(out, [2]float64{cx + rx*cos, cy + ry*sin})
	}
	return out
}

// stroke draws a line with round ends and joints. A pixel is covered by as much of it as lies within the width
// from its middle, which is exact but for the ends.
func stroke(img *image.NRGBA, path [][2]float64, width float64, c Colour) {
	r := width / 2
	box := image.Rectangle{}
	for i, p := range path {
		q := image.Rect(int(math.Floor(p[0]-r-1)), int(math.Floor(p[1]-r-1)), int(math.Ceil(p[0]+r+1)), int(math.Ceil(p[1]+r+1)))
		if i == 0 {
			box = q
		}
		box = box.Union(q)
	}
	box = box.Intersect(img.Rect)
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			px, py := float64(x)+0.5, float64(y)+0.5
			d := math.Inf(1)
			for i := 0; i+1 < len(path); i++ {
				d = math.Min(d, distance(px, py, path[i], path[i+1]))
			}
			paint(img, x, y, c, clamp(r+0.5-d, 0, 1))
		}
	}
}

func disc(img *image.NRGBA, cx, cy, r float64, c Colour) {
	stroke(img, [][2]float64{{cx, cy}, {cx, cy}}, 2*r, c)
}

// distance is from a point to a line between two points.
func distance(x, y float64, a, b [2]float64) float64 {
	ux, uy := b[0]-a[0], b[1]-a[1]
	t := 0.0
	if l := ux*ux + uy*uy; l > 0 {
		t = clamp(((x-a[0])*ux+(y-a[1])*uy)/l, 0, 1)
	}
	return math.Hypot(x-a[0]-t*ux, y-a[1]-t*uy)
}

// paint lays a colour over a pixel with the given cover.
func paint(img *image.NRGBA, x, y int, c Colour, cover float64) {
	if cover <= 0 {
		return
	}
	p := img.Pix[img.PixOffset(x, y):][:4:4]
	under := float64(p[3]) / 255
	alpha := cover + under*(1-cover)
	for i := range 3 {
		v := (float64(c[i])*cover + float64(p[i])*under*(1-cover)) / alpha
		p[i] = uint8(math.Round(v))
	}
	p[3] = uint8(math.Round(alpha * 255))
}
