package fit

import (
	"cmp"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
)

// Body is one copy of a part where it stands in the assembly. Its mesh must be closed.
type Body struct {
	Part string
	Mesh *mesh.Mesh // in the frame of the assembly
}

const (
	// playSeen is the largest gap on one side that is still told, mm: beyond, two parts do not guide one another.
	playSeen = 0.5
	// playArea is how much surface must come that close on a side, mm2: a corner that touches stops nothing. Our own
	// choice, two lines of print wide and a few millimetres long.
	playArea = 2.0
	// overlapDeep and overlapLeast are what an overlap must have to be told, mm and mm3: surfaces that touch overlap
	// by the rounding of their coordinates.
	overlapDeep, overlapLeast = 0.05, 1.0
	// playStep is the distance of the lines of sight, mm; mostLines bounds how many there are.
	playStep, mostLines = 0.2, 30_000
	// mostLooks and mostCrossings bound the work on one body and axis: a mesh of a million sheets, one over the other,
	// would meet each line a million times. Parts of prints meet a line a few dozen times.
	mostLooks, mostCrossings = 50_000_000, 4_000_000
)

// Plays measures how much each body can move in another before it is stopped, along the axes of the assembly, and
// where two take up the same space. Two parts that only lie on one another are stopped from one side and are not told.
//
// It looks along lines parallel to each axis and takes where they enter and leave each body: exact for flat faces,
// and along an axis of a round fit the gap at its middle. Fits askew to the axes are not seen. Pairs of which one has
// more surface behind surface than can be looked through are named in left.
func Plays(bodies []Body) (out []facts.Play, left []string) {
	type key struct{ a, b, axis string }
	seen := map[key]int{}
	keep := func(p facts.Play) { // several copies of a part: the tightest
		k := key{p.A, p.B, p.Axis}
		if p.Overlap > 0 {
			k.axis = ""
		}
		i, ok := seen[k]
		switch {
		case !ok:
			seen[k] = len(out)
			out = append(out, p)
		case p.Overlap > out[i].Overlap || p.Overlap == 0 && out[i].Overlap == 0 && p.Total < out[i].Total:
			out[i] = p
		}
	}
	for _, p := range playPairs(bodies) { // in the order of the bodies, whoever measured them
		if !p.ok {
			left = append(left, p.a.Part+" and "+p.b.Part)
		}
		for _, x := range p.found {
			keep(x)
		}
	}
	slices.Sort(left)
	return out, slices.Compact(left)
}

// playPair is two bodies and what was found between them.
type playPair struct {
	a, b  Body
	found []facts.Play
	ok    bool
}

// playPairs looks at all pairs of different parts, on all processors.
func playPairs(bodies []Body) []playPair {
	var pairs []playPair
	for i, a := range bodies {
		for _, b := range bodies[i+1:] {
			if a.Part != b.Part {
				pairs = append(pairs, playPair{a: a, b: b})
			}
		}
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(pairs)) {
		wg.Go(func() {
			for i := next.Add(1) - 1; i < int64(len(pairs)); i = next.Add(1) - 1 {
				p := &pairs[i]
				p.found, p.ok = playOf(p.a, p.b)
			}
		})
	}
	wg.Wait()
	return pairs
}

func playOf(a, b Body) (found []facts.Play, ok bool) {
	loA, hiA := bounds(a.Mesh)
	loB, hiB := bounds(b.Mesh)
	var lo, hi [3]float64
	for i := range 3 {
		lo[i], hi[i] = max(loA[i], loB[i]), min(hiA[i], hiB[i])
		if hi[i]-lo[i] < -playSeen {
			return nil, true
		}
	}
	deepest := facts.Play{Deep: math.Inf(1)}
	for axis := range 3 {
		u, v := (axis+1)%3, (axis+2)%3
		if hi[u] <= lo[u] || hi[v] <= lo[v] {
			continue
		}
		g := newSights(axis, lo, hi)
		inA, okA := g.spans(a.Mesh)
		inB, okB := g.spans(b.Mesh)
		if !okA || !okB {
			return nil, false
		}
		p, overlap := g.meet(inA, inB)
		p.A, p.B, p.Axis = a.Part, b.Part, "xyz"[axis:axis+1]
		if overlap.volume >= overlapLeast && overlap.deep >= overlapDeep && overlap.deep < deepest.Deep {
			deepest = facts.Play{A: a.Part, B: b.Part, Axis: p.Axis, Overlap: round3(overlap.volume), Deep: round3(overlap.deep), At: overlap.at}
		}
		if p.Sides == 2 {
			found = append(found, p)
		}
	}
	if deepest.Overlap > 0 { // how much they can move means nothing then
		return []facts.Play{deepest}, true
	}
	return found, true
}

