package mesh

import (
	"cmp"
	"math"
	"slices"
)

// overhangWeight is how many mm2 of bed contact make up for one of overhang when a face is chosen:
// support costs plastic, time and a rough surface, contact only holds the part. Assumed.
const overhangWeight = 3

// StandOn measures m on each of its six flat faces, in the order of Faces.
func StandOn(m *Mesh, limit float64) [6]Standing {
	var all [6]Standing
	parallel(len(Faces), func(_, i int) { all[i] = Stand(m, Faces[i], limit) })
	return all
}

// BestFace chooses the face with less overhang and more contact. A face that gives the bed less than a
// hundredth of what the best one gives is no face to stand on. Equal ones go by the order of Faces,
// so that a part is not turned without a reason.
func BestFace(all [6]Standing) Standing {
	most := 0.0
	for _, s := range all {
		most = max(most, s.Contact)
	}
	best, found := all[0], false
	for _, s := range all {
		if s.Contact < most/100 {
			continue
		}
		// A part is not turned for a gain that rounding could make.
		if !found || s.cost() < best.cost()-1e-3 {
			best, found = s, true
		}
	}
	return best
}

func (s Standing) cost() float64 { return overhangWeight*s.Overhang - s.Contact }

// BedFit tells whether and how a mesh fits a bed.
type BedFit struct {
	Fits bool
	Turn float64 // degrees about z, counter-clockwise seen from above, 0 if it fits as drawn
}

// FitsBed tells whether m, standing as drawn, fits into a box of the given width, depth and height
// (millimetres), turned about z by whatever angle it takes: as drawn, a quarter turn, 45 degrees, or else
// the smallest angle that does. Where m stands does not matter.
func FitsBed(m *Mesh, bed [3]float64) BedFit {
	// A thousandth of a millimetre does not decide whether something can be printed.
	const slack = 1e-3
	if len(m.Triangles) == 0 {
		return BedFit{Fits: true}
	}
	low, high := math.Inf(1), math.Inf(-1)
	points := make([][2]float64, 0, 1024)
	seen := make([]uint64, len(m.Vertices)/64+1)
	for _, t := range m.Triangles {
		for _, id := range t {
			if seen[id/64]>>(id%64)&1 != 0 {
				continue
			}
			seen[id/64] |= 1 << (id % 64)
			v := wide(m.Vertices[id])
			low, high = min(low, v[2]), max(high, v[2])
			points = append(points, [2]float64{v[0], v[1]})
		}
	}
	if high-low > bed[2]+slack {
		return BedFit{}
	}
	o := newOutline(convexHull(discardInner(points)))
	// Turning the part by an angle is looking at it along the opposite one.
	fits := func(angle float64) bool {
		return o.extent(-angle) <= bed[0]+slack && o.extent(math.Pi/2-angle) <= bed[1]+slack
	}
	for _, angle := range [3]float64{0, math.Pi / 2, math.Pi / 4} {
		if fits(angle) {
			return BedFit{true, angle * 180 / math.Pi}
		}
	}
	for _, a := range o.turns(bed[0]+slack/2, bed[1]+slack/2) {
		if fits(a) {
			return BedFit{true, a * 180 / math.Pi}
		}
	}
	return BedFit{}
}

// turns lists the angles in [0, pi) at which a range of angles that fit a width and a depth can begin or
// end, ascending. Between two directions in which an edge of the outline is along or across, width and
// depth are each the projection of one diagonal, |d| cos: they are above their smaller end value in
// between. So a range begins at such a direction, or where one of the two just equals its limit.
func (o *outline) turns(width, depth float64) []float64 {
	half := func(a float64) float64 {
		if a = math.Mod(a, math.Pi); a < 0 {
			a += math.Pi
		}
		return a
	}
	var looks []float64
	for _, a := range o.angles {
		looks = append(looks, half(a), half(a+math.Pi/2))
	}
	slices.Sort(looks)
	looks = slices.Compact(looks)
	n := len(looks)
	for i := range n {
		from, to := looks[i], looks[(i+1)%n]
		if i == n-1 {
			to += math.Pi
		}
		for k, side := range [2]float64{width, depth} {
			across := float64(k) * math.Pi / 2
			d := o.diagonal((from+to)/2 + across)
			length := math.Hypot(d[0], d[1])
			if length < side {
				continue
			}
			phi, open := math.Atan2(d[1], d[0]), math.Acos(side/length)
			looks = append(looks, half(phi-open-across), half(phi+open-across))
		}
	}
	for i := range looks {
		looks[i] = half(-looks[i])
	}
	slices.Sort(looks)
	return looks
}

