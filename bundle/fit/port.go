package fit

import (
	"math"

	"dropwright/bundle/board"
	"dropwright/bundle/facts"
)

// plugPlay is the least clearance at which a plug counts as free, mm a side: what enclosures leave around
// connectors at the least (common practice, 0.2 in one open library, 0.5 in others).
const plugPlay = 0.2

// shrink is how much a body is made smaller before it is tried for material inside it, mm a side, so that
// resting on posts and float32 do not count as collisions. Two hundredths of a printed line; our own choice.
const shrink = 0.01

// farAway is the way, mm, beyond which the space beside a plug counts as open: no opening's other side is
// farther than the largest plug body and a hand's grip. Our own choice.
const farAway = 60.0

// way is a plug's path with its axes as indices: along is away from the board.
type way struct {
	face              vec
	along, across, up int
	sign              float64 // of along
	length            float64
}

func wayOf(p board.Path) way {
	w := way{face: p.Face, sign: 1, length: p.Length}
	for k := range 3 {
		if p.Out[k] != 0 {
			w.along, w.sign = k, p.Out[k]
		}
		if p.Across[k] != 0 {
			w.across = k
		}
		if p.Up[k] != 0 {
			w.up = k
		}
	}
	return w
}

// in turns a triangle into (along, across, up) about the plug's axis.
func (w *way) in(t *[3]vec) [3]vec {
	var out [3]vec
	for i, p := range t {
		out[i] = vec{w.sign * (p[w.along] - w.face[w.along]), p[w.across] - w.face[w.across], p[w.up] - w.face[w.up]}
	}
	return out
}

// box is the space that matters to the way: its length, and farAway around it.
func (w *way) box() (lo, hi vec) {
	for k := range 3 {
		lo[k], hi[k] = w.face[k]-farAway, w.face[k]+farAway
	}
	if w.sign > 0 {
		lo[w.along], hi[w.along] = w.face[w.along], w.face[w.along]+w.length
	} else {
		lo[w.along], hi[w.along] = w.face[w.along]-w.length, w.face[w.along]
	}
	return lo, hi
}

// passage is what stands in the way of one section.
type passage struct {
	clearance float64
	meets     bool    // material lies inside the section
	deep      float64 // how far from the face the farthest of it lies
	blocked   float64
	open      [4]float64 // left, right, down, up of the axis; 0 each when the axis itself is covered
	travel    [4]float64 // of the section
}

// pass measures what stands in the way of sections that share an axis, each on its own.
func (s *scene) pass(w way, sections ...outline2) []passage {
	out := make([]passage, len(sections))
	covers := make([]*cover, len(sections))
	inf := math.Inf(1)
	for i, o := range sections {
		out[i] = passage{clearance: inf, open: [4]float64{inf, inf, inf, inf}, travel: [4]float64{inf, inf, inf, inf}}
		covers[i] = newCover(o)
	}
	lo, hi := w.box()
	var a, b, c, d [16]vec
	s.within(lo, hi, func(_ *body, t *[3]vec) {
		local := w.in(t)
		poly := clip(local[:], a[:0], b[:0], edge{0, 0, false}, edge{0, w.length, true})
		if poly == nil || flatAt(poly, 0) {
			return // what only touches the plane of the face is behind it
		}
		for i, o := range sections {
			out[i].add(o, poly, covers[i], c[:0], d[:0])
		}
	})
	for i := range out {
		out[i].blocked = covers[i].share()
		if sections[i].r > 0 {
			for k := range 4 {
				out[i].travel[k] = max(0, out[i].open[k]-sections[i].r)
			}
		}
	}
	return out
}

// flatAt tells that a polygon lies in the plane where along is x.
func flatAt(poly []vec, x float64) bool {
	for _, p := range poly {
		if math.Abs(p[0]-x) > 1e-9 {
			return false
		}
	}
	return true
}

