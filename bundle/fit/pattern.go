package fit

import (
	"cmp"
	"math"
	"slices"

	"dropwright/bundle/section"
)

// patternPlay is how far a hole may lie beside the place where its counterpart puts it, mm: the play of a
// screw in a medium hole of ISO 273 is 0.2 (M3, half the difference of the diameters), and prints are good
// to about 0.2 (three of five sources on accuracy). Common practice.
const patternPlay = 0.3

// patternReach is how far beside its place a hole is still taken for a misplaced one, mm. Our own choice:
// half of the smallest distance at which two M2 posts can stand.
const patternReach = 2.5

// seatPlay is how far the faces around the holes of one pattern may lie from one plane, mm. Our own choice:
// two layers of 0.25, which a screw pulls flat in plastic.
const seatPlay = 0.5

// mostSpots is how many holes of one direction are matched; beyond, they are only counted, since the time
// grows with the fourth power.
const mostSpots = 48

// spot is a hole seen along its axis.
type spot struct {
	cand  int // index into the member's candidates; for fixed patterns the index of the point
	at    [2]float64
	level float64 // of its opening, along the direction it opens to
	other float64 // of its other opening, along the opposite direction; NaN when it has none
	score float64
	alike float64
}

// side is the holes of one member that open in one direction.
type side struct {
	out   [3]float64
	frame section.Frame
	spots []spot
}

// sameWay is the largest difference of two directions that count as one: a tenth of a degree.
const sameWay = 2e-3

// sidesOf sorts candidates by the direction they open to. A hole open at both ends lies on one side only,
// the one along its axis, except for holes that a thread goes into: those may be entered from either end.
func sidesOf(cands []candidate, bothEnds bool) []side {
	var out []side
	for i, c := range cands {
		for k, o := range c.openings {
			if k > 0 && !bothEnds {
				break
			}
			var s *side
			for j := range out {
				if d := dot(out[j].out, o.out); d > 1-sameWay*sameWay {
					s = &out[j]
				}
			}
			if s == nil {
				f, err := section.Along(o.out)
				if err != nil {
					continue
				}
				out = append(out, side{out: o.out, frame: f})
				s = &out[len(out)-1]
			}
			u, v, _ := s.frame.In(o.at)
			sp := spot{cand: i, at: [2]float64{u, v}, level: dot(o.at, s.out), other: math.NaN(), score: c.score, alike: c.alike}
			if len(c.openings) == 2 {
				sp.other = dot(c.openings[1-k].at, neg(s.out))
			}
			s.spots = append(s.spots, sp)
		}
	}
	return out
}

// motion is a turn or mirrored turn in the plane with a shift.
type motion struct {
	m [2][2]float64
	t [2]float64
}

func (x motion) apply(p [2]float64) [2]float64 {
	return [2]float64{x.m[0][0]*p[0] + x.m[0][1]*p[1] + x.t[0], x.m[1][0]*p[0] + x.m[1][1]*p[1] + x.t[1]}
}

// inverse of a motion: the matrix is orthonormal.
func (x motion) inverse() motion {
	y := motion{m: [2][2]float64{{x.m[0][0], x.m[1][0]}, {x.m[0][1], x.m[1][1]}}}
	t := y.apply(x.t)
	y.t = [2]float64{-t[0], -t[1]}
	return y
}

// motionOnto is the motion, mirrored or not, that lays the segment a-b upon c-d, middle upon middle.
func motionOnto(a, b, c, d [2]float64, mirror bool) motion {
	x, y := b[0]-a[0], b[1]-a[1]
	if mirror {
		y = -y
	}
	turn := math.Atan2(d[1]-c[1], d[0]-c[0]) - math.Atan2(y, x)
	sin, cos := math.Sincos(turn)
	m := motion{m: [2][2]float64{{cos, -sin}, {sin, cos}}}
	if mirror {
		m.m[0][1], m.m[1][1] = -m.m[0][1], -m.m[1][1]
	}
	mid := m.apply([2]float64{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2})
	m.t = [2]float64{(c[0]+d[0])/2 - mid[0], (c[1]+d[1])/2 - mid[1]}
	return m
}

// pairing is how the spots of one side lie on those of another.
type pairing struct {
	pairs []pair
	move  motion // of a onto b
	known bool   // move is fixed by two pairs or more
	value float64
}

// pair is a spot of a, one of b, and how far they lie apart.
type pair struct {
	a, b  int
	apart float64
	low   float64 // how far the faces stay apart when the others touch
}

