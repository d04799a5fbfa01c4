package mesh

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strings"
)

// Face names a side of a part by its outward normal. The face that a part stands on lies on the bed:
// a part that is printed as it was drawn stands on "-z".
type Face string

// Faces are the six flat sides, in the order in which equally good ones are preferred: as drawn first,
// then upside down.
var Faces = [6]Face{"-z", "+z", "-y", "+y", "-x", "+x"}

// ParseFace checks a face that somebody typed.
func ParseFace(s string) (Face, error) {
	if f := Face(s); slices.Contains(Faces[:], f) {
		return f, nil
	}
	names := make([]string, len(Faces))
	for i, f := range Faces {
		names[i] = string(f)
	}
	return "", fmt.Errorf("face %q is none of %s", s, strings.Join(names, " "))
}

// direction gives the axis and the sign of a face's normal.
func (f Face) direction() (axis int, sign float64) {
	sign = 1
	if f[0] == '-' {
		sign = -1
	}
	return int(f[1] - 'x'), sign
}

// Standing tells how a mesh prints when it stands on one of its faces.
type Standing struct {
	Face     Face
	Contact  float64 // mm2 of facets that lie on the bed
	Overhang float64 // mm2 of facets that lean out further than the limit; those on the bed do not count
	Height   float64 // mm
}

const (
	// bedTolerance (mm) is how far above the lowest point a facet still lies on the bed: far below any
	// first layer, far above the rounding of coordinates. Assumed.
	bedTolerance = 0.01
	// limitTolerance keeps a chamfer drawn at exactly the limit printable in spite of the rounding of
	// its corners; as a sine, about 0.006 degrees. Assumed.
	limitTolerance = 1e-4
	// smoothCosine: facets that meet at less than 16 degrees stand for a curved surface. Common practice
	// for circles of 24 sides and more.
	smoothCosine = 0.9613
	// limitWindow is how far (as a sine) from the limit a facet of such a surface may be to be cut by it:
	// half of 16 degrees.
	limitWindow = 0.14
	// areaUnit is the fixed-point unit of area sums, so that they do not depend on the order of facets.
	areaUnit = 1 << 32
)

