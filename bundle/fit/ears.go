package fit

import (
	"cmp"
	"math"
	"slices"
)

// outline is a closed loop of corners in a plane, counter-clockwise, with the loops of its holes, clockwise.
type outline struct {
	id    []uint32 // vertex of each corner
	at    [][2]float64
	area  float64
	holes []*outline
}

// turned is twice the area of the triangle a, b, c: positive when they run counter-clockwise. With float32
// coordinates the differences are exact and the result is right to the last bits.
func turned(a, b, c [2]float64) float64 {
	return (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0])
}

func areaOf(at [][2]float64) float64 {
	sum := 0.0
	for i := range at {
		sum += turned(at[0], at[i], at[(i+1)%len(at)])
	}
	return sum / 2
}

// inside tells whether a point lies in a loop (even-odd).
func inside(p [2]float64, loop [][2]float64) bool {
	in := false
	for i := range loop {
		a, b := loop[i], loop[(i+1)%len(loop)]
		if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			in = !in
		}
	}
	return in
}

// triangles cuts an outline with holes into triangles that use its corners only, so that a cap meets the
// facets around it edge by edge. Holes are joined to the outline by bridges, then ears are cut off, the
// roundest first, which leaves corners in a straight row to triangles with area (D. Eberly, Triangulation by
// Ear Clipping).
func (o *outline) triangles() [][3]uint32 {
	loop := &ring{id: slices.Clone(o.id), at: slices.Clone(o.at)}
	holes := slices.Clone(o.holes)
	right := func(h *outline) float64 {
		m := math.Inf(-1)
		for _, p := range h.at {
			m = max(m, p[0])
		}
		return m
	}
	slices.SortStableFunc(holes, func(a, b *outline) int { return cmp.Compare(right(b), right(a)) })
	for _, h := range holes {
		loop.join(h)
	}
	return loop.clip()
}

// ring is a loop that may pass a corner twice, along bridges.
type ring struct {
	id []uint32
	at [][2]float64
}

// join opens the ring at the corner that its hole's rightmost point sees and runs around the hole.
func (r *ring) join(h *outline) {
	m := 0
	for i, p := range h.at {
		if p[0] > h.at[m][0] || p[0] == h.at[m][0] && p[1] > h.at[m][1] {
			m = i
		}
	}
	p := h.at[m]
	best, x := -1, math.Inf(1)
	for i := range r.at { // the edge that the ray from p to the right meets first
		a, b := r.at[i], r.at[(i+1)%len(r.at)]
		if a[1] > p[1] || b[1] < p[1] || a[1] == b[1] {
			continue // with the material on the left, only rising edges bound it on the right
		}
		if at := a[0] + (p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]); at >= p[0] && at < x {
			x = at
			best = i
			if b[0] > a[0] {
				best = (i + 1) % len(r.at)
			}
		}
	}
	if best < 0 {
		return // no outline around it: the check of the finished piece finds that
	}
	// A corner within the triangle of p, the point met and the corner chosen would hide the corner: the one
	// with the smallest angle to the ray is seen.
	hit, q := [2]float64{x, p[1]}, r.at[best]
	angle, far := math.Inf(1), math.Inf(1)
	for i, c := range r.at {
		if c == q || c[0] < p[0] || !inTriangle(c, p, hit, q) || !r.reflex(i) {
			continue
		}
		a, d := math.Abs(math.Atan2(c[1]-p[1], c[0]-p[0])), math.Hypot(c[0]-p[0], c[1]-p[1])
		if a < angle-1e-12 || a <= angle+1e-12 && d < far {
			angle, far, best = a, d, i
		}
	}
	best = r.widest(best, p)
	n := len(h.at)
	id, at := slices.Clone(r.id[:best+1]), slices.Clone(r.at[:best+1])
	for i := 0; i <= n; i++ {
		id, at = append(id, h.id[(m+i)%n]), append(at, h.at[(m+i)%n])
	}
	r.id, r.at = append(append(id, r.id[best]), r.id[best+1:]...), append(append(at, r.at[best]), r.at[best+1:]...)
}

// widest is, of several passes of the ring through one corner, the one whose inner angle holds the point.
func (r *ring) widest(i int, p [2]float64) int {
	n := len(r.at)
	for k := range r.at {
		if r.at[k] != r.at[i] {
			continue
		}
		a, b, c := r.at[(k+n-1)%n], r.at[k], r.at[(k+1)%n]
		left, right := turned(a, b, p) >= 0, turned(b, c, p) >= 0
		if convex := turned(a, b, c) >= 0; convex && left && right || !convex && (left || right) {
			return k
		}
	}
	return i
}

func (r *ring) reflex(i int) bool {
	n := len(r.at)
	return turned(r.at[(i+n-1)%n], r.at[i], r.at[(i+1)%n]) <= 0
}

// inTriangle tells whether a point lies in a triangle, edges included, whatever way it runs.
func inTriangle(p, a, b, c [2]float64) bool {
	x, y, z := turned(a, b, p), turned(b, c, p), turned(c, a, p)
	return x >= 0 && y >= 0 && z >= 0 || x <= 0 && y <= 0 && z <= 0
}

// clip cuts the ring into triangles.
func (r *ring) clip() [][3]uint32 {
	n := len(r.at)
	if n < 3 {
		return nil
	}
	prev, next := make([]int, n), make([]int, n)
	good := make([]float64, n)
	for i := range n {
		prev[i], next[i] = (i+n-1)%n, (i+1)%n
	}
	for i := range n {
		good[i] = r.ear(i, prev, next, true)
	}
	var out [][3]uint32
	left, start := n, 0
	for left > 3 {
		best := start
		for i, k := next[start], 1; k < left; i, k = next[i], k+1 {
			if good[i] > good[best] {
				best = i
			}
		}
		if good[best] <= 0 { // no clean ear: rounding made the outline touch itself; take the least bad
			best = start
			for i, k := next[start], 1; k < left; i, k = next[i], k+1 {
				if r.ear(i, prev, next, false) > r.ear(best, prev, next, false) {
					best = i
				}
			}
		}
		a, c := prev[best], next[best]
		out = append(out, [3]uint32{r.id[a], r.id[best], r.id[c]})
		next[a], prev[c] = c, a
		start = c
		left--
		good[a], good[c] = r.ear(a, prev, next, true), r.ear(c, prev, next, true)
	}
	b := next[start]
	return append(out, [3]uint32{r.id[start], r.id[b], r.id[next[b]]})
}

// ear is how round the triangle at a corner is, 0 to 1; 0 or less when it cannot be cut off. clean: no other
// corner may lie in it or on its edges.
func (r *ring) ear(i int, prev, next []int, clean bool) float64 {
	a, b, c := r.at[prev[i]], r.at[i], r.at[next[i]]
	double := turned(a, b, c)
	if double <= 0 {
		return double
	}
	if clean {
		for k := next[next[i]]; k != prev[i]; k = next[k] {
			if p := r.at[k]; p != a && p != b && p != c && inTriangle(p, a, b, c) {
				return 0
			}
		}
	}
	long := max(dist2(a, b), dist2(b, c), dist2(c, a))
	return double / long
}

func dist2(a, b [2]float64) float64 {
	return (a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1])
}
