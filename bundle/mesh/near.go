package mesh

import (
	"math"
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

// nearChain bounds how many vertices of one grid cell are compared one by one. Only meshes with that
// many distinct vertices within twice the tolerance meet it; they are merged without a look.
const nearChain = 64

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
	parent := make([]uint32, len(ids))
	next := make([]int32, len(ids)) // the chain of a cell
	cells := make(map[[3]int64]int32, len(ids)/4)
	cell := 2 * tol
	for k, id := range ids {
		parent[k], next[k] = uint32(k), -1
		p := wide(m.Vertices[id])
		var own, other [3]int64
		for a := range 3 {
			f := math.Floor(p[a] / cell)
			own[a] = int64(f)
			other[a] = own[a] + 1
			if p[a]-f*cell < tol {
				other[a] = own[a] - 1
			}
		}
		for corner := range 8 {
			at := own
			for a := range 3 {
				if corner>>a&1 == 1 {
					at[a] = other[a]
				}
			}
			head, ok := cells[at]
			if !ok {
				continue
			}
			seen := 0
			for j := head; j >= 0; j = next[j] {
				if seen++; seen > nearChain || distance(p, wide(m.Vertices[ids[j]])) <= tol {
					union(parent, uint32(k), uint32(j))
				}
				if seen > nearChain {
					break
				}
			}
		}
		if head, ok := cells[own]; ok {
			next[k] = head
		}
		cells[own] = int32(k)
	}

	smallest := make([]uint32, len(ids)) // by root: the member that stands for all
	for k := range ids {
		r := find(parent, uint32(k))
		if r == uint32(k) {
			smallest[k] = ids[k]
		} else if a, b := m.Vertices[ids[k]], m.Vertices[smallest[r]]; slices.Compare(a[:], b[:]) < 0 {
			smallest[r] = ids[k]
		}
	}
	to := make([]uint32, len(m.Vertices))
	for i := range to {
		to[i] = uint32(i)
	}
	for k, id := range ids {
		to[id] = smallest[find(parent, uint32(k))]
	}
	// Close the gaps in the numbering.
	vertices := make([][3]float32, 0, len(m.Vertices))
	number := make([]uint32, len(m.Vertices))
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

func distance(a, b [3]float64) float64 {
	x, y, z := a[0]-b[0], a[1]-b[1], a[2]-b[2]
	return math.Sqrt(float64(x*x) + float64(y*y) + float64(z*z))
}
