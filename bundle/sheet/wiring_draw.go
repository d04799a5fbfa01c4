package sheet

import (
	"math"
	"math/bits"
	"slices"
	"strings"
)

// Measures of the wiring drawing, mm.
const (
	wiringWidth = 175.0
	boxWidth    = 52.0
	pinStep     = 9.0
	wireStep    = 5.0 // between wires that end on one terminal
	boxHead     = 8.0
	boxGap      = 6.0
	labelRoom   = 34.0 // a wire runs straight from its box, so that its name has room above it
)

// terminal is one lead or pin of a box, with a place for each wire that ends there.
type terminal struct {
	name, detail string
	wires        int
	y            float64 // of the first wire
}

// box is a thing with its terminals. Each thing has one box, on one side of the drawing.
type box struct {
	thing, title string
	right        bool
	terminals    []terminal
}

// wireEnd is where a wire ends: the box, the terminal, and which of its wires it is.
type wireEnd struct {
	box            *box
	terminal, slot int
}

func (e wireEnd) y() float64 { return e.box.terminals[e.terminal].y + float64(e.slot)*wireStep }

// drawWiring draws each thing once, with its leads and pins, and each wire in its colour, cased in ink so that
// white and yellow show on paper and with its name on it. Wires run from left to right; those between two things on
// the left loop back.
func (c *composer) drawWiring(wires []wire) *Drawing {
	d := &Drawing{ID: "wiring-drawing", Width: wiringWidth}
	var boxes []*box
	at := func(e ending) wireEnd {
		i := slices.IndexFunc(boxes, func(b *box) bool { return b.thing == e.thing })
		if i < 0 {
			i = len(boxes)
			boxes = append(boxes, &box{thing: e.thing, title: e.title})
		}
		b := boxes[i]
		name, detail := e.lines(c)
		k := slices.IndexFunc(b.terminals, func(t terminal) bool { return t.name == name && t.detail == detail })
		if k < 0 {
			k = len(b.terminals)
			b.terminals = append(b.terminals, terminal{name: name, detail: detail})
		}
		b.terminals[k].wires++
		return wireEnd{b, k, b.terminals[k].wires - 1}
	}
	ends := make([][2]wireEnd, len(wires))
	var said []string
	for n, w := range wires {
		ends[n] = [2]wireEnd{at(w.from), at(w.to)}
		said = append(said, c.say("wire from to", w.from.thing+" "+w.from.words(c), w.to.thing+" "+w.to.words(c)))
	}
	view := ""
	if len(c.boards) > 0 && c.Design.Wiring.SeenFrom.Set() {
		view = c.say("seen from", c.say("view."+string(c.Design.Wiring.SeenFrom.V)))
	}
	d.Title = join(" ", c.say("wiring drawing"), view, join("; ", said...)+".")
	left, right := sides(boxes, ends)
	d.Height = d.lay(left, 0)
	untangle(right, ends)
	d.Height = max(d.Height, d.lay(right, wiringWidth-boxWidth))
	x0, x1 := boxWidth, wiringWidth-boxWidth
	for n, w := range wires {
		a, b := ends[n][0], ends[n][1]
		if a.box.right {
			a, b = b, a
		}
		path := swing(x0, a.y(), x1, b.y())
		if !b.box.right {
			path = loop(x0, a.y(), b.y())
		}
		hex := leadColours[w.colour]
		if hex == "" {
			hex = "#8c8c8c"
		}
		d.Shapes = append(d.Shapes, Shape{Points: path, Stroke: 1.5}, Shape{Points: path, Stroke: 1.0, Colour: hex})
		name := w.colour
		if w.row.Length.Set() {
			name = join(", ", name, c.mm(float64(w.row.Length.V)))
		}
		if name != "" {
			d.text(noteSize, x0+2, a.y()-1.4, "start", shorten(name, labelRoom-2, noteSize))
		}
	}
	d.dots(left, x0)
	d.dots(right, x1)
	return d
}

// mostSides is for how many things every way to share them out is tried.
const mostSides = 12

// sides puts each thing on the left or the right so that the fewest wires run between things of one side, and none
// between things on the right, where names would stand in the way of other wires. Of equals it takes the one with
// the most wires running from left to right as they are written, then the first.
func sides(boxes []*box, ends [][2]wireEnd) (left, right []*box) {
	number := map[*box]int{}
	for i, b := range boxes {
		number[b] = i
	}
	count := func(onRight func(i int) bool) (loops, back int) {
		for _, e := range ends {
			from, to := onRight(number[e[0].box]), onRight(number[e[1].box])
			switch {
			case from && to:
				loops += len(ends) + 1 // dearer than all loops on the left
			case !from && !to:
				loops++
			case from:
				back++
			}
		}
		return loops, back
	}
	var on func(i int) bool
	if len(boxes) <= mostSides {
		best, loops, back := uint(0), math.MaxInt, 0
		for mask := range uint(1) << len(boxes) {
			// The bits stand in reverse, so that of equals the one with the first things on the left comes first.
			l, k := count(func(i int) bool { return mask>>(len(boxes)-1-i)&1 == 1 })
			if l < loops || l == loops && (k < back || k == back && bits.OnesCount(mask) < bits.OnesCount(best)) {
				best, loops, back = mask, l, k
			}
		}
		on = func(i int) bool { return best>>(len(boxes)-1-i)&1 == 1 }
	} else { // many things: one after another to the right when none of its neighbours is there
		placed := make([]bool, len(boxes))
		on = func(i int) bool { return placed[i] }
		for i := range boxes {
			l0, _ := count(on)
			placed[i] = true
			if l1, _ := count(on); l1 >= l0 {
				placed[i] = false
			}
		}
	}
	for i, b := range boxes {
		if b.right = on(i); b.right {
			right = append(right, b)
		} else {
			left = append(left, b)
		}
	}
	return left, right
}