func bounds(m *mesh.Mesh) (lo, hi [3]float64) {
	lo, hi = [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}, [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for _, p := range m.Vertices {
		for i := range 3 {
			lo[i], hi[i] = min(lo[i], float64(p[i])), max(hi[i], float64(p[i]))
		}
	}
	return lo, hi
}

// sights is the lines of sight along one axis.
type sights struct {
	axis, u, v int
	lo         [2]float64
	step       float64
	nu, nv     int
}

func newSights(axis int, lo, hi [3]float64) sights {
	g := sights{axis: axis, u: (axis + 1) % 3, v: (axis + 2) % 3}
	w, h := hi[g.u]-lo[g.u], hi[g.v]-lo[g.v]
	g.step = max(playStep, math.Sqrt(w*h/mostLines), max(w, h)/mostLines)
	g.nu, g.nv = int(w/g.step)+1, int(h/g.step)+1
	// The lines stand aside of round figures, where designs have their edges.
	g.lo = [2]float64{lo[g.u] + 0.4142*(w-float64(g.nu-1)*g.step) + 1e-5*math.Pi, lo[g.v] + 0.4142*(h-float64(g.nv-1)*g.step) + 1e-5*math.E}
	return g
}

// stretch is the part of a line between where it enters a body and where it leaves it.
type stretch struct{ from, to float64 }

type crossing struct {
	t  float64
	in bool
}

// spans is, for each line, the stretches inside a body. A line that does not leave the body as often as it enters it
// has none: it met an edge. ok is false for a mesh that is too much work.
func (g sights) spans(m *mesh.Mesh) (out [][]stretch, ok bool) {
	cross := make([][]crossing, g.nu*g.nv)
	looks, met := 0, 0
	for _, t := range m.Triangles {
		var p [3][2]float64
		var w [3]float64
		for i, k := range t {
			q := m.Vertices[k]
			p[i] = [2]float64{float64(q[g.u]), float64(q[g.v])}
			w[i] = float64(q[g.axis])
		}
		area := (p[1][0]-p[0][0])*(p[2][1]-p[0][1]) - (p[1][1]-p[0][1])*(p[2][0]-p[0][0])
		if area == 0 {
			continue
		}
		first := func(k int) int {
			return max(0, int(math.Ceil((min(p[0][k], p[1][k], p[2][k])-g.lo[k])/g.step)))
		}
		last := func(k, n int) int {
			return min(n-1, int(math.Floor((max(p[0][k], p[1][k], p[2][k])-g.lo[k])/g.step)))
		}
		i0, i1, j0, j1 := first(0), last(0, g.nu), first(1), last(1, g.nv)
		if looks += max(0, i1-i0+1) * max(0, j1-j0+1); looks > mostLooks || met > mostCrossings {
			return nil, false
		}
		// The three weights of a point's corners, each across one edge: along x they change by dx, along y by dy.
		var start, dx, dy [3]float64
		for k := range 3 {
			a, b := p[(k+1)%3], p[(k+2)%3]
			dx[k], dy[k] = -(b[1]-a[1])/area, (b[0]-a[0])/area
			start[k] = dy[k]*(g.lo[1]-a[1]) + dx[k]*(g.lo[0]-a[0])
		}
		for j := j0; j <= j1; j++ {
			y := float64(j) * g.step
			e0, e1, e2 := start[0]+dy[0]*y, start[1]+dy[1]*y, start[2]+dy[2]*y
			for i := i0; i <= i1; i++ {
				x := float64(i) * g.step
				f0, f1, f2 := e0+dx[0]*x, e1+dx[1]*x, e2+dx[2]*x
				if f0 > 0 && f1 > 0 && f2 > 0 {
					met++
					// Seen along the axis, a facet that faces the eye is where the line comes in.
					cross[j*g.nu+i] = append(cross[j*g.nu+i], crossing{f0*w[0] + f1*w[1] + f2*w[2], area < 0})
				}
			}
		}
	}
	out = make([][]stretch, len(cross))
	for i, c := range cross {
		out[i] = stretches(c)
	}
	return out, true
}

func stretches(c []crossing) []stretch {
	slices.SortFunc(c, func(x, y crossing) int {
		switch {
		case x.t < y.t:
			return -1
		case x.t > y.t:
			return 1
		case x.in && !y.in: // bodies of one part that touch are one
			return -1
		case !x.in && y.in:
			return 1
		}
		return 0
	})
	var out []stretch
	n := 0
	for _, x := range c {
		if x.in {
			if n++; n == 1 {
				out = append(out, stretch{from: x.t})
			}
			continue
		}
		if n--; n < 0 {
			return nil
		}
		if n == 0 {
			out[len(out)-1].to = x.t
		}
	}
	if n != 0 {
		return nil
	}
	return out
}

// overlap is what two bodies have in common.
type overlap struct {
	volume, deep float64 // mm3; mm along the axis, on average
	at           [3]float64
}

// meet compares the stretches of two bodies line by line.
func (g sights) meet(a, b [][]stretch) (facts.Play, overlap) {
	type gap struct {
		wide float64
		at   [3]float64
	}
	var below, above []gap // of a: what is under it and over it is b
	var o overlap
	lines, longest := 0, 0.0
	point := func(i int, t float64) (p [3]float64) {
		p[g.u], p[g.v], p[g.axis] = round3(g.lo[0]+float64(i%g.nu)*g.step), round3(g.lo[1]+float64(i/g.nu)*g.step), round3(t)
		return p
	}
	for i := range a {
		both := 0.0
		for _, x := range a[i] {
			for _, y := range b[i] {
				from, to := max(x.from, y.from), min(x.to, y.to)
				if to-from > overlapDeep {
					both += to - from
					if to-from > longest {
						longest, o.at = to-from, point(i, (from+to)/2)
					}
				}
			}
		}
		if both > 0 {
			o.volume += both * g.step * g.step
			lines++
			continue
		}
		k := 0
		for x := range a[i] { // stretches of b before and after each of a
			for k < len(b[i]) && b[i][k].from < a[i][x].from {
				k++
			}
			if k > 0 && (x == 0 || a[i][x-1].to <= b[i][k-1].from+overlapDeep) {
				if w := a[i][x].from - b[i][k-1].to; w <= playSeen {
					below = append(below, gap{w, point(i, a[i][x].from-w/2)})
				}
			}
			if k < len(b[i]) && (x == len(a[i])-1 || a[i][x+1].from >= b[i][k].to-overlapDeep) {
				if w := b[i][k].from - a[i][x].to; w <= playSeen {
					above = append(above, gap{w, point(i, a[i][x].to+w/2)})
				}
			}
		}
	}
	if lines > 0 {
		o.deep = o.volume / (float64(lines) * g.step * g.step)
	}
	var p facts.Play
	enough := int(math.Ceil(playArea / (g.step * g.step)))
	for _, side := range [][]gap{below, above} {
		if len(side) < enough {
			continue
		}
		slices.SortFunc(side, func(x, y gap) int { return cmp.Compare(x.wide, y.wide) })
		p.Sides++
		p.Total += side[enough-1].wide
		p.At = side[enough/2].at
	}
	p.Total = round3(p.Total)
	return p, o
}
