package same

import (
	"cmp"
	"math"
	"slices"
	"sync/atomic"

	"dropwright/bundle/mesh"
)

const (
	seedPoints  = 5_000   // points of each surface whose distance is taken in any case
	levelPoints = 20_000  // points of one round of refinement
	rounds      = 16      // of refinement: a facet of 200 mm comes down to 0.003
	totalPoints = 100_000 // points of all rounds

	// Boxes that a search may open, on average over a batch. Measured: a ring of a million facets against a
	// thicker one takes 80, 14 and 49, a cup of a million slivers against one of another bore 172, 8 and 174.
	seedVisits   = 400
	cornerVisits = 60
	pieceVisits  = 200
	smallVisits  = 80 // for the pieces of pieces
)

// bestFit is the motion under which most of two different surfaces lies on one another: nothing; or a shift
// that lays a side or the middle of the boxes on one another along each axis; or, for surfaces that are
// spread alike, the principal axes on one another. What does more has to fit clearly better.
func (p *pair) bestFit() mesh.Matrix {
	sa, sb := p.samples(p.a, 250), p.samples(p.b, 250)
	total := len(sa) + len(sb)
	var shifts [3][4]float64
	for a := range 3 {
		low, high := p.mb.low[a]-p.ma.low[a], p.mb.high[a]-p.ma.high[a]
		shifts[a] = [4]float64{0, low, high, (low + high) / 2}
	}
	parallel(2, func(i int) { // both will be needed
		if i == 0 {
			p.treeA()
		} else {
			p.treeB()
		}
	})
	best := mesh.Identity
	most := p.together(best, sa, sb, -1)
	if 10*most >= 9*total {
		return best
	}
	threshold := most + total/5
	tried := []mesh.Matrix{best}
	for i := 1; i < 64; i++ {
		m := mesh.Shift(shifts[0][i&3], shifts[1][i>>2&3], shifts[2][i>>4])
		if slices.Contains(tried, m) {
			continue
		}
		tried = append(tried, m)
		if n := p.together(m, sa, sb, threshold); n > threshold {
			best, most, threshold = m, n, n
		}
	}
	if 10*most >= 9*total {
		return best
	}
	least := p.apart(best, sa, sb)
	better := func(m mesh.Matrix) {
		if d := p.apart(m, sa, sb); d < least/2 {
			best, least = m, d
		}
	}
	better(mesh.Shift(shifts[0][3], shifts[1][3], shifts[2][3]))
	for i := range 3 {
		if math.Abs(math.Sqrt(p.ma.values[i])-math.Sqrt(p.mb.values[i])) > 0.05*math.Sqrt(p.ma.values[2]) {
			return best
		}
	}
	for _, kind := range [2]Kind{Turned, Mirrored} {
		for _, m := range p.byAxes(kind) {
			// Refining is dear, and cannot help where the axes as they are do not.
			if p.apart(m, sa, sb) < 0.9*least {
				better(p.refine(m))
			}
		}
	}
	return best
}

// together counts the samples that lie on the other surface; fewer where more than enough cannot be any more.
func (p *pair) together(m mesh.Matrix, sa, sb [][3]float64, enough int) int {
	n, left := 0, len(sa)+len(sb)
	back := inverse(m)
	for k, list := range [2][][3]float64{sa, sb} {
		onto, motion := p.treeB(), m
		if k == 1 {
			onto, motion = p.treeA(), back
		}
		for _, x := range list {
			if n+left <= enough {
				return n
			}
			left--
			if p.near(onto, motion.Apply(x), p.tol) {
				n++
			}
		}
	}
	return n
}

// apart is the mean distance of the samples.
func (p *pair) apart(m mesh.Matrix, sa, sb [][3]float64) float64 {
	sum := 0.0
	for _, h := range append(p.nearestAll(p.treeB(), sa, m), p.nearestAll(p.treeA(), sb, inverse(m))...) {
		sum += h.distance
	}
	return sum / float64(len(sa)+len(sb))
}

// side is one direction of the comparison: from points of m to the other surface.
type side struct {
	m       *mesh.Mesh
	own     *tree // of m itself: in its order neighbours follow one another
	onto    *tree
	toOther mesh.Matrix
	toB     mesh.Matrix
	first   bool

	paired []bool   // by vertex: the other mesh has it too; nil where nobody looked
	some   bool     // only these facets are to be looked into
	facets []uint32 //
}

