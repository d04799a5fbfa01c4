package same

import (
	"cmp"
	"math"
	"slices"

	"dropwright/bundle/mesh"
)

const (
	seedPoints  = 10_000  // points of each surface whose distance is taken in any case
	levelPoints = 40_000  // points of one round of refinement
	rounds      = 16      // of refinement: a facet of 200 mm comes down to 0.003
	totalPoints = 100_000 // points of all rounds
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
	best := mesh.Identity
	most := p.together(best, sa, sb)
	if 10*most >= 9*total {
		return best
	}
	threshold := most + total/5
	for i := 1; i < 64; i++ {
		m := mesh.Shift(shifts[0][i&3], shifts[1][i>>2&3], shifts[2][i>>4])
		if n := p.together(m, sa, sb); n > threshold {
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

// together counts the samples that lie on the other surface.
func (p *pair) together(m mesh.Matrix, sa, sb [][3]float64) int {
	n := 0
	for _, x := range sa {
		if p.treeB().near(m.Apply(x), p.tol) {
			n++
		}
	}
	back := inverse(m)
	for _, x := range sb {
		if p.treeA().near(back.Apply(x), p.tol) {
			n++
		}
	}
	return n
}

// apart is the mean distance of the samples.
func (p *pair) apart(m mesh.Matrix, sa, sb [][3]float64) float64 {
	sum := 0.0
	for _, h := range append(p.treeB().nearestAll(sa, m), p.treeA().nearestAll(sb, inverse(m))...) {
		sum += h.distance
	}
	return sum / float64(len(sa)+len(sb))
}

// side is one direction of the comparison: from points of m to the other surface.
type side struct {
	m       *mesh.Mesh
	onto    *tree
	toOther mesh.Matrix
	toB     mesh.Matrix
	first   bool
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
		{p.a, p.treeB(), r.Motion, r.Motion, true},
		{p.b, p.treeA(), inverse(r.Motion), mesh.Identity, false},
	}
	w := worst{}
	low := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}
	high := [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	note := func(at [3]float64) {
		for a := range 3 {
			low[a], high[a] = min(low[a], at[a]), max(high[a], at[a])
		}
	}
	for _, s := range sides {
		points := p.samples(s.m, seedPoints)
		found := make([]float64, len(points))
		const chunk = 256
		parallel((len(points)+chunk-1)/chunk, func(c int) {
			for i := c * chunk; i < min(len(points), (c+1)*chunk); i++ {
				found[i] = s.onto.nearest(s.toOther.Apply(points[i]), p.tol).distance
			}
		})
		for i, d := range found {
			if d > p.tol {
				at := s.toB.Apply(points[i])
				note(at)
				if v := (worst{d, at, s.first}); v.compare(w) < 0 {
					w = v
				}
			}
		}
	}
	for _, s := range sides {
		w = s.corners(w, p.tol)
	}
	w = p.subdivide(sides, w)
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
// margin spares most of them a full search where two surfaces are apart evenly.
func (s *side) corners(w worst, tol float64) worst {
	used := usedVertices(s.m)
	enough := max(tol, 1.01*w.distance)
	var table *cornerTable
	if len(used) > 2*seedPoints {
		// A vertex of the other mesh in the same place is found faster than a facet.
		table = newCornerTable(s.onto.m, tol)
	}
	const chunk = 2048
	found := make([]worst, (len(used)+chunk-1)/chunk)
	parallel(len(found), func(c int) {
		local, last := w, -1 // neighbours mostly have neighbouring numbers
		for i := c * chunk; i < min(len(used), (c+1)*chunk); i++ {
			if !used[i] {
				continue
			}
			x := wide(s.m.Vertices[i])
			y := s.toOther.Apply(x)
			if table != nil && table.find(y) >= 0 {
				continue
			}
			h := s.onto.search(y, enough, math.Inf(1), last)
			last = int(h.facet)
			if h.distance > enough {
				if v := (worst{h.distance, s.toB.Apply(x), s.first}); v.compare(local) < 0 {
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
	return w
}

// piece is a facet or a part of one. No point of it is further from the other surface than its middle
// is, plus its radius; bound is that or a smaller bound.
type piece struct {
	corners [3][3]float64
	middle  [3]float64
	radius  float64
	bound   float64
	side    int8
}

func newPiece(a, b, c [3]float64, side int8) piece {
	m := [3]float64{(a[0] + b[0] + c[0]) / 3, (a[1] + b[1] + c[1]) / 3, (a[2] + b[2] + c[2]) / 3}
	return piece{corners: [3][3]float64{a, b, c}, middle: m, radius: max(distance(m, a), distance(m, b), distance(m, c)), side: side}
}

// furthest is the largest distance of a point of the piece from one facet: that of a corner, for the
// distance from a convex set is a convex function. No point is further from the surface.
func (s *side) furthest(x *piece, facet uint32) float64 {
	t := s.onto.m.Triangles[facet]
	a, b, c := wide(s.onto.m.Vertices[t[0]]), wide(s.onto.m.Vertices[t[1]]), wide(s.onto.m.Vertices[t[2]])
	most := 0.0
	for _, p := range x.corners {
		p = s.toOther.Apply(p)
		most = max(most, distance(p, closest(p, a, b, c)))
	}
	return most
}

// subdivide looks inside the facets, into quarters of them and so on, wherever the bound leaves room for
// a larger distance. Vertices alone would miss a hole that was filled.
func (p *pair) subdivide(sides [2]side, w worst) worst {
	slack := func() float64 { return max(p.tol, 0.01*w.distance) }
	pieces := firstPieces(sides, slack())
	left := totalPoints
	for range rounds {
		pieces = largest(pieces, min(left, levelPoints))
		left -= len(pieces)
		if len(pieces) == 0 {
			break
		}
		const chunk = 512
		found := make([]worst, (len(pieces)+chunk-1)/chunk)
		parallel(len(found), func(c int) {
			local := w
			for i := c * chunk; i < min(len(pieces), (c+1)*chunk); i++ {
				x := &pieces[i]
				s := &sides[x.side]
				enough := w.distance*(1-1e-9) - x.radius // just below, so that of equal ones all are compared
				h := s.onto.nearest(s.toOther.Apply(x.middle), enough)
				d := h.distance
				x.bound = min(d+x.radius, s.furthest(x, h.facet))
				if d > enough {
					if v := (worst{d, s.toB.Apply(x.middle), s.first}); v.compare(local) < 0 {
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
				y.bound = x.bound
				next = append(next, y)
			}
		}
		pieces = next
	}
	return w
}

// firstPieces takes the facets larger than slack, about levelPoints of the largest: their corners are judged
// already. Facets are far too many to be kept and sorted, so the limit is found by counting sizes, and
// among those at the limit a hash of the place decides, so that the order of facets does not.
func firstPieces(sides [2]side, slack float64) []piece {
	each := func(do func(x piece, class uint32)) {
		for i := range sides {
			m := sides[i].m
			for _, t := range m.Triangles {
				x := newPiece(wide(m.Vertices[t[0]]), wide(m.Vertices[t[1]]), wide(m.Vertices[t[2]]), int8(i))
				if x.radius > slack {
					x.bound = x.radius
					do(x, math.Float32bits(float32(x.radius))>>15)
				}
			}
		}
	}
	counts := make([]int, 1<<17)
	each(func(_ piece, class uint32) { counts[class]++ })
	limit, kept := len(counts)-1, 0
	for limit > 0 && kept+counts[limit] <= levelPoints {
		kept += counts[limit]
		limit--
	}
	share := uint64(0)
	if counts[limit] > 0 {
		share = math.MaxUint64 / uint64(counts[limit]) * uint64(levelPoints-kept)
	}
	var pieces []piece
	each(func(x piece, class uint32) {
		if int(class) > limit || int(class) == limit && cornerKey(narrow(x.middle), 0) <= share {
			pieces = append(pieces, x)
		}
	})
	return pieces
}

// largest keeps the n pieces with the largest bounds. Of equal ones place decides, not order.
func largest(pieces []piece, n int) []piece {
	if len(pieces) <= n {
		return pieces
	}
	slices.SortFunc(pieces, func(a, b piece) int {
		return cmp.Or(cmp.Compare(b.bound, a.bound), slices.Compare(a.middle[:], b.middle[:]), cmp.Compare(a.side, b.side))
	})
	return pieces[:n]
}
