package section

import (
	"cmp"
	"math"
	"slices"
)

// probe asks for some places, (u, v, w) in the frame of a sweep, whether they are in material.
// Overlapping and inside-out shells count as material, as they do for a printer.
type probe struct {
	at [][3]float64
	in []bool
}

// airOf counts the places in air.
func airOf(in []bool) int {
	n := 0
	for _, solid := range in {
		if !solid {
			n++
		}
	}
	return n
}

const ringPlaces = 24

// addRing adds a ring of places, turned by an odd angle so that they do not fall on the corners and
// edges of designs, which like round angles.
func (p *probe) addRing(u, v, radius, w float64) {
	for i := range ringPlaces {
		a := 2*math.Pi*float64(i)/ringPlaces + 0.0618
		p.at = append(p.at, [3]float64{u + radius*math.Cos(a), v + radius*math.Sin(a), w})
	}
}

// deepest is how far, in mm, probes look beyond an end: farther on there may be another face.
const deepest = 2.0

// endProbe looks beyond the end of a hole at height w, to side -1 or +1: on a ring inside of it and on
// its axis, and on a ring outside of it both near and deeper, where a curved face has receded.
func endProbe(u, v, d, passes, w float64, side int) (p probe) {
	const (
		inside  = 0.45 // nine tenths of the radius that passes
		outside = 0.1  // mm
		deeper  = 0.25 // of the diameter
	)
	near := w + float64(side)*probeBeyond
	p.addRing(u, v, inside*passes, near)
	p.at = append(p.at, [3]float64{u, v, near})
	p.addRing(u, v, d/2+outside, near)
	p.addRing(u, v, d/2+outside, near+float64(side)*min(deeper*d, deepest))
	return p
}

// mouth judges an endProbe. Where the inside is air but all around is material, the hole goes on in a
// form that is not recognised, a dome perhaps: nothing can enter there.
func (p *probe) mouth() Mouth {
	air, centre := airOf(p.in[:ringPlaces]), !p.in[ringPlaces]
	switch {
	case !centre && 2*air < ringPlaces:
		return Closed
	case centre && 2*air >= ringPlaces && (8*p.around() >= ringPlaces || 8*airOf(p.in[2*ringPlaces+1:]) >= ringPlaces):
		return Open
	}
	return Narrowed
}

// around counts the places in air just outside of the end that an endProbe looks at.
func (p *probe) around() int { return airOf(p.in[ringPlaces+1 : 2*ringPlaces+1]) }

// gateProbe looks beyond the end of an opening, three places a side of its outline: a little inside of
// it, and a little outside both near and deeper.
func gateProbe(outline []Point, area, w float64, side int) (p probe) {
	const (
		inside  = 0.05 // mm
		outside = 0.1
		deeper  = 0.25 // of the side of a square as large
	)
	const most = 32 // sides looked at; of finer outlines every so many-th
	stride := (len(outline) + most - 1) / most
	for pass := range 3 {
		off, at := inside, w
		if pass > 0 {
			off = -outside
		}
		if pass == 2 {
			at += float64(side) * min(deeper*math.Sqrt(area), deepest)
		}
		for i := 0; i < len(outline); i += stride {
			a, b := outline[i], outline[(i+1)%len(outline)]
			du, dv := b[0]-a[0], b[1]-a[1]
			n := distance(a, b)
			// The outline of a hole runs clockwise, its inside is on the right.
			if n > 4*inside {
				for _, f := range [3]float64{0.1, 0.5, 0.9} {
					p.at = append(p.at, [3]float64{a[0] + f*du + off*dv/n, a[1] + f*dv - off*du/n, at})
				}
			}
		}
	}
	return p
}

// gate judges a gateProbe: Open if all inside is air and some around it, Closed if all inside is
// material. An inside of air with material all around is a piece of a cavity that something else
// divides.
func (p *probe) gate() Mouth {
	n := len(p.in) / 3
	air := airOf(p.in[:n])
	switch {
	case n == 0:
		return Narrowed
	case air*20 >= n*19 && (8*airOf(p.in[n:2*n]) >= n || 8*airOf(p.in[2*n:]) >= n):
		return Open // a rib or snap that touches the outline does not close it
	case air == 0:
		return Closed
	}
	return Narrowed
}

// ask answers one probe.
func (sw *sweep) ask(p *probe) { sw.askAll([]*probe{p}) }

// part is what a probe asks in one slab.
type part struct {
	p      *probe
	slab   int
	places []int
	box    [6]float64 // lowest u, v, w and highest
	near   []uint32
}

// askAll answers probes together: the triangles of a slab are read once for all that ask there.
func (sw *sweep) askAll(probes []*probe) {
	if sw.whole != nil {
		turned := make([]*probe, len(probes))
		for i, p := range probes {
			turned[i] = &probe{at: make([][3]float64, len(p.at))}
			for j, q := range p.at {
				u, v, w := sw.whole.frame.In(sw.frame.Point(q[0], q[1], q[2]))
				turned[i].at[j] = [3]float64{u, v, w}
			}
		}
		sw.whole.askAll(turned)
		for i, p := range probes {
			p.in = turned[i].in
		}
		return
	}
	var parts []part
	for _, p := range probes {
		p.in = make([]bool, len(p.at))
		first := len(parts)
		for i, q := range p.at {
			if !(q[2] >= sw.lo && q[2] <= sw.hi) {
				continue
			}
			slab := sw.slabOf(q[2])
			j := first
			for j < len(parts) && parts[j].slab != slab {
				j++
			}
			if j == len(parts) {
				inf := math.Inf(1)
				parts = append(parts, part{p: p, slab: slab, box: [6]float64{inf, inf, inf, -inf, -inf, -inf}})
			}
			parts[j].places = append(parts[j].places, i)
			b := &parts[j].box
			for a := range 3 {
				b[a], b[3+a] = min(b[a], q[a]), max(b[3+a], q[a])
			}
		}
	}
	slices.SortStableFunc(parts, func(a, b part) int { return cmp.Compare(a.slab, b.slab) })
	var runs [][]part
	for i := 0; i < len(parts); {
		j := i + 1
		for j < len(parts) && parts[j].slab == parts[i].slab {
			j++
		}
		runs = append(runs, parts[i:j])
		i = j
	}
	parallelRuns(sw.workers, len(runs), 1, func(i int) { sw.answer(runs[i]) })
}

func (sw *sweep) answer(run []part) {
	for _, i := range sw.slab(run[0].slab) {
		t := &sw.mesh.Triangles[i]
		x0, y0, z0 := sw.Stack.at(t[0])
		x1, y1, z1 := sw.Stack.at(t[1])
		x2, y2, z2 := sw.Stack.at(t[2])
		for j := range run {
			// Only what lies across a ray towards +u from one of the places can wind around it.
			b := &run[j].box
			if y0 < b[1] && y1 < b[1] && y2 < b[1] || y0 > b[4] && y1 > b[4] && y2 > b[4] ||
				z0 < b[2] && z1 < b[2] && z2 < b[2] || z0 > b[5] && z1 > b[5] && z2 > b[5] ||
				x0 < b[0] && x1 < b[0] && x2 < b[0] {
				continue
			}
			run[j].near = append(run[j].near, i)
		}
	}
	var sec Section
	for _, c := range run {
		cut := math.NaN()
		for _, i := range c.places {
			q := c.p.at[i]
			if q[2] != cut {
				cut = q[2]
				sec.reset(cut)
				sw.cut(c.near, byHeight, cut, &sec)
			}
			c.p.in[i] = sec.Winding(Point{q[0], q[1]}) != 0
		}
	}
}
