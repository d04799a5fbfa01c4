package mesh

import (
	"cmp"
	"math"
	"slices"
)

// spoke is a facet at an edge that more than two facets share.
type spoke struct {
	facet   uint32
	forward bool       // runs along the edge from its smaller vertex to its larger one
	tip     [3]float64 // the corner off the edge
	angle   float64    // of the facet around the edge
	group   int        // facets at one angle, but for rounding
}

// sameAngle is the difference below which two facets lie on each other: far above the rounding of float32
// corners of a part, far below any wedge that could be printed. Radians; our own choice.
const sameAngle = 1e-5

// radial joins the facets around an edge of more than two as the solids there are bounded: seen along the
// edge, the inside of a solid begins at a facet that runs backward and ends at the next one that runs
// forward. So two boxes that touch in an edge or in a face stay two shells. Facets that are left over
// bound nothing, and are marked as leaky.
func (w *edgeWorker) radial(m *Mesh, c *census, lo, hi uint32, e []uint64) {
	spokes := make([]spoke, len(e))
	origin := wide(m.Vertices[lo])
	axis := direction(origin, wide(m.Vertices[hi]))
	// u and v span the plane across the edge; they come from the edge alone, not from a first facet.
	least := 0
	for a := range 3 {
		if math.Abs(axis[a]) < math.Abs(axis[least]) {
			least = a
		}
	}
	var helper [3]float64
	helper[least] = 1
	u := direction([3]float64{}, cross(axis, helper))
	v := cross(axis, u)
	for i, x := range e {
		s := &spokes[i]
		s.facet, s.forward = uint32(x)>>1, x&1 == 0
		t := m.Triangles[s.facet]
		s.tip = wide(m.Vertices[t[0]^t[1]^t[2]^lo^hi])
		out := direction(origin, s.tip)
		s.angle = math.Atan2(dot(out, v), dot(out, u))
	}
	slices.SortStableFunc(spokes, func(a, b spoke) int { return cmp.Compare(a.angle, b.angle) })
	for i := 1; i < len(spokes); i++ {
		spokes[i].group = spokes[i-1].group
		if spokes[i].angle-spokes[i-1].angle > sameAngle {
			spokes[i].group++
		}
	}
	if last := spokes[len(spokes)-1]; 2*math.Pi-last.angle+spokes[0].angle < sameAngle {
		for i := range spokes { // the circle closes within one group
			if spokes[i].group == last.group {
				spokes[i].group = 0
			}
		}
	}
	slices.SortStableFunc(spokes, func(a, b spoke) int {
		return cmp.Or(cmp.Compare(a.group, b.group), cmp.Compare(bit(b.forward), bit(a.forward)),
			comparePlaces(a.tip, b.tip), cmp.Compare(a.facet, b.facet))
	})
	// Match as brackets, twice around, since the circle may begin inside a solid.
	matched := make([]bool, len(spokes))
	var open []int
	for k := range 2 * len(spokes) {
		i := k % len(spokes)
		switch {
		case matched[i]:
		case !spokes[i].forward:
			if k < len(spokes) {
				open = append(open, i)
			}
		case len(open) > 0:
			j := open[len(open)-1]
			open = open[:len(open)-1]
			matched[i], matched[j] = true, true
			c.labels.join([][2]uint32{{spokes[i].facet, spokes[j].facet}})
		}
	}
	for i, ok := range matched {
		if !ok {
			set(c.leaky, spokes[i].facet)
		}
	}
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// direction is the unit vector from p to q, or 0 where they are one.
func direction(p, q [3]float64) [3]float64 {
	d := [3]float64{q[0] - p[0], q[1] - p[1], q[2] - p[2]}
	n := math.Sqrt(dot(d, d))
	if n == 0 {
		return d
	}
	return [3]float64{d[0] / n, d[1] / n, d[2] / n}
}

func dot(u, v [3]float64) float64 {
	return float64(u[0]*v[0]) + float64(u[1]*v[1]) + float64(u[2]*v[2])
}
