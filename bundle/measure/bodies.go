package measure

import (
	"math"

	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
)

const (
	// meeting is how far apart two surfaces may be and still be one thing in print: below any first layer.
	// Assumed.
	meeting = 0.05 // mm
	// mostPairs bounds the work of telling whether two bodies meet; beyond it they are taken to. Assumed.
	mostPairs = 50_000_000
)

// groupBodies numbers the bodies of a mesh by what hangs together: bodies that reach into each other, or whose
// surfaces meet, have one number. The surfaces meet where a corner of one lies on the other.
func groupBodies(m *mesh.Mesh, bodies []facts.Body) {
	if len(bodies) > 100 {
		return // a mesh in scraps has a fault that is told otherwise
	}
	pieces := piecesOf(m, bodies)
	for i := range bodies {
		bodies[i].Group = i
	}
	for i := range bodies {
		for k := range i {
			if bodies[i].Group == bodies[k].Group || !boxesMeet(bodies[i], bodies[k]) {
				continue
			}
			if !(bodies[i].Overlaps && bodies[k].Overlaps) && !piecesMeet(m, pieces[i], pieces[k]) {
				continue
			}
			from, to := bodies[i].Group, bodies[k].Group
			for j := range bodies {
				if bodies[j].Group == from {
					bodies[j].Group = to
				}
			}
		}
	}
}

func boxesMeet(x, y facts.Body) bool {
	for a := range 3 {
		if x.Min[a] > y.Max[a]+meeting || y.Min[a] > x.Max[a]+meeting {
			return false
		}
	}
	return true
}

// piecesOf gives the facets of each body. Facets that share a corner are one piece; a piece is the body with
// its box, and a piece that is none (two bodies that touch in a corner) belongs to all whose boxes lie in it.
func piecesOf(m *mesh.Mesh, bodies []facts.Body) [][][3]uint32 {
	root := make([]uint32, len(m.Vertices))
	for i := range root {
		root[i] = uint32(i)
	}
	find := func(i uint32) uint32 {
		for root[i] != i {
			root[i] = root[root[i]]
			i = root[i]
		}
		return i
	}
	for _, t := range m.Triangles {
		a := find(t[0])
		root[find(t[1])] = a
		root[find(t[2])] = a
	}
	byRoot := map[uint32][][3]uint32{}
	for _, t := range m.Triangles {
		r := find(t[0])
		byRoot[r] = append(byRoot[r], t)
	}
	out := make([][][3]uint32, len(bodies))
	for _, ts := range byRoot {
		lo, hi := boxOf(m, ts)
		for i, b := range bodies {
			inside := true
			for a := range 3 {
				inside = inside && b.Min[a] >= lo[a]-1e-6 && b.Max[a] <= hi[a]+1e-6
			}
			exact := inside && lo == b.Min && hi == b.Max
			if exact || inside && out[i] == nil {
				out[i] = ts
			}
		}
	}
	return out
}

func boxOf(m *mesh.Mesh, ts [][3]uint32) (lo, hi [3]float64) {
	lo, hi = [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}, [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for _, t := range ts {
		for _, id := range t {
			for a, x := range m.Vertices[id] {
				lo[a], hi[a] = min(lo[a], float64(x)), max(hi[a], float64(x))
			}
		}
	}
	return lo, hi
}

// piecesMeet reports whether a corner of one piece lies on the other.
func piecesMeet(m *mesh.Mesh, x, y [][3]uint32) bool {
	if len(x)*len(y) > mostPairs/3 {
		return true
	}
	return cornersOn(m, x, y) || cornersOn(m, y, x)
}

func cornersOn(m *mesh.Mesh, x, y [][3]uint32) bool {
	lo, hi := boxOf(m, y)
	seen := map[uint32]bool{}
	for _, t := range x {
		for _, id := range t {
			if seen[id] {
				continue
			}
			seen[id] = true
			p := point(m, id)
			near := true
			for a := range 3 {
				near = near && p[a] >= lo[a]-meeting && p[a] <= hi[a]+meeting
			}
			if !near {
				continue
			}
			for _, f := range y {
				if distance2(p, point(m, f[0]), point(m, f[1]), point(m, f[2])) <= meeting*meeting {
					return true
				}
			}
		}
	}
	return false
}

func point(m *mesh.Mesh, id uint32) [3]float64 {
	v := m.Vertices[id]
	return [3]float64{float64(v[0]), float64(v[1]), float64(v[2])}
}

// distance2 is the square of the distance of p from the triangle a b c: Ericson, Real-Time Collision Detection
// (2005), 5.1.5, closest point on a triangle by the region of its plane that p projects to.
func distance2(p, a, b, c [3]float64) float64 {
	ab, ac, ap := sub(b, a), sub(c, a), sub(p, a)
	d1, d2 := dot(ab, ap), dot(ac, ap)
	if d1 <= 0 && d2 <= 0 {
		return dot(ap, ap)
	}
	bp := sub(p, b)
	d3, d4 := dot(ab, bp), dot(ac, bp)
	if d3 >= 0 && d4 <= d3 {
		return dot(bp, bp)
	}
	along := func(from, dir [3]float64, t float64) float64 {
		q := sub(p, [3]float64{from[0] + t*dir[0], from[1] + t*dir[1], from[2] + t*dir[2]})
		return dot(q, q)
	}
	vc := d1*d4 - d3*d2
	if vc <= 0 && d1 >= 0 && d3 <= 0 {
		return along(a, ab, d1/(d1-d3))
	}
	cp := sub(p, c)
	d5, d6 := dot(ab, cp), dot(ac, cp)
	if d6 >= 0 && d5 <= d6 {
		return dot(cp, cp)
	}
	vb := d5*d2 - d1*d6
	if vb <= 0 && d2 >= 0 && d6 <= 0 {
		return along(a, ac, d2/(d2-d6))
	}
	va := d3*d6 - d5*d4
	if va <= 0 && d4-d3 >= 0 && d5-d6 >= 0 {
		return along(b, sub(c, b), (d4-d3)/((d4-d3)+(d5-d6)))
	}
	n := 1 / (va + vb + vc)
	v, w := vb*n, vc*n
	q := sub(p, [3]float64{a[0] + ab[0]*v + ac[0]*w, a[1] + ab[1]*v + ac[1]*w, a[2] + ab[2]*v + ac[2]*w})
	return dot(q, q)
}

func sub(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func dot(a, b [3]float64) float64    { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