// untangle orders the boxes on the right, and the terminals in each, by the middle height of what they lead to, so
// that few wires cross. The left is laid already.
func untangle(right []*box, ends [][2]wireEnd) {
	type key struct {
		b *box
		i int
	}
	sum, n := map[key]float64{}, map[key]float64{}
	for _, e := range ends {
		a, b := e[0], e[1]
		if a.box.right {
			a, b = b, a
		}
		if !b.box.right {
			continue
		}
		for _, k := range []key{{b.box, b.terminal}, {b.box, -1}} {
			sum[k] += a.y()
			n[k]++
		}
	}
	mean := func(b *box, i int) float64 { return sum[key{b, i}] / max(1, n[key{b, i}]) }
	slices.SortStableFunc(right, func(a, b *box) int { return compareMean(mean(a, -1), mean(b, -1)) })
	for _, b := range right {
		order := make([]int, len(b.terminals))
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(i, k int) int { return compareMean(mean(b, i), mean(b, k)) })
		sorted, now := make([]terminal, len(order)), make([]int, len(order))
		for place, i := range order {
			sorted[place], now[i] = b.terminals[i], place
		}
		b.terminals = sorted
		for i := range ends {
			for k := range ends[i] {
				if ends[i][k].box == b {
					ends[i][k].terminal = now[ends[i][k].terminal]
				}
			}
		}
	}
}

// compareMean takes means within a thousandth of a millimetre for equal, so that rounding decides nothing.
func compareMean(a, b float64) int {
	switch {
	case a < b-1e-3:
		return -1
	case a > b+1e-3:
		return 1
	}
	return 0
}

// swing is a wire from left to right: straight for the length of its name, then in an S to its other end. Curves to
// different places cross at an angle and never run over one another, as square bends do.
func swing(x0, y0, x1, y1 float64) []Point {
	from, to := x0+labelRoom, x1-4
	xy := []float64{x0, y0}
	const steps = 20
	for i := range steps + 1 {
		t := float64(i) / steps
		xy = append(xy, from+(to-from)*t, y0+(y1-y0)*t*t*(3-2*t)) // the cubic that starts and ends level
	}
	return points(append(xy, x1, y1))
}

// loop is a wire between two things on the left: out past its name, round, and back. The farther apart its ends, the
// farther it reaches out, so that loops lie inside one another.
func loop(x, y0, y1 float64) []Point {
	const steps, reach, most = 20, 4.0, 26.0
	out := math.Min(most, reach+math.Abs(y1-y0)/6)
	xy := []float64{x, y0}
	for i := range steps + 1 {
		t := math.Pi * float64(i) / steps
		xy = append(xy, x+labelRoom+out*math.Sin(t), (y0+y1)/2-(y1-y0)/2*math.Cos(t))
	}
	return points(append(xy, x, y1))
}

// lay stacks boxes on one side and returns how far down they reach.
func (d *Drawing) lay(boxes []*box, x float64) float64 {
	y := 1.0
	for _, b := range boxes {
		top := y
		d.text(textSize, x+3, y+5, "start", shorten(b.thing, boxWidth-6, textSize))
		d.Shapes[len(d.Shapes)-1].Bold = true
		y += boxHead
		for i := range b.terminals {
			t := &b.terminals[i]
			t.y = y + pinStep/2
			more := float64(t.wires-1) * wireStep
			y += pinStep + more
			at, anchor := x+3, "start"
			if x == 0 {
				at, anchor = boxWidth-3, "end"
			}
			middle := t.y + more/2
			if t.detail == "" {
				d.text(noteSize, at, middle+0.9, anchor, shorten(t.name, boxWidth-6, noteSize))
				continue
			}
			d.text(noteSize, at, middle-0.5, anchor, shorten(t.name, boxWidth-6, noteSize))
			d.text(noteSize, at, middle+2.8, anchor, shorten(t.detail, boxWidth-6, noteSize))
		}
		d.rect(Wide, x+0.5, top, boxWidth-1, y-top)
		y += boxGap
	}
	return y
}

// dots marks where wires end. The dots of one terminal are joined: they are one and the same place.
func (d *Drawing) dots(boxes []*box, x float64) {
	for _, b := range boxes {
		for _, t := range b.terminals {
			last := t.y + float64(t.wires-1)*wireStep
			if t.wires > 1 {
				d.line(Thick, x, t.y, x, last)
			}
			for i := range t.wires {
				d.Shapes = append(d.Shapes, Shape{Points: []Point{{round(x), round(t.y + float64(i)*wireStep)}}, Radius: 0.9, Stroke: Narrow, Fill: "ink"})
			}
		}
	}
}

// shorten cuts a text that does not fit a width; the whole of it stands in the table.
func shorten(s string, width, size float64) string {
	r := []rune(s)
	n := int(width / (0.58 * size))
	if len(r) <= n {
		return s
	}
	return strings.TrimSpace(string(r[:n-1])) + "…"
}
