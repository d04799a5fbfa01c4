package section

import (
	"fmt"
	"math"
)

// Frame is a right-handed orthonormal frame through the origin: planes are cut across W, the
// points of a section are measured along U and V. The three main axes keep their coordinates bit
// for bit; any other frame costs a rotated copy of the vertices.
type Frame struct {
	U, V, W [3]float64
}

// The frames of the three main axes. They follow from each other by cyclic exchange, which keeps
// the orientation: along X a section is (y, z), along Y (z, x), along Z (x, y).
var (
	AlongX = Frame{U: [3]float64{0, 1, 0}, V: [3]float64{0, 0, 1}, W: [3]float64{1, 0, 0}}
	AlongY = Frame{U: [3]float64{0, 0, 1}, V: [3]float64{1, 0, 0}, W: [3]float64{0, 1, 0}}
	AlongZ = Frame{U: [3]float64{1, 0, 0}, V: [3]float64{0, 1, 0}, W: [3]float64{0, 0, 1}}
)

// parallelWithin is the sine below which a direction is taken to be a main axis: 1e-6 moves a
// point 0.5 m from the origin by half a micrometre. From memory of float32 noise, no source.
const parallelWithin = 1e-6

// Along returns a frame whose W is the given direction, which need not have unit length. The sign
// is dropped, so that opposite directions give the same frame: W has positive z, or z = 0 and
// positive y, or is +x. It fails on a direction that is zero or not finite.
func Along(direction [3]float64) (Frame, error) {
	n := math.Sqrt(dot(direction, direction))
	if !(n > 0) || math.IsInf(n, 0) {
		return Frame{}, fmt.Errorf("direction %v has no length; give three finite numbers, not all zero", direction)
	}
	w := scale(direction, 1/n)
	for i, f := range [3]Frame{AlongX, AlongY, AlongZ} {
		if math.Abs(w[(i+1)%3]) < parallelWithin && math.Abs(w[(i+2)%3]) < parallelWithin {
			return f, nil
		}
	}
	if w[2] < -parallelWithin || math.Abs(w[2]) <= parallelWithin && w[1] < 0 {
		w = scale(w, -1)
	}
	// U is across W and the main axis that W leans to least, so that U is well defined.
	least := 0
	for i := 1; i < 3; i++ {
		if math.Abs(w[i]) < math.Abs(w[least]) {
			least = i
		}
	}
	var e [3]float64
	e[least] = 1
	u := cross(e, w)
	u = scale(u, 1/math.Sqrt(dot(u, u)))
	return Frame{U: u, V: cross(w, u), W: w}, nil
}

// Point returns the place in space of the point (u, v) of the section at height w, in millimetres.
func (f Frame) Point(u, v, w float64) [3]float64 {
	var p [3]float64
	for i := range p {
		p[i] = u*f.U[i] + v*f.V[i] + w*f.W[i]
	}
	return p
}

// In returns the coordinates (u, v, w) of a place in space, in millimetres.
func (f Frame) In(p [3]float64) (u, v, w float64) {
	return dot(p, f.U), dot(p, f.V), dot(p, f.W)
}

// mainAxis returns 0, 1, 2 for the frames along x, y, z and -1 for any other.
func (f Frame) mainAxis() int {
	switch f {
	case AlongX:
		return 0
	case AlongY:
		return 1
	case AlongZ:
		return 2
	}
	return -1
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func cross(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

func scale(a [3]float64, s float64) [3]float64 { return [3]float64{a[0] * s, a[1] * s, a[2] * s} }
