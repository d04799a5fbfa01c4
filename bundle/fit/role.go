package fit

import (
	"math"

	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
	"dropwright/bundle/section"
)

// Role is what a hole can be for a fastener.
type Role string

// The roles of holes.
const (
	Clearance Role = "clearance" // a round hole right through that the screw passes freely
	Thread    Role = "thread"    // a round hole in which the screw cuts its own thread
	Insert    Role = "insert"    // a round hole that takes a heat-set insert
	Nut       Role = "nut"       // a hexagonal pocket that takes a nut
)

// Use is one thing that a hole may be for.
type Use struct {
	Role Role
	Size hardware.Size
}

// Uses lists what a hole of a shape can be for a fastener: every role and size whose band holds its diameter
// as drawn, the printed allowance (mm on the diameter) taken into account. Slots, windows and text are not
// holes of the census and have no role; neither has a blind hole as a clearance hole, a hole closed at both
// ends, or one wider than any fastener. The list is in the order of roles, then of sizes.
func Uses(s *Shape, hole int, allowance float64) []Use {
	var out []Use
	for _, role := range []Role{Clearance, Thread, Insert, Nut} {
		for _, size := range hardware.Sizes() {
			w := want{role: role, size: size, allowance: allowance}
			if role == Nut {
				w.nut, _ = hardware.NutOf(hardware.DefaultNut, size)
			}
			if !w.prepare() {
				continue
			}
			for _, c := range w.candidates(s) {
				if c.hole == hole && w.allowed.contains(c.passes) {
					out = append(out, Use{role, size})
					break
				}
			}
		}
	}
	return out
}

// want is what a joint asks of the holes of one member.
type want struct {
	role      Role
	size      hardware.Size
	allowance float64
	outer     float64 // insert
	length    float64 // insert
	nut       hardware.Nut

	allowed band // drawn diameter or width across flats that will do
	near    [2]float64
	clears  band // nut: of the round hole
	need    hardware.InsertNeed
}

type band struct{ hardware.Band }

func (b band) contains(mm float64) bool { return b.Contains(mm) }

func (b band) fact() *facts.Band {
	return &facts.Band{Min: round3(b.Min), Max: round3(b.Max), Usual: round3(b.Usual), Basis: b.Basis, Caveat: b.Caveat()}
}

// How far outside its band a hole may lie and still be taken for one that was meant for the fastener. The
// published cases lie within: insert holes 3.7 for 4.0 and as wide as the insert, nut pockets 4.97 for 5.5,
// clearance holes 2.99 for 3.2. Wider, and the holes of the next size would be taken for mistakes.
const (
	nearBelow = 0.85
	nearAbove = 1.25
)

// widestClearance is the widest hole still taken for one that a screw was meant to pass, in screw diameters:
// just wider than the heads of ISO 4762, which are 1.9 to 2 diameters.
const widestClearance = 2.1

// prepare looks the bands up; false when the tables do not know the size.
func (w *want) prepare() bool {
	ok := true
	switch w.role {
	case Clearance:
		w.allowed.Band, ok = hardware.ClearanceBand(w.size, w.allowance)
	case Thread:
		w.allowed.Band, ok = hardware.PilotBand(w.size, w.allowance)
	case Insert:
		w.need, ok = hardware.InsertHole(w.size, w.outer, w.length, w.allowance)
		w.allowed.Band = w.need.Hole
	case Nut:
		if w.nut.AcrossFlats == 0 {
			return false
		}
		w.allowed.Band = hardware.PocketBand(w.nut, w.allowance)
		w.clears.Band, ok = hardware.ClearanceBand(w.size, w.allowance)
	}
	w.near = [2]float64{w.allowed.Min * nearBelow, w.allowed.Max * nearAbove}
	if w.role == Clearance { // as wide as a head: a mistake that has to be named
		w.near[1] = max(w.near[1], widestClearance*w.size.Nominal())
	}
	return ok
}

// candidate is a hole that may have been meant for a fastener.
type candidate struct {
	hole     int // in the census
	round    int // nut: the round hole that leads to the pocket, -1 for none
	diameter float64
	passes   float64
	depth    float64 // of the part that does the work, from its opening: insert pocket, nut pocket; else of the whole hole
	mouth    float64 // depth of a wider mouth before the working part
	blind    float64 // from the opening to the floor; 0 for a hole right through
	score    float64 // 1 inside the band, less the farther outside
	alike    float64 // alikeBonus when enough others of the part are like it
	openings []opening
}

// opening is an end at which a screw may enter or leave.
type opening struct {
	out [3]float64 // unit vector out of the material
	at  [3]float64
}

// candidates lists the holes of a shape that may have been meant for what is wanted, in census order.
func (w *want) candidates(s *Shape) []candidate {
	var out []candidate
	for i := range s.Holes {
		h := &s.Holes[i]
		if c, ok := w.consider(s, i, h); ok {
			c.hole = i
			c.score = w.scoreOf(c.passes)
			out = append(out, c)
		}
	}
	return out
}

