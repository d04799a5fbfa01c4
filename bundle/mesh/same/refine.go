package same

import (
	"math"

	"dropwright/bundle/mesh"
)

// refine turns and shifts a motion a little so that points of a lie on the faces of b as well as they
// can, in the sense of least squares (point to plane; Chen and Medioni 1992).
func (p *pair) refine(m mesh.Matrix) mesh.Matrix {
	if p.many == nil {
		p.many = p.samples(p.a, 500)
	}
	radius := max(p.mb.radius, 1e-9)
	for range 8 {
		var normal [6][6]float64
		var right [6]float64
		hits := p.nearestAll(p.treeB(), p.many, m)
		for i, h := range hits {
			x := m.Apply(p.many[i])
			f := &p.treeB().facets[h.place]
			a := wide(f[0])
			n := cross(sub(wide(f[1]), a), sub(wide(f[2]), a))
			length := norm(n)
			if length == 0 {
				continue
			}
			for i := range n {
				n[i] /= length
			}
			arm := sub(x, p.mb.centroid)
			for i := range arm {
				arm[i] /= radius // so that turns and shifts weigh alike
			}
			turn := cross(arm, n)
			row := [6]float64{turn[0], turn[1], turn[2], n[0], n[1], n[2]}
			off := dot(sub(h.at, x), n)
			for i := range 6 {
				right[i] += row[i] * off
				for j := range 6 {
					normal[i][j] += row[i] * row[j]
				}
			}
		}
		trace := 0.0
		for i := range 6 {
			trace += normal[i][i]
		}
		// A round part may turn about its axis at will: the damping keeps it where it is.
		for i := range 6 {
			normal[i][i] += 1e-9*trace + 1e-300
		}
		step := solve(normal, right)
		turn := rotation([3]float64{step[0] / radius, step[1] / radius, step[2] / radius})
		moved := turn.Apply(p.mb.centroid)
		for i := range 3 {
			turn[i][3] = p.mb.centroid[i] - moved[i] + step[3+i]
		}
		m = m.Then(turn)
		if norm([3]float64{step[0], step[1], step[2]})+norm([3]float64{step[3], step[4], step[5]}) < 1e-7*radius {
			break
		}
	}
	return m
}

// rotation turns about the direction of w by its length in radians (Rodrigues).
func rotation(w [3]float64) mesh.Matrix {
	angle := norm(w)
	if angle < 1e-300 {
		return mesh.Identity
	}
	k := [3]float64{w[0] / angle, w[1] / angle, w[2] / angle}
	sin, cos := math.Sincos(angle)
	skew := [3][3]float64{{0, -k[2], k[1]}, {k[2], 0, -k[0]}, {-k[1], k[0], 0}}
	m := mesh.Identity
	for i := range 3 {
		for j := range 3 {
			square := 0.0
			for l := range 3 {
				square += skew[i][l] * skew[l][j]
			}
			m[i][j] += sin*skew[i][j] + (1-cos)*square
		}
	}
	return m
}

// solve is Gaussian elimination with pivoting.
func solve(a [6][6]float64, b [6]float64) [6]float64 {
	for c := range 6 {
		pivot := c
		for r := c + 1; r < 6; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[pivot][c]) {
				pivot = r
			}
		}
		a[c], a[pivot] = a[pivot], a[c]
		b[c], b[pivot] = b[pivot], b[c]
		if a[c][c] == 0 {
			continue
		}
		for r := c + 1; r < 6; r++ {
			f := a[r][c] / a[c][c]
			for k := c; k < 6; k++ {
				a[r][k] -= f * a[c][k]
			}
			b[r] -= f * b[c]
		}
	}
	var x [6]float64
	for c := 5; c >= 0; c-- {
		sum := b[c]
		for k := c + 1; k < 6; k++ {
			sum -= a[c][k] * x[k]
		}
		if a[c][c] != 0 {
			x[c] = sum / a[c][c]
		}
	}
	return x
}