// count is how many facets are to be looked into, facet the n-th of them.
func (s *side) count() int {
	if s.some {
		return len(s.facets)
	}
	return len(s.m.Triangles)
}

func (s *side) facet(n int) [3]uint32 {
	if s.some {
		n = int(s.facets[n])
	}
	return s.m.Triangles[n]
}

// worst is the largest distance so far; of equal ones the smallest place counts.
type worst struct {
	distance float64
	at       [3]float64 // in the frame of b
	first    bool
}

func (w worst) compare(v worst) int {
	first := 0
	if w.first != v.first {
		first = 1
		if w.first {
			first = -1
		}
	}
	return cmp.Or(cmp.Compare(v.distance, w.distance), slices.Compare(w.at[:], v.at[:]), first)
}

// deviation fills in where and how much the surfaces differ.
func (p *pair) deviation(r *Result) {
	sides := [2]side{
		{m: p.a, own: p.treeA(), onto: p.treeB(), toOther: r.Motion, toB: r.Motion, first: true},
		{m: p.b, own: p.treeB(), onto: p.treeA(), toOther: inverse(r.Motion), toB: mesh.Identity},
	}
	w := worst{}
	low := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}
	high := [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	note := func(at [3]float64) {
		for a := range 3 {
			low[a], high[a] = min(low[a], at[a]), max(high[a], at[a])
		}
	}
	total, off := 0, 0
	for _, s := range sides {
		points := p.samples(s.m, seedPoints)
		total += len(points)
		found := make([]float64, len(points))
		const chunk = 256
		parallel((len(points)+chunk-1)/chunk, func(c int) {
			purse := purse(chunk * seedVisits)
			for i := c * chunk; i < min(len(points), (c+1)*chunk); i++ {
				found[i] = purse.nearest(s.onto, s.toOther.Apply(points[i]), p.tol, -1).least
			}
		})
		for i, d := range found {
			if d > p.tol {
				off++
				at := s.toB.Apply(points[i])
				note(at)
				if v := (worst{d, at, s.first}); v.compare(w) < 0 {
					w = v
				}
			}
		}
	}
	if 2*off < total {
		p.pairUp(&sides, r.Motion)
	}
	most := 0.0 // no corner is further
	for i := range sides {
		var m float64
		w, m = sides[i].corners(w, p.tol)
		most = max(most, m)
	}
	p.cut = most > max(p.tol, 1.02*w.distance)
	w, most = p.subdivide(sides, w, max(most, 1.01*w.distance))
	r.Sampled = most > w.distance+max(0.01, 0.02*w.distance)
	if w.distance < 1e-9 {
		w = worst{} // the rounding of this very computation
	}
	if w.distance > 0 {
		note(w.at)
		r.Low, r.High = low, high
	}
	// The last digits depend on which corner of a facet comes first.
	r.Deviation, r.At, r.OnFirst = math.Round(w.distance*1e9)/1e9, w.at, w.first
}

// corners looks at every vertex, for one that is further than the worst by more than a hundredth. That
// margin spares most of them a full search where two surfaces are apart evenly. No vertex is further than
// most.
func (s *side) corners(start worst, tol float64) (w worst, most float64) {
	queue := s.queue()
	enough := max(tol, 1.01*start.distance)
	const chunk = 2048
	found := make([]worst, (len(queue)+chunk-1)/chunk)
	furthest := make([]float64, len(found))
	parallel(len(found), func(c int) {
		local, last := start, int32(-1)
		purse := purse(chunk * cornerVisits)
		for _, i := range queue[c*chunk : min(len(queue), (c+1)*chunk)] {
			x := wide(s.m.Vertices[i])
			h := purse.nearest(s.onto, s.toOther.Apply(x), enough, last)
			last = h.place
			furthest[c] = max(furthest[c], h.distance)
			if h.distance > enough {
				if v := (worst{h.least, s.toB.Apply(x), s.first}); v.compare(local) < 0 {
					local = v
				}
			}
		}
		found[c] = local
	})
	w = start
	for c, v := range found {
		most = max(most, furthest[c])
		if v.compare(w) < 0 {
			w = v
		}
	}
	return w, most
}

