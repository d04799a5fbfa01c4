package fit

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"dropwright/bundle/mesh"
)

// Piece cuts the box from lo to hi (mm, in the frame of the mesh) out of a closed mesh and closes the cuts with
// flat caps: a small piece with the holes in question, to try a fit in minutes. Where the box would cut through
// vertices it gives way by up to planeGive, so the piece may be larger or smaller than the box by that much; a
// side of the box beyond the part cuts nothing. m is not changed. The error says why no watertight piece came
// out: nothing lies in the box, or the mesh is not closed there.
func Piece(m *mesh.Mesh, lo, hi [3]float64) (*mesh.Mesh, error) {
	for k := range 3 {
		if !(lo[k] < hi[k]) || math.IsInf(lo[k], 0) || math.IsInf(hi[k], 0) {
			return nil, fmt.Errorf("the box is empty: %g to %g mm along %c", lo[k], hi[k], 'x'+rune(k))
		}
	}
	p := m
	for k := range 3 {
		for _, side := range []struct {
			at   float64
			sign float64 // the direction that is cut away
		}{{lo[k], -1}, {hi[k], 1}} {
			var err error
			if p, err = cutPlane(p, k, side.at, side.sign); err != nil {
				return nil, err
			}
			if len(p.Triangles) == 0 {
				return nil, errors.New("nothing of the part lies in the box")
			}
		}
	}
	rep, mended := mesh.Inspect(mesh.Merge(p))
	if !rep.Watertight {
		return nil, fmt.Errorf("the piece is not closed: %d open edges; is the part's mesh sound?", rep.EdgeCounts.Open)
	}
	return mended, nil
}

// planeGive is how far a cutting plane may give way to pass between vertices, mm. Our own choice: half of a
// usual layer, which nobody sees on a test piece.
const planeGive = 0.1

// cutPlane keeps what lies on one side of an axis-parallel plane and caps the cut.
func cutPlane(m *mesh.Mesh, axis int, at, sign float64) (*mesh.Mesh, error) {
	c := between(m, axis, at)
	gone := func(v uint32) bool { return (float64(m.Vertices[v][axis])-c)*sign > 0 }
	cut := &cutter{m: m, axis: axis, c: c, out: &mesh.Mesh{}, kept: map[uint32]uint32{}, cuts: map[[2]uint32]uint32{}, next: map[uint32]uint32{}}
	for _, t := range m.Triangles {
		n := 0
		for _, v := range t {
			if gone(v) {
				n++
			}
		}
		switch n {
		case 0:
			cut.out.Triangles = append(cut.out.Triangles, [3]uint32{cut.keep(t[0]), cut.keep(t[1]), cut.keep(t[2])})
		case 1, 2:
			for (n == 1) != gone(t[0]) || (n == 2) != !gone(t[0]) { // turn the odd corner to the front
				t = [3]uint32{t[1], t[2], t[0]}
			}
			if err := cut.split(t, n == 1); err != nil {
				return nil, err
			}
		}
	}
	if err := cut.cap(sign); err != nil {
		return nil, err
	}
	return cut.out, nil
}

// between is the middle of the widest gap between vertices near a plane, so that no vertex lies on the cut.
func between(m *mesh.Mesh, axis int, at float64) float64 {
	c := []float64{at - planeGive, at + planeGive}
	for _, v := range m.Vertices {
		if x := float64(v[axis]); x > at-planeGive && x < at+planeGive {
			c = append(c, x)
		}
	}
	slices.Sort(c)
	best, width := at, 0.0
	for i := 1; i < len(c); i++ {
		if w := c[i] - c[i-1]; w > width+1e-12 {
			best, width = c[i-1]+w/2, w
		}
	}
	if len(c) == 2 {
		best = at
	}
	return float64(float32(best)) // as the vertices on it are stored
}

type cutter struct {
	m    *mesh.Mesh
	axis int
	c    float64
	out  *mesh.Mesh
	kept map[uint32]uint32    // vertex of m -> vertex of out
	cuts map[[2]uint32]uint32 // edge of m -> vertex of out
	next map[uint32]uint32    // along the outline of the cap
}

