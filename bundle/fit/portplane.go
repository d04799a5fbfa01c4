package fit

import "math"

// vec is a point in space, mm.
type vec = [3]float64

// edge of a half-space across one axis: what lies on the wanted side of bound is kept.
type edge struct {
	axis  int
	bound float64
	below bool
}

// clip cuts a convex polygon by half-spaces; nil when nothing is left. What merely touches is kept. The two
// buffers are used in turn and may be the polygon's own.
func clip(poly, a, b []vec, by ...edge) []vec {
	for _, e := range by {
		dst := b[:0]
		for i, p := range poly {
			q := poly[(i+1)%len(poly)]
			dp, dq := p[e.axis]-e.bound, q[e.axis]-e.bound
			if e.below {
				dp, dq = -dp, -dq
			}
			if dp >= 0 {
				dst = append(dst, p)
			}
			if (dp < 0) != (dq < 0) && dp != 0 && dq != 0 {
				t := dp / (dp - dq)
				x := vec{p[0] + t*(q[0]-p[0]), p[1] + t*(q[1]-p[1]), p[2] + t*(q[2]-p[2])}
				x[e.axis] = e.bound
				dst = append(dst, x)
			}
		}
		if len(dst) == 0 {
			return nil
		}
		poly = dst
		a, b = b, a
	}
	return poly
}

// outline2 is a section of a plug: a rectangle about the origin, or a circle when r is above 0.
type outline2 struct{ w, h, r float64 }

// half is half the width and half the height.
func (o outline2) half() (x, y float64) {
	if o.r > 0 {
		return o.r, o.r
	}
	return o.w / 2, o.h / 2
}

// distance of a convex polygon, seen along its last two coordinates, from the section: 0 when they meet.
func (o outline2) distance(poly []vec) float64 {
	if o.r > 0 {
		return max(0, fromOrigin(poly)-o.r)
	}
	hx, hy := o.w/2, o.h/2
	var a, b [12]vec
	if clip(poly, a[:0], b[:0], edge{1, -hx, false}, edge{1, hx, true}, edge{2, -hy, false}, edge{2, hy, true}) != nil {
		return 0
	}
	corners := [4][2]float64{{-hx, -hy}, {hx, -hy}, {hx, hy}, {-hx, hy}}
	best := math.Inf(1)
	for i, p := range poly {
		q := poly[(i+1)%len(poly)]
		for k, c := range corners {
			d := corners[(k+1)%4]
			best = min(best, pointSegment(p[1], p[2], c, d), pointSegment(c[0], c[1], [2]float64{p[1], p[2]}, [2]float64{q[1], q[2]}))
		}
	}
	return best
}

// fromOrigin is the distance of a convex polygon from the origin, 0 when it holds it.
func fromOrigin(poly []vec) float64 {
	best, inside, sign := math.Inf(1), true, 0.0
	for i, p := range poly {
		q := poly[(i+1)%len(poly)]
		best = min(best, pointSegment(0, 0, [2]float64{p[1], p[2]}, [2]float64{q[1], q[2]}))
		c := p[1]*q[2] - p[2]*q[1]
		switch {
		case c == 0 || sign*c < 0:
			inside = false
		default:
			sign = c
		}
	}
	if inside && len(poly) > 2 {
		return 0
	}
	return best
}

// pointSegment is the distance of a point from a segment.
func pointSegment(x, y float64, a, b [2]float64) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	t := 0.0
	if n := dx*dx + dy*dy; n > 0 {
		t = max(0, min(1, ((x-a[0])*dx+(y-a[1])*dy)/n))
	}
	return math.Hypot(a[0]+t*dx-x, a[1]+t*dy-y)
}

// cell is the side of a bitmap's cells, mm: a quarter of the finest line that is printed.
const cell = 0.05

// cover is a bitmap over a section, for the share that material covers.
type cover struct {
	o      outline2
	nx, ny int
	bits   []bool
}

// mostCells bounds a bitmap; coarser cells stand for larger sections.
const mostCells = 1 << 20

func newCover(o outline2) *cover {
	hx, hy := o.half()
	c := &cover{o: o, nx: max(1, int(math.Round(2*hx/cell))), ny: max(1, int(math.Round(2*hy/cell)))}
	for c.nx*c.ny > mostCells {
		c.nx, c.ny = (c.nx+1)/2, (c.ny+1)/2
	}
	return c
}

// middle of a cell.
func (c *cover) middle(i, j int) (x, y float64) {
	hx, hy := c.o.half()
	return -hx + (float64(i)+0.5)*2*hx/float64(c.nx), -hy + (float64(j)+0.5)*2*hy/float64(c.ny)
}

// add marks the cells whose middle the convex polygon holds.
func (c *cover) add(poly []vec) {
	if c.bits == nil {
		c.bits = make([]bool, c.nx*c.ny)
	}
	hx, hy := c.o.half()
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range poly {
		lo, hi = min(lo, p[2]), max(hi, p[2])
	}
	step := 2 * hy / float64(c.ny)
	for j := max(0, int((lo+hy)/step-1)); j < c.ny && -hy+float64(j)*step <= hi; j++ {
		_, y := c.middle(0, j)
		from, to, ok := across(poly, y)
		if !ok {
			continue
		}
		wide := 2 * hx / float64(c.nx)
		for i := max(0, int((from+hx)/wide-1)); i < c.nx; i++ {
			x, _ := c.middle(i, j)
			if x > to {
				break
			}
			if x >= from && (c.o.r == 0 || x*x+y*y <= c.o.r*c.o.r) {
				c.bits[j*c.nx+i] = true
			}
		}
	}
}

// share is the covered part of the section, 0 to 1.
func (c *cover) share() float64 {
	if c.bits == nil {
		return 0
	}
	set, total := 0, 0
	for j := range c.ny {
		for i := range c.nx {
			x, y := c.middle(i, j)
			if c.o.r > 0 && x*x+y*y > c.o.r*c.o.r {
				continue
			}
			total++
			if c.bits[j*c.nx+i] {
				set++
			}
		}
	}
	return float64(set) / float64(max(1, total))
}

// across is where a convex polygon is cut by the line of the given height.
func across(poly []vec, y float64) (from, to float64, ok bool) {
	from, to = math.Inf(1), math.Inf(-1)
	for i, p := range poly {
		q := poly[(i+1)%len(poly)]
		a, b := p[2]-y, q[2]-y
		if a > 0 && b > 0 || a < 0 && b < 0 {
			continue
		}
		if a == b {
			from, to = min(from, p[1], q[1]), max(to, p[1], q[1])
			continue
		}
		x := p[1] + (q[1]-p[1])*a/(a-b)
		from, to = min(from, x), max(to, x)
	}
	return from, to, from <= to
}
