package same

import (
	"cmp"
	"math"
	"slices"
	"sync/atomic"

	"dropwright/bundle/mesh"
)

// cornerTable finds the vertices of a mesh near a point: chains of vertices by the cell they lie in.
type cornerTable struct {
	m    *mesh.Mesh
	tol  float64
	cell float64
	head []int32 // by hash of the cell; -1 for none
	next []int32
}

func newCornerTable(m *mesh.Mesh, tol float64) *cornerTable {
	size := 1
	for size < len(m.Vertices)+16 {
		size *= 2
	}
	// With cells of 16 tolerances most points need a look into one cell only.
	t := &cornerTable{m: m, tol: tol, cell: 16 * tol, head: make([]int32, size), next: make([]int32, len(m.Vertices))}
	for i := range t.head {
		t.head[i] = -1
	}
	for i := len(m.Vertices) - 1; i >= 0; i-- {
		v := wide(m.Vertices[i])
		h := t.hash(t.at(v[0]), t.at(v[1]), t.at(v[2]))
		t.next[i] = t.head[h]
		t.head[h] = int32(i)
	}
	return t
}

func (t *cornerTable) at(x float64) int64 { return int64(math.Floor(x / t.cell)) }

func (t *cornerTable) hash(x, y, z int64) uint64 {
	return mix(uint64(x)*0x9e3779b97f4a7c15^uint64(y)*0xc2b2ae3d27d4eb4f^uint64(z)*0x165667b19e3779f9) & uint64(len(t.head)-1)
}

// find is the vertex of the lowest number within the tolerance of p, -1 for none.
func (t *cornerTable) find(p [3]float64) int32 {
	var from, to [3]int64
	for a := range 3 {
		from[a], to[a] = t.at(p[a]-t.tol), t.at(p[a]+t.tol)
	}
	best := int32(-1)
	for x := from[0]; x <= to[0]; x++ {
		for y := from[1]; y <= to[1]; y++ {
			for z := from[2]; z <= to[2]; z++ {
				for i := t.head[t.hash(x, y, z)]; i >= 0; i = t.next[i] {
					if (best < 0 || i < best) && distance(wide(t.m.Vertices[i]), p) <= t.tol {
						best = i
						break // the chain ascends
					}
				}
			}
		}
	}
	return best
}

// findAll is find for every vertex of m, moved.
func (t *cornerTable) findAll(m *mesh.Mesh, motion mesh.Matrix) []int32 {
	image := make([]int32, len(m.Vertices))
	const chunk = 4096
	parallel((len(image)+chunk-1)/chunk, func(c int) {
		for i := c * chunk; i < min(len(image), (c+1)*chunk); i++ {
			image[i] = t.find(motion.Apply(wide(m.Vertices[i])))
		}
	})
	return image
}

// agree reports whether the motion lays one surface on the other. Facets of a that are facets of b, vertices
// within the tolerance of each other being one, need no more than that; what is left over on both sides is
// compared as surface.
func (p *pair) agree(motion mesh.Matrix) bool {
	table := newCornerTable(p.b, p.tol)
	imageA, ok := table.images(p.a, motion, p.treeB)
	if !ok {
		return false
	}
	imageB, _ := table.images(p.b, mesh.Identity, p.treeB) // each is its own image at least
	as, restA := idHashes(p.a, imageA, motion.Det() < 0)
	bs, restB := idHashes(p.b, imageB, false)
	onlyA, onlyB := difference(as, bs)
	restA, restB = append(restA, onlyA...), append(restB, onlyB...)
	return p.lieOn(p.a, restA, p.treeB, motion) && p.lieOn(p.b, restB, p.treeA, inverse(motion))
}

// images maps each vertex of m, moved, to a vertex of the table's mesh; to -1 where there is none but the
// vertex lies on the surface. It returns false where one does not.
func (t *cornerTable) images(m *mesh.Mesh, motion mesh.Matrix, surface func() *tree) ([]int32, bool) {
	image := make([]int32, len(m.Vertices))
	used := usedVertices(m)
	var off atomic.Bool
	const chunk = 4096
	parallel((len(image)+chunk-1)/chunk, func(c int) {
		for i := c * chunk; i < min(len(image), (c+1)*chunk) && !off.Load(); i++ {
			if !used[i] {
				continue
			}
			x := motion.Apply(wide(m.Vertices[i]))
			if image[i] = t.find(x); image[i] < 0 && !surface().near(x, t.tol) {
				off.Store(true)
			}
		}
	})
	return image, !off.Load()
}

func usedVertices(m *mesh.Mesh) []bool {
	used := make([]bool, len(m.Vertices))
	for _, f := range m.Triangles {
		used[f[0]], used[f[1]], used[f[2]] = true, true, true
	}
	return used
}

