package section

import (
	"cmp"
	"math"
	"slices"

	"dropwright/bundle/mesh"
)

// wall is one shape followed along the axis: a cylinder, a cone, a hexagonal prism or the straight
// walls of an opening. Heights are along the axis, lo below hi.
type wall struct {
	shape       // as at height z; u, v and d are means for a straight wall
	z           float64
	first, last int // planes
	lo, hi      float64
	outmost     [2]float64 // lowest and highest place of the wall: beyond lo and hi where a slanted face ends it
	n           int
}

// at returns the diameter at height w.
func (a *wall) at(w float64) float64 { return a.d + a.grow*(w-a.z) }

func (a *wall) length() float64 { return a.hi - a.lo }

// sweep is the census along one axis.
type sweep struct {
	*Stack
	cuts    []cutHeight
	scale   float64
	lo, hi  float64 // of the mesh along the axis
	workers int
	// material overrides the test for material, where the mesh is a cut-out of a larger one.
	material func(u, v, w float64) bool
	walls    []wall
}

// newSweep cuts the mesh along one axis and follows every shape. It returns nil for a mesh without
// height.
func newSweep(m *mesh.Mesh, f Frame, workers int) (*sweep, error) {
	a := f.mainAxis()
	cuts := cutHeights(len(m.Vertices), func(i int) float64 {
		p := &m.Vertices[i]
		if a >= 0 {
			return float64(p[a])
		}
		return dot([3]float64{float64(p[0]), float64(p[1]), float64(p[2])}, f.W)
	})
	if len(cuts) == 0 {
		return nil, nil
	}
	planes := make([]float64, len(cuts))
	for i, c := range cuts {
		planes[i] = c.z
	}
	s, err := newStack(m, f, planes, workers, true)
	if err != nil {
		return nil, err
	}
	sw := &sweep{Stack: s, cuts: cuts, workers: workers, lo: math.Inf(1), hi: math.Inf(-1)}
	for v := range m.Vertices {
		if s.below[v] != unranked {
			x, y, z := s.at(uint32(v))
			sw.lo, sw.hi = min(sw.lo, z), max(sw.hi, z)
			sw.scale = max(sw.scale, math.Abs(x), math.Abs(y))
		}
	}
	sw.follow()
	sw.ends()
	return sw, nil
}

// follow reads every plane and links the shapes of neighbouring planes into walls.
func (sw *sweep) follow() {
	found := make([][]shape, len(sw.cuts))
	const run = 4
	readers := make(chan *reader, workerCount(sw.workers))
	for range cap(readers) {
		readers <- &reader{s: sw.Stack, scale: sw.scale}
	}
	parallelRuns(sw.workers, len(sw.cuts), run, func(k int) {
		r := <-readers
		sw.Cut(k, &r.sec)
		if shapes := r.read(); len(shapes) > 0 {
			found[k] = slices.Clone(shapes)
			slices.SortFunc(found[k], func(a, b shape) int {
				return cmp.Or(cmp.Compare(a.u, b.u), cmp.Compare(a.v, b.v), cmp.Compare(a.area, b.area))
			})
		}
		readers <- r
	})
	var open []int // walls that reach the plane before
	for k, shapes := range found {
		var still []int
		for _, sh := range shapes {
			best := -1
			for i, w := range open {
				if w >= 0 && sw.walls[w].goesOn(&sh, sw.cuts[k].z) &&
					(best < 0 || sw.walls[w].off(&sh) < sw.walls[open[best]].off(&sh)) {
					best = i
				}
			}
			if best >= 0 {
				w := open[best]
				open[best] = -1
				sw.walls[w].add(&sh, sw.cuts[k].z, k)
				still = append(still, w)
				continue
			}
			still = append(still, len(sw.walls))
			sw.walls = append(sw.walls, wall{shape: sh, z: sw.cuts[k].z, first: k, last: k, n: 1})
		}
		open = still
	}
}

func (a *wall) off(sh *shape) float64 { return math.Hypot(a.u-sh.u, a.v-sh.v) }

// goesOn tells whether sh at height z is the same wall a little farther along the axis.
func (a *wall) goesOn(sh *shape, z float64) bool {
	if a.form != sh.form || a.hole != sh.hole || a.island != sh.island || a.off(sh) > sameWithin {
		return false
	}
	if a.form == other {
		for i := range a.box {
			if math.Abs(a.box[i]-sh.box[i]) > sameWithin {
				return false
			}
		}
		return math.Abs(a.area-sh.area) <= sameArea*a.area+sameWithin*sameWithin
	}
	if math.Abs(a.grow-sh.grow) > 0.02+0.02*math.Abs(a.grow) {
		return false
	}
	return math.Abs(a.at(z)-sh.d) <= sameWithin
}

// add takes one more plane into the wall. A straight wall gets the mean of its planes.
func (a *wall) add(sh *shape, z float64, k int) {
	a.last = k
	a.n++
	f := 1 / float64(a.n)
	a.u += (sh.u - a.u) * f
	a.v += (sh.v - a.v) * f
	a.z += (z - a.z) * f
	a.d += (sh.d - a.d) * f
	a.passes += (sh.passes - a.passes) * f
	a.grow += (sh.grow - a.grow) * f
	a.corners = max(a.corners, sh.corners)
}