// add takes one polygon into account.
func (p *passage) add(o outline2, poly []vec, cov *cover, a, b []vec) {
	hx, hy := o.half()
	lo, hi := poly[0], poly[0]
	for _, q := range poly {
		for k := range 3 {
			lo[k], hi[k] = min(lo[k], q[k]), max(hi[k], q[k])
		}
	}
	if dx, dy := max(0, lo[1]-hx, -hx-hi[1]), max(0, lo[2]-hy, -hy-hi[2]); math.Hypot(dx, dy) < p.clearance {
		p.clearance = min(p.clearance, o.distance(poly))
	}
	if lo[1] < hx && hi[1] > -hx && lo[2] < hy && hi[2] > -hy {
		sx, sy := max(0, hx-shrink), max(0, hy-shrink)
		in := clip(poly, a, b, edge{1, -sx, false}, edge{1, sx, true}, edge{2, -sy, false}, edge{2, sy, true})
		if in != nil && (o.r == 0 || fromOrigin(in) < o.r-shrink) {
			p.meets = true
			for _, q := range in {
				p.deep = max(p.deep, q[0])
			}
			cov.add(poly)
		}
	}
	if from, to, ok := across(poly, 0); ok && (lo[2] < 0 || hi[2] > 0) {
		p.line(0, 1, from, to)
	}
	if lo[1] <= 0 && hi[1] >= 0 {
		if from, to, ok := across(swapped(poly, a), 0); ok {
			p.line(2, 3, from, to)
		}
	}
	if o.r > 0 {
		return
	}
	// Beside the section: strips that are a hair narrower, so that what only touches its edge is not in them.
	const hair = 1e-6
	if hi[2] > -hy+hair && lo[2] < hy-hair {
		if in := clip(poly, a, b, edge{2, -hy + hair, false}, edge{2, hy - hair, true}); in != nil {
			p.side(0, 1, 1, hx, in)
		}
	}
	if hi[1] > -hx+hair && lo[1] < hx-hair {
		if in := clip(poly, a, b, edge{1, -hx + hair, false}, edge{1, hx - hair, true}); in != nil {
			p.side(2, 3, 2, hy, in)
		}
	}
}

// line narrows the way from the axis to both sides by an interval of material.
func (p *passage) line(low, high int, from, to float64) {
	switch {
	case from < 0 && to > 0:
		p.open[low], p.open[high] = 0, 0
	case from >= 0:
		p.open[high] = min(p.open[high], from)
	default:
		p.open[low] = min(p.open[low], -to+0) // no negative zero
	}
}

// side narrows the way of the section to both sides by a polygon in its strip.
func (p *passage) side(low, high, axis int, half float64, in []vec) {
	from, to := math.Inf(1), math.Inf(-1)
	for _, q := range in {
		from, to = min(from, q[axis]), max(to, q[axis])
	}
	if to > 0 { // on the side of high, or in the section
		p.travel[high] = min(p.travel[high], max(0, from-half))
	}
	if from < 0 {
		p.travel[low] = min(p.travel[low], max(0, -to-half))
	}
}

func swapped(poly, dst []vec) []vec {
	dst = dst[:0]
	for _, q := range poly {
		dst = append(dst, vec{q[0], q[2], q[1]})
	}
	return dst
}

func outlineOf(s board.Section) outline2 {
	return outline2{w: s.Width, h: s.Height, r: s.Round / 2}
}

// ports judges every port of a board in a scene, each for its connector and its alternatives. place is the
// board's own motion into the part, for the places in the facts.
func (s *scene) ports(p *board.Profile, place rigid) []facts.PortFit {
	var out []facts.PortFit
	for i := range p.Ports {
		port := &p.Ports[i]
		for k, path := range p.Paths(port) {
			f := s.port(path)
			f.ID, f.Connector, f.Other, f.Required = port.ID.S, path.Family, k > 0, port.Required.On
			if f.Verdict != facts.PortUnknown {
				f.Axis = rounded(place.apply(path.Face))
				if k == 0 && s.bodyHit(port) {
					f.Body, f.Verdict = true, facts.PortBlocked
				}
			}
			out = append(out, f)
		}
	}
	return out
}