// discardInner drops points within the octagon of the points that are furthest in eight directions
// (Akl and Toussaint 1978): of a fine mesh nearly all.
func discardInner(points [][2]float64) [][2]float64 {
	var directions [8][2]float64
	var far [8]int
	for k := range directions {
		sin, cos := math.Sincos(float64(k) * math.Pi / 4)
		directions[k] = [2]float64{cos, sin}
	}
	for i, p := range points {
		for k, d := range directions {
			if q := points[far[k]]; (p[0]-q[0])*d[0]+(p[1]-q[1])*d[1] > 0 {
				far[k] = i
			}
		}
	}
	var corners [8][2]float64
	for k, i := range far {
		corners[k] = points[i]
	}
	kept := points[:0]
	for _, p := range points {
		inner := true
		for k, a := range corners {
			b := corners[(k+1)%8]
			if a != b && (b[0]-a[0])*(p[1]-a[1])-(b[1]-a[1])*(p[0]-a[0]) <= 0 {
				inner = false
				break
			}
		}
		if !inner {
			kept = append(kept, p)
		}
	}
	return kept
}

// convexHull gives the corners of the convex hull counter-clockwise, without those on straight sides
// (monotone chain, Andrew 1979). It sorts points.
func convexHull(points [][2]float64) [][2]float64 {
	slices.SortFunc(points, func(a, b [2]float64) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	points = slices.Compact(points)
	if len(points) < 3 {
		return points
	}
	var hull [][2]float64
	for pass := range 2 {
		start := len(hull)
		for _, p := range points {
			for len(hull) >= start+2 {
				a, b := hull[len(hull)-2], hull[len(hull)-1]
				if (b[0]-a[0])*(p[1]-a[1])-(b[1]-a[1])*(p[0]-a[0]) > 0 {
					break
				}
				hull = hull[:len(hull)-1]
			}
			hull = append(hull, p)
		}
		hull = hull[:len(hull)-1] // the first of the other chain
		if pass == 0 {
			slices.Reverse(points)
		}
	}
	return hull
}

// outline is a convex polygon with the directions of its edges, for support look-ups in log time.
type outline struct {
	corners [][2]float64
	angles  []float64 // of the edge from corner i, ascending, in [0, 2 pi)
}

func newOutline(hull [][2]float64) outline {
	n := len(hull)
	o := outline{corners: make([][2]float64, n), angles: make([]float64, n)}
	if n < 2 {
		copy(o.corners, hull)
		return o
	}
	angle := func(i int) float64 {
		a, b := hull[i%n], hull[(i+1)%n]
		t := math.Atan2(b[1]-a[1], b[0]-a[0])
		if t < 0 {
			t += 2 * math.Pi
		}
		return t
	}
	first := 0
	for i := range n {
		if angle(i) < angle(first) {
			first = i
		}
	}
	for i := range n {
		o.corners[i] = hull[(first+i)%n]
		o.angles[i] = angle(first + i)
	}
	return o
}

// support is the corner furthest in a direction.
func (o *outline) support(direction float64) [2]float64 {
	// The edges before that corner turn less than the normal of the direction, those after it more.
	t := math.Mod(direction+math.Pi/2, 2*math.Pi)
	if t < 0 {
		t += 2 * math.Pi
	}
	i, _ := slices.BinarySearch(o.angles, t)
	return o.corners[i%len(o.corners)]
}

// diagonal joins the two corners that are furthest apart in a direction.
func (o *outline) diagonal(direction float64) [2]float64 {
	a, b := o.support(direction), o.support(direction+math.Pi)
	return [2]float64{a[0] - b[0], a[1] - b[1]}
}

// extent is the size in a direction.
func (o *outline) extent(direction float64) float64 {
	d := o.diagonal(direction)
	return d[0]*math.Cos(direction) + d[1]*math.Sin(direction)
}
