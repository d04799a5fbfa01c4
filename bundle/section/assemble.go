package section

import (
	"cmp"
	"math"
	"slices"
)

// Limits of putting walls together to holes. Our own choice, tried on torture plates; no source.
const (
	meetWithin   = 0.06 // mm between the end of one wall and the beginning of the next
	axisWithin   = 0.05 // mm between their centres
	shortestWall = 0.1  // mm; shorter walls are texture
	probeBeyond  = 0.02 // mm beyond an end at which is looked for material
	// chamferPart is the widening below which a cone takes no head: a countersunk head is 1.5 times as
	// wide as its clearance hole or more (ISO 10642 and ISO 7046 against ISO 273, from memory).
	chamferPart    = 1.45
	bridgeWall     = 0.25  // part of the wall that must stand where another hole crosses
	tipLeast       = 1.0   // mm; a cone that ends narrower may have been followed not quite to its apex
	draftGrow      = 0.105 // growth of the diameter along the axis up to 3 degrees a side: a drafted hole
	bridgeSections = 64
	bandPart       = 0.15 // height over diameter below which a boss that tapers both ways is a band of a ball
)

// collect turns the walls of a sweep into holes, bosses and openings. Rings tell where slanted faces
// end a wall; those along other directions are passed over.
func (c *Census) collect(sw *sweep, rings []bore) {
	sw.bridge()
	sw.slant(rings)
	sw.lookBeyond()
	slices.SortStableFunc(sw.walls, func(a, b wall) int {
		return cmp.Or(cmp.Compare(a.lo, b.lo), cmp.Compare(a.u, b.u), cmp.Compare(a.v, b.v), cmp.Compare(a.d, b.d))
	})
	var bores []*wall
	for i := range sw.walls {
		a := &sw.walls[i]
		switch {
		case a.length() < shortestWall && a.grow == 0:
		case a.form != other && a.hole && !a.island:
			bores = append(bores, a)
		case a.hole && a.grow == 0:
			c.addOpening(sw, a)
		case a.form == round && !a.hole && a.grow == 0:
			c.addBoss(sw, a)
		}
	}
	for _, column := range columns(bores) {
		c.addColumn(sw, column)
	}
}

// lookBeyond probes the places beyond both ends of every wall that matters.
func (sw *sweep) lookBeyond() {
	var probes []*probe
	for i := range sw.walls {
		a := &sw.walls[i]
		for i, side := range [2]int{-1, +1} {
			p := &a.beyond[i]
			w := a.outmost[i] + float64(side)*probeBeyond
			switch {
			case a.form == other || a.island:
				*p = gateProbe(a.outline, w)
			case a.hole:
				d := a.at(*a.endAt(side))
				*p = endProbe(a.u, a.v, d, d*a.passes/a.d, a.outmost[i], side)
			default:
				p.addRing(a.u, a.v, a.d/2+probeBeyond, w)
				p.addRing(a.u, a.v, 0.475*a.passes, w)
			}
			probes = append(probes, p)
		}
	}
	sw.askAll(probes)
}

// columns joins walls that share an axis and meet end to end.
func columns(walls []*wall) [][]*wall {
	taken := make([]bool, len(walls))
	var out [][]*wall
	for i, a := range walls {
		if taken[i] {
			continue
		}
		column := []*wall{a}
		for {
			top, best := column[len(column)-1], -1
			for j := i + 1; j < len(walls) && walls[j].lo <= top.hi+meetWithin; j++ {
				b := walls[j]
				if !taken[j] && b.lo >= top.hi-meetWithin && top.off(&b.shape) < axisWithin &&
					(best < 0 || top.off(&b.shape) < top.off(&walls[best].shape)) {
					best = j
				}
			}
			if best < 0 {
				break
			}
			taken[best] = true
			column = append(column, walls[best])
		}
		out = append(out, column)
	}
	return out
}

