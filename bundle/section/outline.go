package section

import (
	"cmp"
	"math"
	"slices"
)

// form is what the outline of a wall looks like.
type form uint8

const (
	other form = iota
	round
	hexagon
)

// Limits of the outline's recognition. The residual and area limits are those that recognised every
// circle of 8 to 96 sides and no square, slot or ellipse on our torture plates; no published source.
const (
	cornerWithin   = 2e-4 // mm off the line of its neighbours at which a corner is none
	cornerNoise    = 6e-6 // the same relative to the coordinates: six digits in a text file
	residualLeast  = 0.01 // mm a corner may lie off the circle
	residualPart   = 0.005
	diskPart       = 0.89  // area of a circle's outline over that of the circle: an octagon has 0.9003
	straightSlope  = 0.01  // wall taken as straight along the axis: 0.6 degrees, printers do worse
	tiltSlope      = 0.004 // sideways drift of an outline along the axis, above which it is tilted
	diameterLeast  = 0.3   // mm; smaller circles are noise or texture, no printer makes them
	regularWithin  = 0.02  // sides of a pentagon, hexagon or heptagon over their mean
	sameWithin     = 0.03  // mm between centres or diameters of one and the same wall
	openSagitta    = 0.02  // mm of flat on a circle that is still a circle
	coarseSagittas = 3.0   // … or in sagittas of its usual side
	sameArea       = 0.002 // relative, of one and the same opening
	noArea         = 1e-6  // mm2; slivers of rounding
	samePlaceLevel = 1e-4  // mm between levels that are one
)

// shape is one recognised loop of a section.
type shape struct {
	form    form
	hole    bool // walls face inwards
	island  bool // something stands inside
	u, v    float64
	d       float64 // through the corners
	passes  float64 // of the circle that fits inside the outline
	corners int
	grow    float64 // growth of d along the axis, 0 for a straight wall
	box     [4]float64
	area    float64
	outline []Point // corners, of openings and of round holes with something inside
}

// reader recognises loops; it holds scratch memory and belongs to one goroutine.
type reader struct {
	s      *Stack
	scale  float64 // largest coordinate, for the noise of text files
	sec    Section
	corner []Point
	shapes []shape
	slopes [][2]float64 // slope and length
	starts []Point
}

// read returns the shapes of the section in r.sec: round and hexagonal ones, and openings of any form
// with straight walls. They are valid until the next call. With a wall given, only loops about as large
// and at its place are looked at.
func (r *reader) read(like *wall) []shape {
	loops, _ := r.sec.Loops()
	r.shapes = r.shapes[:0]
	r.starts = r.starts[:0] // of all loops, by u
	for i := range loops {
		if math.Abs(loops[i].Area) > noArea {
			r.starts = append(r.starts, loops[i].Points[0])
		}
	}
	slices.SortFunc(r.starts, func(a, b Point) int { return cmp.Compare(a[0], b[0]) })
	for i := range loops {
		if like != nil && !like.about(&loops[i], r.sec.Height) {
			continue
		}
		sh, ok := r.shape(&loops[i])
		if !ok {
			continue
		}
		if sh.hole && sh.form != other {
			reach := 0.49 * sh.passes // its own points are farther out
			n, _ := slices.BinarySearchFunc(r.starts, sh.u-reach, func(p Point, u float64) int { return cmp.Compare(p[0], u) })
			for ; n < len(r.starts) && r.starts[n][0] <= sh.u+reach; n++ {
				if math.Hypot(r.starts[n][0]-sh.u, r.starts[n][1]-sh.v) < reach {
					sh.island = true
					break
				}
			}
		}
		if sh.form == other || sh.hole && sh.island {
			r.corners(loops[i].Points)
			sh.outline = slices.Clone(r.corner)
		}
		r.shapes = append(r.shapes, sh)
	}
	return r.shapes
}

