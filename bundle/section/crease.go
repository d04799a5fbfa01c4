package section

import (
	"cmp"
	"math"
	"slices"

	"dropwright/bundle/mesh"
)

// Limits of the search for walls by their creases. Our own choice; no published source.
const (
	creaseLeast = 0.5 * math.Pi / 180 // a hole of 720 sides turns by this at each
	creaseMost  = 75 * math.Pi / 180  // a pentagon turns by 72 degrees
	creasesMost = 400_000             // oblique ones; with more the part is a sculpture: no search
	alongWithin = 2e-3                // sine between creases of one direction: 0.1 degrees
)

// crease is a concave edge between two walls. A ring of them, all parallel, is a hole: this finds
// holes along any direction, and those whose slanted faces leave no whole circle in any section.
type crease struct {
	p, q   [3]float64 // ends, mm
	dir    [3]float64 // unit vector from one to the other, sign as for [Along]
	n1, n2 [3]float64 // outward normals of its two triangles
	main   int        // 0, 1, 2 for x, y, z; -1 otherwise
}

// creases returns the concave edges of m in an order that depends on their places only.
func creases(m *mesh.Mesh) []crease {
	bent := bentVertices(m)
	type half struct {
		key uint64
		tri uint32
	}
	var slots []half
	used, mask := 0, uint64(0)
	grow := func() {
		old := slots
		slots = make([]half, max(1024, 4*len(old)))
		mask = uint64(len(slots) - 1)
		for _, s := range old {
			if s.key != 0 {
				h := hashKey(s.key) & mask
				for slots[h].key != 0 {
					h = (h + 1) & mask
				}
				slots[h] = s
			}
		}
	}
	grow()
	var out []crease
	oblique := 0
	for i, t := range m.Triangles {
		for e := range 3 {
			a, b := t[e], t[(e+1)%3]
			if !bent[a] || !bent[b] || a == b {
				continue
			}
			key := edgeKey([2]uint32{a, b})
			h := hashKey(key) & mask
			for slots[h].key != 0 && slots[h].key != key {
				h = (h + 1) & mask
			}
			if slots[h].key == 0 {
				slots[h] = half{key, uint32(i)}
				if used++; 2*used > len(slots) {
					grow()
				}
				continue
			}
			c, ok := newCrease(m, a, b, slots[h].tri, uint32(i))
			if !ok {
				continue
			}
			if c.main < 0 {
				if oblique++; oblique > creasesMost {
					continue
				}
			}
			out = append(out, c)
		}
	}
	if oblique > creasesMost {
		out = slices.DeleteFunc(out, func(c crease) bool { return c.main < 0 })
	}
	slices.SortFunc(out, func(a, b crease) int {
		return cmp.Or(
			cmp.Compare(a.main, b.main), slices.Compare(a.dir[:], b.dir[:]),
			slices.Compare(a.p[:], b.p[:]), slices.Compare(a.q[:], b.q[:]),
		)
	})
	return out
}

// bentVertices marks the vertices whose triangles do not all lie in one plane. It spares the table of
// edges most of a finely divided flat part.
func bentVertices(m *mesh.Mesh) []bool {
	bent := make([]bool, len(m.Vertices))
	seen := make([]uint32, len(m.Vertices)) // the first normal, ten bits a coordinate; 0 none yet
	for _, t := range m.Triangles {
		n, ok := normal(m, t)
		if !ok {
			continue
		}
		x, y, z := uint32(511.5*n[0]+512), uint32(511.5*n[1]+512), uint32(511.5*n[2]+512)
		packed := 1<<30 | x<<20 | y<<10 | z
		for _, v := range t {
			s := seen[v]
			if s == packed {
				continue
			}
			if s == 0 {
				seen[v] = packed
				continue
			}
			apart := func(p, q uint32) bool { return p-q+2 > 4 } // by more than 0.2 degrees; wraps on purpose
			if apart(s>>20&1023, x) || apart(s>>10&1023, y) || apart(s&1023, z) {
				bent[v] = true
			}
		}
	}
	return bent
}

func place(m *mesh.Mesh, v uint32) [3]float64 {
	p := &m.Vertices[v]
	return [3]float64{float64(p[0]), float64(p[1]), float64(p[2])}
}

func minus(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }

// normal returns the outward normal of a triangle; false for one without area.
func normal(m *mesh.Mesh, t [3]uint32) ([3]float64, bool) {
	a := place(m, t[0])
	n := cross(minus(place(m, t[1]), a), minus(place(m, t[2]), a))
	l := math.Sqrt(dot(n, n))
	if !(l > 0) || math.IsInf(l, 0) {
		return n, false
	}
	return scale(n, 1/l), true
}

// newCrease looks at the edge from a to b of triangle t2, which t1 shares.
func newCrease(m *mesh.Mesh, a, b, t1, t2 uint32) (c crease, ok bool) {
	var ok1, ok2 bool
	c.n1, ok1 = normal(m, m.Triangles[t1])
	c.n2, ok2 = normal(m, m.Triangles[t2])
	if !ok1 || !ok2 {
		return c, false
	}
	turn := math.Acos(max(-1, min(1, dot(c.n1, c.n2))))
	if turn < creaseLeast || turn > creaseMost {
		return c, false
	}
	p, q := place(m, a), place(m, b)
	along := minus(q, p)
	length := math.Sqrt(dot(along, along))
	// t2 is on the left of its own edge. At a concave edge the normals lean towards each other, so
	// turning from t1 to t2 is turning left about the edge.
	if !(length > 0) || dot(cross(c.n1, c.n2), along) <= 0 {
		return c, false
	}
	f, err := Along(along)
	if err != nil {
		return c, false
	}
	c.p, c.q, c.dir, c.main = p, q, f.W, f.mainAxis()
	if slices.Compare(c.p[:], c.q[:]) > 0 {
		c.p, c.q = c.q, c.p
	}
	return c, true
}

// directions groups sorted creases by direction. Groups too small for a ring are dropped.
func directions(all []crease) [][]crease {
	type cell [3]int16
	at := func(d [3]float64) cell {
		const size = 2 * alongWithin
		return cell{int16(math.Floor(d[0] / size)), int16(math.Floor(d[1] / size)), int16(math.Floor(d[2] / size))}
	}
	var groups [][]crease
	leaders := map[cell][]int{}
	mains := [3]int{-1, -1, -1}
	for _, c := range all {
		if c.main >= 0 {
			if mains[c.main] < 0 {
				mains[c.main] = len(groups)
				groups = append(groups, nil)
			}
			groups[mains[c.main]] = append(groups[mains[c.main]], c)
			continue
		}
		best, m := -1, at(c.dir)
		for n := range 27 {
			near := cell{m[0] + int16(n/9-1), m[1] + int16(n/3%3-1), m[2] + int16(n%3-1)}
			for _, g := range leaders[near] {
				if x := cross(groups[g][0].dir, c.dir); dot(x, x) < alongWithin*alongWithin && (best < 0 || g < best) {
					best = g
				}
			}
		}
		if best < 0 {
			best = len(groups)
			leaders[m] = append(leaders[m], best)
			groups = append(groups, nil)
		}
		groups[best] = append(groups[best], c)
	}
	return slices.DeleteFunc(groups, func(g []crease) bool { return len(g) < 5 })
}
