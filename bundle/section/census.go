package section

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"dropwright/bundle/mesh"
)

// Kinds of holes and of their mouths.
const (
	Round   = "round"
	Hexagon = "hexagon"

	Counterbore = "counterbore" // a wider cylinder, its floor carries a flat head
	Countersink = "countersink" // a cone that takes a countersunk head
	Chamfer     = "chamfer"     // a cone that widens the hole too little for any head
)

// Mouth tells what is beyond the end of a hole.
type Mouth uint8

const (
	// Closed: a floor of material.
	Closed Mouth = iota
	// Open: air at least as wide as the hole; a screw or nut can enter here.
	Open
	// Narrowed: air on the axis, but less wide than the hole, as at the floor of a nut pocket with a
	// screw hole in it.
	Narrowed
)

func (m Mouth) String() string {
	switch m {
	case Open:
		return "open"
	case Narrowed:
		return "narrowed"
	}
	return "closed"
}

// End is one end of a hole or boss: a place on its axis.
type End struct {
	At    [3]float64 // mm
	Mouth Mouth
}

// Hole is a round or hexagonal hole, with every wider part at its ends that shares its axis. The wall
// around it is solid at least from end to end for the walls themselves; what lies outside of them is
// not looked at.
//
// A nut pocket with a screw hole in its floor is two holes of one Group: the hexagon, whose inner end
// is Narrowed, and the round hole, whose end in the pocket is Open. The ends of the two meet.
type Hole struct {
	Axis [3]float64 // unit vector; +x, +y, +z, or z > 0 (z = 0: y > 0) for other directions
	Kind string     // Round or Hexagon

	// Diameter in mm as drawn: through the corners of the facets, for a hexagon across its flats. For
	// a hole of several widths it is the narrowest. Passes is the largest cylinder that goes through:
	// Diameter·cos(π/Corners) for a regular outline, and the same as Diameter for a hexagon.
	Diameter, Passes float64
	Corners          int // sides of its outline

	From, To End        // ends, To farther along Axis; wider mouths included, the tip of a drill not
	Centre   [3]float64 // middle between the ends, mm
	Depth    float64    // distance of the ends, mm: full depth including wider mouths
	Narrow   float64    // length in mm of the part of the stated diameter alone
	// DraftedTo is the wide end of that part in mm: more than Diameter for a hole with a draft or for
	// a tapered insert, up to 8 degrees a side.
	DraftedTo float64
	Through   bool // Open at both ends

	Sinks []Sink // wider parts, those at From before those at To, each from the narrow part outwards
	Group int    // holes with the same number share an axis and meet end to end; alone: a number of its own
}

// Sink is a wider part at one end of a hole.
type Sink struct {
	Kind     string  // Counterbore, Countersink or Chamfer
	Diameter float64 // mm, through the corners; the wide end of a cone
	Depth    float64 // mm from its inner end to the end of the whole hole: how deep a head can sink
	Length   float64 // mm of this part alone
	Angle    float64 // degrees, full angle of the cone; 0 for a counterbore
	AtTo     bool    // at the end To, otherwise at From
}

// Sink returns the wider part that takes the head of a screw: next to the narrow part, at the end
// where it is widest if both ends have one. A chamfer is none. A cone that only leads over to a still
// wider counterbore gives that counterbore.
func (h *Hole) Sink() (s Sink, ok bool) {
	for i := 0; i < len(h.Sinks); i++ {
		c := h.Sinks[i]
		if c.Kind == Chamfer {
			continue
		}
		last := i
		for last+1 < len(h.Sinks) && h.Sinks[last+1].AtTo == c.AtTo {
			last++
		}
		if n := h.Sinks[min(i+1, last)]; c.Kind == Countersink && n.Kind == Counterbore && n.Diameter > c.Diameter+sameWithin {
			n.Depth = c.Depth
			c = n
		}
		if !ok || c.Diameter > s.Diameter {
			s, ok = c, true
		}
		i = last
	}
	return s, ok
}

// Boss is a round post or pin: a cylinder with the material inside. A post of several widths is one
// Boss for each. A tube is a Boss with a Hole in it.
type Boss struct {
	Axis     [3]float64
	Diameter float64 // mm through the corners
	Corners  int
	From, To End // an end is Closed where it stands on material, Open where it ends in air
	Centre   [3]float64
	Height   float64 // mm
}

// Opening is a hole with straight walls that is neither round nor a hexagon: a slot, a window, a
// pocket, also a round hole with something standing in it.
type Opening struct {
	Axis     [3]float64
	Long     [3]float64 // direction of Size[0]
	Size     [2]float64 // mm of the smallest rectangle around it, in the order of the axes if it is parallel to them; its diameter twice if it is round
	Area     float64    // mm2
	From, To End
	Centre   [3]float64
	Depth    float64 // mm
	Through  bool    // Open at both ends
}

