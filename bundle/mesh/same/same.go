// Package same tells whether two meshes are the same shape: the same facets in another order, the same
// part moved, turned or mirrored, or a changed one, and then where and by how much.
//
// It compares surfaces as they are drawn. It knows no files and no names, does not judge whether a mesh
// is closed, and does not say what a change means for a printed part (bundle/compare does).
//
// Conventions: millimetres. Motions take the first mesh onto the second. Places are in the frame of the
// second mesh. The order of facets and vertices makes no difference to what is said of two meshes,
// nor does the number of processors.
package same

import (
	"math"

	"dropwright/bundle/mesh"
)

// Kind is what two meshes are to each other.
type Kind string

// The kinds, in the order in which they are tried: a symmetric part that was turned onto itself is the
// same, a part with a plane of symmetry is turned rather than mirrored.
const (
	Same     Kind = "same"     // the same surface in the same place
	Moved    Kind = "moved"    // shifted only
	Turned   Kind = "turned"   // turned, and perhaps shifted
	Mirrored Kind = "mirrored" // only a mirror image fits
	Changed  Kind = "changed"  // another shape
)

// Options says how exact to be. The zero value is good.
type Options struct {
	// Tolerance (mm) is the distance up to which two surfaces are one. 0 stands for 0.001, far below
	// what a printer shows and far above the rounding of coordinates; for meshes of less than 20 mm for
	// a ten-thousandth of the largest distance from the middle.
	Tolerance float64
}

// Result is the outcome of a comparison.
type Result struct {
	Kind Kind
	// Exact is true where not one bit of a coordinate differs: the same facets in some order.
	Exact bool
	// Motion takes the first mesh onto the second. For a changed mesh it is what fits most of the two
	// together, often nothing at all.
	Motion mesh.Matrix
	// Deviation (mm) is the largest distance from a point of one surface to the other surface. It is 0
	// for kinds other than Changed: there it is within the tolerance. It is found by sampling ever finer
	// where it is large, so it is a lower bound: within 0.01 mm or 2 percent, unless Sampled is set.
	Deviation float64
	// Sampled is true where the work that one comparison may take was done before all places that could
	// differ by more than Deviation were looked into: all corners of the facets were, in most cases, but not
	// the inside of all of them. It is so for large meshes that differ all over.
	Sampled bool
	At      [3]float64 // a place where it is that large
	OnFirst bool       // At lies on the first mesh (moved by Motion): surface that is gone; else new surface
	// Low and High bound the places where sampled points are off by more than the tolerance.
	Low, High [3]float64
	// Volumes (mm3) of the two; for an open mesh a number without meaning.
	Volumes [2]float64
}

// VolumeDelta is how much more volume the second mesh has, mm3.
func (r Result) VolumeDelta() float64 { return r.Volumes[1] - r.Volumes[0] }

// Turn gives the axis (a unit vector) and the angle in degrees, from 0 to 180, of the motion's rotation; of a
// mirror image, after the reflection of all three axes in the origin.
func (r Result) Turn() (axis [3]float64, degrees float64) {
	m := r.Motion
	sign := 1.0
	if m.Det() < 0 {
		sign = -1
	}
	trace := sign * (m[0][0] + m[1][1] + m[2][2])
	angle := math.Acos(max(-1, min(1, (trace-1)/2)))
	axis = [3]float64{sign * (m[2][1] - m[1][2]), sign * (m[0][2] - m[2][0]), sign * (m[1][0] - m[0][1])}
	length := math.Sqrt(axis[0]*axis[0] + axis[1]*axis[1] + axis[2]*axis[2])
	if length < 1e-6 {
		if angle < 1 {
			return [3]float64{0, 0, 1}, angle * 180 / math.Pi
		}
		// Half a turn: R + 1 is twice the projection on the axis; its longest column points along it.
		best := 0.0
		for c := range 3 {
			column := [3]float64{sign * m[0][c], sign * m[1][c], sign * m[2][c]}
			column[c]++
			if l := math.Sqrt(column[0]*column[0] + column[1]*column[1] + column[2]*column[2]); l > best+1e-9 {
				best, axis, length = l, column, l
			}
		}
	}
	for i := range axis {
		axis[i] /= length
	}
	return axis, angle * 180 / math.Pi
}

// Compare compares two meshes. Neither needs to be closed or welded; coordinates are finite. Two empty
// meshes are the same; an empty one and another are changed by the size of the other.
//
// Surfaces are compared without regard to which side is outside, except that a mesh turned inside out
// is a changed one, with a Deviation of 0.
func Compare(a, b *mesh.Mesh, opt Options) Result {
	r := Result{Kind: Same, Motion: mesh.Identity}
	if len(a.Triangles) == 0 || len(b.Triangles) == 0 {
		if len(a.Triangles) != len(b.Triangles) {
			full := momentsOf(a)
			if len(a.Triangles) == 0 {
				full = momentsOf(b)
			}
			r.Kind = Changed
			r.Low, r.High = full.low, full.high
			r.Deviation = distance(full.low, full.high)
			r.OnFirst = len(b.Triangles) == 0
			return r
		}
		r.Exact = true
		return r
	}
	var ma, mb moments
	var exactA, exactB digest
	parallel(2, func(i int) {
		if i == 0 {
			ma, exactA = momentsOf(a), digestOf(a, 0)
		} else {
			mb, exactB = momentsOf(b), digestOf(b, 0)
		}
	})
	r.Volumes = [2]float64{ma.volume, mb.volume}
	if exactA == exactB {
		r.Exact = true
		return r
	}
	tol := opt.Tolerance
	if !(tol > 0) {
		tol = min(0.001, 1e-4*max(ma.radius, mb.radius))
	}
	p := &pair{a: a, b: b, ma: ma, mb: mb, tol: tol, fitting: fitVisits}
	if p.congruent() {
		for c := range p.candidates() {
			if motion, ok := p.fits(c); ok {
				r.Kind, r.Motion = c.kind, motion
				return r
			}
			if p.failed == wholeTried {
				break
			}
		}
	}
	r.Kind = Changed
	r.Motion = p.bestFit()
	p.deviation(&r)
	if r.Deviation <= tol && !p.cut && p.congruent() {
		// A symmetric part cut into other facets: no corner of one need be a corner of the other.
		return Result{Kind: kindOf(r.Motion), Motion: r.Motion, Volumes: r.Volumes}
	}
	return r
}

func kindOf(m mesh.Matrix) Kind {
	switch {
	case m == mesh.Identity:
		return Same
	case m == mesh.Shift(m[0][3], m[1][3], m[2][3]):
		return Moved
	case m.Det() > 0:
		return Turned
	}
	return Mirrored
}