func (x *cutter) keep(v uint32) uint32 {
	if k, ok := x.kept[v]; ok {
		return k
	}
	k := uint32(len(x.out.Vertices))
	x.out.Vertices = append(x.out.Vertices, x.m.Vertices[v])
	x.kept[v] = k
	return k
}

// on is the vertex where an edge meets the plane, the same for both of its facets.
func (x *cutter) on(a, b uint32) uint32 {
	if a > b {
		a, b = b, a
	}
	if k, ok := x.cuts[[2]uint32{a, b}]; ok {
		return k
	}
	p, q := x.m.Vertices[a], x.m.Vertices[b]
	t := (x.c - float64(p[x.axis])) / (float64(q[x.axis]) - float64(p[x.axis]))
	var v [3]float32
	for k := range 3 {
		v[k] = float32(float64(p[k]) + t*(float64(q[k])-float64(p[k])))
	}
	v[x.axis] = float32(x.c)
	k := uint32(len(x.out.Vertices))
	x.out.Vertices = append(x.out.Vertices, v)
	x.cuts[[2]uint32{a, b}] = k
	return k
}

// split keeps the part of a facet on the kept side; its first corner is the only one on its side. away: that
// corner is cut off.
func (x *cutter) split(t [3]uint32, away bool) error {
	p, q := x.on(t[0], t[1]), x.on(t[0], t[2])
	if away {
		b, c := x.keep(t[1]), x.keep(t[2])
		x.out.Triangles = append(x.out.Triangles, [3]uint32{p, b, c}, [3]uint32{p, c, q})
		return x.edge(p, q) // the facet runs q to p there; the cap runs against it
	}
	x.out.Triangles = append(x.out.Triangles, [3]uint32{x.keep(t[0]), p, q})
	return x.edge(q, p)
}

func (x *cutter) edge(from, to uint32) error {
	if _, twice := x.next[from]; twice {
		return errors.New("the surface meets itself where it is cut; mend the mesh in CAD, or cut elsewhere")
	}
	x.next[from] = to
	return nil
}

// mostCapCorners bounds the outline of one cut: closing it takes time with the square of its corners.
const mostCapCorners = 20_000

// cap closes the cut. The outlines run with the material on their left, seen from outside.
func (x *cutter) cap(sign float64) error {
	if len(x.next) == 0 {
		return nil
	}
	if len(x.next) > mostCapCorners {
		return fmt.Errorf("the cut has %d corners, more than %d: choose a smaller margin", len(x.next), mostCapCorners)
	}
	u, v := (x.axis+1)%3, (x.axis+2)%3
	if sign < 0 {
		u, v = v, u
	}
	flat := func(k uint32) [2]float64 {
		return [2]float64{float64(x.out.Vertices[k][u]), float64(x.out.Vertices[k][v])}
	}
	starts := make([]uint32, 0, len(x.next))
	for k := range x.next {
		starts = append(starts, k)
	}
	slices.Sort(starts)
	seen := map[uint32]bool{}
	var outer, holes []*outline
	for _, s := range starts {
		if seen[s] {
			continue
		}
		l := &outline{}
		for k := s; !seen[k]; {
			seen[k] = true
			l.id = append(l.id, k)
			l.at = append(l.at, flat(k))
			n, ok := x.next[k]
			if !ok {
				return errors.New("the cut is not closed: the mesh is open there; mend it in CAD")
			}
			k = n
		}
		l.area = areaOf(l.at)
		if l.area > 0 {
			outer = append(outer, l)
		} else {
			holes = append(holes, l)
		}
	}
	slices.SortStableFunc(outer, func(a, b *outline) int { return cmp.Compare(a.area, b.area) })
	for _, h := range holes {
		for _, o := range outer { // the smallest outline around it
			if inside(h.at[0], o.at) {
				o.holes = append(o.holes, h)
				break
			}
		}
	}
	for _, o := range outer {
		x.out.Triangles = append(x.out.Triangles, o.triangles()...)
	}
	return nil
}

// BoxAround is the box around some points with a margin on all sides, mm.
func BoxAround(points [][3]float64, margin float64) (lo, hi [3]float64) {
	for k := range 3 {
		lo[k], hi[k] = math.Inf(1), math.Inf(-1)
		for _, p := range points {
			lo[k], hi[k] = min(lo[k], p[k]-margin), max(hi[k], p[k]+margin)
		}
	}
	return lo, hi
}
