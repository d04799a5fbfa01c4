package same

import (
	"cmp"
	"iter"
	"math"
	"slices"
	"sync"

	"dropwright/bundle/mesh"
)

// pair is one comparison.
type pair struct {
	a, b   *mesh.Mesh
	ma, mb moments
	tol    float64

	onceA, onceB sync.Once
	ta, tb       *tree
	quick, many  [][3]float64 // samples of a
	failed       int          // candidates that looked good and were not
	fitting      purse        // for the search for the best motion
	cut          bool         // the search for the deviation ended before all corners were known
}

func (p *pair) treeA() *tree {
	p.onceA.Do(func() { p.ta = newTree(p.a) })
	return p.ta
}

func (p *pair) treeB() *tree {
	p.onceB.Do(func() { p.tb = newTree(p.b) })
	return p.tb
}

// candidate is a motion that may take a onto b.
type candidate struct {
	kind   Kind
	motion mesh.Matrix
	rough  bool // from few points: to be refined before it is judged
}

// congruent compares what no motion changes. It lets pass what may be one shape.
func (p *pair) congruent() bool {
	size := max(p.ma.radius, p.mb.radius)
	area := max(p.ma.area, p.mb.area)
	if math.Abs(p.ma.area-p.mb.area) > 1e-4*area || math.Abs(p.ma.radius-p.mb.radius) > 1e-4*size+2*p.tol {
		return false
	}
	// A shift of the whole surface by the tolerance changes the volume by so much. With its sign: a mesh
	// that is inside out is another one.
	if math.Abs(p.ma.volume-p.mb.volume) > p.tol*area {
		return false
	}
	for i := range 3 {
		if math.Abs(math.Sqrt(max(0, p.ma.values[i]))-math.Sqrt(max(0, p.mb.values[i]))) > 1e-4*size+2*p.tol {
			return false
		}
	}
	return true
}

// about is the motion with linear part r that takes the centroid of a to that of b.
func (p *pair) about(r [3][3]float64) mesh.Matrix {
	var m mesh.Matrix
	for i := range 3 {
		copy(m[i][:3], r[i][:])
		m[i][3] = p.mb.centroid[i] - dot(r[i], p.ma.centroid)
	}
	return m
}

// candidates gives the motions to try, the plainest first.
func (p *pair) candidates() iter.Seq[candidate] {
	return func(yield func(candidate) bool) {
		if !yield(candidate{Same, mesh.Identity, false}) {
			return
		}
		one := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
		if !yield(candidate{Moved, p.about(one), false}) {
			return
		}
		distinct := p.distinctAxes()
		for _, kind := range [2]Kind{Turned, Mirrored} {
			if distinct {
				for _, m := range p.byAxes(kind) {
					if !yield(candidate{kind, m, true}) {
						return
					}
				}
			} else if !p.byCorners(kind, yield) {
				return
			}
		}
	}
}

// distinctAxes reports whether the principal axes are determined: no two spreads nearly alike.
func (p *pair) distinctAxes() bool {
	v := p.ma.values
	return v[1]-v[0] > 1e-3*v[2] && v[2]-v[1] > 1e-3*v[2]
}

// byAxes lays principal axes on principal axes: four ways without a mirror, four with. The smallest turn
// comes first.
func (p *pair) byAxes(kind Kind) []mesh.Matrix {
	type turn struct {
		trace float64
		m     mesh.Matrix
	}
	var turns []turn
	for signs := range 8 {
		s := [3]float64{1 - 2*float64(signs&1), 1 - 2*float64(signs>>1&1), 1 - 2*float64(signs>>2&1)}
		if (s[0]*s[1]*s[2] < 0) != (kind == Mirrored) {
			continue
		}
		var r [3][3]float64
		for k := range 3 {
			for i := range 3 {
				for j := range 3 {
					r[i][j] += s[k] * p.mb.axes[k][i] * p.ma.axes[k][j]
				}
			}
		}
		turns = append(turns, turn{r[0][0] + r[1][1] + r[2][2], p.about(r)})
	}
	slices.SortStableFunc(turns, func(a, b turn) int { return cmp.Compare(b.trace, a.trace) })
	var out []mesh.Matrix
	for _, t := range turns {
		out = append(out, t.m)
	}
	return out
}

