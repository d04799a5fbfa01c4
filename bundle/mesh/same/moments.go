package same

import (
	"math"

	"dropwright/bundle/mesh"
)

// moments are what a surface has whatever its facets: area, and the first and second moments of area.
// They do not need a closed mesh.
type moments struct {
	area, volume float64
	low, high    [3]float64
	centroid     [3]float64
	values       [3]float64    // variances of the surface along its principal axes, mm2, ascending
	axes         [3][3]float64 // unit vectors, rows, right-handed
	radius       float64       // largest distance of a corner from the centroid
}

func momentsOf(m *mesh.Mesh) moments {
	out := moments{}
	out.low, out.high = nowhere[0], nowhere[1]
	if len(m.Triangles) == 0 {
		return moments{}
	}
	for _, v := range m.Vertices {
		out.include(v)
	}
	// Sums about the middle of the box: far from the origin they would lose digits.
	o := [3]float64{(out.low[0] + out.high[0]) / 2, (out.low[1] + out.high[1]) / 2, (out.low[2] + out.high[2]) / 2}
	var first [3]float64
	var second [3][3]float64
	used := make([]bool, len(m.Vertices))
	for _, t := range m.Triangles {
		var v [3][3]float64
		for k, id := range t {
			used[id] = true
			for a, x := range m.Vertices[id] {
				v[k][a] = float64(x) - o[a]
			}
		}
		n := cross(sub(v[1], v[0]), sub(v[2], v[0]))
		area := norm(n) / 2
		out.area += area
		out.volume += dot(n, v[0]) / 6
		sum := [3]float64{v[0][0] + v[1][0] + v[2][0], v[0][1] + v[1][1] + v[2][1], v[0][2] + v[1][2] + v[2][2]}
		for i := range 3 {
			first[i] += area * sum[i] / 3
			for j := i; j < 3; j++ {
				// Integral of x_i x_j over a triangle: area/12 (sum of products + product of sums).
				second[i][j] += area / 12 * (v[0][i]*v[0][j] + v[1][i]*v[1][j] + v[2][i]*v[2][j] + sum[i]*sum[j])
			}
		}
	}
	out.centroid = o
	out.axes = [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	if out.area > 0 {
		for i := range 3 {
			first[i] /= out.area
			out.centroid[i] += first[i]
		}
		var covariance [3][3]float64
		for i := range 3 {
			for j := i; j < 3; j++ {
				covariance[i][j] = second[i][j]/out.area - first[i]*first[j]
				covariance[j][i] = covariance[i][j]
			}
		}
		out.values, out.axes = principal(covariance)
	}
	// Vertices that no facet has count for nothing.
	out.low, out.high = nowhere[0], nowhere[1]
	for i, v := range m.Vertices {
		if used[i] {
			out.include(v)
			if d := distance(wide(v), out.centroid); d > out.radius {
				out.radius = d
			}
		}
	}
	return out
}

// nowhere is the box of no points.
var nowhere = [2][3]float64{{math.Inf(1), math.Inf(1), math.Inf(1)}, {math.Inf(-1), math.Inf(-1), math.Inf(-1)}}

func (m *moments) include(v [3]float32) {
	for a, x := range v {
		x := float64(x)
		if x < m.low[a] {
			m.low[a] = x
		}
		if x > m.high[a] {
			m.high[a] = x
		}
	}
}

// principal gives the eigenvalues of a symmetric matrix, ascending, and its unit eigenvectors as
// right-handed rows (Jacobi's rotations; Golub and Van Loan, Matrix Computations, 8.5).
func principal(s [3][3]float64) (values [3]float64, rows [3][3]float64) {
	v := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for range 30 {
		off := math.Abs(s[0][1]) + math.Abs(s[0][2]) + math.Abs(s[1][2])
		if !(off > 1e-17*(math.Abs(s[0][0])+math.Abs(s[1][1])+math.Abs(s[2][2]))) {
			break
		}
		for p := range 2 {
			for q := p + 1; q < 3; q++ {
				if s[p][q] == 0 {
					continue
				}
				theta := (s[q][q] - s[p][p]) / (2 * s[p][q])
				t := 1 / (math.Abs(theta) + math.Sqrt(theta*theta+1))
				if theta < 0 {
					t = -t
				}
				c := 1 / math.Sqrt(t*t+1)
				sn := t * c
				for k := range 3 {
					s[k][p], s[k][q] = c*s[k][p]-sn*s[k][q], sn*s[k][p]+c*s[k][q]
				}
				for k := range 3 {
					s[p][k], s[q][k] = c*s[p][k]-sn*s[q][k], sn*s[p][k]+c*s[q][k]
				}
				for k := range 3 {
					v[k][p], v[k][q] = c*v[k][p]-sn*v[k][q], sn*v[k][p]+c*v[k][q]
				}
			}
		}
	}
	order := [3]int{0, 1, 2}
	for i := range 2 {
		for j := i + 1; j < 3; j++ {
			if s[order[j]][order[j]] < s[order[i]][order[i]] {
				order[i], order[j] = order[j], order[i]
			}
		}
	}
	for i, k := range order {
		values[i] = s[k][k]
		rows[i] = [3]float64{v[0][k], v[1][k], v[2][k]}
	}
	rows[2] = cross(rows[0], rows[1])
	return values, rows
}

func wide(v [3]float32) [3]float64 {
	return [3]float64{float64(v[0]), float64(v[1]), float64(v[2])}
}

func sub(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func cross(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

func norm(a [3]float64) float64 { return math.Sqrt(dot(a, a)) }

func distance(a, b [3]float64) float64 { return norm(sub(a, b)) }
