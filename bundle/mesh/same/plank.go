package same

import (
	"math"

	"dropwright/bundle/mesh"
)

// plank is a box that need not lie along the axes. The upright box around a sliver that runs askew is nearly
// all air: of a disc cut into a hundred thousand of them, a quarter of all boxes hold any given point, and a
// search has to try them all. A plank along the sliver holds little else.
type plank struct {
	middle [3]float64
	axes   [3][3]float64 // orthonormal
	half   [3]float64
	use    bool // it holds much less than the upright box
}

// spareFactor is by how much a plank has to be narrower than the upright box to be worth its own test, and
// spareShare the share of leaves that must have such a plank for a tree to keep any. Compact facets have none.
// Tried with rings, balls and cups of a million facets.
const (
	spareFactor = 4
	spareShare  = 16
)

// planksOf gives the planks for each box of the levels, or nil for a mesh without many slivers.
func planksOf(m *mesh.Mesh, order []uint32, levels [][]box) [][]plank {
	leaves := make([]plank, len(levels[0]))
	const chunk = 1 << 12
	chunks := (len(leaves) + chunk - 1) / chunk
	useful := make([]int, chunks)
	parallel(chunks, func(c int) {
		var points [3 * leaf][3]float64
		for i := c * chunk; i < min(len(leaves), (c+1)*chunk); i++ {
			facets := order[i*leaf : min(len(order), (i+1)*leaf)]
			for k, f := range facets {
				for j, id := range m.Triangles[f] {
					points[3*k+j] = wide(m.Vertices[id])
				}
			}
			axes := axesOf(points[0], points[1], points[2])
			leaves[i] = plankAround(points[:3*len(facets)], axes, &levels[0][i])
			if leaves[i].use {
				useful[c]++
			}
		}
	})
	total := 0
	for _, n := range useful {
		total += n
	}
	if total*spareShare < len(leaves) {
		return nil
	}
	planks := [][]plank{leaves}
	for l := 1; l < len(levels); l++ {
		down := planks[l-1]
		up := make([]plank, len(levels[l]))
		for i := range up {
			inner := down[i*fan : min(len(down), (i+1)*fan)]
			var points [8 * fan][3]float64
			for k := range inner {
				inner[k].corners(points[8*k:])
			}
			// The axes of the middle one: in a fan it points between the others.
			up[i] = plankAround(points[:8*len(inner)], inner[len(inner)/2].axes, &levels[l][i])
		}
		planks = append(planks, up)
	}
	return planks
}

// axesOf is a frame along the longest edge of a triangle, with the last axis across its plane.
func axesOf(a, b, c [3]float64) [3][3]float64 {
	u, v := sub(b, a), sub(c, a)
	if w := sub(c, b); norm(w) > max(norm(u), norm(v)) {
		u, v = w, sub(a, b)
	} else if norm(v) > norm(u) {
		u, v = v, u
	}
	n := cross(u, v)
	if size := norm(u); !(norm(n) > 1e-12*size*size) { // no more than a line: any direction across will do
		k := 0
		for i := range u {
			if math.Abs(u[i]) < math.Abs(u[k]) {
				k = i
			}
		}
		var e [3]float64
		e[k] = 1
		if n = cross(u, e); !(norm(n) > 0) { // a point
			return [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
		}
	}
	lu, ln := norm(u), norm(n)
	for i := range 3 {
		u[i] /= lu
		n[i] /= ln
	}
	return [3][3]float64{u, cross(n, u), n}
}

// plankAround is the plank along given axes that holds the points.
func plankAround(points [][3]float64, axes [3][3]float64, upright *box) plank {
	p := plank{axes: axes}
	reach := 0.0
	for k := range 3 {
		low, high := math.Inf(1), math.Inf(-1)
		for i := range points {
			x := dot(axes[k], points[i])
			low, high = min(low, x), max(high, x)
		}
		for i := range 3 {
			p.middle[i] += axes[k][i] * (low + high) / 2
		}
		p.half[k] = (high - low) / 2
		reach = max(reach, math.Abs(low), math.Abs(high))
	}
	for k := range 3 {
		p.half[k] += 1e-13 * reach // the rounding of what is computed here and in away
	}
	// The middle one of the three sides tells how much air there is: a fan is flat in both.
	p.use = spareFactor*2*middleSide(p.half) < middleSide([3]float64{
		float64(upright.high[0]) - float64(upright.low[0]),
		float64(upright.high[1]) - float64(upright.low[1]),
		float64(upright.high[2]) - float64(upright.low[2]),
	})
	return p
}

func middleSide(s [3]float64) float64 {
	return max(min(s[0], s[1]), min(max(s[0], s[1]), s[2]))
}

// corners writes the eight corners.
func (p *plank) corners(out [][3]float64) {
	for n := range 8 {
		x := p.middle
		for k := range 3 {
			h := p.half[k]
			if n>>k&1 == 1 {
				h = -h
			}
			for i := range 3 {
				x[i] += h * p.axes[k][i]
			}
		}
		out[n] = x
	}
}

// away is the squared distance of a point from the plank.
func (p *plank) away(x *[3]float64) float64 {
	d := [3]float64{x[0] - p.middle[0], x[1] - p.middle[1], x[2] - p.middle[2]}
	sum := 0.0
	for k := range 3 {
		if e := math.Abs(dot(p.axes[k], d)) - p.half[k]; e > 0 {
			sum += e * e
		}
	}
	return sum
}
