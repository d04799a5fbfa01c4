package fit

import (
	"fmt"
	"math"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
	"dropwright/bundle/mesh"
	"dropwright/bundle/section"
)

// SeatInput is a board and the part it sits in.
type SeatInput struct {
	Profile *board.Profile
	Census  *section.Census
	Mesh    *mesh.Mesh
	Raise   float64     // standoffs between part and board, mm
	Typed   design.Seat // what the manifest says of it
	Others  []Placed    // other parts whose place in this part's frame is known
}

// Placed is a part in the frame of another.
type Placed struct {
	Name string
	Mesh *mesh.Mesh
	Move mesh.Matrix
}

// SeatOf finds where a board sits, and measures the space around it. The caller fills in the names (variant,
// board, part, mesh) and the parts that have no place.
//
// A seat is a motion that lays the mounts on openings of holes that look one way and lie in one plane, the
// board's underside on their rims (component side up) or its top face (component side down). It is never a
// mirror image: where holes fit only with the component side towards them, the mesh is taken for mirrored,
// unless the manifest says `face: down` or the ports say that it is meant so: all that are required are open
// that way and not the other. Of several seats the one counts in which the board lies free of material, inside
// the part, with the most required ports open; if two are alike in that, the seat is ambiguous.
//
// A board is seated when all of its mounts, or three and more but one, meet holes within seatReach.
func SeatOf(in SeatInput) facts.Seat {
	out := facts.Seat{State: facts.SeatUnknown, NeedGap: round3(in.Profile.Outline.Tolerance.MM + sidePlay)}
	x := &seating{SeatInput: in, out: &out}
	x.weigh()
	if len(in.Profile.Outline.Polygon) == 0 && (!in.Profile.Outline.Length.Given || !in.Profile.Outline.Width.Given) {
		x.miss("outline.length, outline.width")
		return out
	}
	x.loop = in.Profile.Loop()
	x.grid = newGrid(in.Mesh)
	for _, o := range in.Others {
		x.grids = append(x.grids, newGrid(o.Mesh))
	}
	x.find()
	if out.Pose != nil && in.Profile.Outline.Thickness.Given {
		x.room()
	}
	return out
}

// sidePlay is what a print should leave between a board's largest outline and a wall, mm: prints are good to
// 0.2 (three of five sources on accuracy).
const sidePlay = 0.2

// seatReach is how far a mount may lie beside a hole and still be taken for the hole's, mm. A board that is
// this far off does not go on its screws; it is the judge's business to say so, and better than not to find it.
const seatReach = 0.6

// misfitReach is how far a hole may lie from a mount and still be named as the nearest, mm. Our own choice:
// farther, and it is another pattern's.
const misfitReach = 8.0

// seating is one board while it is worked out.
type seating struct {
	SeatInput
	out    *facts.Seat
	mounts []mount
	post   []mount
	loop   []board.Point
	pose   *pose
	grid   *grid
	grids  []*grid // of the other parts
}

// mount is a mount whose place is known.
type mount struct {
	id    string
	at    [2]float64
	hole  float64 // diameter, 0 unknown
	screw float64 // nominal, 0 unknown
	land  float64 // diameter, 0 unknown
}

// miss notes a figure of the profile that is not known.
func (x *seating) miss(figure string) { x.out.Missing = append(x.out.Missing, figure+" unknown") }

// mostMounts bounds the mounts that are laid on holes; the largest standard boards have ten or so (from memory).
const mostMounts = 32

// weigh gathers the mounts and the figures that a finding must own up to.
func (x *seating) weigh() {
	p := x.Profile
	if len(p.Mounts) > mostMounts {
		x.out.Missing = append(x.out.Missing, fmt.Sprintf("the profile names %d mounts; the first %d were looked at", len(p.Mounts), mostMounts))
	}
	for i := range p.Mounts[:min(len(p.Mounts), mostMounts)] {
		m := &p.Mounts[i]
		if !m.X.Given || !m.Y.Given {
			x.miss("place of mount " + m.ID.S)
			continue
		}
		y := mount{id: m.ID.S, at: [2]float64{m.X.MM, m.Y.MM}, hole: m.Hole.MM, land: m.Land.MM}
		if s, err := hardware.ParseSize(m.Screw.S); err == nil {
			if t, ok := hardware.ThreadOf(s); ok {
				y.screw = t.Nominal
			}
		}
		x.mounts = append(x.mounts, y)
	}
	for _, path := range []string{"mounts.x", "mounts.hole", "outline.length", "outline.thickness"} {
		if b := p.BasisOf(path); board.WeakBasis(b) {
			x.out.Weak = append(x.out.Weak, path+": "+board.BasisWords(b))
		}
	}
}

