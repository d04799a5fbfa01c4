package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"dropwright/bundle/board"
)

// drawBoard draws a board from its component side with its dimensions: outline and mounts thick, bodies of
// connectors grey, largest plugs, lands and keepouts broken. Names stand where they touch no line; the legend tells
// of what is drawn, and of nothing else.
func drawBoard(p *board.Profile) string {
	d := &drawing{}
	v := boardView{d: d, p: p, rim: area{0, 0, p.Outline.Length.MM, p.Outline.Width.MM}}
	loop := p.Loop()
	for i, c := range loop {
		if i == 0 {
			v.rim = area{c[0], c[1], c[0], c[1]}
		}
		v.rim = area{min(v.rim.x0, c[0]), min(v.rim.y0, c[1]), max(v.rim.x1, c[0]), max(v.rim.y1, c[1])}
	}
	v.keepouts()
	v.bodies()
	v.headers()
	if len(loop) > 0 {
		var path strings.Builder
		for i, c := range loop {
			fmt.Fprintf(&path, "%s%s %s", map[bool]string{true: "M", false: "L"}[i == 0], num(c[0]), num(-c[1]))
			next := loop[(i+1)%len(loop)]
			d.take(c[0], c[1], next[0], next[1])
		}
		fmt.Fprintf(&d.b, "<path class=\"thick\" d=\"%sz\"/>\n", path.String())
	}
	v.mounts()
	d.circle(0, 0, 0.8, "thick")
	room := v.plugs()
	for _, n := range v.names { // when all lines are there
		d.label(n.words, around(n.of, n.words, n.inward))
	}
	for _, t := range d.taken {
		room = area{min(room.x0, t.x0), min(room.y0, t.y0), max(room.x1, t.x1), max(room.y1, t.y1)}
	}
	r := v.rim
	d.across(r.x0, r.x1, r.y0-1, room.y0-4, num(r.x1-r.x0))
	d.upright(r.y0, r.y1, r.x0-1, room.x0-4, num(r.y1-r.y0))
	left, foot, widest := room.x0-10, room.y0-12, 0.0
	lines := v.legend()
	for i, l := range lines {
		d.text(left, foot-float64(i)*4, "start", false, l)
		widest = max(widest, wordsWidth(l))
	}
	d.x0, d.y0, d.x1, d.y1 = left-2, foot-float64(len(lines))*4, max(room.x1, left+widest)+2, room.y1+2
	var words []string
	for _, m := range p.Mounts {
		words = append(words, fmt.Sprintf("%s at %s, %s", m.ID.S, lengthOr(m.X), lengthOr(m.Y)))
	}
	return d.done(p.Title.S, fmt.Sprintf("Board %s by %s mm seen from the component side. Mounting holes: %s.", lengthOr(p.Outline.Length), lengthOr(p.Outline.Width), strings.Join(words, "; ")))
}

// boardView is a board being drawn, with what the legend must tell.
type boardView struct {
	d     *drawing
	p     *board.Profile
	rim   area
	names []called
	free  []string // keepouts that are drawn
	grey, chain, lands, heads,
	pins bool
}

// called is what a thing on the board is called.
type called struct {
	words  string
	of     area
	inward float64
}

func (v *boardView) name(words string, of area) {
	inward := 1.0
	if (of.x0+of.x1)/2 > (v.rim.x0+v.rim.x1)/2 {
		inward = -1
	}
	v.names = append(v.names, called{words, of, inward})
}

func (v *boardView) keepouts() {
	for _, k := range v.p.Keepouts {
		a, b, c, e, ok := k.Rect.Rect()
		if !ok {
			continue
		}
		v.d.rect(a, b, c, e, "dash")
		v.name(k.ID.S, area{min(a, c), min(b, e), max(a, c), max(b, e)})
		v.free = append(v.free, strings.TrimSuffix(k.ID.S+" ("+k.Reason.S+")", " ()"))
	}
}

// bodies draws receptacles. One whose plug is drawn has its name beside the plug.
func (v *boardView) bodies() {
	for i := range v.p.Ports {
		q := &v.p.Ports[i]
		a, b, ok := q.Box.X.Pair()
		c, e, ok2 := q.Box.Y.Pair()
		if !ok || !ok2 {
			continue
		}
		v.d.rect(a, c, b, e, "body")
		v.grey = true
		if path := v.p.Paths(q)[0]; len(path.Missing) > 0 || path.Out[2] != 0 {
			v.name(q.ID.S, area{min(a, b), min(c, e), max(a, b), max(c, e)})
		}
	}
}

func (v *boardView) headers() {
	for i := range v.p.Headers {
		h := &v.p.Headers[i]
		var all area
		n := 0
		for _, e := range h.Pins {
			x, y, ok := h.PinAt(e.Key)
			if !ok {
				continue
			}
			v.d.circle(x, y, 0.4, "thin")
			if n == 0 {
				all = area{x, y, x, y}
			}
			all = area{min(all.x0, x-0.4), min(all.y0, y-0.4), max(all.x1, x+0.4), max(all.y1, y+0.4)}
			n++
		}
		v.pins = v.pins || n > 0
		a, b, ok := h.Box.X.Pair()
		c, e, ok2 := h.Box.Y.Pair()
		if ok && ok2 {
			v.d.rect(a, c, b, e, "thin")
			v.heads = true
			all, n = area{min(a, b), min(c, e), max(a, b), max(c, e)}, n+1
		}
		if n > 0 {
			v.name(h.ID.S, all)
		}
	}
}

