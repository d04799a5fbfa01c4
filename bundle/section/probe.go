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

// air counts the places in air.
func (p *probe) air() int {
	n := 0
	for _, in := range p.in {
		if !in {
			n++
		}
	}
	return n
}

// disk probes 24 places on a ring and then its centre.
func disk(u, v, radius, w float64) probe {
	p := ringProbe(u, v, radius, w)
	p.at = append(p.at, [3]float64{u, v, w})
	return p
}

const ringPlaces = 24

// ringProbe probes a ring, turned by an odd angle so that its places do not fall on the corners and
// edges of designs, which like round angles.
func ringProbe(u, v, radius, w float64) probe {
	p := probe{at: make([][3]float64, 0, ringPlaces+1)}
	for i := range ringPlaces {
		a := 2*math.Pi*float64(i)/ringPlaces + 0.0618
		p.at = append(p.at, [3]float64{u + radius*math.Cos(a), v + radius*math.Sin(a), w})
	}
	return p
}

// mouth judges a disk just beyond the end of a hole.
func (p *probe) mouth() Mouth {
	air, centre := p.air(), !p.in[ringPlaces]
	if centre {
		air--
	}
	switch {
	case centre && 2*air >= ringPlaces:
		return Open
	case !centre && 2*air < ringPlaces:
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
