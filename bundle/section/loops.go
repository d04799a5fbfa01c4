package section

import (
	"math"
	"slices"
)

// Point is a point (u, v) of a section, in millimetres.
type Point [2]float64

// Segment is the cut of one triangle, from A to B with the material on its left. A triangle that
// touches the plane in a corner from below gives a segment of no length.
type Segment struct {
	A, B Point
}

// Section is a mesh cut at one plane. It is filled by [Stack.Cut] and belongs to one goroutine.
type Section struct {
	Height   float64   // of the plane, mm along the frame's W
	Segments []Segment // one for each triangle cut, in the order of triangles

	tri      []uint32 // the triangle of each segment
	from, to []uint64 // the mesh edges that a segment starts and ends on

	// Scratch memory of Loops.
	slots []int32
	used  []bool
	order []int32
	ends  []chain
	pts   []Point
	segs  []int32
	loops []Loop
}

// Loop is one closed outline of a section.
type Loop struct {
	Points []Point // corners in order, the last one is joined to the first; no two neighbours are equal
	Area   float64 // mm2, positive for an outer outline, negative for a hole
	Length float64 // mm

	segs []int32 // numbers of the segments that made it
}

func (sec *Section) reset(z float64) {
	sec.Height = z
	sec.Segments, sec.tri = sec.Segments[:0], sec.tri[:0]
	sec.from, sec.to = sec.from[:0], sec.to[:0]
}

// byHeight stands for a plane number where the plane is none of the Stack's.
const byHeight = math.MaxUint32

// above tells whether v is above plane k, or for byHeight at or above z.
func (s *Stack) above(v, k uint32, z float64) bool {
	if k == byHeight {
		return s.height(int(v)) >= z
	}
	return s.below[v] > k
}

// cut appends the segments of those listed triangles that plane k at height z cuts.
func (s *Stack) cut(list []uint32, k uint32, z float64, sec *Section) {
	for _, i := range list {
		t := &s.mesh.Triangles[i]
		a, b, c := s.above(t[0], k, z), s.above(t[1], k, z), s.above(t[2], k, z)
		if a == b && b == c {
			continue
		}
		// The segment runs from the edge that comes down through the plane to the edge that goes
		// up through it, which puts the material on its left.
		var down, up [2]uint32
		switch {
		case a && !b:
			down = [2]uint32{t[0], t[1]}
		case b && !c:
			down = [2]uint32{t[1], t[2]}
		default:
			down = [2]uint32{t[2], t[0]}
		}
		switch {
		case !a && b:
			up = [2]uint32{t[0], t[1]}
		case !b && c:
			up = [2]uint32{t[1], t[2]}
		default:
			up = [2]uint32{t[2], t[0]}
		}
		if s.below[t[0]] == unranked || s.below[t[1]] == unranked || s.below[t[2]] == unranked {
			continue
		}
		sec.Segments = append(sec.Segments, Segment{s.cross(down, z), s.cross(up, z)})
		sec.tri = append(sec.tri, i)
		sec.from = append(sec.from, edgeKey(down))
		sec.to = append(sec.to, edgeKey(up))
	}
}

// cross returns the point where an edge meets the plane. It always computes from the smaller vertex
// number, so that both triangles of an edge get the same point to the last bit.
func (s *Stack) cross(e [2]uint32, z float64) Point {
	if e[0] > e[1] {
		e[0], e[1] = e[1], e[0]
	}
	x0, y0, z0 := s.at(e[0])
	x1, y1, z1 := s.at(e[1])
	switch z { // exact at the ends, where x0 + (x1-x0) may round
	case z0:
		return Point{x0, y0}
	case z1:
		return Point{x1, y1}
	}
	f := (z - z0) / (z1 - z0)
	return Point{x0 + f*(x1-x0), y0 + f*(y1-y0)}
}

func edgeKey(e [2]uint32) uint64 {
	if e[0] > e[1] {
		e[0], e[1] = e[1], e[0]
	}
	return uint64(e[0])<<32 | uint64(e[1])
}

// Area returns the area of the section in mm2: exact for a closed mesh, and for one that is closed
// up to T-junctions, because it needs no loops. Overlapping shells count twice.
func (sec *Section) Area() float64 {
	if len(sec.Segments) == 0 {
		return 0
	}
	// About a point of the section, so that a part far from the origin loses no digits.
	o, sum := sec.Segments[0].A, 0.0
	for _, g := range sec.Segments {
		sum += (g.A[0]-o[0])*(g.B[1]-o[1]) - (g.B[0]-o[0])*(g.A[1]-o[1])
	}
	return sum / 2
}

// Length returns the length of all outlines of the section in mm, those of holes included.
func (sec *Section) Length() float64 {
	sum := 0.0
	for _, g := range sec.Segments {
		sum += distance(g.A, g.B)
	}
	return sum
}

// Winding returns how many times the outlines run around p: 1 inside the material, 0 in air, more
// where shells overlap, -1 in a solid that is inside out.
func (sec *Section) Winding(p Point) int {
	n := 0
	for _, g := range sec.Segments {
		a, b := g.A[1] > p[1], g.B[1] > p[1]
		if a == b {
			continue
		}
		// Which side of the segment is p on?
		side := (g.B[0]-g.A[0])*(p[1]-g.A[1]) - (g.B[1]-g.A[1])*(p[0]-g.A[0])
		if b && side > 0 {
			n++
		} else if a && side < 0 {
			n--
		}
	}
	return n
}