func (v *boardView) mounts() {
	for _, m := range v.p.Mounts {
		if !m.X.Given || !m.Y.Given {
			continue
		}
		x, y, r := m.X.MM, m.Y.MM, max(m.Hole.MM/2, 0.5)
		reach := r + 1
		if m.Land.Given {
			v.d.circle(x, y, m.Land.MM/2, "dash")
			v.lands, reach = true, max(reach, m.Land.MM/2)
		}
		v.d.circle(x, y, r, "thick")
		v.d.line(x-r-1, y, x+r+1, y, "thin")
		v.d.line(x, y-r-1, x, y+r+1, "thin")
		v.name(m.ID.S, area{x - reach, y - reach, x + reach, y + reach})
	}
}

// plugShown is how much of a plug's length is drawn, mm.
const plugShown = 8.0

// plugs draws the largest plug of each port that has a way to the edge, with its name and the middle of its axis in a
// row beyond all plugs of the edge. It returns what the board and all of these cover.
func (v *boardView) plugs() area {
	type plug struct {
		words    string
		at, far  float64 // along the edge, and how far out
		from, to [2]float64
	}
	room := v.rim
	for _, out := range [][2]float64{{0, -1}, {0, 1}, {-1, 0}, {1, 0}} {
		var list []plug
		along, upright := 0, out[1] != 0
		if !upright {
			along = 1
		}
		level := map[[2]float64]float64{{0, -1}: -v.rim.y0, {0, 1}: v.rim.y1, {-1, 0}: -v.rim.x0, {1, 0}: v.rim.x1}[out]
		for i := range v.p.Ports {
			q := &v.p.Ports[i]
			path := v.p.Paths(q)[0]
			if len(path.Missing) > 0 || path.Out[2] != 0 || path.Out[0] != out[0] || path.Out[1] != out[1] {
				continue
			}
			w, _ := path.Plug.Size()
			f := [2]float64{path.Face[0], path.Face[1]}
			far := f
			far[1-along] += out[1-along] * plugShown
			from, to := f, far
			from[along] -= w / 2
			to[along] += w / 2
			v.d.rect(from[0], from[1], to[0], to[1], "plug")
			v.chain = true
			from = f
			from[1-along] -= out[1-along] * 3
			list = append(list, plug{q.ID.S + " " + num(f[along]), f[along], far[1-along] * out[1-along], from, far})
			level = math.Max(level, far[1-along]*out[1-along])
		}
		slices.SortStableFunc(list, func(a, b plug) int { return cmp.Compare(a.at, b.at) })
		at := make([]float64, len(list))
		for i, x := range list {
			at[i] = x.at
		}
		longest := 0.0
		for i, y := range spread(at, letter*1.5) {
			x := list[i]
			end := x.to // straight out of the plug, then over to the name
			v.d.line(x.from[0], x.from[1], end[0], end[1], "thin")
			bend := end
			bend[along], bend[1-along] = y, out[1-along]*(level+3)
			v.d.line(end[0], end[1], bend[0], bend[1], "thin")
			anchor := "end"
			if out[0]+out[1] > 0 {
				anchor = "start"
			}
			bend[1-along] += out[1-along]
			if upright {
				v.d.text(bend[0]+letter*0.35, bend[1], anchor, true, x.words)
			} else {
				v.d.text(bend[0], bend[1]-letter*0.35, anchor, false, x.words)
			}
			longest = math.Max(longest, wordsWidth(x.words))
		}
		if len(list) == 0 {
			level += 2
		} else {
			level += 4 + longest
		}
		switch {
		case out[0] < 0:
			room.x0 = -level
		case out[0] > 0:
			room.x1 = level
		case out[1] < 0:
			room.y0 = -level
		default:
			room.y1 = level
		}
	}
	return room
}

// legend says what the drawing shows, and no more.
func (v *boardView) legend() []string {
	p := v.p
	lines := []string{fmt.Sprintf("%s. Component side, mm, from the ringed corner.", p.ID.S),
		fmt.Sprintf("Thickness %s, over it %s, under it %s.", lengthOr(p.Outline.Thickness), lengthOr(p.Heights.Top), lengthOr(p.Heights.Bottom))}
	for _, m := range p.Mounts {
		line := fmt.Sprintf("%s: x %s, y %s, Ø%s", m.ID.S, lengthOr(m.X), lengthOr(m.Y), lengthOr(m.Hole))
		if m.Screw.S != "" {
			line += ", " + m.Screw.S
		}
		if m.Land.Given {
			line += ", land Ø" + lengthOr(m.Land)
		}
		lines = append(lines, line)
	}
	if v.lands {
		lines = append(lines, "Broken ring: land, kept free around the hole.")
	}
	if len(v.free) > 0 {
		lines = append(lines, "Broken rectangle: keep free:")
		for _, f := range v.free {
			lines = append(lines, "  "+f)
		}
	}
	if v.grey {
		lines = append(lines, "Grey: receptacles.")
	}
	if v.chain {
		lines = append(lines, "Chain line: the largest plugs, with the middle of each along its edge.")
	}
	switch {
	case v.heads && v.pins:
		lines = append(lines, "Thin rectangle: headers, with the pins whose places are known.")
	case v.heads:
		lines = append(lines, "Thin rectangle: headers.")
	case v.pins:
		lines = append(lines, "Small rings: pins.")
	}
	return lines
}
