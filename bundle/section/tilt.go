package section

import (
	"cmp"
	"math"
	"slices"

	"dropwright/bundle/mesh"
)

// tiltedMost bounds the oblique directions that are swept with planes; further ones are known by
// their rings alone. No design has so many.
const tiltedMost = 64

// tilted adds the holes that the sweeps along the main axes did not see: those along other
// directions, and those that slanted faces cut so short that no section is a whole circle.
func (c *Census) tilted(m *mesh.Mesh, upright *sweep, groups [][]bore, workers int) error {
	swept := 0
	for _, g := range groups {
		f := g[0].frame
		left := slices.DeleteFunc(slices.Clone(g), func(b bore) bool { return c.knows(&b) })
		if len(left) > 0 && f.mainAxis() < 0 && swept < tiltedMost {
			swept++
			var part Census
			sw, err := newSweep(around(m, left), f, workers)
			if err != nil {
				return err
			}
			if sw != nil {
				sw.whole = upright
				part.collect(sw, left)
			}
			c.take(&part, left)
		}
		for i := range left {
			if b := &left[i]; !b.complete && !c.knows(b) {
				c.addBore(b, upright)
			}
		}
	}
	return nil
}

// allBores returns the rings of all directions, one slice a direction: those with the most rings
// first, so that tiltedMost leaves out the least.
func allBores(m *mesh.Mesh) [][]bore {
	var groups [][]bore
	for _, g := range directions(creases(m)) {
		if b := bores(g); len(b) > 0 {
			groups = append(groups, b)
		}
	}
	slices.SortStableFunc(groups, func(a, b []bore) int { return cmp.Compare(len(b), len(a)) })
	return groups
}

// knows tells whether a hole with this wall is in the census already.
func (c *Census) knows(b *bore) bool {
	for _, list := range [][]Hole{c.Holes, c.Sealed} {
		for i := range list {
			if h := &list[i]; sameDirection(h.Axis, b.frame.W) && h.on(b) {
				return true
			}
		}
	}
	return false
}

// on tells whether hole h and ring b share an axis and a stretch of it.
func (h *Hole) on(b *bore) bool {
	u, v, w := b.frame.In(h.Centre)
	return math.Hypot(u-b.u, v-b.v) < 2*axisWithin && w-h.Depth/2 < b.all[1] && w+h.Depth/2 > b.all[0]
}

// take moves those holes of a sweep along an oblique direction into the census that lie on one of
// the rings, with the others of their groups. The rest of such a sweep saw a cut-out of the mesh only.
func (c *Census) take(part *Census, rings []bore) {
	wanted := map[int]bool{}
	for _, list := range [][]Hole{part.Holes, part.Sealed} {
		for i := range list {
			for j := range rings {
				if list[i].on(&rings[j]) {
					wanted[list[i].Group] = true
				}
			}
		}
	}
	base := len(c.Holes) + len(c.Sealed)
	for _, h := range part.Holes {
		if wanted[h.Group] {
			h.Group += base
			c.Holes = append(c.Holes, h)
		}
	}
	for _, h := range part.Sealed {
		if wanted[h.Group] {
			h.Group += base
			c.Sealed = append(c.Sealed, h)
		}
	}
}

// addBore adds a hole known by its ring alone. Its ends are where its axis leaves the material.
func (c *Census) addBore(b *bore, upright *sweep) {
	middle := probe{at: [][3]float64{{b.u, b.v, (b.lo + b.hi) / 2}}}
	from, to := endProbe(b.u, b.v, b.d, b.passes, b.all[0], -1), endProbe(b.u, b.v, b.d, b.passes, b.all[1], +1)
	asking := sweep{Stack: &Stack{frame: b.frame}, whole: upright}
	asking.askAll([]*probe{&middle, &from, &to})
	if middle.in[0] {
		return // something stands in it
	}
	h := Hole{
		Axis: b.frame.W, Kind: Round, Diameter: b.d, Passes: b.passes, Corners: b.corners,
		From:   End{b.frame.Point(b.u, b.v, b.lo), from.mouth()},
		To:     End{b.frame.Point(b.u, b.v, b.hi), to.mouth()},
		Centre: b.frame.Point(b.u, b.v, (b.lo+b.hi)/2),
		Depth:  b.hi - b.lo, Narrow: b.hi - b.lo, DraftedTo: b.d, Group: len(c.Holes) + len(c.Sealed),
	}
	if b.form == hexagon {
		h.Kind, h.Diameter = Hexagon, b.d*math.Cos(math.Pi/6)
		h.DraftedTo = h.Diameter
	}
	h.Through = h.From.Mouth == Open && h.To.Mouth == Open
	if h.From.Mouth == Closed && h.To.Mouth == Closed {
		c.Sealed = append(c.Sealed, h)
		return
	}
	c.Holes = append(c.Holes, h)
}

// around returns the part of m near the rings, far enough to show what widens them.
func around(m *mesh.Mesh, rings []bore) *mesh.Mesh {
	type box struct{ lo, hi [3]float32 }
	boxes := make([]box, len(rings))
	for i := range rings {
		b := &rings[i]
		side, ahead := 2*b.d+1, 2*b.d+3
		r := &boxes[i]
		for a := range 3 {
			r.lo[a], r.hi[a] = math.MaxFloat32, -math.MaxFloat32
			for _, w := range [2]float64{b.all[0] - ahead, b.all[1] + ahead} {
				x := b.frame.Point(b.u, b.v, w)[a]
				across := side * math.Sqrt(max(0, 1-b.frame.W[a]*b.frame.W[a]))
				r.lo[a], r.hi[a] = min(r.lo[a], float32(x-across)), max(r.hi[a], float32(x+across))
			}
		}
	}
	out := &mesh.Mesh{}
	number := map[uint32]uint32{}
	for _, t := range m.Triangles {
		p, q, r := &m.Vertices[t[0]], &m.Vertices[t[1]], &m.Vertices[t[2]]
		for i := range boxes {
			b := &boxes[i]
			in := true
			for a := range 3 {
				if p[a] < b.lo[a] && q[a] < b.lo[a] && r[a] < b.lo[a] || p[a] > b.hi[a] && q[a] > b.hi[a] && r[a] > b.hi[a] {
					in = false
					break
				}
			}
			if !in {
				continue
			}
			for j, v := range t {
				n, ok := number[v]
				if !ok {
					n = uint32(len(out.Vertices))
					number[v] = n
					out.Vertices = append(out.Vertices, m.Vertices[v])
				}
				t[j] = n
			}
			out.Triangles = append(out.Triangles, t)
			break
		}
	}
	return out
}
