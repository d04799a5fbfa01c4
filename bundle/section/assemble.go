package section

import (
	"cmp"
	"math"
	"slices"
)

// Limits of putting walls together to holes. Our own choice, tried on torture plates; no source.
const (
	meetWithin     = 0.06  // mm between the end of one wall and the beginning of the next
	axisWithin     = 0.05  // mm between their centres
	shortestWall   = 0.1   // mm; shorter walls are texture
	probeBeyond    = 0.02  // mm beyond an end at which is looked for material
	chamferPart    = 1.25  // a cone that widens the hole by less takes no head
	bridgeWall     = 0.25  // part of the wall that must stand where another hole crosses
	tipLeast       = 1.0   // mm; a cone that ends narrower may have been followed not quite to its apex
	draftGrow      = 0.105 // growth of the diameter along the axis up to 3 degrees a side: a drafted hole
	bridgeSections = 64
)

// collect turns the walls of a sweep into holes, bosses and openings. Rings tell where slanted faces
// end a wall; those along other directions are passed over.
func (c *Census) collect(sw *sweep, rings []bore) {
	sw.bridge()
	sw.slant(rings)
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

// bridge joins two pieces of one hole that another hole crosses: between them the centre is in air
// and part of the wall still stands. Across the inside of an enclosure nothing stands, so the same
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
		if gone[i] || !a.hole || a.form == other || a.grow != 0 || a.island {
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

// slant moves the ends of walls that a slanted face cuts to where the axis meets that face. Planes see
// only the part where the circle is whole.
func (sw *sweep) slant(rings []bore) {
	for i := range rings {
		b := &rings[i]
		if !b.slanted[0] && !b.slanted[1] || !sameDirection(b.frame.W, sw.frame.W) {
			continue
		}
		u, v, mid := sw.frame.In(b.frame.Point(b.u, b.v, (b.lo+b.hi)/2))
		shift := mid - (b.lo+b.hi)/2
		for j := range sw.walls {
			a := &sw.walls[j]
			if !a.hole || a.form == other || a.grow != 0 || math.Hypot(a.u-u, a.v-v) > axisWithin ||
				math.Abs(a.d-b.d) > 2*sameWithin || b.all[0]+shift > a.lo+meetWithin || b.all[1]+shift < a.hi-meetWithin {
				continue
			}
			if b.slanted[0] && b.lo+shift < a.lo {
				a.lo, a.outmost[0] = b.lo+shift, b.all[0]+shift
			}
			if b.slanted[1] && b.hi+shift > a.hi {
				a.hi, a.outmost[1] = b.hi+shift, b.all[1]+shift
			}
		}
	}
}

// stands tells whether part of the wall is there at every plane between a and b.
func (sw *sweep) stands(a, b *wall) bool {
	if b.first-a.last > bridgeSections {
		return false
	}
	const around = 32
	pts := make([]Point, 0, 2*around+1)
	pts = append(pts, Point{a.u, a.v})
	for _, r := range []float64{a.passes/2 - probeBeyond, a.d/2 + probeBeyond} {
		pts = append(pts, ring(a.u, a.v, r, around)...)
	}
	heights := []float64{(a.hi + b.lo) / 2}
	for k := a.last + 1; k < b.first; k++ {
		heights = append(heights, sw.cuts[k].z)
	}
	for _, z := range heights {
		in := sw.solid(z, pts)
		wall := 0
		for i := 1; i <= around; i++ {
			if !in[i] && in[i+around] {
				wall++
			}
		}
		if in[0] || float64(wall) < bridgeWall*around {
			return false
		}
	}
	return true
}

// ring returns n points around a centre, turned by an odd angle so that they do not fall on the
// corners and edges of designs, which like round angles.
func ring(u, v, r float64, n int) []Point {
	out := make([]Point, n)
	for i := range out {
		a := 2*math.Pi*float64(i)/float64(n) + 0.0618
		out[i] = Point{u + r*math.Cos(a), v + r*math.Sin(a)}
	}
	return out
}

// mouth looks just beyond the end of a wall.
func (sw *sweep) mouth(a *wall, side int) Mouth {
	w, d := a.outmost[0]-probeBeyond, a.at(a.lo)
	if side > 0 {
		w, d = a.outmost[1]+probeBeyond, a.at(a.hi)
	}
	r := 0.45 * d * a.passes / a.d // nine tenths of the circle that fits inside
	pts := append(ring(a.u, a.v, r, 24), Point{a.u, a.v})
	in := sw.solid(w, pts)
	air := 0
	for _, solid := range in[:24] {
		if !solid {
			air++
		}
	}
	return mouthOf(!in[24], air)
}

// mouthOf judges 24 probes around an axis and the one on it.
func mouthOf(centre bool, air int) Mouth {
	switch {
	case centre && air >= 12:
		return Open
	case !centre && air < 12:
		return Closed
	}
	return Narrowed
}

func (sw *sweep) end(a *wall, w float64, mouth Mouth) End {
	return End{At: sw.frame.Point(a.u, a.v, w), Mouth: mouth}
}

func (c *Census) addBoss(sw *sweep, a *wall) {
	if a.length() < shortestWall {
		return
	}
	b := Boss{Axis: sw.frame.W, Diameter: a.d, Corners: a.corners, Height: a.length()}
	b.Centre = sw.frame.Point(a.u, a.v, (a.lo+a.hi)/2)
	b.From, b.To = sw.end(a, a.lo, sw.foot(a, a.lo-probeBeyond)), sw.end(a, a.hi, sw.foot(a, a.hi+probeBeyond))
	c.Bosses = append(c.Bosses, b)
}

// foot tells whether a boss stands on material: there is some around it, just beyond its end.
func (sw *sweep) foot(a *wall, w float64) Mouth {
	solid := 0
	for _, in := range sw.solid(w, ring(a.u, a.v, a.d/2+probeBeyond, 24)) {
		if in {
			solid++
		}
	}
	if solid >= 8 { // a third: a boss against a wall of the enclosure touches that wall everywhere
		return Closed
	}
	return Open
}

func (c *Census) addOpening(sw *sweep, a *wall) {
	if a.length() < shortestWall {
		return
	}
	var sec Section
	r := reader{s: sw.Stack, scale: sw.scale}
	mid := sw.cuts[(a.first+a.last)/2].z
	sw.cutAt(mid, &sec)
	loops, _ := sec.Loops()
	var outline []Point
	for _, l := range loops {
		if l.Area >= 0 {
			continue
		}
		if b := bounds(l.Points); math.Abs(b[0]-a.box[0])+math.Abs(b[1]-a.box[1])+math.Abs(b[2]-a.box[2])+math.Abs(b[3]-a.box[3]) < 4*sameWithin {
			outline = l.Points
		}
	}
	if outline == nil {
		return
	}
	r.corners(outline)
	lo, hi := sw.gate(r.corner, a.lo-probeBeyond), sw.gate(r.corner, a.hi+probeBeyond)
	if lo != Open && hi != Open {
		return // the section of a tunnel that runs across, or a cavity
	}
	long, across, mu, mv := leastRectangle(r.corner)
	o := Opening{Axis: sw.frame.W, Area: a.area, Depth: a.length(), Through: lo == Open && hi == Open}
	o.Size = [2]float64{across[0], across[1]}
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

// gate looks beyond the end of an opening, a little inside of its outline: Open if all of that is
// air, Closed if all is material.
func (sw *sweep) gate(outline []Point, w float64) Mouth {
	var pts []Point
	a := outline[len(outline)-1]
	for _, b := range outline {
		du, dv := b[0]-a[0], b[1]-a[1]
		n := math.Hypot(du, dv)
		// The outline of a hole runs clockwise, its inside is on the right.
		const inside = 0.05
		if n > 4*inside {
			for _, f := range [3]float64{0.1, 0.5, 0.9} {
				pts = append(pts, Point{a[0] + f*du + inside*dv/n, a[1] + f*dv - inside*du/n})
			}
		}
		a = b
	}
	if len(pts) == 0 {
		return Narrowed
	}
	air := 0
	for _, in := range sw.solid(w, pts) {
		if !in {
			air++
		}
	}
	switch {
	case air*20 >= len(pts)*19: // a rib or snap that touches the outline does not close it
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
