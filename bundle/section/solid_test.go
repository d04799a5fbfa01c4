package section

import (
	"math"
	"math/rand"

	"dropwright/bundle/mesh"
)

// solid gathers triangles and welds equal corners, as the readers of files do.
type solid struct {
	m  mesh.Mesh
	id map[[3]float32]uint32
}

func (s *solid) vertex(p [3]float64) uint32 {
	if s.id == nil {
		s.id = map[[3]float32]uint32{}
	}
	q := [3]float32{float32(p[0]), float32(p[1]), float32(p[2])}
	i, ok := s.id[q]
	if !ok {
		i = uint32(len(s.m.Vertices))
		s.id[q] = i
		s.m.Vertices = append(s.m.Vertices, q)
	}
	return i
}

func (s *solid) triangle(a, b, c [3]float64) {
	s.m.Triangles = append(s.m.Triangles, [3]uint32{s.vertex(a), s.vertex(b), s.vertex(c)})
}

func (s *solid) quad(a, b, c, d [3]float64) {
	s.triangle(a, b, c)
	s.triangle(a, c, d)
}

// box adds a box; inward turns it inside out, so that it is a cavity.
func (s *solid) box(lo, hi [3]float64, inward bool) {
	p := func(i int) [3]float64 {
		q := lo
		for a := range 3 {
			if i>>a&1 == 1 {
				q[a] = hi[a]
			}
		}
		return q
	}
	for _, f := range [6][4]int{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		if inward {
			f[1], f[3] = f[3], f[1]
		}
		s.quad(p(f[0]), p(f[1]), p(f[2]), p(f[3]))
	}
}

// lathe adds a solid of revolution about z with n sectors: profile points are (radius, z) from the
// bottom of the axis to its top; radius 0 is allowed at the ends only.
func (s *solid) lathe(n int, profile [][2]float64) {
	at := func(j, i int) [3]float64 {
		r, z := profile[j][0], profile[j][1]
		if r == 0 {
			return [3]float64{0, 0, z}
		}
		a := 2 * math.Pi * float64(i%n) / float64(n)
		return [3]float64{r * math.Cos(a), r * math.Sin(a), z}
	}
	for j := 1; j < len(profile); j++ {
		for i := range n {
			a, b, c, d := at(j-1, i), at(j-1, i+1), at(j, i+1), at(j, i)
			if profile[j-1][0] != 0 {
				s.triangle(a, b, c)
			}
			if profile[j][0] != 0 {
				s.triangle(a, c, d)
			}
		}
	}
}

func box(x, y, z float64) *mesh.Mesh {
	var s solid
	s.box([3]float64{}, [3]float64{x, y, z}, false)
	return &s.m
}

func sphere(r float64, nu, nv int) *mesh.Mesh {
	var s solid
	var p [][2]float64
	for j := 0; j <= nv; j++ {
		a := math.Pi * float64(j) / float64(nv)
		p = append(p, [2]float64{r * math.Sin(a), -r * math.Cos(a)})
	}
	p[0][0], p[nv][0] = 0, 0
	s.lathe(nu, p)
	return &s.m
}

// torus lies around z, R to the middle of the tube of radius r.
func torus(R, r float64, nu, nv int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range nu {
		for j := range nv {
			a, b := 2*math.Pi*float64(i)/float64(nu), 2*math.Pi*float64(j)/float64(nv)
			q := R + r*math.Cos(b)
			m.Vertices = append(m.Vertices, [3]float32{float32(q * math.Cos(a)), float32(q * math.Sin(a)), float32(r * math.Sin(b))})
		}
	}
	id := func(i, j int) uint32 { return uint32(i%nu*nv + j%nv) }
	for i := range nu {
		for j := range nv {
			a, b, c, d := id(i, j), id(i+1, j), id(i+1, j+1), id(i, j+1)
			m.Triangles = append(m.Triangles, [3]uint32{a, b, c}, [3]uint32{a, c, d})
		}
	}
	return m
}

// shuffled returns the mesh with triangles, corners and vertices in another order.
func shuffled(m *mesh.Mesh, seed int64) *mesh.Mesh {
	r := rand.New(rand.NewSource(seed))
	place := r.Perm(len(m.Vertices))
	out := &mesh.Mesh{Vertices: make([][3]float32, len(place))}
	for i, p := range place {
		out.Vertices[p] = m.Vertices[i]
	}
	for _, i := range r.Perm(len(m.Triangles)) {
		t, k := m.Triangles[i], r.Intn(3)
		out.Triangles = append(out.Triangles, [3]uint32{
			uint32(place[t[k]]), uint32(place[t[(k+1)%3]]), uint32(place[t[(k+2)%3]]),
		})
	}
	return out
}

// subdivided splits every triangle in four.
func subdivided(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: append([][3]float32(nil), m.Vertices...)}
	mid := map[[2]uint32]uint32{}
	half := func(a, b uint32) uint32 {
		if a > b {
			a, b = b, a
		}
		i, ok := mid[[2]uint32{a, b}]
		if !ok {
			i = uint32(len(out.Vertices))
			mid[[2]uint32{a, b}] = i
			p, q := m.Vertices[a], m.Vertices[b]
			out.Vertices = append(out.Vertices, [3]float32{(p[0] + q[0]) / 2, (p[1] + q[1]) / 2, (p[2] + q[2]) / 2})
		}
		return i
	}
	for _, t := range m.Triangles {
		a, b, c := half(t[0], t[1]), half(t[1], t[2]), half(t[2], t[0])
		out.Triangles = append(out.Triangles, [3]uint32{t[0], a, c}, [3]uint32{a, t[1], b}, [3]uint32{c, b, t[2]}, [3]uint32{a, b, c})
	}
	return out
}

// rolled exchanges the axes cyclically: x to y, y to z, z to x.
func rolled(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Triangles: m.Triangles, Vertices: make([][3]float32, len(m.Vertices))}
	for i, p := range m.Vertices {
		out.Vertices[i] = [3]float32{p[2], p[0], p[1]}
	}
	return out
}

// inFileOrder numbers the vertices by first use, as a reader of STL does: neighbours stay together.
func inFileOrder(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{}
	number := make([]uint32, len(m.Vertices))
	for _, t := range m.Triangles {
		for i, v := range t {
			if number[v] == 0 {
				out.Vertices = append(out.Vertices, m.Vertices[v])
				number[v] = uint32(len(out.Vertices))
			}
			t[i] = number[v] - 1
		}
		out.Triangles = append(out.Triangles, t)
	}
	return out
}
