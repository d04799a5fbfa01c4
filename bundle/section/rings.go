package section

import (
	"cmp"
	"math"
	"slices"
)

// line is a crease seen along its direction: a corner of an outline, from lo to hi along the axis.
// The walls before and after it face n1 and n2; the outline of a hole runs clockwise.
type line struct {
	at     Point
	n1, n2 Point
	lo, hi float64
}

// saddle is how the wall of a cylinder cuts the end of a hole: on a ring, its height runs through two
// waves. It is zero for other ends.
type saddle struct {
	mean, wave float64 // mm
	crest      float64 // angle at which it is highest
}

// bore is a hole found by its creases.
type bore struct {
	shape
	frame    Frame
	lo, hi   float64    // where its axis meets the ends, mm along the axis
	all      [2]float64 // lowest and highest end of any of its creases
	slanted  [2]bool    // a plane face not across the axis makes the lower, the upper end
	saddle   [2]saddle  // a face curved in one direction does
	complete bool       // some section across the axis is whole
}

// Limits of rings. Our own choice, no source.
const (
	lineWithin  = 0.01   // mm between pieces of one line
	facetCosine = 0.9995 // between the facings of one wall: 1.8 degrees
	evenPart    = 0.25   // length of the shortest crease of a ring over the longest: one may be split
	linesMost   = 10_000 // of one direction; the search below is quadratic
	samePlane   = 0.02   // part of the height of a slanted end that its corners may lie off a plane
	sameSaddle  = 0.1    // the same for the wall of a cylinder, which is a saddle only nearly
)

// bores finds the closed rings of creases of one direction.
func bores(group []crease) []bore {
	f := groupFrame(group)
	lines := mergeLines(group, f)
	if len(lines) < 5 || len(lines) > linesMost {
		return nil
	}
	// By the facing of the wall before the corner, in cells of one degree.
	cells := make([][]int, 360)
	cell := func(n Point) int { return (int(math.Floor(math.Atan2(n[1], n[0])*180/math.Pi)) + 360) % 360 }
	for i, l := range lines {
		cells[cell(l.n1)] = append(cells[cell(l.n1)], i)
	}
	next := func(i int) int {
		l := &lines[i]
		best, least, longest := -1, math.Inf(1), 0.0
		c := cell(l.n2)
		for d := 358; d <= 362; d++ {
			for _, j := range cells[(c+d)%360] {
				k := &lines[j]
				if k.n1[0]*l.n2[0]+k.n1[1]*l.n2[1] < facetCosine {
					continue
				}
				du, dv := k.at[0]-l.at[0], k.at[1]-l.at[1]
				// Along the wall with the material on the left: its facing turned to the left.
				ahead := -du*l.n2[1] + dv*l.n2[0]
				if ahead <= lineWithin || ahead > least+lineWithin || math.Abs(du*l.n2[0]+dv*l.n2[1]) > lineWithin+0.01*ahead {
					continue
				}
				// Where another hole splits a corner in two, the longer piece counts.
				common := min(k.hi, l.hi) - max(k.lo, l.lo)
				if common < 0.3*min(k.hi-k.lo, l.hi-l.lo) || ahead > least-lineWithin && common <= longest {
					continue
				}
				best, least, longest = j, ahead, common
			}
		}
		return best
	}
	// Every line leads to one other at most, so rings are the cycles of that map.
	to := make([]int, len(lines))
	for i := range to {
		to[i] = next(i)
	}
	walk := make([]int, len(lines)) // the walk that came by, plus one
	var out []bore
	for i := range lines {
		j := i
		for ; j >= 0 && walk[j] == 0; j = to[j] {
			walk[j] = i + 1
		}
		if j < 0 || walk[j] != i+1 {
			continue
		}
		var ring []int
		turn := 0.0
		for k := j; len(ring) == 0 || k != j; k = to[k] {
			ring = append(ring, k)
			l := &lines[k]
			turn += math.Acos(max(-1, min(1, l.n1[0]*l.n2[0]+l.n1[1]*l.n2[1])))
		}
		if math.Abs(turn-2*math.Pi) < 0.05 {
			if b, ok := newBore(lines, ring, f); ok {
				out = append(out, b)
			}
		}
	}
	return out
}