func (r *reader) shape(l *Loop) (sh shape, ok bool) {
	sh = shape{hole: l.Area < 0, area: math.Abs(l.Area)}
	if sh.area < diameterLeast*diameterLeast/2 {
		return sh, false
	}
	sh.box = bounds(l.Points)
	w, h := sh.box[2]-sh.box[0], sh.box[3]-sh.box[1]
	// A regular polygon of five or more sides fills 0.68 to 0.83 of a nearly square box.
	fill := sh.area / (w * h)
	if fill > 0.6 && fill < 0.9 && w < 1.25*h && h < 1.25*w {
		r.corners(l.Points)
		if r.circle(&sh) {
			if !r.straight(l, &sh) {
				return sh, false
			}
			return sh, true
		}
	}
	if !sh.hole {
		return sh, false
	}
	sh.form = other
	sh.u, sh.v = centroid(l.Points)
	return sh, r.straight(l, &sh)
}

func bounds(p []Point) [4]float64 {
	b := [4]float64{p[0][0], p[0][1], p[0][0], p[0][1]}
	for _, q := range p[1:] {
		b[0], b[1] = min(b[0], q[0]), min(b[1], q[1])
		b[2], b[3] = max(b[2], q[0]), max(b[3], q[1])
	}
	return b
}

// centroid returns the centre of the area inside the loop.
func centroid(p []Point) (u, v float64) {
	o, a, sum := p[0], p[len(p)-1], 0.0
	for _, b := range p {
		k := (a[0]-o[0])*(b[1]-o[1]) - (b[0]-o[0])*(a[1]-o[1])
		u += k * (a[0] + b[0] - 2*o[0])
		v += k * (a[1] + b[1] - 2*o[1])
		sum += k
		a = b
	}
	return o[0] + u/(3*sum), o[1] + v/(3*sum)
}

// corners drops the points that lie on a straight side: those where the plane crosses the diagonal of
// a flat wall, and those of subdivided walls. The start may be one of them too.
func (r *reader) corners(p []Point) {
	within := max(cornerWithin, min(cornerNoise*r.scale, 10*cornerWithin))
	// Start at the point farthest from the middle, which is a corner for sure.
	b := bounds(p)
	mu, mv := (b[0]+b[2])/2, (b[1]+b[3])/2
	start, far := 0, -1.0
	for i, q := range p {
		if d := math.Hypot(q[0]-mu, q[1]-mv); d > far {
			start, far = i, d
		}
	}
	out := append(r.corner[:0], p[start])
	for i := 1; i < len(p); i++ {
		q, next := p[(start+i)%len(p)], p[(start+i+1)%len(p)]
		last := out[len(out)-1]
		du, dv := next[0]-last[0], next[1]-last[1]
		n := distance(last, next)
		if off := math.Abs(du*(q[1]-last[1]) - dv*(q[0]-last[0])); n > within && off > within*n ||
			n <= within && distance(q, last) > within {
			out = append(out, q)
		}
	}
	r.corner = out
}

// circle fits a circle through the corners by least squares and tells whether they are those of a
// hole or post: eight or more well spread corners, or a regular polygon of five to seven.
func (r *reader) circle(sh *shape) bool {
	p := r.corner
	n := len(p)
	if n < 5 {
		return false
	}
	u, v, rad, ok := fitCircle(p)
	if !ok || 2*rad < diameterLeast {
		return false
	}
	limit := max(residualLeast, residualPart*rad)
	inner, longest, shortest := math.Inf(1), 0.0, math.Inf(1)
	a := p[n-1]
	for _, b := range p {
		if math.Abs(math.Hypot(b[0]-u, b[1]-v)-rad) > limit {
			return false
		}
		side := distance(a, b)
		longest, shortest = max(longest, side), min(shortest, side)
		if side > 0 {
			inner = min(inner, math.Abs((b[0]-a[0])*(v-a[1])-(b[1]-a[1])*(u-a[0]))/side)
		}
		a = b
	}
	sh.u, sh.v, sh.d, sh.passes, sh.corners, sh.form = u, v, 2*rad, 2*inner, n, round
	if n < 8 {
		// Few corners lie on a circle by chance; only a regular polygon is meant to be one.
		mean := 2 * rad * math.Sin(math.Pi/float64(n))
		if longest > mean*(1+regularWithin)+residualLeast || shortest < mean*(1-regularWithin)-residualLeast {
			return false
		}
		if n == 6 {
			sh.form = hexagon
		}
		return n == 6 || sh.hole
	}
	usual := rad * (1 - math.Cos(math.Pi/float64(n)))
	return sh.area >= diskPart*math.Pi*rad*rad && rad-inner <= max(openSagitta, coarseSagittas*usual)
}