// bridge joins two pieces of one hole or post that another hole crosses: between them the axis of a
// hole is in air and part of the wall still stands. Across the inside of an enclosure nothing stands, so the same
// hole in two opposite walls stays two.
func (sw *sweep) bridge() {
	byStart := make([]int, len(sw.walls))
	for i := range byStart {
		byStart[i] = i
	}
	slices.SortStableFunc(byStart, func(i, j int) int { return sw.walls[i].first - sw.walls[j].first })
	gone := make([]bool, len(sw.walls))
	for n, i := range byStart {
		a := &sw.walls[i]
		if gone[i] || a.form == other || a.grow != 0 || a.island {
			continue
		}
		for _, j := range byStart[n+1:] {
			b := &sw.walls[j]
			if gone[j] || b.first <= a.last || !a.goesOn(&b.shape, b.z) || b.lo < a.hi-meetWithin {
				continue
			}
			if !sw.stands(a, b) {
				break
			}
			total := a.n + b.n
			f := float64(b.n) / float64(total)
			a.u += (b.u - a.u) * f
			a.v += (b.v - a.v) * f
			a.d += (b.d - a.d) * f
			a.n, a.last, a.hi, a.outmost[1] = total, b.last, b.hi, b.outmost[1]
			gone[j] = true
		}
	}
	kept := sw.walls[:0]
	for i, a := range sw.walls {
		if !gone[i] {
			kept = append(kept, a)
		}
	}
	sw.walls = kept
}

// slant moves the ends of walls that a slanted or outwards curved face cuts to where the axis meets
// that face. Planes see only the part where the circle is whole.
func (sw *sweep) slant(rings []bore) {
	for i := range rings {
		b := &rings[i]
		if !sameDirection(b.frame.W, sw.frame.W) {
			continue
		}
		u, v, mid := sw.frame.In(b.frame.Point(b.u, b.v, (b.lo+b.hi)/2))
		shift := mid - (b.lo+b.hi)/2
		all := [2]float64{b.all[0] + shift, b.all[1] + shift}
		for j := range sw.walls {
			a := &sw.walls[j]
			if !a.hole || a.form == other || a.grow != 0 || math.Hypot(a.u-u, a.v-v) > axisWithin ||
				math.Abs(a.d-b.d) > 2*sameWithin || all[0] > a.lo+meetWithin || all[1] < a.hi-meetWithin {
				continue
			}
			for k, side := range [2]int{-1, +1} {
				end, face := a.endAt(side), [2]float64{b.lo, b.hi}[k]
				if s := b.saddle[k]; s.wave > 0 && sw.bulges(b, side) {
					face = s.mean + float64(side)*s.wave
				} else if !b.slanted[k] {
					continue
				}
				if float64(side)*(face+shift-*end) > 0 {
					*end, a.outmost[k] = face+shift, all[k]
				}
			}
		}
	}
}

// bulges tells whether the curved face at an end of a bore curves outwards, as the outside of a pipe
// does: going on from where the ring reaches farthest, an outward face stays as high, an inward one
// rises.
func (sw *sweep) bulges(b *bore, side int) bool {
	s := b.saddle[(side+1)/2]
	angle := s.crest
	if side < 0 {
		angle += math.Pi / 2
	}
	r := 0.65 * b.d
	at := b.frame.Point(b.u+r*math.Cos(angle), b.v+r*math.Sin(angle), s.mean+float64(side)*1.4*s.wave)
	u, v, w := sw.frame.In(at)
	p := probe{at: [][3]float64{{u, v, w}}}
	sw.ask(&p)
	return !p.in[0]
}

// stands tells whether part of the wall is there at every plane between a and b.
func (sw *sweep) stands(a, b *wall) bool {
	if b.first-a.last > bridgeSections {
		return false
	}
	heights := []float64{(a.hi + b.lo) / 2}
	for k := a.last + 1; k < b.first; k++ {
		heights = append(heights, sw.cuts[k].z)
	}
	for _, z := range heights {
		var p probe
		p.addRing(a.u, a.v, a.passes/2-probeBeyond, z)
		p.addRing(a.u, a.v, a.d/2+probeBeyond, z)
		p.at = append(p.at, [3]float64{a.u, a.v, z})
		sw.ask(&p)
		wall := 0
		for i := range ringPlaces {
			if p.in[i] != a.hole && p.in[ringPlaces+i] == a.hole {
				wall++
			}
		}
		if a.hole && p.in[2*ringPlaces] || float64(wall) < bridgeWall*ringPlaces {
			return false
		}
	}
	return true
}

func (sw *sweep) end(a *wall, w float64, mouth Mouth) End {
	return End{At: sw.frame.Point(a.u, a.v, w), Mouth: mouth}
}

func (c *Census) addBoss(sw *sweep, a *wall) {
	if a.length() < shortestWall || a.beyond[0].tapers() && a.beyond[1].tapers() && a.length() < bandPart*a.d {
		return
	}
	b := Boss{Axis: sw.frame.W, Diameter: a.d, Corners: a.corners, Height: a.length()}
	b.Centre = sw.frame.Point(a.u, a.v, (a.lo+a.hi)/2)
	b.From, b.To = sw.end(a, a.lo, a.beyond[0].foot()), sw.end(a, a.hi, a.beyond[1].foot())
	c.Bosses = append(c.Bosses, b)
}

