package mesh

import (
	"cmp"
	"math"
	"slices"
)

// Ordered returns m in the one order that its surface has, whatever the order of its facets was in a file:
// vertices by x, y, z, each facet beginning with its lowest vertex, facets by their vertices. Sums of floats over
// it come out the same to the last digit. m must be welded, that is have no two vertices in one place; vertices
// that no facet uses are dropped.
func Ordered(m *Mesh) *Mesh {
	used := make([]uint32, len(m.Vertices)/32+1)
	for _, t := range m.Triangles {
		for _, v := range t {
			used[v/32] |= 1 << (v % 32)
		}
	}
	type keyed struct {
		xy    uint64
		z, id uint32
	}
	keys := make([]keyed, 0, len(m.Vertices))
	for i, v := range m.Vertices {
		if used[i/32]>>(i%32)&1 == 1 {
			keys = append(keys, keyed{uint64(ascending(v[0]))<<32 | uint64(ascending(v[1])), ascending(v[2]), uint32(i)})
		}
	}
	slices.SortFunc(keys, func(a, b keyed) int {
		if a.xy != b.xy {
			return cmp.Compare(a.xy, b.xy)
		}
		return cmp.Compare(a.z, b.z)
	})
	out := &Mesh{Vertices: large[[3]float32](len(keys)), Triangles: large[[3]uint32](len(m.Triangles))}
	rank := make([]uint32, len(m.Vertices))
	for i, k := range keys {
		out.Vertices[i] = m.Vertices[k.id]
		rank[k.id] = uint32(i)
	}
	// A counting sort by the lowest vertex leaves a handful of facets to sort for each.
	first := func(t [3]uint32) [3]uint32 {
		t = [3]uint32{rank[t[0]], rank[t[1]], rank[t[2]]}
		for t[0] > t[1] || t[0] > t[2] {
			t[0], t[1], t[2] = t[1], t[2], t[0]
		}
		return t
	}
	start := make([]uint32, len(keys)+1)
	for _, t := range m.Triangles {
		start[min(rank[t[0]], rank[t[1]], rank[t[2]])+1]++
	}
	for i := range keys {
		start[i+1] += start[i]
	}
	for _, t := range m.Triangles {
		t = first(t)
		out.Triangles[start[t[0]]] = t
		start[t[0]]++
	}
	begin := uint32(0)
	for i := range keys { // placing has moved each start to its end
		slices.SortFunc(out.Triangles[begin:start[i]], func(a, b [3]uint32) int { return slices.Compare(a[:], b[:]) })
		begin = start[i]
	}
	return out
}

// ascending maps a float32 to a number that compares the same way.
func ascending(f float32) uint32 {
	b := math.Float32bits(f)
	if b>>31 == 1 {
		return ^b
	}
	return b | 1<<31
}
