package fit

import (
	"cmp"
	"math"
	"slices"

	"dropwright/bundle/mesh"
	"dropwright/bundle/section"
)

// Shape is what fit needs of a mesh: its census of holes, and the material around each of them.
type Shape struct {
	section.Census
	// Walls runs parallel to Holes: the least distance in mm from the wall of the hole to the next surface
	// beside it, at three heights of its narrow part. 0: not measured.
	Walls []float64
	// Size is the extent along x, y, z, mm.
	Size [3]float64
}

// largestScrewHole is the widest hole whose surroundings are measured: an M6 insert's hole is 8.2 mm (BDW),
// and larger screws are rare in prints.
const largestScrewHole = 12 // mm

// ShapeOf takes a closed mesh's census and measures the walls around its smaller holes. The error is that of
// section.Holes: the mesh could not be cut.
func ShapeOf(m *mesh.Mesh) (*Shape, error) {
	c, err := section.Holes(m, section.Options{})
	if err != nil {
		return nil, err
	}
	s := &Shape{Census: c, Walls: make([]float64, len(c.Holes))}
	lo, hi := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}, [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for _, v := range m.Vertices {
		for k := range 3 {
			lo[k], hi[k] = min(lo[k], float64(v[k])), max(hi[k], float64(v[k]))
		}
	}
	for k := range 3 {
		s.Size[k] = max(0, hi[k]-lo[k])
	}
	for i := range c.Holes {
		if s.Walls[i] != 0 || !wallWanted(&c.Holes[i]) {
			continue
		}
		var along []int // the holes of one direction share a cut mesh
		for j := i; j < len(c.Holes); j++ {
			if c.Holes[j].Axis == c.Holes[i].Axis && wallWanted(&c.Holes[j]) {
				along = append(along, j)
			}
		}
		if err := measureWalls(m, s, along); err != nil {
			return nil, err
		}
	}
	return s, nil
}

func wallWanted(h *section.Hole) bool {
	return h.Kind == section.Round && h.Diameter <= largestScrewHole && h.Depth > 0
}

// wallLevels are where along a hole its wall is measured, as shares of its depth: near both ends, where
// posts have feet and mouths, and in the middle.
var wallLevels = [...]float64{0.15, 0.5, 0.85}

// measureWalls fills the walls of holes that share an axis.
func measureWalls(m *mesh.Mesh, s *Shape, along []int) error {
	f, err := section.Along(s.Holes[along[0]].Axis)
	if err != nil {
		return err
	}
	type place struct {
		hole int
		w    float64
	}
	var places []place
	var planes []float64
	for _, i := range along {
		h := &s.Holes[i]
		_, _, w0 := f.In(h.From.At)
		_, _, w1 := f.In(h.To.At)
		for _, share := range wallLevels {
			places = append(places, place{i, w0 + share*(w1-w0)})
		}
	}
	slices.SortFunc(places, func(a, b place) int { return cmp.Or(cmp.Compare(a.w, b.w), cmp.Compare(a.hole, b.hole)) })
	for _, p := range places {
		planes = append(planes, p.w)
	}
	st, err := section.NewStack(m, f, planes, 1)
	if err != nil {
		return err
	}
	var sec section.Section
	for k, p := range places {
		st.Cut(k, &sec)
		h := &s.Holes[p.hole]
		u, v, _ := f.In(h.Centre)
		if w := wallAround(sec.Segments, u, v, h); w > 0 && (s.Walls[p.hole] == 0 || w < s.Walls[p.hole]) {
			s.Walls[p.hole] = w
		}
	}
	return nil
}

// ownOutline is how far a cut segment may stray from a hole's circle and still be the hole itself.
const ownOutline = 0.02 // mm

// wallAround is the distance from a hole's wall to the nearest other surface of a section; 0 when there is
// none. Wider mouths of the hole count as the hole.
func wallAround(segments []section.Segment, u, v float64, h *section.Hole) float64 {
	own := []float64{h.Diameter / 2}
	for _, s := range h.Sinks {
		own = append(own, s.Diameter/2)
	}
	best := math.Inf(1)
	for _, s := range segments {
		ra, rb := math.Hypot(s.A[0]-u, s.A[1]-v), math.Hypot(s.B[0]-u, s.B[1]-v)
		mine := false
		for _, r := range own {
			if math.Abs(ra-r) < ownOutline+0.01*r && math.Abs(rb-r) < ownOutline+0.01*r {
				mine = true
			}
		}
		if !mine && len(h.Sinks) > 0 && max(ra, rb) <= own[len(own)-1]+ownOutline && math.Abs(ra-rb) < ownOutline {
			mine = true // a ring between narrow and wide: the cone of a countersink
		}
		if !mine {
			best = min(best, toSegment(u, v, s))
		}
	}
	if math.IsInf(best, 1) {
		return 0
	}
	return max(0, best-h.Diameter/2)
}

// toSegment is the distance of a point from a segment.
func toSegment(u, v float64, s section.Segment) float64 {
	dx, dy := s.B[0]-s.A[0], s.B[1]-s.A[1]
	t := 0.0
	if n := dx*dx + dy*dy; n > 0 {
		t = max(0, min(1, ((u-s.A[0])*dx+(v-s.A[1])*dy)/n))
	}
	return math.Hypot(s.A[0]+t*dx-u, s.A[1]+t*dy-v)
}
