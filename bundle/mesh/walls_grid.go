package mesh

import "math"

// rayGrid is a uniform grid over the facets of a mesh, for finding what a ray meets first.
type rayGrid struct {
	m      *Mesh
	lo     [3]float64
	cell   float64
	n      [3]int
	start  []uint32 // facets of cell i: list[start[i]:start[i+1]]
	list   []uint32
	within float64 // what counts as the surface the ray starts on
}

// maxRayCells bounds the grid (4 bytes a cell); a long thin part would need far more cells than facets.
const maxRayCells = 1 << 21

func newRayGrid(m *Mesh) *rayGrid {
	g := &rayGrid{m: m, lo: [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}}
	hi := [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	largest := 0.0
	for _, v := range m.Vertices {
		for a, x := range v {
			x := float64(x)
			if x < g.lo[a] {
				g.lo[a] = x
			}
			if x > hi[a] {
				hi[a] = x
			}
			if x := math.Abs(x); x > largest {
				largest = x
			}
		}
	}
	// A few steps of float32 at the largest coordinate: the rounding of corners moves a face by as much.
	g.within = 4 * largest / (1 << 24)
	size := [3]float64{hi[0] - g.lo[0], hi[1] - g.lo[1], hi[2] - g.lo[2]}
	// About one facet a cell of the surface that the box has: cells ~ (facets)^(3/2) would be too many
	// for a fine mesh, 2 a facet was the best tried.
	cells := min(float64(2*len(m.Triangles)+64), maxRayCells)
	longest := max(size[0], size[1], size[2], 1e-6)
	volume := 1.0
	for a := range size {
		size[a] = max(size[a], longest/256)
		volume *= size[a]
	}
	g.cell = math.Cbrt(volume / cells)
	total := 1
	for a := range size {
		g.n[a] = int(size[a]/g.cell) + 1
		total *= g.n[a]
	}
	g.start = make([]uint32, total+1)
	g.each(func(_ uint32, cell int) { g.start[cell]++ })
	sum := uint32(0)
	for i := range g.start {
		sum, g.start[i] = sum+g.start[i], sum
	}
	g.list = make([]uint32, sum)
	fill := make([]uint32, total)
	copy(fill, g.start)
	g.each(func(facet uint32, cell int) {
		g.list[fill[cell]] = facet
		fill[cell]++
	})
	return g
}

// at is the cell number along one axis, within the grid.
func (g *rayGrid) at(axis int, x float64) int {
	return max(0, min(g.n[axis]-1, int((x-g.lo[axis])/g.cell)))
}

// each calls do for every cell that a facet's box and plane meet.
func (g *rayGrid) each(do func(facet uint32, cell int)) {
	for i, t := range g.m.Triangles {
		a, b, c := wide(g.m.Vertices[t[0]]), wide(g.m.Vertices[t[1]]), wide(g.m.Vertices[t[2]])
		var from, to [3]int
		one := true
		for x := range 3 {
			from[x] = g.at(x, min(a[x], b[x], c[x])-g.within)
			to[x] = g.at(x, max(a[x], b[x], c[x])+g.within)
			one = one && from[x] == to[x]
		}
		if one {
			do(uint32(i), (from[2]*g.n[1]+from[1])*g.n[0]+from[0])
			continue
		}
		n := facetNormal(g.m, t)
		// Half the projection of a cell on the normal.
		reach := (math.Abs(n[0])+math.Abs(n[1])+math.Abs(n[2]))*(g.cell/2+g.within) + 1e-300
		for z := from[2]; z <= to[2]; z++ {
			dz := n[2] * (g.lo[2] + (float64(z)+0.5)*g.cell - a[2])
			for y := from[1]; y <= to[1]; y++ {
				dy := dz + n[1]*(g.lo[1]+(float64(y)+0.5)*g.cell-a[1])
				row := (z*g.n[1] + y) * g.n[0]
				for x := from[0]; x <= to[0]; x++ {
					if d := dy + n[0]*(g.lo[0]+(float64(x)+0.5)*g.cell-a[0]); d <= reach && -d <= reach {
						do(uint32(i), row+x)
					}
				}
			}
		}
	}
}

// through follows the ray from a point of the surface against the outward normal to where it leaves the
// material. It returns the distance, or 0 if the face there does not oppose the normal.
func (g *rayGrid) through(from, normal [3]float64) float64 {
	dir := [3]float64{-normal[0], -normal[1], -normal[2]}
	var cell, step [3]int
	var next, delta [3]float64
	for a := range 3 {
		cell[a] = g.at(a, from[a])
		switch {
		case dir[a] > 0:
			step[a] = 1
			next[a] = (g.lo[a] + float64(cell[a]+1)*g.cell - from[a]) / dir[a]
			delta[a] = g.cell / dir[a]
		case dir[a] < 0:
			step[a] = -1
			next[a] = (g.lo[a] + float64(cell[a])*g.cell - from[a]) / dir[a]
			delta[a] = -g.cell / dir[a]
		default:
			next[a] = math.Inf(1)
		}
	}
	best, cosine := math.Inf(1), 0.0
	for {
		i := (cell[2]*g.n[1]+cell[1])*g.n[0] + cell[0]
		for _, facet := range g.list[g.start[i]:g.start[i+1]] {
			t, cos := g.meet(facet, from, dir)
			if t <= g.within || t >= best+g.within {
				continue
			}
			// Where the ray leaves through an edge both faces are as near: the one that opposes more counts.
			if t < best-g.within || cos > cosine {
				cosine = cos
			}
			if t < best {
				best = t
			}
		}
		axis := 0
		if next[1] < next[axis] {
			axis = 1
		}
		if next[2] < next[axis] {
			axis = 2
		}
		if best <= next[axis] {
			break
		}
		cell[axis] += step[axis]
		if cell[axis] < 0 || cell[axis] >= g.n[axis] {
			break
		}
		next[axis] += delta[axis]
	}
	if math.IsInf(best, 1) || cosine <= opposes {
		return 0
	}
	return best
}

// meet gives the distance at which the ray leaves the material through a facet, and the cosine between
// ray and outward normal; -1 if it does not. Edges count to both facets (Moeller and Trumbore 1997,
// with a margin for rounding).
func (g *rayGrid) meet(facet uint32, from, dir [3]float64) (distance, cosine float64) {
	t := g.m.Triangles[facet]
	a, b, c := &g.m.Vertices[t[0]], &g.m.Vertices[t[1]], &g.m.Vertices[t[2]]
	ax, ay, az := float64(a[0]), float64(a[1]), float64(a[2])
	ux, uy, uz := float64(b[0])-ax, float64(b[1])-ay, float64(b[2])-az
	vx, vy, vz := float64(c[0])-ax, float64(c[1])-ay, float64(c[2])-az
	nx, ny, nz := uy*vz-uz*vy, uz*vx-ux*vz, ux*vy-uy*vx
	det := nx*dir[0] + ny*dir[1] + nz*dir[2]
	if det <= 0 {
		return -1, 0
	}
	px, py, pz := from[0]-ax, from[1]-ay, from[2]-az
	// p x dir
	qx, qy, qz := py*dir[2]-pz*dir[1], pz*dir[0]-px*dir[2], px*dir[1]-py*dir[0]
	const margin = 1e-9
	u := -(vx*qx + vy*qy + vz*qz)
	if u < -margin*det || u > (1+margin)*det {
		return -1, 0
	}
	v := ux*qx + uy*qy + uz*qz
	if v < -margin*det || u+v > (1+margin)*det {
		return -1, 0
	}
	return -(nx*px + ny*py + nz*pz) / det, det / math.Sqrt(nx*nx+ny*ny+nz*nz)
}
