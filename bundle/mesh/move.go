package mesh

// Matrix is an affine transformation: three rows of four, applied to the column (x, y, z, 1).
// The last column is the shift in millimetres.
type Matrix [3][4]float64

// Identity leaves every point where it is.
var Identity = Matrix{{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}}

// Shift is the translation by (x, y, z) millimetres.
func Shift(x, y, z float64) Matrix {
	return Matrix{{1, 0, 0, x}, {0, 1, 0, y}, {0, 0, 1, z}}
}

// Scale is the uniform scaling about the origin.
func Scale(s float64) Matrix {
	return Matrix{{s, 0, 0, 0}, {0, s, 0, 0}, {0, 0, s, 0}}
}

// Apply returns the image of p.
func (t Matrix) Apply(p [3]float64) [3]float64 {
	var q [3]float64
	for i, r := range t {
		q[i] = r[0]*p[0] + r[1]*p[1] + r[2]*p[2] + r[3]
	}
	return q
}

// Then returns the transformation that does t first and u after it.
func (t Matrix) Then(u Matrix) Matrix {
	var w Matrix
	for i := range 3 {
		for j := range 4 {
			w[i][j] = u[i][0]*t[0][j] + u[i][1]*t[1][j] + u[i][2]*t[2][j]
		}
		w[i][3] += u[i][3]
	}
	return w
}

// Det returns the determinant of the linear part; it is negative for a mirror image.
func (t Matrix) Det() float64 {
	return t[0][0]*(t[1][1]*t[2][2]-t[1][2]*t[2][1]) -
		t[0][1]*(t[1][0]*t[2][2]-t[1][2]*t[2][0]) +
		t[0][2]*(t[1][0]*t[2][1]-t[1][1]*t[2][0])
}

// Transform returns a transformed copy of m. A mirroring transformation also reverses the facets, so
// that a solid stays a solid (3MF core 1.4.0 section 3.3 asks the same of a negative determinant).
func Transform(m *Mesh, t Matrix) *Mesh {
	out := &Mesh{Vertices: make([][3]float32, len(m.Vertices)), Triangles: make([][3]uint32, len(m.Triangles))}
	for i, v := range m.Vertices {
		out.Vertices[i] = narrow(t.Apply(wide(v)))
	}
	copy(out.Triangles, m.Triangles)
	if t.Det() < 0 {
		reverse(out.Triangles)
	}
	return out
}

// Mirror returns the mirror image of m in the plane x = 0, still with outward facets: the other hand
// of a pair. Mirroring twice gives m again.
func Mirror(m *Mesh) *Mesh {
	return Transform(m, Matrix{{-1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}})
}

// Reverse returns m turned inside out: every facet with its corners in the opposite order.
func Reverse(m *Mesh) *Mesh {
	out := &Mesh{Vertices: m.Vertices, Triangles: make([][3]uint32, len(m.Triangles))}
	copy(out.Triangles, m.Triangles)
	reverse(out.Triangles)
	return out
}

// Join returns one mesh that holds all of ms, in order, without merging vertices.
func Join(ms ...*Mesh) *Mesh {
	out := &Mesh{}
	for _, m := range ms {
		base := uint32(len(out.Vertices))
		out.Vertices = append(out.Vertices, m.Vertices...)
		for _, t := range m.Triangles {
			out.Triangles = append(out.Triangles, [3]uint32{t[0] + base, t[1] + base, t[2] + base})
		}
	}
	return out
}

// reverse swaps the last two corners, so that the first stays the first.
func reverse(ts [][3]uint32) {
	for i := range ts {
		ts[i][1], ts[i][2] = ts[i][2], ts[i][1]
	}
}

// wide is the point in double precision.
func wide(v [3]float32) [3]float64 {
	return [3]float64{float64(v[0]), float64(v[1]), float64(v[2])}
}
