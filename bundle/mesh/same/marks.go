package same

import (
	"math"
	"slices"

	"dropwright/bundle/mesh"
)

// Marked is the surface of a mesh in two: Alike lies within a distance of another mesh, Differ does not.
type Marked struct{ Alike, Differ *mesh.Mesh }

// maxPieces bounds what Marks cuts facets into: some 100 MB for two meshes. Assumed.
const maxPieces = 500_000

// Marks tells for a picture where two meshes differ by more than within (mm), the first being moved; it is given back
// where it was. Facets that differ in part are cut into pieces no longer than fine (mm), or coarser where that would
// be too many; each piece goes by its middle. within and fine are above 0.
func Marks(a, b *mesh.Mesh, motion mesh.Matrix, within, fine float64) (gone, fresh Marked) {
	var ta, tb *tree
	parallel(2, func(i int) {
		if i == 0 {
			ta = newTree(a)
		} else {
			tb = newTree(b)
		}
	})
	return marks(a, tb, motion, within, fine), marks(b, ta, inverse(motion), within, fine)
}

// marks looks at m, moved, from the other surface.
func marks(m *mesh.Mesh, onto *tree, motion mesh.Matrix, within, fine float64) Marked {
	if len(onto.m.Triangles) == 0 {
		return Marked{&mesh.Mesh{}, m}
	}
	near := func(x [3]float64) bool { return onto.near(motion.Apply(x), within) }
	const chunk = 1024
	const alike, differs, inPart = 0, 1, 2
	kinds := make([]int8, len(m.Triangles))
	parallel((len(kinds)+chunk-1)/chunk, func(c int) {
		for i := c * chunk; i < min(len(kinds), (c+1)*chunk); i++ {
			f := facetOf(m, m.Triangles[i])
			far := 0
			for _, q := range [7][3]float64{f[0], f[1], f[2], f.middle(), between(f[0], f[1]), between(f[1], f[2]), between(f[2], f[0])} {
				if !near(q) {
					far++
				}
			}
			size := f.size()
			switch {
			case far == 7 && size <= 4*fine || far > 0 && size <= fine:
				kinds[i] = differs
			case far > 0 || size > 4*fine: // within a large facet a hole may have been filled
				kinds[i] = inPart
			}
		}
	})
	area := 0.0
	var cut []uint32
	for i, k := range kinds {
		if k == inPart {
			f := facetOf(m, m.Triangles[i])
			area += norm(cross(sub(f[1], f[0]), sub(f[2], f[0]))) / 2
			cut = append(cut, uint32(i))
		}
	}
	for area/(fine*fine/4) > maxPieces { // a piece has at least a quarter of that square
		fine *= 1.4
	}
	pieces := make([]pieces, len(cut))
	parallel(len(cut), func(i int) { pieces[i].cut(facetOf(m, m.Triangles[cut[i]]), near, fine) })
	out := Marked{&mesh.Mesh{Vertices: slices.Clip(m.Vertices)}, &mesh.Mesh{}}
	next := 0
	for i, k := range kinds {
		t := m.Triangles[i]
		switch {
		case k == alike:
			out.Alike.Triangles = append(out.Alike.Triangles, t)
		case k == differs:
			facetOf(m, t).into(out.Differ)
		default:
			x := &pieces[next]
			next++
			if len(x[differs]) == 0 {
				out.Alike.Triangles = append(out.Alike.Triangles, t)
				continue
			}
			for _, f := range x[differs] {
				f.into(out.Differ)
			}
			for _, f := range x[alike] {
				f.into(out.Alike)
			}
		}
	}
	return out
}

// facet is a facet by its corners.
type facet [3][3]float64

func facetOf(m *mesh.Mesh, t [3]uint32) facet {
	return facet{wide(m.Vertices[t[0]]), wide(m.Vertices[t[1]]), wide(m.Vertices[t[2]])}
}

func (f *facet) middle() [3]float64 {
	return [3]float64{(f[0][0] + f[1][0] + f[2][0]) / 3, (f[0][1] + f[1][1] + f[2][1]) / 3, (f[0][2] + f[1][2] + f[2][2]) / 3}
}

// size is the longest edge.
func (f *facet) size() float64 {
	return max(distance(f[0], f[1]), distance(f[1], f[2]), distance(f[2], f[0]))
}

func (f facet) into(m *mesh.Mesh) {
	n := uint32(len(m.Vertices))
	m.Vertices = append(m.Vertices, narrow(f[0]), narrow(f[1]), narrow(f[2]))
	m.Triangles = append(m.Triangles, [3]uint32{n, n + 1, n + 2})
}

// pieces are those of one facet: alike, and not.
type pieces [2][]facet

// cut halves the longest edge, which keeps pieces from becoming slivers, until none is longer than fine.
func (p *pieces) cut(f facet, near func([3]float64) bool, fine float64) {
	if f.size() <= fine {
		k := 1
		if near(f.middle()) {
			k = 0
		}
		p[k] = append(p[k], f)
		return
	}
	a := 0
	for k := range 3 {
		if distance(f[k], f[(k+1)%3]) > distance(f[a], f[(a+1)%3]) {
			a = k
		}
	}
	x, y, z := f[a], f[(a+1)%3], f[(a+2)%3]
	h := between(x, y)
	p.cut(facet{x, h, z}, near, fine)
	p.cut(facet{h, y, z}, near, fine)
}

// Nearest is the point of a mesh, moved, that is nearest to a place; the place itself for an empty mesh.
func Nearest(m *mesh.Mesh, motion mesh.Matrix, at [3]float64) [3]float64 {
	best, least := at, math.Inf(1)
	for _, t := range m.Triangles {
		f := facetOf(m, t)
		q := closest(at, motion.Apply(f[0]), motion.Apply(f[1]), motion.Apply(f[2]))
		if d := distance(at, q); d < least {
			best, least = q, d
		}
	}
	return best
}