// foot judges the ring around and beyond the end of a boss: it stands on material if there is some.
func (p *probe) foot() Mouth {
	// A third: a boss against a wall of the enclosure touches that wall everywhere.
	if 3*airOf(p.in[:ringPlaces]) <= 2*ringPlaces {
		return Closed
	}
	return Open
}

// tapers tells whether a boss goes on beyond its end, a little thinner, as the middle band of a ball
// does.
func (p *probe) tapers() bool {
	return p.foot() == Open && 2*airOf(p.in[ringPlaces:]) < ringPlaces
}

func (c *Census) addOpening(sw *sweep, a *wall) {
	if a.length() < shortestWall {
		return
	}
	lo, hi := a.beyond[0].gate(), a.beyond[1].gate()
	if lo != Open && hi != Open {
		return // the section of a tunnel that runs across, or a cavity
	}
	long, size, mu, mv := leastRectangle(a.outline)
	o := Opening{Axis: sw.frame.W, Size: size, Area: a.area, Depth: a.length(), Through: lo == Open && hi == Open}
	o.Long = sw.frame.Point(long[0], long[1], 0)
	o.Centre = sw.frame.Point(mu, mv, (a.lo+a.hi)/2)
	o.From = End{sw.frame.Point(mu, mv, a.lo), lo}
	o.To = End{sw.frame.Point(mu, mv, a.hi), hi}
	if o.Through {
		c.Openings = append(c.Openings, o)
	} else {
		c.Pockets = append(c.Pockets, o)
	}
}

// gateProbe probes a little inside of the outline of an opening.
func gateProbe(outline []Point, w float64) (p probe) {
	a := outline[len(outline)-1]
	for _, b := range outline {
		du, dv := b[0]-a[0], b[1]-a[1]
		n := math.Hypot(du, dv)
		// The outline of a hole runs clockwise, its inside is on the right.
		const inside = 0.05
		if n > 4*inside {
			for _, f := range [3]float64{0.1, 0.5, 0.9} {
				p.at = append(p.at, [3]float64{a[0] + f*du + inside*dv/n, a[1] + f*dv - inside*du/n, w})
			}
		}
		a = b
	}
	return p
}

// gate judges a gateProbe: Open if all is air, Closed if all is material.
func (p *probe) gate() Mouth {
	air, all := p.air(), len(p.in)
	switch {
	case all == 0:
		return Narrowed
	case air*20 >= all*19: // a rib or snap that touches the outline does not close it
		return Open
	case air == 0:
		return Closed
	}
	return Narrowed
}

// leastRectangle returns the smallest rectangle around the points: the direction of its first side,
// its two sides and its middle. One along the axes is preferred, with its sides in that order; else
// the longer side is the first.
func leastRectangle(p []Point) (long Point, size Point, mu, mv float64) {
	try := func(d Point) (size Point, mu, mv float64) {
		lo, hi := Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
		for _, q := range p {
			for i, x := range [2]float64{q[0]*d[0] + q[1]*d[1], q[1]*d[0] - q[0]*d[1]} {
				lo[i], hi[i] = min(lo[i], x), max(hi[i], x)
			}
		}
		x, y := (lo[0]+hi[0])/2, (lo[1]+hi[1])/2
		return Point{hi[0] - lo[0], hi[1] - lo[1]}, x*d[0] - y*d[1], x*d[1] + y*d[0]
	}
	long = Point{1, 0}
	size, mu, mv = try(long)
	least := size[0] * size[1] * (1 - 1e-3)
	if len(p) > 512 {
		return // a wild outline; the search below is quadratic
	}
	a := p[len(p)-1]
	for _, b := range p {
		du, dv := b[0]-a[0], b[1]-a[1]
		a = b
		n := math.Hypot(du, dv)
		if n == 0 {
			continue
		}
		d := Point{du / n, dv / n}
		s, x, y := try(d)
		if s[0]*s[1] >= least {
			continue
		}
		if s[1] > s[0] {
			d = Point{-d[1], d[0]}
			s, x, y = try(d)
		}
		if d[0] < -1e-9 || math.Abs(d[0]) <= 1e-9 && d[1] < 0 {
			d = Point{-d[0], -d[1]}
			s, x, y = try(d)
		}
		long, size, mu, mv, least = d, s, x, y, s[0]*s[1]*(1-1e-6)
	}
	return
}