// corner is a vertex with what no motion changes: its distance from the centroid and the area of its facets.
type corner struct {
	at     [3]float64 // from the centroid
	radius float64
	area   float64
}

func cornersOf(m *mesh.Mesh, centroid [3]float64) []corner {
	area := make([]float64, len(m.Vertices))
	used := make([]bool, len(m.Vertices))
	for _, t := range m.Triangles {
		a, b, c := wide(m.Vertices[t[0]]), wide(m.Vertices[t[1]]), wide(m.Vertices[t[2]])
		s := norm(cross(sub(b, a), sub(c, a))) / 2
		for _, id := range t {
			area[id] += s
			used[id] = true
		}
	}
	var out []corner
	for i, v := range m.Vertices {
		if used[i] {
			at := sub(wide(v), centroid)
			out = append(out, corner{at, norm(at), area[i]})
		}
	}
	slices.SortFunc(out, func(a, b corner) int {
		return cmp.Or(cmp.Compare(b.radius, a.radius), slices.Compare(a.at[:], b.at[:]))
	})
	return out
}

const (
	// How many images of one corner are tried, and of the second for each of the first. A symmetric part
	// fits with the first try, an unsymmetric one has rare corners. Assumed.
	imagesTried = 64
	// How many candidates that look good by samples are looked at as a whole. A part that is symmetric but
	// for a fault has thousands of them. Assumed.
	wholeTried = 4
	// How many boxes may be opened to find a motion. Assumed: a thousand samples at 64 places
	// take a tenth of it on usual parts.
	fitVisits = 3_000_000
)

// byCorners takes the two rarest corners of a and lays them on all their possible images in b: for parts
// whose principal axes are not determined, such as knobs and cubes. It returns false when yield does.
func (p *pair) byCorners(kind Kind, yield func(candidate) bool) bool {
	as, bs := cornersOf(p.a, p.ma.centroid), cornersOf(p.b, p.mb.centroid)
	margin := 2*p.tol + 1e-5*p.ma.radius
	type class [2]int64
	classOf := func(c corner) class {
		return class{int64(c.radius / (8 * margin)), int64(math.Log(c.area+1e-9) / 0.05)}
	}
	counts := make(map[class]int)
	for _, c := range as {
		counts[classOf(c)]++
	}
	rarest := func(good func(corner) bool) (corner, bool) {
		best, found, least := corner{}, false, 0
		for _, c := range as {
			if n := counts[classOf(c)]; (!found || n < least) && good(c) {
				best, found, least = c, true, n
			}
		}
		return best, found
	}
	u, ok := rarest(func(c corner) bool { return c.radius > 0.2*p.ma.radius })
	if !ok {
		return true
	}
	v, ok := rarest(func(c corner) bool {
		return c.radius > 0.2*p.ma.radius && norm(cross(u.at, c.at)) > 0.3*u.radius*c.radius
	})
	if !ok {
		return true
	}
	images := func(c corner) []corner {
		var out []corner
		for _, d := range bs {
			if math.Abs(d.radius-c.radius) <= margin && math.Abs(d.area-c.area) <= 1e-2*c.area+margin*margin {
				out = append(out, d)
			}
		}
		return out
	}
	apart := distance(u.at, v.at)
	e := frame(u.at, v.at, 1)
	hand := 1.0
	if kind == Mirrored {
		hand = -1
	}
	second := images(v)
	for i, x := range images(u) {
		if i == imagesTried {
			break
		}
		tried := 0
		for _, y := range second {
			if math.Abs(distance(x.at, y.at)-apart) > 2*margin {
				continue
			}
			f := frame(x.at, y.at, hand)
			var r [3][3]float64
			for k := range 3 {
				for i := range 3 {
					for j := range 3 {
						r[i][j] += f[k][i] * e[k][j]
					}
				}
			}
			if !yield(candidate{kind, p.about(r), true}) {
				return false
			}
			if tried++; tried == imagesTried {
				break
			}
		}
	}
	return true
}

// frame is the orthonormal frame along u and towards v; hand -1 makes it left-handed.
func frame(u, v [3]float64, hand float64) [3][3]float64 {
	unit := func(x [3]float64) [3]float64 {
		l := norm(x)
		return [3]float64{x[0] / l, x[1] / l, x[2] / l}
	}
	e := unit(u)
	k := dot(e, v)
	f := unit([3]float64{v[0] - k*e[0], v[1] - k*e[1], v[2] - k*e[2]})
	g := cross(e, f)
	return [3][3]float64{e, f, {hand * g[0], hand * g[1], hand * g[2]}}
}

