package section

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"dropwright/bundle/mesh"
)

// Island is a patch of the first layer that hangs together with no other in that layer. One with little area
// holds badly to the bed.
type Island struct {
	Area     float64    // mm2, its holes taken off; overlapping shells count twice
	Length   float64    // mm of all its outlines
	Min, Max [2]float64 // mm, x and y
}

// islandPairs bounds the comparisons of outline sides that decide whether outlines cross: a second or so.
const islandPairs = 200_000_000

// Islands returns the patches of the first layer of a mesh that stands as it is, largest first: the section in
// the middle of a layer of the given thickness in mm, on the lowest point. Outlines that cross, as those of
// overlapping shells, are one patch; so is a body inside another. Figures are rounded to a thousandth, so that
// the order of triangles does not show. The error is a thickness or a mesh that cannot be cut, or outlines
// with too many sides to compare.
func Islands(m *mesh.Mesh, firstLayer float64) ([]Island, error) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, t := range m.Triangles {
		for _, v := range t {
			z := float64(m.Vertices[v][2])
			lo, hi = min(lo, z), max(hi, z)
		}
	}
	if !(lo <= hi) {
		return nil, nil
	}
	if !(firstLayer > 0) || math.IsInf(firstLayer, 0) {
		return nil, fmt.Errorf("first layer of %v mm must be a thickness above zero", firstLayer)
	}
	s, err := NewStack(m, AlongZ, []float64{lo + min(firstLayer, hi-lo)/2}, 1)
	if err != nil {
		return nil, err
	}
	var sec Section
	s.Cut(0, &sec)
	loops, _ := sec.Loops()
	return islandsOf(loops)
}

// islandsOf groups the loops of a section.
func islandsOf(loops []Loop) ([]Island, error) {
	boxes := make([][4]float64, len(loops))
	for i, l := range loops {
		boxes[i] = [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		for _, p := range l.Points {
			b := &boxes[i]
			b[0], b[1], b[2], b[3] = min(b[0], p[0]), min(b[1], p[1]), max(b[2], p[0]), max(b[3], p[1])
		}
	}
	group := make([]int, len(loops)) // union-find
	for i := range group {
		group[i] = i
	}
	root := func(i int) int {
		for group[i] != i {
			group[i] = group[group[i]]
			i = group[i]
		}
		return i
	}
	work := 0
	for i := range loops {
		around := -1 // the narrowest loop around this one
		for j := range loops {
			if i == j || boxes[i][0] > boxes[j][2] || boxes[i][2] < boxes[j][0] || boxes[i][1] > boxes[j][3] || boxes[i][3] < boxes[j][1] {
				continue
			}
			if work += len(loops[j].Points); work > islandPairs {
				return nil, fmt.Errorf("the first layer has %d outlines, too many to compare; use a coarser mesh or leave a texture out of its bottom", len(loops))
			}
			if math.Abs(loops[j].Area) > math.Abs(loops[i].Area) && holds(loops[j].Points, loops[i].Points[0]) &&
				(around < 0 || math.Abs(loops[j].Area) < math.Abs(loops[around].Area)) {
				around = j
			}
			if i < j && root(i) != root(j) {
				if work += len(loops[i].Points) * len(loops[j].Points); work > islandPairs {
					return nil, fmt.Errorf("the outlines of the first layer have too many sides to compare; use a coarser mesh")
				}
				if crossing(loops[i].Points, loops[j].Points) {
					group[root(i)] = root(j)
				}
			}
		}
		// A hole belongs to what it is cut out of, a body inside a body to that; what stands in a hole is alone.
		if around >= 0 && loops[around].Area > 0 {
			group[root(i)] = root(around)
		}
	}
	found := map[int]*Island{}
	for i, l := range loops {
		o := found[root(i)]
		if o == nil {
			o = &Island{Min: [2]float64{boxes[i][0], boxes[i][1]}, Max: [2]float64{boxes[i][2], boxes[i][3]}}
			found[root(i)] = o
		}
		o.Area += l.Area
		o.Length += l.Length
		for k := range 2 {
			o.Min[k], o.Max[k] = min(o.Min[k], boxes[i][k]), max(o.Max[k], boxes[i][2+k])
		}
	}
	var out []Island
	for _, o := range found {
		for _, f := range []*float64{&o.Area, &o.Length, &o.Min[0], &o.Min[1], &o.Max[0], &o.Max[1]} {
			*f = math.Round(*f*1000)/1000 + 0 // no negative zeros
		}
		if o.Area > 0 { // inside out, or a sliver of rounding
			out = append(out, *o)
		}
	}
	slices.SortFunc(out, func(a, b Island) int {
		return cmp.Or(cmp.Compare(b.Area, a.Area), slices.Compare(a.Min[:], b.Min[:]), slices.Compare(a.Max[:], b.Max[:]), cmp.Compare(a.Length, b.Length))
	})
	return out, nil
}

// holds tells whether p lies inside the outline, by counting sides to its right.
func holds(outline []Point, p Point) bool {
	inside := false
	a := outline[len(outline)-1]
	for _, b := range outline {
		if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			inside = !inside
		}
		a = b
	}
	return inside
}

// crossing tells whether any sides of two outlines cross; touching is not crossing.
func crossing(p, q []Point) bool {
	a := p[len(p)-1]
	for _, b := range p {
		c := q[len(q)-1]
		for _, d := range q {
			if turn(a, b, c)*turn(a, b, d) < 0 && turn(c, d, a)*turn(c, d, b) < 0 {
				return true
			}
			c = d
		}
		a = b
	}
	return false
}

// turn is +1 where c lies left of a -> b, -1 right of it, 0 on the line.
func turn(a, b, c Point) int {
	x := (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0])
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}