// lieOn reports whether facets of m, moved, lie on a surface: their corners and the middles of their edges
// and of themselves do. The moments of the two agree already (congruent).
func (p *pair) lieOn(m *mesh.Mesh, facets []uint32, surface func() *tree, motion mesh.Matrix) bool {
	if len(facets) == 0 {
		return true
	}
	onto := surface()
	var off atomic.Bool
	const chunk = 1024
	parallel((len(facets)+chunk-1)/chunk, func(c int) {
		for _, f := range facets[c*chunk : min(len(facets), (c+1)*chunk)] {
			t := m.Triangles[f]
			x, y, z := wide(m.Vertices[t[0]]), wide(m.Vertices[t[1]]), wide(m.Vertices[t[2]])
			for _, q := range [7][3]float64{middleOf(m, t), x, y, z, between(x, y), between(y, z), between(z, x)} {
				if off.Load() {
					return
				}
				if !onto.near(motion.Apply(q), p.tol) {
					off.Store(true)
				}
			}
		}
	})
	return !off.Load()
}

func between(a, b [3]float64) [3]float64 {
	return [3]float64{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2}
}

// facetHash is a facet by the hash of its three vertex numbers.
type facetHash struct {
	hash  uint64
	facet uint32
}

// idHashes hashes facets given by vertex numbers; mirrored ones go round the other way. Facets that are no
// more than a line are left out, those with a vertex of no number go to the rest. A collision would have to
// befall 64 bits.
func idHashes(m *mesh.Mesh, image []int32, mirrored bool) (out []facetHash, rest []uint32) {
	out = make([]facetHash, 0, len(m.Triangles))
	for i, t := range m.Triangles {
		a, b, c := image[t[0]], image[t[1]], image[t[2]]
		if a < 0 || b < 0 || c < 0 {
			rest = append(rest, uint32(i))
			continue
		}
		if mirrored {
			b, c = c, b
		}
		if a == b || b == c || c == a {
			continue
		}
		switch {
		case b < a && b < c:
			a, b, c = b, c, a
		case c < a && c < b:
			a, b, c = c, a, b
		}
		out = append(out, facetHash{mix(mix(uint64(a)<<32|uint64(b)) ^ uint64(c)), uint32(i)})
	}
	return out, rest
}

// difference gives the facets that only one of the two lists has. The sum of the hashes tells in most cases
// that there are none, without sorting.
func difference(a, b []facetHash) (onlyA, onlyB []uint32) {
	var sums [2][2]uint64
	for k, list := range [2][]facetHash{a, b} {
		for _, f := range list {
			sums[k][0] += f.hash
			sums[k][1] += mix(f.hash)
		}
	}
	if sums[0] == sums[1] && len(a) == len(b) {
		return nil, nil
	}
	// By the top bits into heaps that fit a core's cache: sorting a million as a whole takes four times as long.
	bits := 1
	for bits < 16 && len(a)+len(b) > 512<<bits {
		bits++
	}
	heapsA, heapsB := heapsOf(a, bits), heapsOf(b, bits)
	only := make([][2][]uint32, 1<<bits)
	order := func(x, y facetHash) int { return cmp.Or(cmp.Compare(x.hash, y.hash), cmp.Compare(x.facet, y.facet)) }
	parallel(len(only), func(k int) {
		a, b := heapsA[k], heapsB[k]
		slices.SortFunc(a, order)
		slices.SortFunc(b, order)
		i, j := 0, 0
		for i < len(a) || j < len(b) {
			switch {
			case j == len(b) || i < len(a) && a[i].hash < b[j].hash:
				only[k][0] = append(only[k][0], a[i].facet)
				i++
			case i == len(a) || b[j].hash < a[i].hash:
				only[k][1] = append(only[k][1], b[j].facet)
				j++
			default:
				i++
				j++
			}
		}
	})
	for _, x := range only {
		onlyA, onlyB = append(onlyA, x[0]...), append(onlyB, x[1]...)
	}
	return onlyA, onlyB
}

// heapsOf parts a list by the top bits of the hashes.
func heapsOf(list []facetHash, bits int) [][]facetHash {
	starts := make([]int, 1<<bits+1)
	for _, f := range list {
		starts[f.hash>>(64-bits)+1]++
	}
	for i := range 1 << bits {
		starts[i+1] += starts[i]
	}
	sorted, next := make([]facetHash, len(list)), slices.Clone(starts)
	for _, f := range list {
		k := f.hash >> (64 - bits)
		sorted[next[k]] = f
		next[k]++
	}
	out := make([][]facetHash, 1<<bits)
	for k := range out {
		out[k] = sorted[starts[k]:starts[k+1]]
	}
	return out
}