// queue is the vertices to be looked at, neighbours after one another, whatever their numbers: where one of them
// is near to, its neighbour mostly is as well.
func (s *side) queue() []uint32 {
	var out []uint32
	seen := make([]bool, len(s.m.Vertices))
	copy(seen, s.paired)
	for _, f := range s.own.order {
		for _, v := range s.m.Triangles[f] {
			if !seen[v] {
				seen[v] = true
				out = append(out, v)
			}
		}
	}
	return out
}

// pairUp finds the vertices and facets that both meshes have: they are not further than the tolerance, and
// there is no need to search. Small meshes are searched faster than paired.
func (p *pair) pairUp(sides *[2]side, motion mesh.Matrix) {
	if len(p.a.Vertices)+len(p.b.Vertices) <= 40_000 {
		return
	}
	table := newCornerTable(p.b, p.tol)
	imageA, imageB := table.findAll(p.a, motion), table.findAll(p.b, mesh.Identity)
	sides[0].paired, sides[1].paired = make([]bool, len(imageA)), make([]bool, len(imageB))
	back := make([]int32, len(imageB)) // a vertex of a for one of b; -1 for none
	for i := range back {
		back[i] = -1
	}
	for i, k := range imageA {
		if k >= 0 {
			sides[0].paired[i], back[k] = true, int32(i)
		}
	}
	for i, k := range imageB {
		if k >= 0 && back[k] >= 0 {
			x := sides[1].toOther.Apply(wide(p.b.Vertices[i]))
			sides[1].paired[i] = distance(x, wide(p.a.Vertices[back[k]])) <= p.tol
		}
	}
	as, restA := idHashes(p.a, imageA, motion.Det() < 0)
	bs, restB := idHashes(p.b, imageB, false)
	onlyA, onlyB := difference(as, bs)
	sides[0].facets, sides[1].facets = append(restA, onlyA...), append(restB, onlyB...)
	sides[0].some, sides[1].some = true, true
}

// piece is a facet or a part of one. No point of it is further from the other surface than its middle
// is, plus its radius; bound is that or a smaller bound.
type piece struct {
	corners [3][3]float64
	middle  [3]float64
	radius  float64
	bound   float64
	near    int32 // place of the facet that was nearest to what this is a part of; -1 for none
	side    int8
}

func newPiece(a, b, c [3]float64, side int8) piece {
	m := [3]float64{(a[0] + b[0] + c[0]) / 3, (a[1] + b[1] + c[1]) / 3, (a[2] + b[2] + c[2]) / 3}
	return piece{corners: [3][3]float64{a, b, c}, middle: m, near: -1, radius: math.Sqrt(max(square(sub(m, a)), square(sub(m, b)), square(sub(m, c)))), side: side}
}

func square(v [3]float64) float64 { return dot(v, v) }

// furthest is the largest distance of a point of the piece from one facet: that of a corner, for the
// distance from a convex set is a convex function. No point is further from the surface.
func (s *side) furthest(x *piece, place int32) float64 {
	f := &s.onto.facets[place]
	a, b, c := wide(f[0]), wide(f[1]), wide(f[2])
	most := 0.0
	for _, p := range x.corners {
		p = s.toOther.Apply(p)
		most = max(most, distance(p, closest(p, a, b, c)))
	}
	return most
}

