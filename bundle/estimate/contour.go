package estimate

import (
	"math"
	"slices"

	"dropwright/bundle/motion"
	"dropwright/bundle/section"
)

// tracer works out the lines along the outlines of a layer: their lengths and their time. The line
// number i of a loop runs (i+1/2) line widths inside the outline; instead of building it, every
// side is shortened by what its two corners take (or lengthened, where they turn the other way).
type tracer struct {
	plan  motion.Planner
	sides []side
	order []int
	first []section.Point
}

type side struct {
	length float64
	dir    [3]float64
	takes  float64 // mm of length that the corner at its start takes from each of its two sides, per mm of offset
}

// spike bounds what a corner takes: at a spike of 11 degrees the offset sides are long past each other.
const spike = 10

// traced is the lines along the outlines of one layer.
type traced struct {
	outline, wall               float64 // length, mm
	outlineSeconds, wallSeconds float64
	hops                        float64 // seconds of travel between loops
}

// trace works out the lines of all loops of a layer; speeds in mm/s. Flip says that the mesh is inside
// out, so that material lies right of the loops.
func (t *tracer) trace(loops []section.Loop, flip bool, s *Settings, m *Machine, outline, wall float64) traced {
	var sum traced
	t.plan.Limits = m.Limits
	t.order, t.first = t.order[:0], t.first[:0]
	for i := range loops {
		at := start(loops[i].Points)
		t.order = append(t.order, i)
		t.first = append(t.first, loops[i].Points[at])
		if s.Walls == 0 {
			continue
		}
		t.load(loops[i].Points, at, flip)
		l, sec := t.line(0.5*s.Line, outline)
		sum.outline += l
		sum.outlineSeconds += sec
		if s.Walls == 1 {
			continue
		}
		l, sec = t.line(1.5*s.Line, wall)
		if s.Walls > 2 {
			// Length and time are linear in the offset as long as no side vanishes: the mean of the
			// first and the last stands for those between.
			l2, sec2 := t.line((float64(s.Walls)-0.5)*s.Line, wall)
			n := float64(s.Walls - 1)
			l, sec = n*(l+l2)/2, n*(sec+sec2)/2
		}
		sum.wall += l
		sum.wallSeconds += sec
	}
	sum.hops = t.hops(s, m)
	return sum
}

// start is the number of the lowest of the leftmost points: a corner of the hull, the same whatever
// the order of the triangles.
func start(pts []section.Point) int {
	at := 0
	for i, p := range pts {
		if p[0] < pts[at][0] || p[0] == pts[at][0] && p[1] < pts[at][1] {
			at = i
		}
	}
	return at
}

// load turns a loop into sides, from point number at on.
func (t *tracer) load(pts []section.Point, at int, flip bool) {
	t.sides = t.sides[:0]
	n := len(pts)
	for i := range n {
		a, b := pts[(at+i)%n], pts[(at+i+1)%n]
		dx, dy := b[0]-a[0], b[1]-a[1]
		l := math.Sqrt(dx*dx + dy*dy)
		if l == 0 {
			continue
		}
		t.sides = append(t.sides, side{length: l, dir: [3]float64{dx / l, dy / l, 0}})
	}
	n = len(t.sides)
	for i := range n {
		a, b := t.sides[(i+n-1)%n].dir, t.sides[i].dir
		cross, dot := a[0]*b[1]-a[1]*b[0], a[0]*b[0]+a[1]*b[1]
		if flip {
			cross = -cross
		}
		if cross > 0 {
			// The inside of a corner: both sides lose the tangent of half the turn.
			t.sides[i].takes = math.Min(spike, cross/math.Max(1+dot, 1e-9))
		} else {
			// The outside: the line goes round the corner on an arc, half of it to each side.
			t.sides[i].takes = math.Atan2(cross, dot) / 2
		}
	}
}

// line is the length and time of the line at the given offset, from rest to rest.
func (t *tracer) line(offset, speed float64) (length, seconds float64) {
	t.plan.Reset()
	n := len(t.sides)
	for i := range n {
		s := &t.sides[i]
		l := s.length - offset*(s.takes+t.sides[(i+1)%n].takes)
		if l <= 0 {
			continue
		}
		length += l
		t.plan.Curve(l, s.dir, s.dir, speed)
	}
	return length, t.plan.Seconds()
}

// hops is the travel of a layer: to each loop's start in the order of their places, a line's width
// between the lines of one loop, and once to the inside of each loop.
func (t *tracer) hops(s *Settings, m *Machine) float64 {
	slices.SortFunc(t.order, func(i, j int) int {
		a, b := t.first[i], t.first[j]
		switch {
		case a[0] < b[0] || a[0] == b[0] && a[1] < b[1]:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	var sum float64
	step := motion.Trap(s.Line, 0, 0, m.Travel, m.Acceleration)
	for k, i := range t.order {
		sum += step * float64(max(s.Walls, 1))
		if k > 0 {
			a, b := t.first[t.order[k-1]], t.first[i]
			sum += motion.Trap(math.Hypot(b[0]-a[0], b[1]-a[1]), 0, 0, m.Travel, m.Acceleration)
		}
	}
	return sum
}

// hatch is the time of filling a region with parallel lines the given spacing (mm) apart. Pixels
// say how many lines there are: each stretch of pixels along a row stands for px/spacing of a line.
// The mean of both directions is taken, as lines change direction from layer to layer. A line is
// entered and left at the speed of the corner into the short side that leads to the next line.
func hatch(g *grid, area float64, along, across int, spacing, speed float64, l motion.Limits) float64 {
	if area <= 0 || along+across == 0 {
		return 0
	}
	stretches := float64(along+across) / 2 * g.px // mm: width of the region across the lines
	lines := stretches / spacing
	corner := math.Min(l.Corner(0), speed)
	return lines * (motion.Trap(area/stretches, corner, corner, speed, l.Acceleration) +
		motion.Trap(spacing, corner, corner, speed, l.Acceleration))
}