// Census is what a mesh has of holes, posts and openings, in a fixed order: along x, y, z, then
// other directions, and within one by place.
type Census struct {
	Holes    []Hole
	Bosses   []Boss
	Openings []Opening // through
	Pockets  []Opening // open at one end; the inside of a tray is one
	Sealed   []Hole    // closed at both ends: a cavity that no screw can enter
}

// Options for [Holes].
type Options struct {
	Workers int          // <= 0: one for each processor; does not change the result
	Axes    [][3]float64 // directions to look along besides x, y and z and those found in the facets
}

// Holes takes the census of a closed mesh along x, y, z, along every direction in which a ring of
// facets closes around a hole, and along the directions of opt. Diameters are good to 0.01 mm and
// depths to 0.02 mm. The mesh must be right side out; where it has gaps, holes may be missed. A hole
// counts where its wall is whole: one that leaves through a slanted face ends at the first corner cut.
func Holes(m *mesh.Mesh, opt Options) (Census, error) {
	frames := []Frame{AlongX, AlongY, AlongZ}
	for i, d := range opt.Axes {
		f, err := Along(d)
		if err != nil {
			return Census{}, fmt.Errorf("axis %d: %w", i+1, err)
		}
		if !slices.ContainsFunc(frames, func(g Frame) bool { return sameDirection(f.W, g.W) }) {
			frames = append(frames, f)
		}
	}
	// The searches do not need each other until the end; each has its own places for results.
	var groups [][]bore
	sweeps, errs := make([]*sweep, len(frames)), make([]error, len(frames))
	parallelRuns(opt.Workers, len(frames)+1, 1, func(i int) {
		if i == 0 {
			groups = allBores(m)
			return
		}
		sweeps[i-1], errs[i-1] = newSweep(m, frames[i-1], opt.Workers)
	})
	if err := errors.Join(errs...); err != nil {
		return Census{}, err
	}
	rings := slices.Concat(groups...)
	parts := make([]Census, len(frames))
	parallelRuns(opt.Workers, len(frames), 1, func(i int) {
		if sweeps[i] != nil {
			parts[i].collect(sweeps[i], rings)
		}
	})
	var c Census
	for i := range parts {
		c.add(&parts[i])
	}
	if upright := sweeps[2]; upright != nil {
		if err := c.tilted(m, upright, groups, opt.Workers); err != nil {
			return Census{}, err
		}
	}
	c.sort()
	return c, nil
}

// add takes all of another census over and keeps the numbers of groups apart.
func (c *Census) add(part *Census) {
	base := len(c.Holes) + len(c.Sealed)
	for i := range part.Holes {
		part.Holes[i].Group += base
	}
	for i := range part.Sealed {
		part.Sealed[i].Group += base
	}
	c.Holes = append(c.Holes, part.Holes...)
	c.Sealed = append(c.Sealed, part.Sealed...)
	c.Bosses = append(c.Bosses, part.Bosses...)
	c.Openings = append(c.Openings, part.Openings...)
	c.Pockets = append(c.Pockets, part.Pockets...)
}

func sameDirection(a, b [3]float64) bool {
	x := cross(a, b)
	return dot(x, x) < 1e-6 // 0.06 degrees
}

// sort puts everything into its fixed order and numbers the groups anew in that order. Places are
// compared in steps of a thousandth, so that rounding does not decide.
func (c *Census) sort() {
	place := func(axis, at [3]float64, d float64) [8]int {
		key := [8]int{3}
		for i, f := range [3]Frame{AlongX, AlongY, AlongZ} {
			if axis == f.W {
				key[0] = i
			}
		}
		for i := range 3 {
			if key[0] == 3 {
				key[1+i] = int(math.Round(axis[i] * 1e3))
			}
			key[4+i] = int(math.Round(at[i] * 1e3))
		}
		key[7] = int(math.Round(d * 1e3))
		return key
	}
	order := func(a, b [8]int) int { return slices.Compare(a[:], b[:]) }
	hole := func(a, b Hole) int {
		return cmp.Or(order(place(a.Axis, a.Centre, a.Diameter), place(b.Axis, b.Centre, b.Diameter)), cmp.Compare(a.Kind, b.Kind))
	}
	opening := func(a, b Opening) int {
		return order(place(a.Axis, a.Centre, a.Area), place(b.Axis, b.Centre, b.Area))
	}
	slices.SortStableFunc(c.Holes, hole)
	slices.SortStableFunc(c.Sealed, hole)
	slices.SortStableFunc(c.Openings, opening)
	slices.SortStableFunc(c.Pockets, opening)
	slices.SortStableFunc(c.Bosses, func(a, b Boss) int {
		return order(place(a.Axis, a.Centre, a.Diameter), place(b.Axis, b.Centre, b.Diameter))
	})
	number := map[int]int{}
	for _, list := range [][]Hole{c.Holes, c.Sealed} {
		for i := range list {
			n, ok := number[list[i].Group]
			if !ok {
				n = len(number)
				number[list[i].Group] = n
			}
			list[i].Group = n
		}
	}
}
