package fit

import (
	"math"

	"dropwright/bundle/mesh"
)

// scene is meshes as a board sees them: everything is measured in the frame of the board.
type scene struct {
	bodies []body
}

// body is a mesh in a scene. Facets are moved when they are looked at: of a dense mesh only those near the
// board ever are.
type body struct {
	own   bool // the part that the board sits in
	m     *mesh.Mesh
	grid  *grid
	into  rigid // from the mesh into the board's frame
	outOf rigid
}

// add puts a mesh into the scene by its motion into the board's frame.
func (s *scene) add(own bool, m *mesh.Mesh, g *grid, into rigid) {
	s.bodies = append(s.bodies, body{own: own, m: m, grid: g, into: into, outOf: into.inverse()})
}

// within calls visit for every triangle whose box meets the given one, in an order that depends on the mesh
// alone.
func (s *scene) within(lo, hi vec, visit func(b *body, t *[3]vec)) {
	var v [3]vec // one for all calls: a new one for each would have to live on the heap
	for i := range s.bodies {
		b := &s.bodies[i]
		mlo, mhi := b.outOf.box(lo, hi)
		var flo, fhi [3]float32
		for k := range 3 { // rounded outwards
			flo[k], fhi[k] = math.Nextafter32(float32(mlo[k]), -math.MaxFloat32), math.Nextafter32(float32(mhi[k]), math.MaxFloat32)
		}
		try := func(list []uint32) {
		next:
			for _, i := range list {
				t := &b.m.Triangles[i]
				p, q, r := &b.m.Vertices[t[0]], &b.m.Vertices[t[1]], &b.m.Vertices[t[2]]
				for k := range 3 {
					if p[k] < flo[k] && q[k] < flo[k] && r[k] < flo[k] || p[k] > fhi[k] && q[k] > fhi[k] && r[k] > fhi[k] {
						continue next
					}
				}
				for c, w := range [3]*[3]float32{p, q, r} {
					v[c] = b.into.apply(vec{float64(w[0]), float64(w[1]), float64(w[2])})
				}
				for k := range 3 {
					if v[0][k] < lo[k] && v[1][k] < lo[k] && v[2][k] < lo[k] || v[0][k] > hi[k] && v[1][k] > hi[k] && v[2][k] > hi[k] {
						continue next
					}
				}
				visit(b, &v)
			}
		}
		b.grid.within(mlo, mhi, try)
	}
}

// box is the smallest box around a moved box.
func (r rigid) box(lo, hi vec) (vec, vec) {
	mid, half := r.apply(middle(lo, hi)), vec{}
	for k := range 3 {
		for j := range 3 {
			half[k] += math.Abs(r.m[k][j]) * (hi[j] - lo[j]) / 2
		}
		const dust = 1e-6
		half[k] += dust
	}
	return vec{mid[0] - half[0], mid[1] - half[1], mid[2] - half[2]}, vec{mid[0] + half[0], mid[1] + half[1], mid[2] + half[2]}
}

// grid sorts the triangles of a mesh into cells by the low corner of their box, so that a box can be searched
// without looking at all of them. Triangles longer than a cell lie in a list of their own.
type grid struct {
	lo, size vec // of a cell
	start    []uint32
	order    []uint32
	big      []uint32
}

// gridCells is how many cells a grid has along each axis.
const gridCells = 24

func newGrid(m *mesh.Mesh) *grid {
	g := &grid{}
	lo, hi := vec{math.Inf(1), math.Inf(1), math.Inf(1)}, vec{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for _, v := range m.Vertices {
		for k := range 3 {
			lo[k], hi[k] = min(lo[k], float64(v[k])), max(hi[k], float64(v[k]))
		}
	}
	g.lo = lo
	for k := range 3 {
		if g.size[k] = (hi[k] - lo[k]) / gridCells; !(g.size[k] > 0) {
			g.size[k] = 1
		}
	}
	where := make([]uint32, len(m.Triangles))
	g.start = make([]uint32, gridCells*gridCells*gridCells+1)
	const isBig = math.MaxUint32
	for i, t := range m.Triangles {
		a, b, c := &m.Vertices[t[0]], &m.Vertices[t[1]], &m.Vertices[t[2]]
		at, large := 0, false
		for k := range 3 {
			l, h := float64(min(a[k], b[k], c[k])), float64(max(a[k], b[k], c[k]))
			large = large || !(h-l <= g.size[k])
			at = at*gridCells + g.cell(l, k)
		}
		if large {
			where[i] = isBig
			g.big = append(g.big, uint32(i))
			continue
		}
		where[i] = uint32(at)
		g.start[at+1]++
	}
	for i := 1; i < len(g.start); i++ {
		g.start[i] += g.start[i-1]
	}
	g.order = make([]uint32, len(m.Triangles)-len(g.big))
	next := append([]uint32{}, g.start...)
	for i, w := range where {
		if w != isBig {
			g.order[next[w]] = uint32(i)
			next[w]++
		}
	}
	return g
}

// cell is the index of a coordinate along an axis, kept within the grid.
func (g *grid) cell(x float64, k int) int {
	i := (x - g.lo[k]) / g.size[k]
	switch {
	case !(i > 0):
		return 0
	case i >= gridCells-1:
		return gridCells - 1
	}
	return int(i)
}

// within hands over lists of all triangles that may meet a box.
func (g *grid) within(lo, hi vec, visit func(list []uint32)) {
	visit(g.big)
	var from, to [3]int
	for k := range 3 {
		if hi[k] < g.lo[k]-g.size[k] || lo[k] > g.lo[k]+(gridCells+1)*g.size[k] {
			return
		}
		from[k], to[k] = max(0, g.cell(lo[k], k)-1), g.cell(hi[k], k)
	}
	for x := from[0]; x <= to[0]; x++ {
		for y := from[1]; y <= to[1]; y++ {
			row := (x*gridCells + y) * gridCells
			visit(g.order[g.start[row+from[2]]:g.start[row+to[2]+1]])
		}
	}
}
