package fit

import (
	"cmp"
	"math"
	"slices"

	"dropwright/bundle/board"
	"dropwright/bundle/facts"
	"dropwright/bundle/section"
)

// rigid is a motion in space, or a mirrored one: a matrix with orthonormal rows, and a shift.
type rigid struct {
	m [3]vec
	t vec
}

func (r rigid) apply(p vec) vec {
	return vec{dot(r.m[0], p) + r.t[0], dot(r.m[1], p) + r.t[1], dot(r.m[2], p) + r.t[2]}
}

func (r rigid) inverse() rigid {
	var out rigid
	for i := range 3 {
		for k := range 3 {
			out.m[i][k] = r.m[k][i]
		}
	}
	t := out.apply(r.t)
	out.t = vec{-t[0], -t[1], -t[2]}
	return out
}

// plane is a right-handed frame whose n looks away from the material.
type plane struct{ u, v, n vec }

// planeAcross is the plane that a direction looks out of. Seen against n, u is x where that can be, and v is as
// near to z as it can be where not.
func planeAcross(n vec) plane {
	n = snapAxis(n)
	if math.Abs(n[0]) < 1e-9 && math.Abs(n[1]) < 1e-9 {
		u := vec{1, 0, 0}
		return plane{u, cross(n, u), n}
	}
	v := vec{-n[2] * n[0], -n[2] * n[1], 1 - n[2]*n[2]}
	l := math.Sqrt(dot(v, v))
	for k := range v {
		v[k] /= l
	}
	return plane{cross(v, n), v, n}
}

// snapAxis takes the dust off directions that are main ones.
func snapAxis(n vec) vec {
	for k := range 3 {
		if 1-math.Abs(n[k]) < 1e-9 {
			var out vec
			out[k] = math.Copysign(1, n[k])
			return out
		}
	}
	return n
}

func cross(a, b vec) vec {
	return vec{a[1]*b[2] - a[2]*b[1] + 0, a[2]*b[0] - a[0]*b[2] + 0, a[0]*b[1] - a[1]*b[0] + 0}
}

// hand is how a board lies on its mounts' plane.
type hand int

const (
	up     hand = iota // component side away from the posts
	down               // component side towards them
	mirror             // the mirror image of a board with its component side away: no board is one
)

// pose is a board laid on a plane.
type pose struct {
	frame plane
	hand  hand
	turn  float64 // degrees
	at    [2]float64
	level float64 // of the rims, along n
	pairs []link  // by mount
	met   int
	// residual is the largest distance of a met mount from its hole. exact: it is no more than what rounding
	// of drawings explains.
	residual float64
	exact    bool
	free     bool // nothing lies where the board is
	inside   bool // the board lies within the part's box
	open     int  // ports that count and are open
	wanted   int  // ports that count
}

// exactWithin is the residual that rounding in drawings explains, mm: two roundings to a tenth.
const exactWithin = 0.15

// link is a mount and the opening under it; nil when there is none.
type link struct {
	open *opening2
	off  float64
}

// standing is what decides between poses, apart from the residual.
type standing struct {
	met, open           int
	exact, free, inside bool
}

func (p *pose) standing() standing { return standing{p.met, p.open, p.exact, p.free, p.inside} }

// flat lays a point of the board onto the plane.
func (p *pose) flat(m [2]float64) [2]float64 {
	sin, cos := sincos(p.turn)
	y := m[1]
	if p.hand != up {
		y = -y
	}
	return [2]float64{cos*m[0] - sin*y + p.at[0], sin*m[0] + cos*y + p.at[1]}
}

// sincos is exact at quarter turns.
func sincos(deg float64) (sin, cos float64) {
	switch math.Mod(math.Mod(deg, 360)+360, 360) {
	case 0:
		return 0, 1
	case 90:
		return 1, 0
	case 180:
		return 0, -1
	case 270:
		return -1, 0
	}
	return math.Sincos(deg * math.Pi / 180)
}

// motion is the board's way into the part.
func (p *pose) motion(x *seating) rigid {
	sin, cos := sincos(p.turn)
	flip, z := 1.0, 1.0
	if p.hand != up {
		flip = -1
	}
	if p.hand == down {
		z = -1
	}
	lift := p.level + x.lift(p.hand)
	var r rigid
	for k := range 3 {
		u, v, n := p.frame.u[k], p.frame.v[k], p.frame.n[k]
		r.m[k] = vec{cos*u + sin*v, flip * (cos*v - sin*u), z * n}
		r.t[k] = p.at[0]*u + p.at[1]*v + lift*n
	}
	return r
}