// lay finds the motion that brings the most spots of a onto spots of b, at most n and each within play (mm),
// and among equal ones the likeliest spots with the least distance. Pairs come in the order of a. Where no two
// spots of a lie as far apart as two of b, it is the likeliest pair alone, and known is false.
func lay(a, b []spot, n int, play float64) pairing {
	if n <= 0 || len(a) == 0 || len(b) == 0 {
		return pairing{}
	}
	if n == 1 || len(a) == 1 || len(b) == 1 {
		return single(a, b)
	}
	best := pairing{value: -1}
	tried := 0
	for _, s := range segments(a) {
		for k := range b {
			for l := range b {
				if k == l || math.Abs(span(b[k], b[l])-s.length) > 2*play {
					continue
				}
				for _, mirror := range []bool{false, true} {
					m := motionOnto(a[s.i].at, a[s.j].at, b[k].at, b[l].at, mirror)
					p := overlay(a, b, m, n, play)
					if p.value > best.value+1e-9 {
						best = p
					}
					if tried++; tried >= mostMotions || best.perfect(min(n, len(a), len(b))) {
						return best
					}
				}
			}
		}
	}
	if best.value < 0 {
		return single(a, b)
	}
	return best
}

// mostMotions bounds the search on regular grids, where every distance occurs many times. Parts that are
// screwed together have a dozen holes, which need a few thousand.
const mostMotions = 20_000

// segment is two spots and their distance.
type segment struct {
	i, j   int
	length float64
}

// segments lists the pairs of spots, the longest first: they are the rarest and fix a motion best.
func segments(a []spot) []segment {
	var out []segment
	for i := range a {
		for j := i + 1; j < len(a); j++ {
			if d := span(a[i], a[j]); d >= 2*patternPlay {
				out = append(out, segment{i, j, d})
			}
		}
	}
	slices.SortStableFunc(out, func(x, y segment) int { return cmp.Compare(y.length, x.length) })
	return out
}

// perfect tells that no other motion can be better by more than a hair: n pairs, all of likely holes, all
// close, all faces touching.
func (p pairing) perfect(n int) bool { return len(p.pairs) == n && p.value > float64(n)*(1002-2e-5) }

// single pairs the likeliest spot of each side.
func single(a, b []spot) pairing {
	likeliest := func(s []spot) int {
		k := 0
		for i := range s {
			if s[i].score+s[i].alike > s[k].score+s[k].alike+1e-9 {
				k = i
			}
		}
		return k
	}
	i, j := likeliest(a), likeliest(b)
	return pairing{pairs: []pair{{a: i, b: j}}, value: 1000 + a[i].score + a[i].alike + b[j].score + b[j].alike}
}

func span(p, q spot) float64 { return math.Hypot(p.at[0]-q.at[0], p.at[1]-q.at[1]) }

// overlay pairs what lies within play of one another under a motion.
func overlay(a, b []spot, m motion, n int, play float64) pairing {
	p := pairing{move: m, known: true}
	taken := make([]bool, len(b))
	for i := range a {
		at := m.apply(a[i].at)
		k, near := -1, play
		for j := range b {
			if d := math.Hypot(b[j].at[0]-at[0], b[j].at[1]-at[1]); !taken[j] && d <= near {
				k, near = j, d
			}
		}
		if k >= 0 {
			taken[k] = true
			p.pairs = append(p.pairs, pair{a: i, b: k, apart: near})
		}
	}
	levels(a, b, p.pairs)
	if len(p.pairs) > n { // a joint of fewer screws on a larger pattern: the likeliest
		slices.SortStableFunc(p.pairs, func(x, y pair) int {
			return cmp.Compare(a[y.a].score+b[y.b].score-y.low, a[x.a].score+b[x.b].score-x.low)
		})
		p.pairs = p.pairs[:n]
		slices.SortStableFunc(p.pairs, func(x, y pair) int { return cmp.Compare(x.a, y.a) })
	}
	for _, x := range p.pairs {
		p.value += 1000 + a[x.a].score + b[x.b].score - x.apart/100
		if x.low > seatPlay {
			p.value -= 0.5
		}
	}
	return p
}

// levels works out for each pair how far its faces stay apart when the others touch. A through hole may lie
// with either face on the other part, so the end that fits better counts.
func levels(a, b []spot, pairs []pair) {
	if len(pairs) < 2 {
		return
	}
	best := math.Inf(1)
	gap := make([]float64, len(pairs))
	for _, ea := range [2]bool{false, true} {
		for _, eb := range [2]bool{false, true} {
			sum := make([]float64, len(pairs))
			ok := true
			for i, p := range pairs {
				la, lb := a[p.a].level, b[p.b].level
				if ea {
					la = a[p.a].other
				}
				if eb {
					lb = b[p.b].other
				}
				sum[i] = la + lb
				ok = ok && !math.IsNaN(sum[i])
			}
			if !ok {
				continue
			}
			top := slices.Max(sum) // the highest faces touch first
			worst := 0.0
			for i := range sum {
				sum[i] = top - sum[i]
				worst = max(worst, sum[i])
			}
			if worst < best-1e-9 {
				best = worst
				copy(gap, sum)
			}
		}
	}
	if math.IsInf(best, 1) {
		return
	}
	// One proud face would make all others low: measure from the middle one, so that the odd one shows.
	mid := slices.Clone(gap)
	slices.Sort(mid)
	m := mid[(len(mid)-1)/2]
	for i := range pairs {
		pairs[i].low = gap[i] - m
	}
}