// groupFrame returns the frame along the mean direction, long creases counting more.
func groupFrame(group []crease) Frame {
	if a := group[0].main; a >= 0 {
		return [3]Frame{AlongX, AlongY, AlongZ}[a]
	}
	var sum [3]float64
	for _, c := range group {
		d := minus(c.q, c.p)
		if dot(d, c.dir) < 0 {
			d = scale(d, -1)
		}
		for i := range sum {
			sum[i] += d[i]
		}
	}
	f, err := Along(sum)
	if err != nil {
		return AlongZ // not reached: every crease has a length
	}
	return f
}

// mergeLines puts together the pieces that subdivision made of one crease.
func mergeLines(group []crease, f Frame) []line {
	lines := make([]line, 0, len(group))
	for _, c := range group {
		u0, v0, w0 := f.In(c.p)
		u1, v1, w1 := f.In(c.q)
		l := line{at: Point{(u0 + u1) / 2, (v0 + v1) / 2}, lo: min(w0, w1), hi: max(w0, w1)}
		var ok1, ok2 bool
		l.n1, ok1 = facing(c.n1, f)
		l.n2, ok2 = facing(c.n2, f)
		if !ok1 || !ok2 {
			continue // an edge of a floor or of a cone
		}
		if l.n1[0]*l.n2[1]-l.n1[1]*l.n2[0] > 0 {
			l.n1, l.n2 = l.n2, l.n1
		}
		lines = append(lines, l)
	}
	// Neighbours in the plane into one order, then along the axis.
	type cell [2]int64
	at := func(p Point, size float64) cell {
		return cell{int64(math.Round(p[0] / size)), int64(math.Round(p[1] / size))}
	}
	groups := map[cell][]int{} // of merged lines
	slices.SortStableFunc(lines, func(a, b line) int { return cmp.Compare(a.lo, b.lo) })
	var out []line
	for _, l := range lines {
		m := at(l.at, 2*lineWithin)
		found := -1
		for n := range 9 {
			for _, j := range groups[cell{m[0] + int64(n/3-1), m[1] + int64(n%3-1)}] {
				k := &out[j]
				if math.Hypot(k.at[0]-l.at[0], k.at[1]-l.at[1]) < lineWithin && l.lo < k.hi+gapLeast &&
					k.n1[0]*l.n1[0]+k.n1[1]*l.n1[1] > facetCosine && k.n2[0]*l.n2[0]+k.n2[1]*l.n2[1] > facetCosine &&
					(found < 0 || j < found) {
					found = j
				}
			}
		}
		if found < 0 {
			groups[m] = append(groups[m], len(out))
			out = append(out, l)
			continue
		}
		out[found].hi = max(out[found].hi, l.hi)
	}
	return out
}

// facing returns a wall's normal in the section; false if the wall is not along the axis.
func facing(n [3]float64, f Frame) (Point, bool) {
	u, v, w := f.In(n)
	l := math.Hypot(u, v)
	return Point{u / l, v / l}, math.Abs(w) < straightSlope
}

