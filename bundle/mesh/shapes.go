package mesh

import "math"

// Box returns the box from the origin to (x, y, z) millimetres: 8 vertices, 12 triangles.
func Box(x, y, z float64) *Mesh {
	m := &Mesh{}
	for i := range 8 {
		p := [3]float64{}
		if i&1 != 0 {
			p[0] = x
		}
		if i&2 != 0 {
			p[1] = y
		}
		if i&4 != 0 {
			p[2] = z
		}
		m.Vertices = append(m.Vertices, narrow(p))
	}
	m.Triangles = [][3]uint32{
		{0, 2, 1}, {1, 2, 3}, // z = 0
		{4, 5, 6}, {5, 7, 6}, // z = top
		{0, 1, 4}, {1, 5, 4}, // y = 0
		{2, 6, 3}, {3, 6, 7}, // y = far
		{0, 4, 2}, {2, 4, 6}, // x = 0
		{1, 3, 5}, {3, 7, 5}, // x = far
	}
	return m
}

// Prism returns a regular n-gon of the given circumradius about the z axis, from z = 0 to height
// (millimetres), the first corner on the x axis. n is at least 3.
func Prism(n int, radius, height float64) *Mesh {
	return Lathe([][2]float64{{0, 0}, {radius, 0}, {radius, height}, {0, height}}, n)
}

// Sphere returns the polyhedron of a sphere about the origin: nu sectors around z and nv bands from
// pole to pole, all vertices at the given radius (millimetres).
func Sphere(radius float64, nu, nv int) *Mesh {
	profile := make([][2]float64, nv+1)
	for j := 1; j < nv; j++ {
		s, c := math.Sincos(math.Pi * float64(j) / float64(nv))
		profile[j] = [2]float64{radius * s, -radius * c}
	}
	profile[0], profile[nv] = [2]float64{0, -radius}, [2]float64{0, radius}
	return Lathe(profile, nu)
}

// Lathe turns a profile of (radius, height) points about the z axis in n sectors. The profile begins
// and ends on the axis (radius 0) and runs with the solid on its left, that is from bottom to top for
// a convex solid; a profile that runs the other way gives an inside-out mesh. All its other points
// have a positive radius. Millimetres.
func Lathe(profile [][2]float64, n int) *Mesh {
	m := &Mesh{}
	ring := make([]uint32, len(profile))
	sin, cos := circle(n)
	for j, p := range profile {
		ring[j] = uint32(len(m.Vertices))
		if p[0] == 0 {
			m.Vertices = append(m.Vertices, narrow([3]float64{0, 0, p[1]}))
			continue
		}
		for i := range n {
			m.Vertices = append(m.Vertices, narrow([3]float64{p[0] * cos[i], p[0] * sin[i], p[1]}))
		}
	}
	at := func(j, i int) uint32 {
		if profile[j][0] == 0 {
			return ring[j]
		}
		return ring[j] + uint32(i%n)
	}
	for j := range len(profile) - 1 {
		low, high := profile[j][0] == 0, profile[j+1][0] == 0
		for i := range n {
			if !low {
				m.Triangles = append(m.Triangles, [3]uint32{at(j, i), at(j, i+1), at(j+1, i)})
			}
			if !high {
				m.Triangles = append(m.Triangles, [3]uint32{at(j, i+1), at(j+1, i+1), at(j+1, i)})
			}
		}
	}
	return m
}

// Torus returns a ring about the z axis: centre line of radius major, tube of radius minor
// (millimetres), nu sectors around the axis and nv around the tube: nu*nv vertices, 2*nu*nv triangles.
func Torus(major, minor float64, nu, nv int) *Mesh {
	m := &Mesh{Vertices: make([][3]float32, 0, nu*nv), Triangles: make([][3]uint32, 0, 2*nu*nv)}
	su, cu := circle(nu)
	sv, cv := circle(nv)
	for i := range nu {
		for j := range nv {
			d := major + minor*cv[j]
			m.Vertices = append(m.Vertices, narrow([3]float64{d * cu[i], d * su[i], minor * sv[j]}))
		}
	}
	at := func(i, j int) uint32 { return uint32(i%nu*nv + j%nv) }
	for i := range nu {
		for j := range nv {
			m.Triangles = append(m.Triangles,
				[3]uint32{at(i, j), at(i+1, j), at(i+1, j+1)},
				[3]uint32{at(i, j), at(i+1, j+1), at(i, j+1)})
		}
	}
	return m
}

// circle returns sine and cosine of n equal steps around the circle.
func circle(n int) (sin, cos []float64) {
	sin, cos = make([]float64, n), make([]float64, n)
	for i := range n {
		sin[i], cos[i] = math.Sincos(2 * math.Pi * float64(i) / float64(n))
	}
	return sin, cos
}

// narrow rounds a point to the precision that meshes hold, with no negative zero.
func narrow(p [3]float64) [3]float32 {
	return [3]float32{float32(p[0]) + 0, float32(p[1]) + 0, float32(p[2]) + 0}
}
