package picture

import (
	"math"
	"slices"

	"dropwright/bundle/mesh"
)

// Explode takes an assembly apart: it returns by how much each body is shifted, mm, along one of the six
// directions of the axes or the body's own Away. A body goes the way on which nothing of the others lies before
// it; of several such ways the shortest out of the others, of several bodies the smallest first, so that the
// largest stays. Bodies that are in each other's way in all directions go where least is. gap is the free room
// left between bodies, mm; 0 takes a twelfth of the assembly's diagonal.
func Explode(bodies []Body, gap float64) [][3]float64 {
	moves := make([][3]float64, len(bodies))
	x := &apart{bodies: bodies, boxes: make([]bound, len(bodies)), heights: make([][3]*heights, len(bodies))}
	all := emptyBound()
	for i, b := range bodies {
		x.boxes[i] = boundOf(b)
		if !x.boxes[i].empty() {
			all = all.with(x.boxes[i])
		}
	}
	if all.empty() {
		return moves
	}
	if gap <= 0 {
		gap = all.diagonal() / 12
	}
	for axis := range 3 {
		g := newHeightGrid(all, axis)
		for i, b := range bodies {
			if !x.boxes[i].empty() {
				x.heights[i][axis] = g.of(b)
			}
		}
	}
	order := x.order()
	// Put back together in the opposite order, each beyond all that is there already.
	var there []int
	for i := range bodies {
		if !slices.ContainsFunc(order, func(l leaving) bool { return l.body == i }) && !x.boxes[i].empty() {
			there = append(there, i)
		}
	}
	for _, l := range slices.Backward(order) {
		b := x.boxes[l.body]
		far := gap
		for _, o := range there {
			far = math.Max(far, clears(b, x.boxes[o].moved(moves[o]), l.way, gap))
		}
		if bodies[l.body].Away != (vec{}) {
			// A nut that goes in from the inside of a case stays in it.
			if d := x.free(l.body, l.way, there); d < far {
				far = math.Min(d*0.6, 1.5*gap)
			}
		}
		moves[l.body] = times(l.way, far)
		there = append(there, l.body)
	}
	return moves
}

// free is how far a body can go along a way until it meets one of those that are there, seen from its middle and
// four places around it; infinite when it meets none.
func (x *apart) free(i int, way vec, there []int) float64 {
	b := x.boxes[i]
	mid, half := b.middle(), times(b.size(), 0.4)
	side := unit(cross(way, vec{0.3, 0.5, 0.8}))
	other := cross(way, side)
	reach := func(d vec) float64 { return math.Abs(d[0])*half[0] + math.Abs(d[1])*half[1] + math.Abs(d[2])*half[2] }
	starts := []vec{mid}
	for _, d := range []vec{side, other} {
		r := reach(d) / math.Sqrt2 // within a round body
		starts = append(starts, add(mid, times(d, r)), sub(mid, times(d, r)))
	}
	nearest := math.Inf(1)
	for _, o := range there {
		m := x.bodies[o].placed()
		t := x.bodies[o].Mesh
		points := make([]vec, len(t.Vertices))
		for k, v := range t.Vertices {
			points[k] = m.Apply(wide(v))
		}
		for _, f := range t.Triangles {
			if !sound(t, f) {
				continue
			}
			for _, s := range starts {
				if d := meets(s, way, points[f[0]], points[f[1]], points[f[2]]); d < nearest {
					nearest = d
				}
			}
		}
	}
	return math.Max(0, nearest-reach(way)/0.8) // from its front
}

// meets is how far along a way from p a triangle is (Moeller and Trumbore 1997); infinite where it is not met.
func meets(p, way, a, b, c vec) float64 {
	u, v := sub(b, a), sub(c, a)
	h := cross(way, v)
	det := dot(u, h)
	if det == 0 {
		return math.Inf(1)
	}
	s := sub(p, a)
	k := dot(s, h) / det
	q := cross(s, u)
	l := dot(way, q) / det
	if d := dot(v, q) / det; k >= 0 && l >= 0 && k+l <= 1 && d > 0 {
		return d
	}
	return math.Inf(1)
}

// leaving is a body and the way it goes.
type leaving struct {
	body int
	way  vec
}

type apart struct {
	bodies  []Body
	boxes   []bound
	heights [][3]*heights
}

// ways are the directions tried, in the order in which equal ones are preferred.
var ways = [6]vec{{0, 0, 1}, {0, 0, -1}, {0, -1, 0}, {1, 0, 0}, {-1, 0, 0}, {0, 1, 0}}