// ends finds where each wall begins and ends: at the vertex level next to its outermost plane, if
// there is just one before the next plane, else by looking closer.
func (sw *sweep) ends() {
	parallelRuns(sw.workers, len(sw.walls), 1, func(i int) {
		a := &sw.walls[i]
		r := &reader{s: sw.Stack, scale: sw.scale}
		a.lo = sw.findEnd(r, a, -1)
		a.hi = sw.findEnd(r, a, +1)
		a.outmost = [2]float64{a.lo, a.hi}
	})
}

func (sw *sweep) findEnd(r *reader, a *wall, side int) float64 {
	k, slab := a.last, a.last+1
	known, limit := sw.cuts[k].hi, sw.hi
	if side < 0 {
		k, slab = a.first, a.first
		known, limit = sw.cuts[k].lo, sw.lo
		if k > 0 {
			limit = sw.cuts[k-1].hi
		}
	} else if k+1 < len(sw.cuts) {
		limit = sw.cuts[k+1].lo
	}
	if math.Abs(limit-known) < samePlaceLevel {
		return known
	}
	return sw.closer(r, a, slab, known, limit, side)
}

// closer looks for the end of a wall between known, up to where it is sure to reach, and limit. Only
// the vertices on the wall itself can end it; between their levels it is there or not as a whole.
func (sw *sweep) closer(r *reader, a *wall, slab int, known, limit float64, side int) float64 {
	const around = 0.1 // mm beside the wall within which its vertices lie
	lo, hi := min(known, limit), max(known, limit)
	narrow, wide := min(a.at(lo), a.at(hi))*a.passes/a.d-around, max(a.at(lo), a.at(hi))+around
	place := a.box
	if a.form != other {
		place = [4]float64{a.u - wide/2, a.v - wide/2, a.u + wide/2, a.v + wide/2}
	}
	var near []uint32
	var at []float64
	for _, i := range sw.slab(slab) {
		t := &sw.mesh.Triangles[i]
		b := [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		for _, v := range t {
			x, y, z := sw.Stack.at(v)
			b = [4]float64{min(b[0], x), min(b[1], y), max(b[2], x), max(b[3], y)}
			if z < lo || z > hi {
				continue
			}
			if a.form == other {
				if x > a.box[0]-around && x < a.box[2]+around && y > a.box[1]-around && y < a.box[3]+around {
					at = append(at, z)
				}
			} else if d := 2 * math.Hypot(x-a.u, y-a.v); d > narrow && d < wide {
				at = append(at, z)
			}
		}
		if b[0] <= place[2]+around && b[2] >= place[0]-around && b[1] <= place[3]+around && b[3] >= place[1]-around {
			near = append(near, i)
		}
	}
	at = append(at, known, limit)
	slices.Sort(at)
	at = slices.CompactFunc(at, func(p, q float64) bool { return math.Abs(p-q) < samePlaceLevel })
	if side < 0 {
		slices.Reverse(at)
	}
	// Gap i lies between at[i] and at[i+1]; the wall ends where the first gap without it begins.
	there := func(i int) bool {
		z := (at[i] + at[i+1]) / 2
		r.sec.reset(z)
		sw.cut(near, byHeight, z, &r.sec)
		for _, sh := range r.read() {
			if a.goesOn(&sh, z) {
				return true
			}
		}
		return false
	}
	from, to := 0, len(at)-1
	for from < to {
		mid := (from + to) / 2
		if there(mid) {
			from = mid + 1
		} else {
			to = mid
		}
	}
	return at[from]
}

// solid tells for each point at height w whether it is in material. Overlapping and inside-out
// shells count as material, as they do for a printer.
func (sw *sweep) solid(w float64, pts []Point) []bool {
	out := make([]bool, len(pts))
	if sw.material != nil {
		for i, p := range pts {
			out[i] = sw.material(p[0], p[1], w)
		}
		return out
	}
	if len(pts) == 0 || len(sw.entries) == 0 {
		return out
	}
	// Only what lies across a ray towards +u from one of the points can wind around it.
	b := bounds(pts)
	var near []uint32
	for _, i := range sw.slab(sw.slabOf(w)) {
		t := &sw.mesh.Triangles[i]
		x0, y0, _ := sw.Stack.at(t[0])
		x1, y1, _ := sw.Stack.at(t[1])
		x2, y2, _ := sw.Stack.at(t[2])
		if y0 < b[1] && y1 < b[1] && y2 < b[1] || y0 > b[3] && y1 > b[3] && y2 > b[3] ||
			x0 < b[0] && x1 < b[0] && x2 < b[0] {
			continue
		}
		near = append(near, i)
	}
	var sec Section
	sec.reset(w)
	sw.cut(near, byHeight, w, &sec)
	for i, p := range pts {
		out[i] = sec.Winding(p) != 0
	}
	return out
}
