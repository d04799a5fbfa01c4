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
	beyond      [2]probe // places just beyond the ends
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
	// whole is the sweep of the whole mesh, where this one has a cut-out of it; probes ask there.
	whole *sweep
	walls []wall
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
		if shapes := r.read(nil); len(shapes) > 0 {
			found[k] = slices.Clone(shapes)
			slices.SortFunc(found[k], func(a, b shape) int {
				return cmp.Or(cmp.Compare(a.u, b.u), cmp.Compare(a.v, b.v), cmp.Compare(a.area, b.area))
			})
		}
		readers <- r
	})
	var open []int // walls that reach the plane before, by their u; -1 once they go on
	for k, shapes := range found {
		slices.SortStableFunc(open, func(i, j int) int { return cmp.Compare(sw.walls[i].u, sw.walls[j].u) })
		var still []int
		from := 0
		for _, sh := range shapes { // by their u too
			for from < len(open) && (open[from] < 0 || sw.walls[open[from]].u < sh.u-sameWithin) {
				from++
			}
			best := -1
			for i := from; i < len(open); i++ {
				w := open[i]
				if w < 0 {
					continue
				}
				if sw.walls[w].u > sh.u+sameWithin {
					break
				}
				if sw.walls[w].goesOn(&sh, sw.cuts[k].z) && (best < 0 || sw.walls[w].off(&sh) < sw.walls[open[best]].off(&sh)) {
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

// about tells whether a loop may be the wall at height z: its box is the same, or that of a circle.
func (a *wall) about(l *Loop, z float64) bool {
	if l.Area < 0 != a.hole {
		return false
	}
	box, within := a.box, sameWithin
	if a.form != other {
		// The corners of a polygon may miss the outermost places of the circle.
		d := a.at(z)
		box, within = [4]float64{a.u - d/2, a.v - d/2, a.u + d/2, a.v + d/2}, sameWithin+0.15*d
	}
	b := bounds(l.Points)
	for i := range b {
		if math.Abs(b[i]-box[i]) > within {
			return false
		}
	}
	return true
}

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

// search is an end of a wall that is not known from the planes alone.
type search struct {
	wall, side   int
	slab         int
	known, limit float64 // the wall is sure to reach known and not to go past limit
	narrow, wide float64 // diameters between which its vertices lie
	box          [4]float64
	near         []uint32  // triangles about the wall
	levels       []float64 // of vertices on the wall
}

// ends finds where each wall begins and ends: at the vertex level next to its outermost plane, if
// there is just one before the next plane, else by looking closer. Searches in one slab share the
// reading of its triangles.
func (sw *sweep) ends() {
	var searches []search
	for i := range sw.walls {
		a := &sw.walls[i]
		for _, side := range [2]int{-1, +1} {
			s := sw.search(a, side)
			if s.wall = i; math.Abs(s.limit-s.known) >= samePlaceLevel {
				searches = append(searches, s)
			} else {
				*a.endAt(side) = s.known
			}
		}
	}
	slices.SortStableFunc(searches, func(a, b search) int { return a.slab - b.slab })
	var runs [][]search
	for i := 0; i < len(searches); {
		j := i + 1
		for j < len(searches) && searches[j].slab == searches[i].slab {
			j++
		}
		runs = append(runs, searches[i:j])
		i = j
	}
	parallelRuns(sw.workers, len(runs), 1, func(i int) {
		sw.gather(runs[i])
		r := &reader{s: sw.Stack, scale: sw.scale}
		for j := range runs[i] {
			s := &runs[i][j]
			a := &sw.walls[s.wall]
			*a.endAt(s.side) = sw.closer(r, a, s)
			s.near, s.levels = nil, nil
		}
	})
	for i := range sw.walls {
		sw.walls[i].outmost = [2]float64{sw.walls[i].lo, sw.walls[i].hi}
	}
}

func (a *wall) endAt(side int) *float64 {
	if side < 0 {
		return &a.lo
	}
	return &a.hi
}

func (sw *sweep) search(a *wall, side int) search {
	s := search{side: side, slab: a.last + 1, known: sw.cuts[a.last].hi, limit: sw.hi, box: a.box}
	if side < 0 {
		s.slab, s.known, s.limit = a.first, sw.cuts[a.first].lo, sw.lo
		if a.first > 0 {
			s.limit = sw.cuts[a.first-1].hi
		}
	} else if a.last+1 < len(sw.cuts) {
		s.limit = sw.cuts[a.last+1].lo
	}
	const around = 0.1 // mm beside the wall within which its vertices lie
	if a.form != other {
		p, q := a.at(s.known), a.at(s.limit)
		s.narrow, s.wide = min(p, q)*a.passes/a.d-around, max(p, q)+around
		s.box = [4]float64{a.u - s.wide/2, a.v - s.wide/2, a.u + s.wide/2, a.v + s.wide/2}
	}
	s.box = [4]float64{s.box[0] - around, s.box[1] - around, s.box[2] + around, s.box[3] + around}
	return s
}

// gather reads the triangles of a slab for all searches in it.
func (sw *sweep) gather(run []search) {
	for _, i := range sw.slab(run[0].slab) {
		t := &sw.mesh.Triangles[i]
		var p [3][3]float64
		b := [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		for j, v := range t {
			x, y, z := sw.Stack.at(v)
			p[j] = [3]float64{x, y, z}
			b = [4]float64{min(b[0], x), min(b[1], y), max(b[2], x), max(b[3], y)}
		}
		for j := range run {
			s := &run[j]
			if b[0] > s.box[2] || b[2] < s.box[0] || b[1] > s.box[3] || b[3] < s.box[1] {
				continue
			}
			s.near = append(s.near, i)
			a := &sw.walls[s.wall]
			for _, q := range p {
				if q[2] < min(s.known, s.limit) || q[2] > max(s.known, s.limit) ||
					q[0] < s.box[0] || q[0] > s.box[2] || q[1] < s.box[1] || q[1] > s.box[3] {
					continue
				}
				if d := 2 * math.Hypot(q[0]-a.u, q[1]-a.v); a.form == other || d > s.narrow && d < s.wide {
					s.levels = append(s.levels, q[2])
				}
			}
		}
	}
}

// closer looks for the end of a wall. Only the vertices on the wall itself can end it; between their
// levels it is there or not as a whole.
func (sw *sweep) closer(r *reader, a *wall, s *search) float64 {
	at := append(s.levels, s.known, s.limit)
	slices.Sort(at)
	at = slices.CompactFunc(at, func(p, q float64) bool { return math.Abs(p-q) < samePlaceLevel })
	if s.side < 0 {
		slices.Reverse(at)
	}
	// Gap i lies between at[i] and at[i+1]; the wall ends where the first gap without it begins.
	there := func(i int) bool {
		z := (at[i] + at[i+1]) / 2
		r.sec.reset(z)
		sw.cut(s.near, byHeight, z, &r.sec)
		for _, sh := range r.read(a) {
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
