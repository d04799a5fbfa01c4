package picture

import (
	"math"
)

// facet is what drawing needs of a facet in the plane of the picture: its depth is c + gx*x + gy*y over the
// samples, its normal is a unit vector in the camera's axes, towards the eye.
type facet struct {
	gx, gy, c float64
	normal    [3]float32
}

// point is a projected vertex, in samples.
type point struct{ x, y, depth float32 }

// solid is a body made ready for drawing.
type solid struct {
	Body
	first   uint32 // number of its first facet among all bodies'
	points  []point
	facets  []facet
	corners cornerNormals
	turn    [3][3]float32 // of its own normals into the camera's axes
	tones   *tones
	light   bool // its lines are light, because it is too dark for ink
}

// stage is a scene ready for drawing.
type stage struct {
	camera
	solids        []solid
	width, height int // samples
	n             int // samples in a row of a pixel
	bands         []span
	lists         [][]uint32 // facets that reach into each band
}

// span is a range of rows.
type span struct{ from, to int }

// farAway bounds projected coordinates, so that a wild vertex cannot make a slope overflow.
const farAway = 1e7

func newSolid(b Body, first uint32, c *camera) solid {
	s := solid{Body: b, first: first, points: make([]point, len(b.Mesh.Vertices)), facets: make([]facet, len(b.Mesh.Triangles))}
	m := c.matrix(b.placed())
	for i, v := range b.Mesh.Vertices {
		if finite(v) {
			x, y, d := c.project(m.Apply(wide(v)))
			s.points[i] = point{float32(clamp(x, -farAway, farAway)), float32(clamp(y, -farAway, farAway)), float32(d)}
		}
	}
	for i, t := range b.Mesh.Triangles {
		if sound(b.Mesh, t) {
			s.facets[i] = c.facet(s.points[t[0]], s.points[t[1]], s.points[t[2]])
		}
	}
	if !b.Flat {
		s.corners = smooth(b.Mesh)
		sign := float32(1)
		if m.Det() < 0 {
			sign = -1 // Transform would have reversed the facets
		}
		for i := range 3 {
			for j := range 3 {
				s.turn[i][j] = sign * float32(m[i][j])
			}
		}
		s.light = luminance(b.Colour) < darkest
	}
	s.tones = newTones(b)
	return s
}

func clamp(x, low, high float64) float64 {
	if !(x > low) { // NaN too
		return low
	}
	if x > high {
		return high
	}
	return x
}

// facet works out the plane of a projected facet; one seen edge-on, which covers nothing, has no normal.
func (c *camera) facet(p0, p1, p2 point) facet {
	ux, uy, ud := float64(p1.x)-float64(p0.x), float64(p1.y)-float64(p0.y), float64(p1.depth)-float64(p0.depth)
	vx, vy, vd := float64(p2.x)-float64(p0.x), float64(p2.y)-float64(p0.y), float64(p2.depth)-float64(p0.depth)
	area := ux*vy - uy*vx
	if area == 0 || area-area != 0 {
		return facet{}
	}
	f := facet{gx: (ud*vy - uy*vd) / area, gy: (ux*vd - ud*vx) / area}
	f.c = float64(p0.depth) - f.gx*float64(p0.x) - f.gy*float64(p0.y)
	// The plane's own normal from its depth. Orthographic: z = c + gx*x + gy*y. In perspective
	// 1/w = c0 + gx*X + gy*Y with X, Y from the middle of the picture, and w = distance - z.
	n := vec{-f.gx * c.scale, f.gy * c.scale, 1}
	if c.distance != 0 {
		n = vec{-f.gx * c.scale, f.gy * c.scale, f.c + f.gx*c.x + f.gy*c.y}
	}
	n = unit(n)
	f.normal = [3]float32{float32(n[0]), float32(n[1]), float32(n[2])}
	return f
}

// bandCells is how many samples a band holds: with 9 bytes each it takes about 1.2 MB,
// chosen to stay in a core's second cache.
const bandCells = 128 << 10

// plan cuts the picture into bands of whole pixel rows and lists what reaches into each. margin is how many rows
// above and below a band its lines depend on.
func (s *stage) plan(margin int) {
	rows := max(1, bandCells/max(1, s.width*s.n)) * s.n
	for y := 0; y < s.height; y += rows {
		s.bands = append(s.bands, span{y, min(y+rows, s.height)})
	}
	counts := make([]uint32, len(s.bands)+1)
	each := func(do func(band int, id uint32)) {
		for k := range s.solids {
			x := &s.solids[k]
			for i, t := range x.Mesh.Triangles {
				if x.facets[i].normal == ([3]float32{}) {
					continue
				}
				a, b, c := x.points[t[0]], x.points[t[1]], x.points[t[2]]
				low, high := ceil(min3(a.y, b.y, c.y)), ceil(max3(a.y, b.y, c.y))
				if low >= high || ceil(min3(a.x, b.x, c.x)) >= ceil(max3(a.x, b.x, c.x)) {
					continue // between the samples
				}
				if high <= -margin || low >= s.height+margin {
					continue
				}
				from, to := max(0, low-margin)/rows, min(s.height-1, high-1+margin)/rows
				for k := from; k <= to; k++ {
					do(k, x.first+uint32(i))
				}
			}
		}
	}
	each(func(k int, _ uint32) { counts[k]++ })
	s.lists = make([][]uint32, len(s.bands))
	for k := range s.lists {
		s.lists[k] = make([]uint32, 0, counts[k])
	}
	each(func(k int, id uint32) { s.lists[k] = append(s.lists[k], id) })
}