func (p *pose) fact(x *seating) facts.Pose {
	turn := math.Mod(math.Mod(p.turn, 360)+360, 360)
	if turn = math.Round(turn*1000) / 1000; turn == 360 {
		turn = 0
	}
	f := facts.Pose{At: rounded(p.motion(x).t), Turn: turn, Face: "up", Out: rounded(p.frame.n), Residual: round3(p.residual)}
	if p.hand == down {
		f.Face = "down"
	}
	return f
}

// opening2 is an opening of a hole, or the foot of a pin, on a plane.
type opening2 struct {
	at     vec
	flat   [2]float64
	level  float64
	passes float64
}

// floor is the openings that look one way.
type floor struct {
	frame plane
	list  []opening2
}

// The diameters of holes and pins that may be meant for a mount, as shares of its hole or screw: half of a
// screw's diameter is less than any core hole, and inserts want up to 1.6 of the screw (published tables, 4.0
// for M2.5); the rest is room for mistakes.
const (
	mountLeast = 0.5
	mountMost  = 2.2
)

// mostOpenings bounds the openings of one level that are tried; beyond are perforated plates.
const mostOpenings = 250

// floors gathers the openings that may be for the mounts, by direction.
func (x *seating) floors() []floor {
	least, most := math.Inf(1), 0.0
	for _, m := range x.mounts {
		for _, d := range [2]float64{m.hole, m.screw} {
			if d > 0 {
				least, most = min(least, d*mountLeast), max(most, d*mountMost)
			}
		}
	}
	if most == 0 {
		least, most = 1, largestScrewHole
	}
	var out []floor
	add := func(n, at vec, passes float64) {
		k := slices.IndexFunc(out, func(f floor) bool { return dot(f.frame.n, n) > 1-sameWay*sameWay })
		if k < 0 {
			out = append(out, floor{frame: planeAcross(n)})
			k = len(out) - 1
		}
		f := &out[k]
		f.list = append(f.list, opening2{at: at, flat: [2]float64{dot(at, f.frame.u), dot(at, f.frame.v)}, level: dot(at, f.frame.n), passes: passes})
	}
	for i := range x.Census.Holes {
		h := &x.Census.Holes[i]
		if h.Kind != section.Round || h.Passes < least || h.Passes > most {
			continue
		}
		for _, o := range openings(h) {
			add(o.out, o.at, h.Passes)
		}
	}
	for _, b := range x.Census.Bosses { // pins that stand up through the mounts: the board lies on their foot
		if b.Diameter < least || b.Diameter > most/mountMost {
			continue
		}
		if b.From.Mouth == section.Closed && b.To.Mouth == section.Open {
			add(b.Axis, b.From.At, b.Diameter)
		} else if b.To.Mouth == section.Closed && b.From.Mouth == section.Open {
			add(neg(b.Axis), b.To.At, b.Diameter)
		}
	}
	return out
}

// storeys splits a floor into sets of openings whose levels chain within seatPlay.
func (f floor) storeys() [][]opening2 {
	list := slices.Clone(f.list)
	slices.SortStableFunc(list, func(a, b opening2) int { return cmp.Compare(a.level, b.level) })
	var out [][]opening2
	for from := 0; from < len(list); {
		to := from + 1
		for to < len(list) && list[to].level-list[to-1].level <= seatPlay {
			to++
		}
		out = append(out, list[from:min(to, from+mostOpenings)])
		from = to
	}
	return out
}

// enough is how many mounts must meet a hole for a seat.
func (x *seating) enough() int {
	if n := len(x.mounts); n > 3 {
		return n - 1
	}
	return len(x.mounts)
}

// mostPoses bounds the poses whose surroundings are measured.
const mostPoses = 12

