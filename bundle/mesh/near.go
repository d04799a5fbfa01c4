package mesh

import (
	"math"
	"math/bits"
	"slices"
)

// The tolerant weld makes vertices one that lie close together. It is tried only where the exact weld
// leaves open edges, and only on the vertices of those edges: fine detail elsewhere stays.

// nearTolerances are the distances tried, smallest first, for a part whose longest side is extent (mm).
// Corners that should be equal differ by a few units of the last float32 digit (1e-7 of the size) when a
// program moved the part facet by facet, and by one unit of the last printed digit when a text file
// was rounded (six significant digits: 1e-5 to 1e-4 of the size). A hundredth of a millimetre, a
// twentieth of a thin layer, is the most that is ever bridged. (Our own rule.)
func nearTolerances(extent float64) []float64 {
	var out []float64
	for _, share := range []float64{1e-6, 1e-5, 1e-4} {
		t := min(0.01, share*extent)
		if t > 0 && (len(out) == 0 || t > out[len(out)-1]) {
			out = append(out, t)
		}
	}
	return out
}

const (
	// nearChain bounds how many vertices of one grid cell are compared with a new one, the latest first.
	// Those that should be one lie together, so some of these will be among them.
	nearChain = 64
	// nearCell is the side of a grid cell in tolerances: large enough that most vertices are far from
	// the neighbouring cells, small enough that few share one.
	nearCell = 8
)

// mergeNear returns m with those vertices made one that have their bit set in chosen and lie within tol
// (mm) of each other, directly or by way of others. Each set moves to its smallest member, by x, y, z.
// Facets keep their number and order; some may have become lines.
func mergeNear(m *Mesh, chosen []uint32, tol float64) *Mesh {
	var ids []uint32
	for i := range m.Vertices {
		if chosen[i/32]>>(i%32)&1 == 1 {
			ids = append(ids, uint32(i))
		}
	}
	g := newNearGrid(m, ids, tol)
	parent := large[uint32](len(ids))
	for k, id := range ids {
		parent[k] = uint32(k)
		p := wide(m.Vertices[id])
		own := g.cell(p)
		var lo, hi cellIndex
		for a := range 3 {
			lo[a], hi[a] = g.axis(p[a]-tol), g.axis(p[a]+tol)
		}
		for x := lo[0]; x <= hi[0]; x++ {
			for y := lo[1]; y <= hi[1]; y++ {
				for z := lo[2]; z <= hi[2]; z++ {
					seen := 0
					for j := g.slots[g.find(cellIndex{x, y, z})]; j != 0 && seen < nearChain; j = g.next[j-1] {
						seen++
						if distance(p, wide(m.Vertices[ids[j-1]])) <= tol {
							union(parent, uint32(k), j-1)
						}
					}
				}
			}
		}
		slot := &g.slots[g.find(own)]
		g.next[k] = *slot
		*slot = uint32(k) + 1
	}

	smallest := large[uint32](len(ids)) // by root: the member that stands for all
	for k := range ids {
		r := find(parent, uint32(k))
		if r == uint32(k) {
			smallest[k] = ids[k]
		} else if a, b := m.Vertices[ids[k]], m.Vertices[smallest[r]]; slices.Compare(a[:], b[:]) < 0 {
			smallest[r] = ids[k]
		}
	}
	to := large[uint32](len(m.Vertices))
	for i := range to {
		to[i] = uint32(i)
	}
	for k, id := range ids {
		to[id] = smallest[find(parent, uint32(k))]
	}
	// Close the gaps in the numbering.
	vertices := large[[3]float32](len(m.Vertices))[:0]
	number := large[uint32](len(m.Vertices))
	for i, v := range m.Vertices {
		if to[i] == uint32(i) {
			number[i] = uint32(len(vertices))
			vertices = append(vertices, v)
		}
	}
	triangles := large[[3]uint32](len(m.Triangles))
	for i, t := range m.Triangles {
		triangles[i] = [3]uint32{number[to[t[0]]], number[to[t[1]]], number[to[t[2]]]}
	}
	return &Mesh{Vertices: vertices, Triangles: triangles}
}

// nearGrid is a hash table from cells to chains of vertices. An entry is an index into ids, plus 1.
type nearGrid struct {
	m     *Mesh
	ids   []uint32
	slots []uint32
	next  []uint32
	size  float64
}

type cellIndex [3]int64

func newNearGrid(m *Mesh, ids []uint32, tol float64) *nearGrid {
	n := 1 << bits.Len(uint(2*len(ids)))
	return &nearGrid{m, ids, large[uint32](n), large[uint32](len(ids)), nearCell * tol}
}

// axis is a coordinate's cell number. Extents are at most 1e6 tolerances (nearTolerances), but a part far
// from the origin may have more cells before it than an integer holds; it then lies in the outermost.
func (g *nearGrid) axis(v float64) int64 {
	return int64(max(-1<<62, min(1<<62, math.Floor(v/g.size))))
}

func (g *nearGrid) cell(p [3]float64) cellIndex {
	return cellIndex{g.axis(p[0]), g.axis(p[1]), g.axis(p[2])}
}

// find returns the slot of a cell, or the free one where it would go.
func (g *nearGrid) find(c cellIndex) uint64 {
	h := uint64(c[0])*0x9e3779b97f4a7c15 ^ bits.RotateLeft64(uint64(c[1])*0xc2b2ae3d27d4eb4f, 21) ^ bits.RotateLeft64(uint64(c[2])*0x165667b19e3779f9, 42)
	h = (h ^ h>>29) * 0x9e3779b97f4a7c15
	mask := uint64(len(g.slots) - 1)
	for at := h >> 32 & mask; ; at = (at + 1) & mask {
		j := g.slots[at]
		if j == 0 || g.cell(wide(g.m.Vertices[g.ids[j-1]])) == c {
			return at
		}
	}
}

func distance(a, b [3]float64) float64 {
	x, y, z := a[0]-b[0], a[1]-b[1], a[2]-b[2]
	return math.Sqrt(float64(x*x) + float64(y*y) + float64(z*z))
}
