package threemf

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Transform is an affine map in the order of the standard (3.3): m00 m01 m02 m10 m11 m12 m20 m21 m22
// m30 m31 m32, applied to row vectors from the right:
//
//	x' = x m00 + y m10 + z m20 + m30
//
// The translation is in millimetres.
type Transform [12]float64

// Identity leaves everything where it is.
func Identity() Transform { return Transform{1, 0, 0, 0, 1, 0, 0, 0, 1} }

// Translation moves by so many millimetres.
func Translation(x, y, z float64) Transform { return Transform{1, 0, 0, 0, 1, 0, 0, 0, 1, x, y, z} }

// Then is the transform that applies t first and u after it.
func (t Transform) Then(u Transform) Transform {
	var out Transform
	for row := range 4 {
		for col := range 3 {
			sum := 0.0
			for k := range 3 {
				sum += t[3*row+k] * u[3*k+col]
			}
			if row == 3 {
				sum += u[9+col]
			}
			out[3*row+col] = sum
		}
	}
	return out
}

// Apply moves one point.
func (t Transform) Apply(p [3]float32) [3]float32 {
	x, y, z := float64(p[0]), float64(p[1]), float64(p[2])
	return [3]float32{
		float32(x*t[0] + y*t[3] + z*t[6] + t[9]),
		float32(x*t[1] + y*t[4] + z*t[7] + t[10]),
		float32(x*t[2] + y*t[5] + z*t[8] + t[11]),
	}
}

// Determinant is the factor by which t multiplies volumes; below zero it mirrors.
func (t Transform) Determinant() float64 {
	return t[0]*(t[4]*t[8]-t[5]*t[7]) - t[1]*(t[3]*t[8]-t[5]*t[6]) + t[2]*(t[3]*t[7]-t[4]*t[6])
}

// singular reports whether t flattens space, up to rounding: the determinant is far below the
// product of the row lengths, which it equals for a rotation with scale.
func (t Transform) singular() bool {
	product := 1.0
	for row := range 3 {
		product *= math.Sqrt(t[3*row]*t[3*row] + t[3*row+1]*t[3*row+1] + t[3*row+2]*t[3*row+2])
	}
	return !(math.Abs(t.Determinant()) > 1e-12*product)
}

func (t Transform) finite() bool {
	for _, v := range t {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// parseTransform reads twelve numbers separated by white space; scale turns the translation into
// millimetres.
func parseTransform(text string, scale float64) (Transform, error) {
	var t Transform
	fields := strings.Fields(text)
	if len(fields) != 12 {
		return t, fmt.Errorf("transform has %d numbers, it must have 12", len(fields))
	}
	for i, field := range fields {
		value, err := number([]byte(field))
		if err != nil {
			return t, fmt.Errorf("transform: %q: %w", clip([]byte(field)), err)
		}
		if i >= 9 {
			value *= scale
		}
		t[i] = value
	}
	if !t.finite() {
		return t, errors.New("transform: a number is too large")
	}
	return t, nil
}