// Stand measures the overhang and bed contact of m standing on face. The limit is the lean from the
// upright, in degrees, up to which a wall prints without support: 45 is common practice.
//
// Flat facets count wholly or not at all, one at exactly the limit does not. Where facets stand for a
// curved surface the area is that of the surface beyond the limit: the facets that the limit cuts are
// divided, for otherwise a whole band of a coarse sphere would come or go with the last digit. The
// underside of a bridge counts: this is what leans out, not what needs support. Vertices of equal
// place should be one (Weld). The order of facets makes no difference.
func Stand(m *Mesh, face Face, limit float64) Standing {
	axis, sign := face.direction()
	s := Standing{Face: face}
	if len(m.Triangles) == 0 {
		return s
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, t := range m.Triangles {
		for _, id := range t {
			h := -sign * float64(m.Vertices[id][axis])
			if h < low {
				low = h
			}
			if h > high {
				high = h
			}
		}
	}
	s.Height = high - low
	steep := math.Sin(limit * math.Pi / 180)
	var contact, overhang int64
	var near []leaning
	for i, t := range m.Triangles {
		n := facetNormal(m, t)
		length := math.Sqrt(n[0]*n[0] + n[1]*n[1] + n[2]*n[2])
		if length == 0 {
			continue
		}
		lean := sign * n[axis] / length
		if lean <= 0 || lean < steep-limitWindow {
			continue
		}
		onBed := true
		for _, id := range t {
			onBed = onBed && -sign*float64(m.Vertices[id][axis]) <= low+bedTolerance
		}
		switch {
		case onBed:
			contact += fixedArea(length / 2)
		case lean > steep+limitWindow:
			overhang += fixedArea(length / 2)
		default:
			near = append(near, leaning{uint32(i), length / 2, lean, [3]float64{lean, lean, lean}})
		}
	}
	blend(m, near, axis, sign)
	for i := range near {
		overhang += fixedArea(near[i].area * near[i].beyond(steep+limitTolerance))
	}
	s.Contact, s.Overhang = areaOf(contact), areaOf(overhang)
	return s
}

func fixedArea(a float64) int64 { return int64(math.Round(a * areaUnit)) }

// areaOf rounds to 1e-6 mm2: what is below depends on which corner of a facet comes first.
func areaOf(a int64) float64 { return math.Round(float64(a)/areaUnit*1e6) / 1e6 }

// facetNormal is the normal of facet t, twice its area long.
func facetNormal(m *Mesh, t [3]uint32) [3]float64 {
	a, b, c := wide(m.Vertices[t[0]]), wide(m.Vertices[t[1]]), wide(m.Vertices[t[2]])
	ux, uy, uz := b[0]-a[0], b[1]-a[1], b[2]-a[2]
	vx, vy, vz := c[0]-a[0], c[1]-a[1], c[2]-a[2]
	return [3]float64{uy*vz - uz*vy, uz*vx - ux*vz, ux*vy - uy*vx}
}

// leaning is a facet whose lean is near the limit. at is the lean of the surface in the middle of the
// edge opposite to each corner.
type leaning struct {
	facet uint32
	area  float64
	lean  float64
	at    [3]float64
}

// beyond is the part of the facet, from 0 to 1, where the lean is above the limit, if it varies
// linearly and has the values at on the middles of the edges.
func (l *leaning) beyond(limit float64) float64 {
	v := [3]float64{
		l.at[1] + l.at[2] - l.at[0] - limit,
		l.at[2] + l.at[0] - l.at[1] - limit,
		l.at[0] + l.at[1] - l.at[2] - limit,
	}
	slices.Sort(v[:])
	a, b, c := v[0], v[1], v[2]
	switch {
	case a > 0:
		return 1
	case c <= 0:
		return 0
	case b <= 0:
		return c * c / ((c - a) * (c - b))
	}
	return 1 - a*a/((a-b)*(a-c))
}

// halfEdge is one side of a facet.
type halfEdge struct {
	facet uint32
	near  int32 // index of the facet among the near ones, -1 if it is none
	side  uint8 // the corner opposite
}

// blend sets the lean on the edges of each near facet to the mean with the facet beyond that edge,
// where the two stand for one curved surface.
func blend(m *Mesh, near []leaning, axis int, sign float64) {
	if len(near) == 0 {
		return
	}
	// Neighbours have two corners in common with a near facet: a bit for each corner finds them without
	// an index of all edges.
	marked := make([]uint64, len(m.Vertices)/64+1)
	for _, l := range near {
		for _, id := range m.Triangles[l.facet] {
			marked[id/64] |= 1 << (id % 64)
		}
	}
	// Most facets have no marked corner; those that have share their edges through a table.
	edges := newEdgeTable(2 * len(near))
	next := 0 // in near, which is in the order of the facets
	for i, t := range m.Triangles {
		at := int32(-1)
		if next < len(near) && near[next].facet == uint32(i) {
			at = int32(next)
			next++
		}
		in := [3]uint64{}
		for k, id := range t {
			in[k] = marked[id/64] >> (id % 64) & 1
		}
		if in[0]+in[1]+in[2] < 2 {
			continue
		}
		for k := range 3 {
			if u, v := (k+1)%3, (k+2)%3; in[u]&in[v] != 0 {
				edges.add(uint64(min(t[u], t[v]))<<32|uint64(max(t[u], t[v])), halfEdge{uint32(i), at, uint8(k)})
			}
		}
	}
	for i := range edges.list {
		if e := &edges.list[i]; e.count == 2 {
			blendPair(m, near, e.half[0], e.half[1], axis, sign)
		}
	}
}

// edgeTable gathers the facets at each edge: open addressing over a list.
type edgeTable struct {
	slots []uint32 // index into list plus 1
	list  []sharedEdge
}

type sharedEdge struct {
	key   uint64
	half  [2]halfEdge
	count uint8 // 3 stands for more than two
}

func newEdgeTable(edges int) *edgeTable {
	return &edgeTable{slots: make([]uint32, 1<<bits.Len(uint(2*edges+16))), list: make([]sharedEdge, 0, edges)}
}

func (e *edgeTable) add(key uint64, h halfEdge) {
	if 2*len(e.list) >= len(e.slots) {
		e.slots = make([]uint32, 2*len(e.slots))
		for i := range e.list {
			e.slots[e.slot(e.list[i].key)] = uint32(i + 1)
		}
	}
	at := e.slot(key)
	if e.slots[at] == 0 {
		e.list = append(e.list, sharedEdge{key: key, half: [2]halfEdge{h}, count: 1})
		e.slots[at] = uint32(len(e.list))
		return
	}
	shared := &e.list[e.slots[at]-1]
	if shared.count == 1 {
		shared.half[1] = h
	}
	shared.count = min(3, shared.count+1)
}

// slot is where a key is, or where it goes.
func (e *edgeTable) slot(key uint64) uint64 {
	mask := uint64(len(e.slots) - 1)
	at := key * 0x9e3779b97f4a7c15 >> 20 & mask // Fibonacci hashing (Knuth, vol. 3, 6.4)
	for e.slots[at] != 0 && e.list[e.slots[at]-1].key != key {
		at = (at + 1) & mask
	}
	return at
}

func blendPair(m *Mesh, near []leaning, a, b halfEdge, axis int, sign float64) {
	if a.near < 0 && b.near < 0 {
		return
	}
	na, nb := facetNormal(m, m.Triangles[a.facet]), facetNormal(m, m.Triangles[b.facet])
	lengths := math.Sqrt((na[0]*na[0] + na[1]*na[1] + na[2]*na[2]) * (nb[0]*nb[0] + nb[1]*nb[1] + nb[2]*nb[2]))
	if !(na[0]*nb[0]+na[1]*nb[1]+na[2]*nb[2] > smoothCosine*lengths) {
		return
	}
	lean := func(n [3]float64) float64 {
		return sign * n[axis] / math.Sqrt(n[0]*n[0]+n[1]*n[1]+n[2]*n[2])
	}
	mean := (lean(na) + lean(nb)) / 2
	for _, e := range [2]halfEdge{a, b} {
		if e.near >= 0 {
			near[e.near].at[e.side] = mean
		}
	}
}