// blockedShare is the share of a body's outline that may be in the way and still count as free: snap hooks and
// press fits overlap a little. Assumed; it takes the demo's designs apart as they go together.
const blockedShare = 0.03

// order lists the bodies as they are taken away; what is not in it stays.
func (x *apart) order() []leaving {
	var rest, fixed []int
	for i, b := range x.bodies {
		switch {
		case x.boxes[i].empty():
		case b.Keep:
			fixed = append(fixed, i)
		default:
			rest = append(rest, i)
		}
	}
	var out []leaving
	for len(rest)+len(fixed) > 1 && len(rest) > 0 {
		at, way := -1, vec{}
		var best [4]float64
		free := 0 // bodies that are not tied to a way
		for _, i := range append(slices.Clone(rest), fixed...) {
			if x.bodies[i].Away == (vec{}) {
				free++
			}
		}
		for k, i := range rest {
			if free == 1 && len(rest)+len(fixed) > free && x.bodies[i].Away == (vec{}) {
				continue // a screw is no base for the others
			}
			w, score := x.way(i, append(slices.Clone(rest), fixed...))
			if at < 0 || slices.Compare(score[:], best[:]) < 0 {
				at, way, best = k, w, score
			}
		}
		if at < 0 {
			break
		}
		out = append(out, leaving{rest[at], way})
		rest = slices.Delete(rest, at, at+1)
	}
	return out
}

// way is how a body leaves the others; the lower the score, the sooner it should.
func (x *apart) way(i int, others []int) (vec, [4]float64) {
	s := x.boxes[i].size()
	volume := (s[0] + 1) * (s[1] + 1) * (s[2] + 1) // a plate has some, too
	tried, tied := ways[:], 0.0
	if w := unit(x.bodies[i].Away); w != (vec{}) {
		tried, tied = []vec{w}, 1 // a screw leaves when nothing else can, so that it stays near its joint
	}
	rest := emptyBound()
	for _, o := range others {
		if o != i {
			rest = rest.with(x.boxes[o])
		}
	}
	outwards := unit(sub(x.boxes[i].middle(), rest.middle()))
	best, way := [4]float64{math.Inf(1)}, vec{}
	for _, w := range tried {
		axis := 0 // of a slanting way, the axis that it is nearest to
		for k := range 3 {
			if math.Abs(w[k]) > math.Abs(w[axis]) {
				axis = k
			}
		}
		up := w[axis] > 0
		own := x.heights[i][axis]
		blocked, backed, travel := 0, 0, 0.0
		for c := range own.low {
			if !(own.low[c] <= own.high[c]) {
				continue
			}
			before, behind := false, false
			for _, o := range others {
				if o != i {
					before = before || inWay(own, x.heights[o][axis], c, up)
					behind = behind || inWay(own, x.heights[o][axis], c, !up)
				}
			}
			if before {
				blocked++
			}
			if behind {
				backed++
			}
		}
		for _, o := range others {
			if o != i {
				travel = math.Max(travel, clears(x.boxes[i], x.boxes[o], w, 0))
			}
		}
		share, back := 0.0, 0.0
		if own.cells > 0 {
			share, back = float64(blocked)/float64(own.cells), float64(backed)/float64(own.cells)
		}
		if share <= blockedShare {
			share = 0
		}
		// Of two ways that are as short, the one from what lies behind, then the one outwards. A thousandth of a
		// millimetre does not decide.
		score := [4]float64{share, math.Round(travel * 1000), -math.Round(back * 20), -dot(outwards, w)}
		if slices.Compare(score[:], best[:]) < 0 {
			best, way = score, w
		}
	}
	return way, [4]float64{best[0], tied, volume, best[1]}
}

// inWay tells whether something of o lies before own at a cell.
func inWay(own, o *heights, c int, up bool) bool {
	const play = 0.4 // mm: what touches is not in the way, nor what a slanting face is off within a cell
	if !(o.low[c] <= o.high[c]) {
		return false
	}
	if up {
		return o.high[c] > own.low[c]+play
	}
	return o.low[c] < own.high[c]-play
}

// clears is how far b must go along a way until its box is gap beyond o's; 0 when they pass beside each other.
func clears(b, o bound, way vec, gap float64) float64 {
	axis, most := -1, 0.0
	for k, w := range way {
		if math.Abs(w) > most {
			axis, most = k, math.Abs(w)
		}
	}
	if axis < 0 || o.empty() {
		return 0
	}
	for k := range 3 {
		if k != axis && (b.high[k] <= o.low[k] || b.low[k] >= o.high[k]) {
			return 0
		}
	}
	d := o.high[axis] - b.low[axis]
	if way[axis] < 0 {
		d = b.high[axis] - o.low[axis]
	}
	return math.Max(0, (d+gap)/most)
}