// search lists the poses in which the mounts meet holes, the likeliest first.
func (x *seating) search() []*pose {
	if len(x.mounts) == 0 {
		return nil
	}
	var all []*pose
	floors := x.floors()
	for _, f := range floors {
		for _, s := range f.storeys() {
			for _, h := range []hand{up, mirror} {
				all = append(all, x.lay(f.frame, s, h, seatReach, x.enough())...)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b *pose) int { return cmp.Or(cmp.Compare(b.met, a.met), cmp.Compare(a.residual, b.residual)) })
	if len(all) > mostPoses {
		all = all[:mostPoses]
	}
	for _, p := range all {
		if p.hand == mirror { // the same holes serve a board that is turned over
			d := *p
			d.hand = down
			all = append(all, &d)
		}
	}
	for _, p := range all {
		p.pairs = x.beneath(p)
		x.look(p, len(all) > 1)
	}
	order := func(a, b *pose) int {
		return cmp.Or(cmp.Compare(b.met, a.met), yes(b.exact, a.exact), yes(b.free, a.free), yes(b.inside, a.inside), cmp.Compare(b.open, a.open), cmp.Compare(a.residual, b.residual))
	}
	slices.SortStableFunc(all, order)
	// The ports are looked at where they can still decide: they take the most time.
	for _, p := range all {
		if p.met == all[0].met && p.exact == all[0].exact && p.free == all[0].free && p.inside == all[0].inside {
			x.lookPorts(p)
		}
	}
	slices.SortStableFunc(all, order)
	return all
}

func yes(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// first is the likeliest pose of one of the given hands, nil when there is none.
func first(list []*pose, hands ...hand) *pose {
	for _, p := range list {
		if slices.Contains(hands, p.hand) {
			return p
		}
	}
	return nil
}

// look finds out what decides between poses.
func (x *seating) look(p *pose, several bool) {
	p.exact = p.residual <= exactWithin
	p.free, p.inside = true, true
	if !several || !x.Profile.Outline.Thickness.Given {
		return
	}
	p.free = !slab(x.sceneFor(p), x.loop, x.Profile.Outline.Thickness.MM).inside
	p.inside = x.within(p)
}

// lookPorts counts the ports that a pose leaves open: the required ones, or all where none is required.
func (x *seating) lookPorts(p *pose) {
	if !x.Profile.Outline.Thickness.Given {
		return
	}
	s := x.sceneFor(p)
	required := slices.ContainsFunc(x.Profile.Ports, func(q board.Port) bool { return q.Required.On })
	for i := range x.Profile.Ports {
		port := &x.Profile.Ports[i]
		if required && !port.Required.On {
			continue
		}
		f := s.port(x.Profile.Paths(port)[0])
		if f.Verdict == facts.PortUnknown {
			continue
		}
		p.wanted++
		if f.Verdict != facts.PortBlocked {
			p.open++
		}
	}
}

// lay finds the poses of one hand on one storey in which at least `enough` mounts lie within reach of openings.
func (x *seating) lay(f plane, list []opening2, h hand, reach float64, enough int) []*pose {
	var out []*pose
	if len(list) < enough || enough == 0 {
		return nil
	}
	if len(x.mounts) == 1 { // one hole leaves the turn open: quarter turns are tried
		for i := range list {
			for turn := 0.0; turn < 360; turn += 90 {
				p := &pose{frame: f, hand: h, turn: turn, level: list[i].level, met: 1}
				at := p.flat(x.mounts[0].at)
				p.at = [2]float64{list[i].flat[0] - at[0], list[i].flat[1] - at[1]}
				out = append(out, p)
			}
		}
		return out
	}
	for _, pair := range x.guides(enough) {
		a, b := x.mounts[pair[0]].at, x.mounts[pair[1]].at
		d := math.Hypot(a[0]-b[0], a[1]-b[1])
		if d < 2*reach {
			continue
		}
		for k := range list {
			for l := range list {
				c, e := list[k].flat, list[l].flat
				if k == l || math.Abs(math.Hypot(c[0]-e[0], c[1]-e[1])-d) > 2*reach {
					continue
				}
				p := &pose{frame: f, hand: h}
				p.fit([][2]float64{a, b}, [][2]float64{c, e})
				if x.settle(p, list, reach, enough) >= enough && !known(out, p) {
					out = append(out, p)
				}
			}
		}
	}
	return out
}

// guides are the pairs of mounts that a pose is guessed from. When at most one mount may miss its hole, one of
// two pairs without a mount in common is whole; otherwise the longest pairs are tried: they guess best.
func (x *seating) guides(enough int) [][2]int {
	long := func(i, j int) float64 {
		a, b := x.mounts[i].at, x.mounts[j].at
		return math.Hypot(a[0]-b[0], a[1]-b[1])
	}
	var all [][2]int
	for i := range x.mounts {
		for j := i + 1; j < len(x.mounts); j++ {
			all = append(all, [2]int{i, j})
		}
	}
	slices.SortStableFunc(all, func(a, b [2]int) int { return cmp.Compare(long(b[0], b[1]), long(a[0], a[1])) })
	switch n := len(x.mounts); {
	case enough == n:
		return all[:1]
	case enough == n-1 && n > 3:
		for _, p := range all[1:] {
			if p[0] != all[0][0] && p[0] != all[0][1] && p[1] != all[0][0] && p[1] != all[0][1] {
				return [][2]int{all[0], p}
			}
		}
	}
	const most = 12 // all pairs of five mounts and more than enough of larger patterns
	return all[:min(len(all), most)]
}

// known tells that a pose is in the list already, or replaces one that is worse.
func known(list []*pose, p *pose) bool {
	for i, q := range list {
		if math.Abs(q.at[0]-p.at[0]) > seatReach || math.Abs(q.at[1]-p.at[1]) > seatReach || math.Abs(math.Mod(q.turn-p.turn+540, 360)-180) > 1 {
			continue
		}
		if p.met > q.met || p.met == q.met && p.residual < q.residual {
			list[i] = p
		}
		return true
	}
	return false
}

// settle pairs the mounts with openings, fits the pose to the pairs, and returns how many there are. It gives
// up when fewer than enough can be.
func (x *seating) settle(p *pose, list []opening2, reach float64, enough int) int {
	for round := range 3 {
		taken := make([]bool, len(list))
		var from, to [][2]float64
		p.met, p.residual, p.level = 0, 0, math.Inf(-1)
		for i, m := range x.mounts {
			if p.met+len(x.mounts)-i < enough {
				return 0
			}
			at := p.flat(m.at)
			k, near := -1, reach
			if round == 0 {
				near = 2 * reach // the first guess rests on two mounts only
			}
			for j := range list {
				if d := math.Hypot(list[j].flat[0]-at[0], list[j].flat[1]-at[1]); d <= near && !taken[j] {
					k, near = j, d
				}
			}
			if k < 0 {
				continue
			}
			taken[k] = true
			from, to = append(from, m.at), append(to, list[k].flat)
			p.met++
			p.residual = max(p.residual, near)
			p.level = max(p.level, list[k].level)
		}
		if p.met < 2 {
			return p.met
		}
		if round < 2 {
			p.fit(from, to)
		}
	}
	return p.met
}

// quarterWithin is how near to a quarter turn a found turn is taken for one, degrees: on the longest boards,
// 300 mm, that is 0.05 mm, and models are drawn at right angles.
const quarterWithin = 0.01

// fit is the least-squares motion of the points onto others (Kabsch, in the plane).
func (p *pose) fit(from, to [][2]float64) {
	flip := 1.0
	if p.hand != up {
		flip = -1
	}
	var a, b [2]float64
	n := float64(len(from))
	for i := range from {
		a[0] += from[i][0] / n
		a[1] += flip * from[i][1] / n
		b[0] += to[i][0] / n
		b[1] += to[i][1] / n
	}
	var sin, cos float64
	for i := range from {
		fx, fy := from[i][0]-a[0], flip*from[i][1]-a[1]
		tx, ty := to[i][0]-b[0], to[i][1]-b[1]
		sin += fx*ty - fy*tx
		cos += fx*tx + fy*ty
	}
	p.turn = math.Atan2(sin, cos) * 180 / math.Pi
	if q := math.Round(p.turn/90) * 90; math.Abs(q-p.turn) <= quarterWithin {
		p.turn = q
	}
	s, c := sincos(p.turn)
	p.at = [2]float64{b[0] - (c*a[0] - s*a[1]), b[1] - (s*a[0] + c*a[1])}
}

// beneath is the nearest opening to each mount of a pose: at its level if there is one within reach, else the
// nearest at any level.
func (x *seating) beneath(p *pose) []link {
	out := make([]link, len(x.mounts))
	for _, f := range x.floors() {
		if dot(f.frame.n, p.frame.n) < 1-sameWay*sameWay {
			continue
		}
		for i, m := range x.mounts {
			at := p.flat(m.at)
			best := math.Inf(1)
			for k := range f.list {
				o := &f.list[k]
				d := math.Hypot(o.flat[0]-at[0], o.flat[1]-at[1])
				worse := d
				if math.Abs(o.level-p.level) > seatPlay {
					worse += seatReach + math.Min(1, math.Abs(o.level-p.level)/100)
				}
				if d <= misfitReach && worse < best {
					best, out[i] = worse, link{o, d}
				}
			}
		}
	}
	return out
}

// mostNear is the most openings of one level among which the nearest pattern is looked for: in a perforated
// plate something is always near.
const mostNear = 40

// nearest is the pattern of holes that comes nearest to the mounts; nil when nothing does.
func (x *seating) nearest() *facts.Misfit {
	var best *pose
	for _, f := range x.floors() {
		for _, s := range f.storeys() {
			if len(s) > mostNear {
				continue
			}
			for _, p := range x.lay(f.frame, s, up, misfitReach/2, 2) {
				p.pairs = x.beneath(p)
				p.met = 0
				for _, l := range p.pairs {
					if l.open != nil && l.off <= seatReach {
						p.met++
					}
				}
				if best == nil || p.met > best.met || p.met == best.met && p.loose() < best.loose() {
					best = p
				}
			}
		}
	}
	if best == nil {
		return nil
	}
	keep := x.pose
	x.pose = best
	m := &facts.Misfit{Fit: best.met, Of: len(x.mounts), Mounts: x.mountFacts()}
	x.pose = keep
	for _, l := range best.pairs {
		if l.open != nil {
			m.Off = max(m.Off, round3(l.off))
		}
	}
	return m
}

// loose is the sum of all distances, a missing hole counted as the farthest.
func (p *pose) loose() float64 {
	sum := 0.0
	for _, l := range p.pairs {
		if l.open == nil {
			sum += misfitReach
		} else {
			sum += l.off
		}
	}
	return sum
}