// SnapWithin is the distance in mm within which [Section.Loops] joins loose ends. Ends are loose
// where the mesh has T-junctions or vertices that do not quite meet; both give gaps of rounding
// size, far below this, while the finest printed detail is far above. Common practice, no source.
const SnapWithin = 0.01

// Loops links the segments into closed outlines: first by the mesh edge that two triangles share,
// which needs no tolerance; then, for ends that are still loose, by nearest distance within
// SnapWithin. Open counts the chains that did not close; they are left out. Loops and their points
// are valid until the Section is filled again. The order depends on the order of triangles.
func (sec *Section) Loops() (loops []Loop, open int) {
	n := len(sec.Segments)
	sec.loops, sec.ends = sec.loops[:0], sec.ends[:0]
	sec.segs, sec.pts = slices.Grow(sec.segs[:0], n), slices.Grow(sec.pts[:0], n)
	if n == 0 {
		return nil, 0
	}
	sec.index()
	sec.order, sec.used = resize(sec.order, n), resize(sec.used, n)
	clear(sec.used)
	next := sec.order // the segment that follows; -1 none; -2 already put into an outline
	for i := range n {
		next[i] = sec.follow(sec.to[i])
	}
	led := sec.used // follow marked every segment that another one leads to
	for i := range n {
		if !led[i] {
			start := len(sec.segs)
			for j := int32(i); j >= 0; j = next[j] {
				sec.segs = append(sec.segs, j)
			}
			last := sec.segs[len(sec.segs)-1]
			sec.ends = append(sec.ends, chain{
				from: sec.Segments[i].A, to: sec.Segments[last].B, first: start, end: len(sec.segs), next: -1,
			})
		}
	}
	for _, c := range sec.ends {
		for _, j := range sec.segs[c.first:c.end] {
			next[j] = -2
		}
	}
	for i := range n {
		if next[i] == -2 {
			continue
		}
		start := len(sec.segs)
		for j := int32(i); next[j] != -2; {
			sec.segs = append(sec.segs, j)
			j, next[j] = next[j], -2
		}
		sec.addLoop(start)
	}
	if len(sec.ends) > 0 {
		open = sec.snap()
	}
	return sec.loops, open
}

// index builds the table from a starting edge to its segment. Equal keys (edges of four faces)
// stand behind each other in segment order.
func (sec *Section) index() {
	size := 16
	for size < 2*len(sec.from) {
		size *= 2
	}
	sec.slots = resize(sec.slots, size)
	clear(sec.slots)
	mask := uint64(size - 1)
	for i, key := range sec.from {
		h := hashKey(key) & mask
		for sec.slots[h] != 0 {
			h = (h + 1) & mask
		}
		sec.slots[h] = int32(i + 1)
	}
}

// follow finds the first segment not yet taken that starts on the edge, and takes it.
func (sec *Section) follow(key uint64) int32 {
	mask := uint64(len(sec.slots) - 1)
	for h := hashKey(key) & mask; sec.slots[h] != 0; h = (h + 1) & mask {
		if i := sec.slots[h] - 1; sec.from[i] == key && !sec.used[i] {
			sec.used[i] = true
			return i
		}
	}
	return -1
}

// hashKey spreads an edge key over the table: Fibonacci hashing (Knuth, The Art of Computer
// Programming, volume 3, section 6.4; 2^64 divided by the golden ratio).
func hashKey(key uint64) uint64 {
	key *= 0x9e3779b97f4a7c15
	return key ^ key>>29
}

func resize[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n, n+n/4)
	}
	return s[:n]
}

// addLoop makes a loop of the segments from place start on. A loop without area and without length
// (corners touching the plane) is dropped.
func (sec *Section) addLoop(start int) {
	segs := sec.segs[start:len(sec.segs):len(sec.segs)]
	first := len(sec.pts)
	for _, j := range segs {
		if p := sec.Segments[j].A; len(sec.pts) == first || p != sec.pts[len(sec.pts)-1] {
			sec.pts = append(sec.pts, p)
		}
	}
	for len(sec.pts) > first+1 && sec.pts[len(sec.pts)-1] == sec.pts[first] {
		sec.pts = sec.pts[:len(sec.pts)-1]
	}
	pts := sec.pts[first:len(sec.pts):len(sec.pts)]
	if len(pts) < 2 {
		sec.pts = sec.pts[:first]
		return
	}
	l := Loop{Points: pts, segs: segs}
	o, a := pts[0], pts[len(pts)-1]
	for _, b := range pts {
		l.Area += (a[0]-o[0])*(b[1]-o[1]) - (b[0]-o[0])*(a[1]-o[1])
		l.Length += distance(a, b)
		a = b
	}
	l.Area /= 2
	sec.loops = append(sec.loops, l)
}

// distance is math.Hypot without its care for overflow, which no part is large enough for, in a
// quarter of the time.
func distance(a, b Point) float64 {
	du, dv := b[0]-a[0], b[1]-a[1]
	return math.Sqrt(du*du + dv*dv)
}