// fitCircle is the algebraic least-squares circle (Kåsa, IEEE Trans. Instrum. Meas. 25, 1976), about
// the mean point so that no digits are lost far from the origin. For points on a circle it is exact.
func fitCircle(p []Point) (u, v, rad float64, ok bool) {
	n := float64(len(p))
	var mu, mv float64
	for _, q := range p {
		mu, mv = mu+q[0]/n, mv+q[1]/n
	}
	var uu, uv, vv, uz, vz, zz float64
	for _, q := range p {
		x, y := q[0]-mu, q[1]-mv
		z := x*x + y*y
		uu, uv, vv = uu+x*x, uv+x*y, vv+y*y
		uz, vz, zz = uz+x*z, vz+y*z, zz+z
	}
	det := uu*vv - uv*uv
	if !(det > 1e-12*zz*zz) {
		return 0, 0, 0, false
	}
	a, b := (uz*vv-vz*uv)/(2*det), (vz*uu-uz*uv)/(2*det)
	return mu + a, mv + b, math.Sqrt(a*a + b*b + zz/n), true
}

// straight looks at the triangles behind a loop. It tells whether they are walls along the axis, or
// for a circle also a cone around it, whose growth it notes. One plane is enough for a cone: its
// slope is in its triangles.
func (r *reader) straight(l *Loop, sh *shape) bool {
	if sh.form == other {
		return r.upright(l)
	}
	var length, sum, tu, tv float64
	r.slopes = r.slopes[:0]
	for _, j := range l.segs {
		if hu, hv, weight := r.faces(j); weight > 0 {
			slope := r.slope(r.sec.tri[j], hu, hv)
			r.slopes = append(r.slopes, [2]float64{slope, weight})
			length += weight
			sum += weight * slope
			tu += 2 * weight * slope * hu
			tv += 2 * weight * slope * hv
		}
	}
	if length == 0 {
		return false
	}
	mean := sum / length
	if math.Hypot(tu, tv)/length > tiltSlope+0.02*math.Abs(mean) {
		return false
	}
	off := 0.0
	for _, s := range r.slopes {
		off += s[1] * math.Abs(s[0]-mean)
	}
	if off/length > straightSlope+0.05*math.Abs(mean) {
		return false
	}
	if math.Abs(mean) > straightSlope/2 {
		// Walls of a hole face its axis: where they lean towards it the hole shrinks.
		sh.grow = 2 * mean * sh.d / sh.passes
		if sh.hole {
			sh.grow = -sh.grow
		}
	}
	return true
}

// upright tells whether all but a fiftieth of the walls behind a loop run along the axis.
func (r *reader) upright(l *Loop) bool {
	most := 0.02 * l.Length
	for _, j := range l.segs {
		if hu, hv, weight := r.faces(j); weight > 0 && math.Abs(r.slope(r.sec.tri[j], hu, hv)) > straightSlope {
			if most -= weight; most < 0 {
				return false
			}
		}
	}
	return true
}

// faces returns the direction that segment j faces, and its length. Material is on its left.
func (r *reader) faces(j int32) (hu, hv, length float64) {
	g := &r.sec.Segments[j]
	length = distance(g.A, g.B)
	return (g.B[1] - g.A[1]) / length, (g.A[0] - g.B[0]) / length, length
}

// slope returns how far the wall of a triangle moves along the horizontal direction (hu, hv), the way
// it faces, for each mm along the axis.
func (r *reader) slope(tri uint32, hu, hv float64) float64 {
	t := &r.s.mesh.Triangles[tri]
	ax, ay, az := r.s.at(t[0])
	bx, by, bz := r.s.at(t[1])
	cx, cy, cz := r.s.at(t[2])
	bx, by, bz, cx, cy, cz = bx-ax, by-ay, bz-az, cx-ax, cy-ay, cz-az
	across := (by*cz-bz*cy)*hu + (bz*cx-bx*cz)*hv
	along := bx*cy - by*cx
	if across == 0 {
		return math.Copysign(math.MaxFloat32, -along)
	}
	return -along / across
}