// fits judges one candidate, and returns the motion made as exact as it can be.
func (p *pair) fits(c candidate) (mesh.Matrix, bool) {
	near := p.tol
	if c.rough {
		near = 10*p.tol + 0.02 // what two corners of a small feature may be off at the far end. Assumed.
	}
	if p.quick == nil {
		p.quick, p.many = p.samples(p.a, 48), p.samples(p.a, 500)
	}
	for _, x := range p.quick {
		if !p.near(p.treeB(), c.motion.Apply(x), near) {
			return c.motion, false
		}
	}
	motion := c.motion
	if c.rough {
		motion = p.refine(motion)
	}
	if p.agree(motion) {
		return motion, true
	}
	p.failed++
	return motion, false
}

// near is that of the tree, paid for from the purse for fitting.
func (p *pair) near(t *tree, x [3]float64, within float64) bool {
	h := t.search(x, within, within, -1, max(last, int(p.fitting)))
	p.fitting -= purse(h.visits)
	return h.distance <= within
}

// nearestAll finds the nearest point for each of many, as far as the purse for fitting allows.
func (p *pair) nearestAll(t *tree, points [][3]float64, motion mesh.Matrix) []hit {
	hits := make([]hit, len(points))
	most := max(last, int(p.fitting)/(len(points)+1))
	const chunk = 128
	parallel((len(points)+chunk-1)/chunk, func(c int) {
		for i := c * chunk; i < min(len(points), (c+1)*chunk); i++ {
			hits[i] = t.search(motion.Apply(points[i]), -1, math.Inf(1), -1, most)
		}
	})
	for _, h := range hits {
		p.fitting -= purse(h.visits)
	}
	return hits
}

// samples chooses about n corners by a hash of their coordinates, so that the order does not matter; all
// of them if there are fewer.
func (p *pair) samples(m *mesh.Mesh, n int) [][3]float64 {
	limit := uint64(math.MaxUint64)
	if len(m.Triangles) > n {
		limit = limit / uint64(len(m.Triangles)) * uint64(n)
	}
	used := usedVertices(m)
	const chunk = 1 << 15
	var out [][3]float64
	for pass := 0; len(out) == 0 && pass < 64; pass++ {
		parts := make([][][3]float64, (max(len(m.Triangles), len(m.Vertices))+chunk-1)/chunk)
		parallel(len(parts), func(c int) {
			for i := c * chunk; i < min(len(m.Vertices), (c+1)*chunk); i++ {
				if v := m.Vertices[i]; cornerKey(v, 0) <= limit && used[i] {
					parts[c] = append(parts[c], wide(v))
				}
			}
			for i := c * chunk; i < min(len(m.Triangles), (c+1)*chunk); i++ {
				if middle := middleOf(m, m.Triangles[i]); cornerKey(narrow(middle), 0) <= limit {
					parts[c] = append(parts[c], middle)
				}
			}
		})
		out = slices.Concat(parts...)
		if limit > math.MaxUint64/4 {
			limit = math.MaxUint64
		} else {
			limit *= 4
		}
	}
	slices.SortFunc(out, func(a, b [3]float64) int { return slices.Compare(a[:], b[:]) })
	return slices.Compact(out)
}

func middleOf(m *mesh.Mesh, t [3]uint32) [3]float64 {
	a, b, c := wide(m.Vertices[t[0]]), wide(m.Vertices[t[1]]), wide(m.Vertices[t[2]])
	return [3]float64{(a[0] + b[0] + c[0]) / 3, (a[1] + b[1] + c[1]) / 3, (a[2] + b[2] + c[2]) / 3}
}

func narrow(p [3]float64) [3]float32 {
	return [3]float32{float32(p[0]), float32(p[1]), float32(p[2])}
}

// inverse of a rigid motion.
func inverse(m mesh.Matrix) mesh.Matrix {
	var out mesh.Matrix
	for i := range 3 {
		for j := range 3 {
			out[i][j] = m[j][i]
		}
		out[i][3] = -(m[0][i]*m[0][3] + m[1][i]*m[1][3] + m[2][i]*m[2][3])
	}
	return out
}
