package fit

import (
	"math"
	"slices"

	"dropwright/bundle/board"
	"dropwright/bundle/facts"
)

// sceneFor puts the part, and the others whose place is known, into the frame of a board in a pose.
func (x *seating) sceneFor(p *pose) *scene {
	into := p.motion(x).inverse()
	s := &scene{}
	s.add(true, x.Mesh, x.grid, into)
	for i, o := range x.Others {
		var r rigid
		for k := range 3 {
			r.m[k], r.t[k] = vec{o.Move[k][0], o.Move[k][1], o.Move[k][2]}, o.Move[k][3]
		}
		s.add(false, o.Mesh, x.grids[i], into.after(r))
	}
	return s
}

// after is the motion that does q first.
func (r rigid) after(q rigid) rigid {
	out := rigid{t: r.apply(q.t)}
	for i := range 3 {
		for k := range 3 {
			out.m[i][k] = r.m[i][0]*q.m[0][k] + r.m[i][1]*q.m[1][k] + r.m[i][2]*q.m[2][k]
		}
	}
	return out
}

// within tells that the board in a pose lies within the part's box, to a millimetre.
func (x *seating) within(p *pose) bool {
	const slack = 1 // mm; ranks poses only
	lo, hi := vec{math.Inf(1), math.Inf(1), math.Inf(1)}, vec{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for _, v := range x.Mesh.Vertices {
		for k := range 3 {
			lo[k], hi[k] = min(lo[k], float64(v[k])), max(hi[k], float64(v[k]))
		}
	}
	m := p.motion(x)
	for _, c := range x.loop {
		for _, z := range [2]float64{0, -x.Profile.Outline.Thickness.MM} {
			at := m.apply(vec{c[0], c[1], z})
			for k := range 3 {
				if at[k] < lo[k]-slack || at[k] > hi[k]+slack {
					return false
				}
			}
		}
	}
	return true
}

// beside is what lies around a board.
type beside struct {
	gap    float64 // infinite when nothing does
	at     [2]float64
	sides  [4]float64 // -x, +x, -y, +y
	inside bool
}

// slab measures what lies in the board's own layer: the thickness of the board, without its two faces.
func slab(s *scene, loop []board.Point, thick float64) beside {
	x0, y0, x1, y1 := loopBox(loop)
	small := make([]board.Point, len(loop))
	cx, cy := (x0+x1)/2, (y0+y1)/2
	for i, p := range loop {
		small[i] = board.Point{cx + (p[0]-cx)*(1-2*shrink/max(x1-x0, 1)), cy + (p[1]-cy)*(1-2*shrink/max(y1-y0, 1))}
	}
	inf := math.Inf(1)
	out := beside{gap: inf, sides: [4]float64{inf, inf, inf, inf}}
	lo, hi := vec{x0 - farAway, y0 - farAway, -thick + shrink}, vec{x1 + farAway, y1 + farAway, -shrink}
	var a, b, c, d [16]vec
	s.within(lo, hi, func(_ *body, t *[3]vec) {
		poly := clip(t[:], a[:0], b[:0], edge{2, lo[2], false}, edge{2, hi[2], true})
		if poly == nil {
			return
		}
		px0, py0, px1, py1 := polyBox(poly)
		if far := math.Hypot(max(0, px0-x1, x0-px1), max(0, py0-y1, y0-py1)); far < out.gap || far == 0 {
			if dist, at := toLoop(poly, loop); dist < out.gap {
				out.gap, out.at = dist, at
			}
			if far == 0 && !out.inside {
				dist, _ := toLoop(poly, small)
				out.inside = dist == 0
			}
		}
		const hair = 1e-6
		for k, e := range [4]edge{{0, x0, true}, {0, x1, false}, {1, y0, true}, {1, y1, false}} {
			strip := [2]edge{{1, y0 + hair, false}, {1, y1 - hair, true}}
			if k > 1 {
				strip = [2]edge{{0, x0 + hair, false}, {0, x1 - hair, true}}
			}
			for _, q := range clip(poly, c[:0], d[:0], e, strip[0], strip[1]) {
				out.sides[k] = min(out.sides[k], math.Abs(q[e.axis]-e.bound))
			}
		}
	})
	if !out.inside && s.winding(vec{cx, cy, -thick / 2}) > 0 {
		out.inside, out.gap = true, 0
	}
	return out
}

// winding is how many times the surfaces of the own part close around a point: a ray upwards is counted. The
// ray stands a little beside the point, off the round figures that edges lie on.
func (s *scene) winding(p vec) int {
	px, py := p[0]+0.0137, p[1]+0.0071
	n := 0
	s.within(vec{px, py, p[2]}, vec{px, py, p[2] + 1e4}, func(b *body, t *[3]vec) {
		side := func(a, b vec) float64 { return (b[0]-a[0])*(py-a[1]) - (b[1]-a[1])*(px-a[0]) }
		d0, d1, d2 := side(t[0], t[1]), side(t[1], t[2]), side(t[2], t[0])
		if !b.own || !(d0 > 0 && d1 > 0 && d2 > 0 || d0 < 0 && d1 < 0 && d2 < 0) {
			return
		}
		area := d0 + d1 + d2
		if z := (d1*t[0][2] + d2*t[1][2] + d0*t[2][2]) / area; z <= p[2] {
			return
		}
		if area > 0 { // its outer side looks up: the ray leaves
			n++
		} else {
			n--
		}
	})
	return n
}

func loopBox(loop []board.Point) (x0, y0, x1, y1 float64) {
	x0, y0, x1, y1 = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range loop {
		x0, y0, x1, y1 = min(x0, p[0]), min(y0, p[1]), max(x1, p[0]), max(y1, p[1])
	}
	return
}

func polyBox(poly []vec) (x0, y0, x1, y1 float64) {
	x0, y0, x1, y1 = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range poly {
		x0, y0, x1, y1 = min(x0, p[0]), min(y0, p[1]), max(x1, p[0]), max(y1, p[1])
	}
	return
}

// toLoop is the distance of a polygon, seen from above, from an outline, 0 when they meet; and the place on the
// outline that is nearest.
func toLoop(poly []vec, loop []board.Point) (float64, [2]float64) {
	for _, p := range poly {
		if inLoop(p[0], p[1], loop) {
			return 0, [2]float64{p[0], p[1]}
		}
	}
	best, at := math.Inf(1), [2]float64{}
	for i, c := range loop {
		d := loop[(i+1)%len(loop)]
		for k, p := range poly {
			q := poly[(k+1)%len(poly)]
			if crosses([2]float64{p[0], p[1]}, [2]float64{q[0], q[1]}, c, d) {
				return 0, c
			}
			if e := pointSegment(p[0], p[1], c, d); e < best {
				best, at = e, [2]float64{p[0], p[1]}
			}
			if e := pointSegment(c[0], c[1], [2]float64{p[0], p[1]}, [2]float64{q[0], q[1]}); e < best {
				best, at = e, c
			}
		}
	}
	if best > 0 && len(poly) > 2 && holds(poly, loop[0][0], loop[0][1]) {
		return 0, loop[0]
	}
	return best, at
}

func inLoop(x, y float64, loop []board.Point) bool {
	in := false
	for i, p := range loop {
		q := loop[(i+1)%len(loop)]
		if (p[1] > y) != (q[1] > y) && x < p[0]+(q[0]-p[0])*(y-p[1])/(q[1]-p[1]) {
			in = !in
		}
	}
	return in
}

// holds tells that a convex polygon, seen from above, holds a point.
func holds(poly []vec, x, y float64) bool {
	sign := 0.0
	for i, p := range poly {
		q := poly[(i+1)%len(poly)]
		c := (q[0]-p[0])*(y-p[1]) - (q[1]-p[1])*(x-p[0])
		if c == 0 || sign*c < 0 {
			return false
		}
		sign = c
	}
	return true
}

func crosses(a, b, c, d [2]float64) bool {
	side := func(p, q, r [2]float64) float64 { return (q[0]-p[0])*(r[1]-p[1]) - (q[1]-p[1])*(r[0]-p[0]) }
	return side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0
}

// landPlay is how much wider than a mount's land a post may be before it counts as material under the board,
// mm in radius: the foot of a post and what prints bulge. Our own choice.
const landPlay = 0.5

// landOf is the diameter of a mount's land: the profile's, else twice the hole, as boards are commonly laid out
// (common practice, no source).
func (m mount) landOf() float64 {
	switch {
	case m.land > 0:
		return m.land
	case m.hole > 0:
		return 2 * m.hole
	}
	return 5
}

// posts are where material may reach the board: the mounts, and the holes of those that miss theirs, which are
// said to be misplaced already.
func (x *seating) posts() []mount {
	out := slices.Clone(x.mounts)
	back := x.pose.motion(x).inverse()
	for i, f := range x.out.Mounts {
		if !f.Met && f.Hole != nil {
			m, at := x.mounts[i], back.apply(*f.Hole)
			m.at = [2]float64{at[0], at[1]}
			out = append(out, m)
		}
	}
	return out
}

// outside calls visit with the pieces of a polygon that lie outside of all posts, to a quarter of a millimetre.
func (x *seating) outside(poly []vec, visit func(piece []vec)) {
	var walk func(t [3]vec, deep int)
	inOne := func(ps ...vec) (all, any bool) {
		for _, m := range x.post {
			r, n := m.landOf()/2+landPlay, 0
			for _, p := range ps {
				if math.Hypot(p[0]-m.at[0], p[1]-m.at[1]) <= r {
					n++
				}
			}
			if n == len(ps) {
				return true, true
			}
			any = any || n > 0
		}
		return false, any
	}
	walk = func(t [3]vec, deep int) {
		all, some := inOne(t[:]...)
		if all {
			return
		}
		long := max(distance(t[0], t[1]), distance(t[1], t[2]), distance(t[2], t[0]))
		if !some || deep == 0 || long < 0.25 {
			if !some {
				visit(t[:])
			}
			return
		}
		a, b, c := middle(t[0], t[1]), middle(t[1], t[2]), middle(t[2], t[0])
		walk([3]vec{t[0], a, c}, deep-1)
		walk([3]vec{a, t[1], b}, deep-1)
		walk([3]vec{c, b, t[2]}, deep-1)
		walk([3]vec{a, b, c}, deep-1)
	}
	all, some := inOne(poly...)
	switch {
	case all:
	case !some:
		visit(poly)
	default:
		for i := 2; i < len(poly); i++ {
			walk([3]vec{poly[0], poly[i-1], poly[i]}, 6)
		}
	}
}

func middle(a, b vec) vec { return vec{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2} }

// room measures everything around the board in its seat.
func (x *seating) room() {
	s := x.sceneFor(x.pose)
	x.post = x.posts()
	p := x.Profile
	thick := p.Outline.Thickness.MM
	g := slab(s, x.loop, thick)
	x.out.Inside = g.inside
	if g.gap < farAway {
		x.out.Gap, x.out.GapAt = some(g.gap), &[2]float64{round3(g.at[0]), round3(g.at[1])}
	}
	for k, name := range [4]string{"-x", "+x", "-y", "+y"} {
		x.out.Sides = append(x.out.Sides, facts.SideGap{Side: name, Free: bounded(g.sides[k])})
	}
	for i := range x.out.Mounts {
		x.out.Mounts[i].Support = round3(x.support(s, x.mounts[i]))
	}
	x.out.Above = x.over(s, false)
	x.out.Below = x.over(s, true)
	x.keepouts(s)
	x.headers(s)
	x.out.Ports = s.ports(p, x.pose.motion(x))
	x.out.Crowded = crowded(p)
}

// support is the area of material, mm2, that the board rests on within a mount's land.
func (x *seating) support(s *scene, m mount) float64 {
	z, look := -x.Profile.Outline.Thickness.MM-x.Raise, 1.0
	if x.pose.hand == down {
		z, look = x.Raise, -1
	}
	r := m.landOf() / 2
	lo, hi := vec{m.at[0] - r, m.at[1] - r, z - seatPlay/2}, vec{m.at[0] + r, m.at[1] + r, z + seatPlay/2}
	sum := 0.0
	var a, b [48]vec
	s.within(lo, hi, func(_ *body, t *[3]vec) {
		n := cross(sub(t[1], t[0]), sub(t[2], t[0]))
		if n[2]*look <= 0.9*math.Sqrt(dot(n, n)) {
			return
		}
		poly := clip(t[:], a[:0], b[:0], inBox(lo, hi)...)
		sum += areaInCircle(poly, m.at, r)
	})
	return sum
}

func sub(a, b vec) vec { return vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }

// areaInCircle is the area of a polygon, seen from above, within a circle of 32 chords.
func areaInCircle(poly []vec, c [2]float64, r float64) float64 {
	cur := slices.Clone(poly)
	for k := range 32 {
		sin, cos := math.Sincos((float64(k) + 0.5) * math.Pi / 16)
		var next []vec
		for i, p := range cur {
			q := cur[(i+1)%len(cur)]
			dp := r - (p[0]-c[0])*cos - (p[1]-c[1])*sin
			dq := r - (q[0]-c[0])*cos - (q[1]-c[1])*sin
			if dp >= 0 {
				next = append(next, p)
			}
			if dp*dq < 0 {
				t := dp / (dp - dq)
				next = append(next, vec{p[0] + t*(q[0]-p[0]), p[1] + t*(q[1]-p[1]), p[2]})
			}
		}
		cur = next
	}
	area := 0.0
	for i, p := range cur {
		q := cur[(i+1)%len(cur)]
		area += (p[0]*q[1] - p[1]*q[0]) / 2
	}
	return math.Abs(area)
}

// over measures the space over the top face, or under the underside.
func (x *seating) over(s *scene, bottom bool) *facts.Room {
	p := x.Profile
	whole, name := p.Heights.Top, "heights.top"
	if bottom {
		whole, name = p.Heights.Bottom, "heights.bottom"
	}
	r := &facts.Room{}
	if whole.Given {
		r.Limit = some(whole.MM)
	}
	cells := x.cells(bottom)
	if len(cells) == 0 {
		x.miss(name)
	}
	x0, y0, x1, y1 := loopBox(x.loop)
	base, sign := 0.0, 1.0
	if bottom {
		base, sign = -p.Outline.Thickness.MM, -1
	}
	zone := func(from, to float64) (lo, hi float64) {
		a, b := base+sign*from, base+sign*to
		return min(a, b), max(a, b)
	}
	z0, z1 := zone(shrink, farAway)
	lo, hi := vec{x0 + shrink, y0 + shrink, z0}, vec{x1 - shrink, y1 - shrink, z1}
	nearest := math.Inf(1)
	var a, b, c, d [16]vec
	s.within(lo, hi, func(_ *body, t *[3]vec) {
		poly := clip(t[:], a[:0], b[:0], inBox(lo, hi)...)
		if poly == nil {
			return
		}
		x.outside(poly, func(piece []vec) {
			if len(p.Outline.Polygon) > 0 {
				if far, _ := toLoop(piece, x.loop); far > 0 {
					return
				}
			}
			for _, q := range piece {
				if h := sign * (q[2] - base); h < nearest {
					nearest = h
					at := rounded(q)
					r.Free, r.At = some(h), &at
				}
			}
			for _, k := range cells {
				from, to := zone(shrink, k.limit.MM-shrink)
				in := clip(piece, c[:0], d[:0], edge{0, k.x0 + shrink, false}, edge{0, k.x1 - shrink, true}, edge{1, k.y0 + shrink, false}, edge{1, k.y1 - shrink, true}, edge{2, from, false}, edge{2, to, true})
				for _, q := range in {
					if h := sign * (q[2] - base); r.Short == nil || k.limit.MM-h > r.Short.Need-r.Short.Free+1e-6 {
						r.Short = &facts.Intrusion{Free: round3(h), Need: k.limit.MM, At: rounded(q), Basis: k.limit.Basis}
					}
				}
			}
		})
	})
	return r
}

// heightCell is a rectangle over which one height limit holds.
type heightCell struct {
	x0, y0, x1, y1 float64
	limit          board.Limit
}

// cells cuts the board's box along the edges of its height zones.
func (x *seating) cells(bottom bool) []heightCell {
	x0, y0, x1, y1 := loopBox(x.loop)
	xs, ys := []float64{x0, x1}, []float64{y0, y1}
	for _, z := range x.Profile.Heights.Zones {
		if a, b, c, d, ok := z.Rect.Rect(); ok && (z.Side.S == "bottom") == bottom {
			xs, ys = append(xs, min(max(a, x0), x1), min(max(c, x0), x1)), append(ys, min(max(b, y0), y1), min(max(d, y0), y1))
		}
	}
	slices.Sort(xs)
	slices.Sort(ys)
	xs, ys = slices.Compact(xs), slices.Compact(ys)
	var out []heightCell
	for i := 1; i < len(xs); i++ {
		for j := 1; j < len(ys); j++ {
			if l := x.Profile.HeightAt((xs[i-1]+xs[i])/2, (ys[j-1]+ys[j])/2, bottom); l.Given && l.MM > 2*shrink {
				out = append(out, heightCell{xs[i-1], ys[j-1], xs[i], ys[j], l})
			}
		}
	}
	return out
}

// keepouts looks for material in the areas that are to be free, posts under mounts excepted.
func (x *seating) keepouts(s *scene) {
	p := x.Profile
	for i := range p.Keepouts {
		k := &p.Keepouts[i]
		a, b, c, d, ok := k.Rect.Rect()
		if !ok {
			x.miss("keepouts." + k.ID.S + ".rect")
			continue
		}
		f := facts.KeepRoom{ID: k.ID.S, Side: k.Side.S, Reason: k.Reason.S, Antenna: k.Antenna.On}
		basis := k.Basis.Of("rect")
		if basis == "" {
			basis = p.BasisOf("keepouts")
		}
		if board.WeakBasis(basis) {
			f.Basis = board.BasisWords(basis)
		}
		for _, bottom := range [2]bool{false, true} {
			if bottom && k.Side.S == "top" || !bottom && k.Side.S == "bottom" {
				continue
			}
			deep, ownOnly := k.Depth.MM, false
			if !k.Depth.Given {
				deep, ownOnly = farAway, true
				if bottom && !k.Antenna.On { // every part has a floor somewhere: what parts may need counts
					if deep = p.Heights.Bottom.MM; !p.Heights.Bottom.Given {
						x.miss("keepouts." + k.ID.S + ".depth")
						continue
					}
				}
			}
			lo, hi := vec{a + shrink, b + shrink, shrink}, vec{c - shrink, d - shrink, deep - shrink}
			base, sign := 0.0, 1.0
			if bottom {
				base, sign = -p.Outline.Thickness.MM, -1
				lo[2], hi[2] = base-deep+shrink, base-shrink
			}
			var u, v [16]vec
			s.within(lo, hi, func(o *body, t *[3]vec) {
				if ownOnly && !o.own {
					return
				}
				poly := clip(t[:], u[:0], v[:0], inBox(lo, hi)...)
				if poly == nil {
					return
				}
				x.outside(poly, func(piece []vec) {
					for _, q := range piece {
						if h := sign * (q[2] - base); f.Hit == nil || h < f.Hit.Free {
							f.Hit = &facts.Intrusion{Free: round3(h), Need: k.Depth.MM, At: rounded(q), Basis: basis}
						}
					}
				})
			})
		}
		x.out.Keepouts = append(x.out.Keepouts, f)
	}
}

// headers looks for material over the headers that are reached from above, or under those from below.
func (x *seating) headers(s *scene) {
	for i := range x.Profile.Headers {
		h := &x.Profile.Headers[i]
		if h.Access.S == "" || h.Access.S == "none" {
			continue
		}
		a, b, c, d, ok := headerBox(h)
		if !ok {
			x.miss("place of header " + h.ID.S)
			continue
		}
		f := facts.Reach{ID: h.ID.S, Access: h.Access.S}
		lo, hi := vec{a, b, shrink}, vec{c, d, farAway}
		if h.Access.S == "bottom" {
			lo[2], hi[2] = -farAway, -x.Profile.Outline.Thickness.MM-shrink
		}
		own := &scene{bodies: s.bodies[:1]}
		if at := own.hit(lo, hi); at != nil {
			r := rounded(*at)
			f.Hit = &r
		}
		x.out.Headers = append(x.out.Headers, f)
	}
}

// headerBox is the area of a header: its body, or half a pitch around its pins.
func headerBox(h *board.Header) (x0, y0, x1, y1 float64, ok bool) {
	if a, b, ok := h.Box.X.Pair(); ok {
		if c, d, ok := h.Box.Y.Pair(); ok {
			return a, c, b, d, true
		}
	}
	if !h.Pitch.Given || !h.Rows.Given || !h.Columns.Given {
		return
	}
	long, wide := h.Pitch.MM*h.Columns.V, h.Pitch.MM*h.Rows.V // half a pitch around the outer pins included
	along, dir := 0, 1.0
	switch h.Along.S {
	case "+y", "-y":
		along = 1
	case "+x", "-x":
	default:
		return
	}
	if h.Along.S == "-x" || h.Along.S == "-y" {
		dir = -1
	}
	half := h.Pitch.MM / 2
	var at [2]float64 // of the first pin, or of the middle where the centre is given
	known := false
	for _, l := range []board.Lengths{h.Pin1, h.Pin0, h.First} {
		if x, y, ok := l.Pair(); ok && !known {
			at, known = [2]float64{x, y}, true
		}
	}
	if !known && h.Pin1X.Given && h.CentreLineY.Given {
		at, known = [2]float64{h.Pin1X.MM, h.CentreLineY.MM}, true
	}
	span := [2]float64{at[along] - dir*half, at[along] + dir*(long-half)}
	middle := at[1-along]
	if x, y, ok := h.Centre.Pair(); ok && !known {
		c := [2]float64{x, y}
		span, middle, known = [2]float64{c[along] - long/2, c[along] + long/2}, c[1-along], true
	} else if h.CentreLineY.Given && along == 0 {
		middle = h.CentreLineY.MM
	} else if a, b, ok := h.RowX.Pair(); ok && along == 1 {
		middle = (a + b) / 2
	} else if h.Rows.V > 1 {
		known = false // on which side of the first row the others lie is not said
	}
	if !known {
		return
	}
	lo, hi := min(span[0], span[1]), max(span[0], span[1])
	if along == 0 {
		return lo, middle - wide/2, hi, middle + wide/2, true
	}
	return middle - wide/2, lo, middle + wide/2, hi, true
}