// subdivide looks inside the facets, into quarters of them and so on, wherever the bound leaves room for
// a larger distance. Vertices alone would miss a hole that was filled. No corner of a facet is further than
// corner; no point at all is further than most.
func (p *pair) subdivide(sides [2]side, start worst, corner float64) (w worst, most float64) {
	w = start
	slack := func() float64 { return max(p.tol, 0.01*w.distance) }
	pieces, omitted := firstPieces(sides, slack())
	most = corner + omitted
	left := totalPoints
	for round := range rounds {
		var rest []piece
		pieces, rest = largest(pieces, min(left, levelPoints))
		for _, x := range rest {
			if round == 0 {
				x.bound += corner
			}
			most = max(most, x.bound)
		}
		left -= len(pieces)
		if len(pieces) == 0 {
			break
		}
		const chunk = 512
		each := pieceVisits
		if round > 0 {
			each = smallVisits
		}
		found := make([]worst, (len(pieces)+chunk-1)/chunk)
		parallel(len(found), func(c int) {
			local := w
			purse := purse(chunk * each)
			for i := c * chunk; i < min(len(pieces), (c+1)*chunk); i++ {
				x := &pieces[i]
				s := &sides[x.side]
				enough := w.distance*(1-1e-9) - x.radius // just below, so that of equal ones all are compared
				h := purse.nearest(s.onto, s.toOther.Apply(x.middle), enough, x.near)
				x.near = h.place
				x.bound = min(h.distance+x.radius, s.furthest(x, h.place))
				if h.least > enough {
					if v := (worst{h.least, s.toB.Apply(x.middle), s.first}); v.compare(local) < 0 {
						local = v
					}
				}
			}
			found[c] = local
		})
		for _, v := range found {
			if v.compare(w) < 0 {
				w = v
			}
		}
		var next []piece
		for _, x := range pieces {
			if x.bound <= w.distance+slack() {
				continue
			}
			a, b, c := x.corners[0], x.corners[1], x.corners[2]
			ab, bc, ca := between(a, b), between(b, c), between(c, a)
			for _, y := range [4]piece{newPiece(a, ab, ca, x.side), newPiece(ab, b, bc, x.side), newPiece(ca, bc, c, x.side), newPiece(ab, bc, ca, x.side)} {
				y.bound, y.near = x.bound, x.near
				next = append(next, y)
			}
		}
		pieces = next
	}
	for _, x := range pieces {
		most = max(most, x.bound)
	}
	return w, most
}

// firstPieces takes the facets larger than slack, about levelPoints of the largest: their corners are judged
// already. Facets are far too many to be kept and sorted, so the limit is found by counting sizes, and
// among those at the limit a hash of the place decides, so that the order of facets does not. No facet that
// is not taken is larger than omitted.
func firstPieces(sides [2]side, slack float64) (pieces []piece, omitted float64) {
	const chunk = 1 << 16
	type stretch struct {
		side     int8
		from, to int
	}
	var all []stretch
	for i := range sides {
		for n := 0; n < sides[i].count(); n += chunk {
			all = append(all, stretch{int8(i), n, min(n+chunk, sides[i].count())})
		}
	}
	each := func(r stretch, do func(x piece, class uint32)) {
		s := &sides[r.side]
		for n := r.from; n < r.to; n++ {
			t := s.facet(n)
			x := newPiece(wide(s.m.Vertices[t[0]]), wide(s.m.Vertices[t[1]]), wide(s.m.Vertices[t[2]]), r.side)
			if x.radius > slack {
				x.bound = x.radius
				do(x, math.Float32bits(float32(x.radius))>>15)
			}
		}
	}
	counts := make([]atomic.Int32, 1<<17)
	parallel(len(all), func(k int) {
		last, n := uint32(0), int32(0) // neighbours mostly have one size
		each(all[k], func(_ piece, class uint32) {
			if class != last {
				counts[last].Add(n)
				last, n = class, 0
			}
			n++
		})
		counts[last].Add(n)
	})
	limit, kept := len(counts)-1, 0
	for limit > 0 && kept+int(counts[limit].Load()) <= levelPoints {
		kept += int(counts[limit].Load())
		limit--
	}
	share := uint64(0)
	if n := counts[limit].Load(); n > 0 {
		share = math.MaxUint64 / uint64(n) * uint64(levelPoints-kept)
	}
	parts := make([][]piece, len(all))
	left := make([]float64, len(all))
	parallel(len(all), func(k int) {
		each(all[k], func(x piece, class uint32) {
			if int(class) > limit || int(class) == limit && cornerKey(narrow(x.middle), 0) <= share {
				parts[k] = append(parts[k], x)
			} else {
				left[k] = max(left[k], x.radius)
			}
		})
	})
	for k := range all {
		pieces, omitted = append(pieces, parts[k]...), max(omitted, left[k])
	}
	return pieces, omitted
}

// largest keeps the n pieces with the largest bounds. Of equal ones place decides, not order.
func largest(pieces []piece, n int) (kept, rest []piece) {
	if len(pieces) <= n {
		return pieces, nil
	}
	slices.SortFunc(pieces, func(a, b piece) int {
		return cmp.Or(cmp.Compare(b.bound, a.bound), slices.Compare(a.middle[:], b.middle[:]), cmp.Compare(a.side, b.side))
	})
	return pieces[:n], pieces[n:]
}