// port judges one plug path.
func (s *scene) port(path board.Path) facts.PortFit {
	f := facts.PortFit{Verdict: facts.PortUnknown, Need: plugPlay, Missing: path.Missing, Weak: path.Weak}
	if len(path.Missing) > 0 {
		return f
	}
	w := wayOf(path)
	plug := outlineOf(path.Plug)
	f.Plug[0], f.Plug[1] = path.Plug.Size()
	f.Round = path.Plug.Round > 0
	sections := []outline2{plug}
	if path.Shell.Known() {
		sections = append(sections, outlineOf(path.Shell))
	}
	got := s.pass(w, sections...)
	g := got[0]
	f.Clearance, f.Blocked = round3(min(g.clearance, farAway)), round3(g.blocked)
	f.MaySet = max(path.Setback, path.SetbackRelaxed)
	if path.SetbackRelaxed > path.Setback {
		f.Strict = path.Setback
	}
	if g.meets {
		f.Setback = some(g.deep)
	}
	f.Opening = &facts.Window{Left: bounded(g.open[0]), Right: bounded(g.open[1]), Down: bounded(g.open[2]), Up: bounded(g.open[3])}
	for k := range 4 {
		f.Travel[k] = bounded(g.travel[k])
	}
	switch {
	case !g.meets && g.clearance >= plugPlay-1e-3:
		f.Verdict = facts.PortFree
	case !g.meets:
		f.Verdict = facts.PortTight
	case len(got) > 1 && !got[1].meets && f.MaySet > 0 && g.deep <= f.MaySet+1e-3:
		f.Verdict = facts.PortTight
	default:
		f.Verdict = facts.PortBlocked
	}
	return f
}

// bodyHit tells whether material stands where the receptacle itself is.
func (s *scene) bodyHit(port *board.Port) bool {
	var lo, hi vec
	for k, r := range [3]board.Lengths{port.Box.X, port.Box.Y, port.Box.Z} {
		a, b, ok := r.Pair()
		if !ok {
			return false
		}
		lo[k], hi[k] = min(a, b)+shrink, max(a, b)-shrink
	}
	return s.hit(lo, hi) != nil
}

// hit is a place of material in a box, nil when there is none.
func (s *scene) hit(lo, hi vec) *vec {
	var found *vec
	var a, b [16]vec
	s.within(lo, hi, func(_ *body, t *[3]vec) {
		if found != nil {
			return
		}
		if in := clip(t[:], a[:0], b[:0], inBox(lo, hi)...); in != nil {
			p := in[0]
			found = &p
		}
	})
	return found
}

func inBox(lo, hi vec) []edge {
	return []edge{{0, lo[0], false}, {0, hi[0], true}, {1, lo[1], false}, {1, hi[1], true}, {2, lo[2], false}, {2, hi[2], true}}
}

// crowded lists the pairs of ports whose largest plugs do not go in beside one another. A card is left out: it
// lies in its socket when the plug beside it goes in, and its section is room for fingers.
func crowded(p *board.Profile) []facts.PlugPair {
	var out []facts.PlugPair
	type plug struct {
		id   string
		path board.Path
		lo   vec
		hi   vec
	}
	var list []plug
	for i := range p.Ports {
		path := p.Paths(&p.Ports[i])[0]
		if fam, ok := board.FamilyOf(path.Family); len(path.Missing) > 0 || ok && fam.Card.Width.Given {
			continue
		}
		w := wayOf(path)
		hx, hy := outlineOf(path.Plug).half()
		x := plug{id: p.Ports[i].ID.S, path: path, lo: path.Face, hi: path.Face}
		x.lo[w.across] -= hx
		x.hi[w.across] += hx
		x.lo[w.up] -= hy
		x.hi[w.up] += hy
		if w.sign > 0 {
			x.hi[w.along] += w.length
		} else {
			x.lo[w.along] -= w.length
		}
		for _, y := range list {
			over := math.Inf(1)
			for k := range 3 {
				over = min(over, min(x.hi[k], y.hi[k])-max(x.lo[k], y.lo[k]))
			}
			if x.path.Plug.Round > 0 && y.path.Plug.Round > 0 && x.path.Out == y.path.Out {
				over = min(over, (x.path.Plug.Round+y.path.Plug.Round)/2-distance(x.path.Face, y.path.Face))
			}
			if over > shrink {
				out = append(out, facts.PlugPair{A: y.id, B: x.id, Overlap: round3(over), Weak: append(append([]string{}, y.path.Weak...), x.path.Weak...)})
			}
		}
		list = append(list, x)
	}
	return out
}

// bounded rounds a way; nil beyond what counts as open.
func bounded(mm float64) *float64 {
	if mm >= farAway {
		return nil
	}
	return some(max(0, mm))
}

func some(mm float64) *float64 {
	r := round3(mm)
	return &r
}

func rounded(p vec) vec {
	for k := range p {
		p[k] = round3(p[k])
	}
	return p
}