// heights are the lowest and highest places of a body along an axis over a grid of cells.
type heights struct {
	low, high []float32
	cells     int // in which there is something of it
}

// heightCells is how many cells the longer side of the grid has: a lip of 1.5 mm in a case of 120 still meets one.
const heightCells = 128

// heightGrid looks along an axis.
type heightGrid struct {
	camera
	width, height int
}

func newHeightGrid(all bound, axis int) *heightGrid {
	g := &heightGrid{}
	g.to[axis], g.right[(axis+1)%3], g.up[(axis+2)%3] = 1, 1, 1
	size := all.size()
	w, h := size[(axis+1)%3], size[(axis+2)%3]
	g.centre = all.middle()
	g.scale = heightCells / math.Max(math.Max(w, h), 1e-6)
	g.width, g.height = int(w*g.scale)+2, int(h*g.scale)+2
	g.x, g.y = float64(g.width)/2, float64(g.height)/2
	return g
}

// of draws a body from both ends of the axis.
func (g *heightGrid) of(b Body) *heights {
	s := solid{Body: b, points: make([]point, len(b.Mesh.Vertices))}
	m := g.matrix(b.placed())
	for i, v := range b.Mesh.Vertices {
		if finite(v) {
			x, y, d := g.project(m.Apply(wide(v)))
			s.points[i] = point{float32(clamp(x, -farAway, farAway)), float32(clamp(y, -farAway, farAway)), float32(d)}
		}
	}
	out := &heights{}
	for side := range 2 {
		var c canvas
		c.reset(span{0, g.height}, g.width)
		for i, t := range b.Mesh.Triangles {
			if !sound(b.Mesh, t) {
				continue
			}
			p := [3]point{s.points[t[0]], s.points[t[1]], s.points[t[2]]}
			if side == 1 {
				for k := range p {
					p[k].depth = -p[k].depth
				}
			}
			if f := g.facet(p[0], p[1], p[2]); f.normal != ([3]float32{}) {
				c.fill(uint32(i), &f, p[0], p[1], p[2])
			}
		}
		if side == 0 {
			out.high = c.depth
			continue
		}
		out.low = c.depth
		for i, id := range c.ids {
			out.low[i] = -out.low[i] // of an empty cell: +Inf, above its highest
			if id != nothing {
				out.cells++
			}
		}
	}
	return out
}

// Apart returns the bodies shifted as Explode says, and the thin dashed lines on which they go, as bodies. width
// is that of the lines, mm.
func Apart(bodies []Body, moves [][3]float64, width float64) []Body {
	out := make([]Body, len(bodies))
	var lines []Body
	for i, b := range bodies {
		out[i] = b.Moved(moves[i])
		if moves[i] == ([3]float64{}) {
			continue
		}
		if x := boundOf(b); !x.empty() {
			lines = append(lines, trace(x.middle(), add(x.middle(), moves[i]), width))
		}
	}
	return append(out, lines...)
}

// trace is a dashed line from a to b (ISO 128-2, type 02.1: dashes 12, gaps 3 times the line's width).
func trace(a, b vec, width float64) Body {
	m := &mesh.Mesh{}
	way := unit(sub(b, a))
	far := length(sub(b, a))
	side := unit(cross(way, vec{0, 0, 1}))
	if length(cross(way, vec{0, 0, 1})) < 1e-6 {
		side = vec{1, 0, 0}
	}
	other := cross(way, side)
	// More than 200 dashes would be a grey line.
	width = math.Max(width, far/3000)
	for at := 0.0; at < far && width > 0; at += 15 * width {
		base := uint32(len(m.Vertices))
		for _, along := range [2]float64{at, math.Min(at+12*width, far)} {
			for k := range 4 {
				u, v := width/2, width/2
				if k == 1 || k == 2 {
					u = -u
				}
				if k >= 2 {
					v = -v
				}
				p := add(add(a, times(way, along)), add(times(side, u), times(other, v)))
				m.Vertices = append(m.Vertices, [3]float32{float32(p[0]), float32(p[1]), float32(p[2])})
			}
		}
		for k := range uint32(4) {
			n := (k + 1) % 4
			m.Triangles = append(m.Triangles, [3]uint32{base + k, base + n, base + 4 + k}, [3]uint32{base + n, base + 4 + n, base + 4 + k})
		}
	}
	return Body{Mesh: m, Colour: Ink, Flat: true, Keep: true}
}