// newBore checks that a ring is the wall of a hole: its corners lie on a circle, and all are about
// as long. A band around a hollow sphere closes too, but narrows to nothing.
func newBore(lines []line, ring []int, f Frame) (b bore, ok bool) {
	r := reader{corner: make([]Point, len(ring))}
	shortest, longest := math.Inf(1), 0.0
	b = bore{frame: f, all: [2]float64{math.Inf(1), math.Inf(-1)}}
	top, bottom := math.Inf(1), math.Inf(-1)
	for i, j := range ring {
		l := &lines[j]
		r.corner[i] = l.at
		b.all[0], b.all[1] = min(b.all[0], l.lo), max(b.all[1], l.hi)
		top, bottom = min(top, l.hi), max(bottom, l.lo)
		shortest, longest = min(shortest, l.hi-l.lo), max(longest, l.hi-l.lo)
	}
	if shortest < evenPart*longest {
		return b, false
	}
	b.box, b.hole = bounds(r.corner), true
	a := r.corner[len(ring)-1]
	for _, p := range r.corner {
		b.area += (p[0]*a[1] - p[1]*a[0]) / 2 // clockwise
		a = p
	}
	b.complete = top-bottom > shortestWall
	if !r.circle(&b.shape) {
		return b, false
	}
	lower, upper := func(l *line) float64 { return l.lo }, func(l *line) float64 { return l.hi }
	b.lo, b.slanted[0] = b.face(lines, ring, lower)
	b.hi, b.slanted[1] = b.face(lines, ring, upper)
	b.saddle = [2]saddle{b.waves(lines, ring, lower), b.waves(lines, ring, upper)}
	return b, true
}

// face fits a plane through one end of all creases. It returns its height on the axis, and whether
// the end is plane and not across the axis.
func (b *bore) face(lines []line, ring []int, end func(*line) float64) (height float64, slanted bool) {
	// On a ring around the centre the three unknowns are nearly independent; solving them together
	// takes care of unevenly spread corners.
	var m [3][4]float64
	for _, j := range ring {
		l := &lines[j]
		x := [4]float64{1, l.at[0] - b.u, l.at[1] - b.v, end(l)}
		for r := range m {
			for c := range m[r] {
				m[r][c] += x[r] * x[c]
			}
		}
	}
	k, ok := solve3(m)
	if !ok {
		return end(&lines[ring[0]]), false
	}
	lo, hi, off := math.Inf(1), math.Inf(-1), 0.0
	for _, j := range ring {
		l := &lines[j]
		z := end(l)
		lo, hi = min(lo, z), max(hi, z)
		off = max(off, math.Abs(z-k[0]-k[1]*(l.at[0]-b.u)-k[2]*(l.at[1]-b.v)))
	}
	return k[0], hi-lo > sameWithin && off < samePlane*(hi-lo)
}

// waves finds the saddle of one end, if it is one.
func (b *bore) waves(lines []line, ring []int, end func(*line) float64) (s saddle) {
	n := float64(len(ring))
	var c2, s2 float64
	lo, hi := math.Inf(1), math.Inf(-1)
	angle := func(l *line) float64 { return math.Atan2(l.at[1]-b.v, l.at[0]-b.u) }
	for _, j := range ring {
		z, a := end(&lines[j]), angle(&lines[j])
		lo, hi = min(lo, z), max(hi, z)
		s.mean += z / n
		c2 += 2 * z * math.Cos(2*a) / n
		s2 += 2 * z * math.Sin(2*a) / n
	}
	s.wave, s.crest = math.Hypot(c2, s2), math.Atan2(s2, c2)/2
	if hi-lo < sameWithin {
		return saddle{}
	}
	for _, j := range ring {
		z, a := end(&lines[j]), angle(&lines[j])
		if math.Abs(z-s.mean-s.wave*math.Cos(2*(a-s.crest))) > sameSaddle*(hi-lo) {
			return saddle{}
		}
	}
	return s
}

// solve3 solves three linear equations with the right side in the last column, by elimination with
// the largest pivot.
func solve3(m [3][4]float64) (x [3]float64, ok bool) {
	for i := range 3 {
		p := i
		for r := i + 1; r < 3; r++ {
			if math.Abs(m[r][i]) > math.Abs(m[p][i]) {
				p = r
			}
		}
		if math.Abs(m[p][i]) < 1e-12 {
			return x, false
		}
		m[i], m[p] = m[p], m[i]
		for r := range 3 {
			if r != i {
				f := m[r][i] / m[i][i]
				for c := i; c < 4; c++ {
					m[r][c] -= f * m[i][c]
				}
			}
		}
	}
	return [3]float64{m[0][3] / m[0][0], m[1][3] / m[1][1], m[2][3] / m[2][2]}, true
}