func min3(a, b, c float32) float32 {
	if b < a {
		a = b
	}
	if c < a {
		a = c
	}
	return a
}

func max3(a, b, c float32) float32 {
	if b > a {
		a = b
	}
	if c > a {
		a = c
	}
	return a
}

// ceil is the first sample at or after x.
func ceil(x float32) int {
	i := int(x)
	if float32(i) < x {
		i++
	}
	return i
}

// solidOf returns the body of a facet by its number, trying the last answer first.
func (s *stage) solidOf(id uint32, last int) int {
	for x := &s.solids[last]; id-x.first >= uint32(len(x.facets)); x = &s.solids[last] {
		if id < x.first {
			last--
		} else {
			last++
		}
	}
	return last
}

// nothing is the facet number of the background.
const nothing = math.MaxUint32

// canvas is what a worker draws one band on.
type canvas struct {
	rows  span // of samples, margin included
	width int
	depth []float32
	ids   []uint32
	mark  []uint8 // 1 where a line is
}

func (c *canvas) reset(rows span, width int) {
	c.rows, c.width = rows, width
	n := (rows.to - rows.from) * width
	if cap(c.ids) < n {
		c.depth, c.ids, c.mark = make([]float32, n), make([]uint32, n), make([]uint8, n)
	}
	c.depth, c.ids, c.mark = c.depth[:n], c.ids[:n], c.mark[:n]
	low := float32(math.Inf(-1))
	for i := range c.depth {
		c.depth[i] = low
	}
	for i := range c.ids {
		c.ids[i] = nothing
	}
	clear(c.mark)
}

// fill draws a facet. A sample belongs to it from the left edge up to, but not with, the right one, and
// likewise from top to bottom: of two facets with a common edge exactly one gets a sample on it.
func (c *canvas) fill(id uint32, f *facet, p0, p1, p2 point) {
	// Top to bottom; equal heights by x, so that both facets of an edge work it out from the same end.
	if before(p1, p0) {
		p0, p1 = p1, p0
	}
	if before(p2, p0) {
		p0, p2 = p2, p0
	}
	if before(p2, p1) {
		p1, p2 = p2, p1
	}
	long, upper, lower := newEdge(p0, p2), newEdge(p0, p1), newEdge(p1, p2)
	from, to := max(ceil(p0.y), c.rows.from), min(ceil(p2.y), c.rows.to)
	middle := ceil(p1.y)
	for y := from; y < to; y++ {
		short := &upper
		if y >= middle {
			short = &lower
		}
		xa, xb := long.at(y), short.at(y)
		if xa > xb {
			xa, xb = xb, xa
		}
		a, b := ceil64(xa), ceil64(xb)
		a, b = max(a, 0), min(b, c.width)
		if a >= b {
			continue
		}
		row := (y - c.rows.from) * c.width
		depth := c.depth[row+a : row+b]
		ids := c.ids[row+a : row+b]
		d := f.c + f.gy*float64(y) + f.gx*float64(a)
		gx := f.gx
		for i := range depth {
			if z := float32(d); z > depth[i] {
				depth[i] = z
				ids[i] = id
			}
			d += gx
		}
	}
}

func before(a, b point) bool { return a.y < b.y || a.y == b.y && a.x < b.x }

func ceil64(x float64) int {
	i := int(x)
	if float64(i) < x {
		i++
	}
	return i
}

// edge gives the place at which a side crosses a row.
type edge struct{ x, y, slope float64 }

func newEdge(a, b point) edge {
	dy := float64(b.y) - float64(a.y)
	if dy == 0 {
		return edge{x: float64(a.x), y: float64(a.y)}
	}
	return edge{float64(a.x), float64(a.y), (float64(b.x) - float64(a.x)) / dy}
}

// at rounds the product before it is added: fused on some machines and not on others, two facets of one edge
// might differ.
func (e *edge) at(y int) float64 { return e.x + float64((float64(y)-e.y)*e.slope) }

// triangles counts all facets of bodies; drawing numbers them with 32 bits.
func triangles(bodies []Body) int {
	n := 0
	for _, b := range bodies {
		n += len(b.Mesh.Triangles)
	}
	return n
}