// find settles the pose: typed, or by the holes.
func (x *seating) find() {
	if !x.Profile.Outline.Thickness.Given {
		x.miss("outline.thickness")
	}
	best := x.search()
	if len(x.Typed.At) == 3 {
		x.typed()
		if b := first(best, up, down); b != nil && b.met == len(x.mounts) {
			f := b.fact(x)
			x.out.Found = &f
		}
		return
	}
	if len(x.mounts) == 0 {
		x.out.Missing = append(x.out.Missing, "the profile names no mounts; write seat: {at: [x, y, z], turn: 0}")
		return
	}
	x.pose, x.out.State = x.choose(best)
	switch x.out.State {
	case facts.SeatNone:
		x.out.Nearest = x.nearest()
		return
	case facts.SeatMirrored:
		return
	}
	f := x.pose.fact(x)
	x.out.Pose = &f
	for _, b := range best {
		if b != x.pose && b.hand == x.pose.hand && b.standing() == x.pose.standing() {
			x.out.Others = append(x.out.Others, b.fact(x))
		}
	}
	x.out.Turned = len(x.out.Others) == 0 && x.turnedFits()
	x.out.Mounts = x.mountFacts()
}

// choose settles which of the poses is the seat; see SeatOf.
func (x *seating) choose(best []*pose) (*pose, string) {
	u, d, m := first(best, up), first(best, down), first(best, mirror)
	switch word := string(x.Typed.Face.V); {
	case word == "down" && d != nil:
		return d, facts.SeatFound
	case word == "down":
		return nil, facts.SeatNone
	case word == "up":
		d = nil
	}
	sure := func(p *pose) bool {
		return p != nil && p.met == len(x.mounts) && p.exact && p.free && p.open == p.wanted
	}
	switch {
	case sure(u):
		return u, facts.SeatFound
	case sure(d) && d.wanted > 0 && (u == nil || u.open < u.wanted || !u.exact):
		return d, facts.SeatFound
	case sure(m) && (u == nil || u.met < m.met || !u.exact || u.open < m.open):
		return nil, facts.SeatMirrored
	case u != nil:
		return u, facts.SeatFound
	case m != nil && m.met == len(x.mounts):
		return nil, facts.SeatMirrored
	}
	return nil, facts.SeatNone
}

// typed takes the manifest's word: turned about z, component side up or down.
func (x *seating) typed() {
	t := x.Typed
	p := &pose{frame: planeAcross(vec{0, 0, 1}), turn: float64(t.Turn.V), at: [2]float64{float64(t.At[0].V), float64(t.At[1].V)}}
	if string(t.Face.V) == "down" {
		p.hand = down
	}
	p.level = float64(t.At[2].V) - x.lift(p.hand)
	p.pairs = x.beneath(p)
	x.pose = p
	f := p.fact(x)
	x.out.Pose, x.out.State = &f, facts.SeatTyped
	x.out.Mounts = x.mountFacts()
}

// lift is the height of the board's origin over the rims of the holes.
func (x *seating) lift(h hand) float64 {
	if h == down {
		return x.Raise
	}
	return x.Raise + x.Profile.Outline.Thickness.MM
}

// turnedFits tells that the board turned by 180 degrees in its own outline would lie in the cavity as well,
// while its mounts would miss the holes.
func (x *seating) turnedFits() bool {
	if len(x.Profile.Outline.Polygon) > 0 || !x.Profile.Outline.Thickness.Given || x.Profile.Turned180(seatReach) {
		return false
	}
	t := *x.pose
	t.turn += 180
	o := x.Profile.Outline
	t.at = x.pose.flat([2]float64{o.Length.MM, o.Width.MM})
	return !slab(x.sceneFor(&t), x.loop, o.Thickness.MM).inside
}

// mountFacts says of each mount what lies under it.
func (x *seating) mountFacts() []facts.SeatMount {
	out := make([]facts.SeatMount, 0, len(x.mounts))
	for i, m := range x.mounts {
		f := facts.SeatMount{ID: m.id}
		if k := x.pose.pairs[i]; k.open != nil {
			f.Off = some(k.off)
			h := rounded(k.open.at)
			f.Hole, f.Passes = &h, round3(k.open.passes)
			f.Lower = some(x.pose.level - k.open.level)
			f.Met = k.off <= seatReach && math.Abs(*f.Lower) <= seatPlay
		}
		if m.hole > 0 && m.screw > 0 {
			f.Play = some(max(0, m.hole-m.screw) / 2)
		}
		out = append(out, f)
	}
	return out
}
