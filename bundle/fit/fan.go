package fit

import (
	"math"

	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
	"dropwright/bundle/section"
)

// fanReach is how far from the pitch of the tables a square of holes is still taken for a fan's, mm on each
// hole: half-way between the pitches of neighbouring frames (32, 40) and (40, 50) is 2 and more a hole.
const fanReach = 1.9

// FanIn finds where a square fan of the given frame (mm) sits on a part: the square of holes nearest to its
// pitch, and the opening in their middle. The caller fills in the names.
func FanIn(c *section.Census, frame float64) facts.FanSeat {
	out := facts.FanSeat{Frame: frame}
	fan, ok := hardware.FanOf(frame)
	if !ok {
		out.Missing = append(out.Missing, "the tables know no fan with this frame")
		return out
	}
	out.Pitch, out.Weak, out.Basis = fan.Pitch, fan.Weak(), fan.Caveat()
	if fan.Pitch == 0 {
		out.Missing = append(out.Missing, "the sources disagree on its pitch")
		return out
	}
	h := fan.Pitch / 2
	x := &seating{SeatInput: SeatInput{Census: c}}
	for _, at := range [4][2]float64{{-h, -h}, {h, -h}, {h, h}, {-h, h}} {
		x.mounts = append(x.mounts, mount{at: at, hole: fan.Hole})
	}
	var best *pose
	for _, f := range x.floors() {
		for _, s := range f.storeys() {
			for _, p := range x.lay(f.frame, s, up, fanReach, 4) {
				if best == nil || p.residual < best.residual-1e-6 {
					best = p
					p.pairs = x.beneath(p)
				}
			}
		}
	}
	if best == nil {
		return out
	}
	out.Off = round3(best.residual)
	sum, n := 0.0, 0
	for i, a := range best.pairs {
		if b := best.pairs[(i+1)%4]; a.open != nil && b.open != nil {
			sum += math.Hypot(a.open.flat[0]-b.open.flat[0], a.open.flat[1]-b.open.flat[1])
			n++
		}
	}
	out.Found = round3(sum / float64(max(1, n)))
	middle := best.flat([2]float64{})
	beside := func(axis, at vec) (float64, bool) {
		if math.Abs(dot(axis, best.frame.n)) < 1-sameWay*sameWay {
			return 0, false
		}
		d := math.Hypot(dot(at, best.frame.u)-middle[0], dot(at, best.frame.v)-middle[1])
		return d, d < fan.Pitch/2
	}
	take := func(size, off float64) {
		if out.Opening == nil || size > *out.Opening {
			out.Opening, out.Centred = some(size), round3(off)
		}
	}
	for i := range c.Holes {
		if o := &c.Holes[i]; o.Through && o.Passes > fan.Hole*1.5 {
			if off, ok := beside(o.Axis, o.Centre); ok {
				take(o.Passes, off)
			}
		}
	}
	for i := range c.Openings {
		if o := &c.Openings[i]; o.Through {
			if off, ok := beside(o.Axis, o.Centre); ok {
				take(min(o.Size[0], o.Size[1]), off)
			}
		}
	}
	return out
}
