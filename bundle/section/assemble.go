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
	draftGrow      = 0.281 // growth of the diameter along the axis up to 8 degrees a side: a drafted hole, or one for a tapered insert
	curvedCones    = 3     // a hole without a cylinder has no more cones than this; a bowl has
	bridgeSections = 8     // planes looked at between two pieces of a wall
	bandPart       = 0.15  // height over diameter below which a boss that tapers both ways is a band of a ball
)

// collect turns the walls of a sweep into holes, bosses and openings. Rings tell where slanted faces
// end a wall; those along other directions are passed over.
func (c *Census) collect(sw *sweep, rings []bore) {
	sw.bridge()
	sw.spreadIslands()
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
				*p = gateProbe(a.outline, a.area, w, side)
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
	long, size, mu, mv := Point{1, 0}, Point{a.d, a.d}, a.u, a.v
	if a.form == other {
		long, size, mu, mv = leastRectangle(a.outline)
	}
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