// alikeBonus is what it is worth, beside the score of a hole's size, that a part has as many holes alike as the
// joint wants, where no pattern tells which are meant. Our own choice: so much that three holes of a wrong size
// are taken for a joint of three rather than two of the right size and one other.
const alikeBonus = 0.5

// markAlike gives the bonus to candidates of which a part has at least n alike: same direction, width, depth.
func markAlike(cands []candidate, n int) {
	for i := range cands {
		a, same := &cands[i], 0
		for k := range cands {
			b := &cands[k]
			d := dot(a.openings[0].out, b.openings[0].out)
			if (d > 0.999 || d < -0.999) && !diff(a.diameter, b.diameter) && !diff(a.depth, b.depth) {
				same++
			}
		}
		if same >= n && n > 1 {
			a.alike = alikeBonus
		}
	}
}

func (w *want) scoreOf(mm float64) float64 {
	if w.allowed.contains(mm) {
		return 1
	}
	return 0.9 - math.Abs(mm-w.allowed.Usual)/w.allowed.Usual
}

func (w *want) consider(s *Shape, i int, h *section.Hole) (candidate, bool) {
	c := candidate{round: -1, diameter: h.Diameter, passes: h.Passes, depth: h.Depth, openings: openings(h)}
	if !h.Through {
		c.blind = h.Depth
	}
	if len(c.openings) == 0 {
		return c, false
	}
	if (w.role == Nut) != (h.Kind == section.Hexagon) {
		return c, false
	}
	switch w.role {
	case Clearance:
		if !h.Through || w.nutHole(s, i) {
			return c, false
		}
	case Thread:
		if w.nutHole(s, i) {
			return c, false
		}
		if sink, ok := h.Sink(); ok {
			c.mouth = sink.Depth
		}
	case Insert:
		if w.nutHole(s, i) {
			return c, false
		}
		w.pocketOf(h, &c)
	case Nut:
		c.depth, c.blind = h.Depth, 0
		for j := range s.Holes {
			if s.Holes[j].Group == h.Group && s.Holes[j].Kind == section.Round {
				c.round = j
				c.openings = outer(&s.Holes[j], h)
			}
		}
	}
	return c, c.passes >= w.near[0] && c.passes <= w.near[1]
}

// nutHole tells whether a round hole leads to a hexagonal pocket; it belongs to the nut then.
func (w *want) nutHole(s *Shape, i int) bool {
	for j := range s.Holes {
		if j != i && s.Holes[j].Group == s.Holes[i].Group && s.Holes[j].Kind == section.Hexagon {
			return true
		}
	}
	return false
}

// pocketOf finds an insert's pocket in a stepped hole: the narrow part, or the wider part at an end, whichever
// is nearer to what the insert wants.
func (w *want) pocketOf(h *section.Hole, c *candidate) {
	best := w.scoreOf(h.Passes)
	for _, k := range h.Sinks {
		if k.Kind != section.Counterbore {
			continue
		}
		passes := k.Diameter * h.Passes / h.Diameter
		if sc := w.scoreOf(passes); sc > best {
			best = sc
			c.diameter, c.passes, c.depth = k.Diameter, passes, k.Depth
			end := h.From
			dir := neg(h.Axis)
			if k.AtTo {
				end, dir = h.To, h.Axis
			}
			c.openings = []opening{{dir, end.At}}
		}
	}
}

// openings lists the ends of a hole that are open.
func openings(h *section.Hole) []opening {
	var out []opening
	if h.From.Mouth == section.Open {
		out = append(out, opening{neg(h.Axis), h.From.At})
	}
	if h.To.Mouth == section.Open {
		out = append(out, opening{h.Axis, h.To.At})
	}
	return out
}

// outer is the end of a round hole that looks away from the nut pocket it leads to.
func outer(round, hex *section.Hole) []opening {
	o := openings(round)
	if len(o) == 2 && distance(o[0].at, hex.Centre) < distance(o[1].at, hex.Centre) {
		return o[1:]
	}
	if len(o) == 2 {
		return o[:1]
	}
	return o
}

func neg(a [3]float64) [3]float64 {
	for i := range a {
		if a[i] != 0 { // no negative zeros: directions are compared
			a[i] = -a[i]
		}
	}
	return a
}

func distance(a, b [3]float64) float64 {
	return math.Sqrt((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2]))
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// round3 rounds to a micrometre: meshes hold float32, and what is printed should not show their rounding.
func round3(mm float64) float64 {
	if math.IsInf(mm, 0) || math.IsNaN(mm) {
		return mm
	}
	r := math.Round(mm*1000) / 1000
	if r == 0 {
		return 0
	}
	return r
}
