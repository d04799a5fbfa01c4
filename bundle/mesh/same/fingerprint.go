package same

import (
	"fmt"
	"math"
	"math/bits"

	"dropwright/bundle/mesh"
)

// digest is the sum of a hash of each facet: the same in any order. Two lanes of 64 bits.
type digest [2]uint64

// digestOf adds up the facets. With a grid (mm) above 0 coordinates are rounded to it and facets that
// shrink to a line are left out; with 0 every bit counts, but for -0, which is 0.
func digestOf(m *mesh.Mesh, grid float64) digest {
	const chunk = 1 << 15
	parts := make([]digest, (len(m.Triangles)+chunk-1)/chunk)
	parallel(len(parts), func(i int) {
		var sum digest
		for _, t := range m.Triangles[i*chunk : min(len(m.Triangles), (i+1)*chunk)] {
			a, b, c := cornerKey(m.Vertices[t[0]], grid), cornerKey(m.Vertices[t[1]], grid), cornerKey(m.Vertices[t[2]], grid)
			if grid > 0 && (a == b || b == c || c == a) {
				continue
			}
			// The facet begins at its smallest corner; which way round it goes counts.
			switch {
			case b < a && b < c:
				a, b, c = b, c, a
			case c < a && c < b:
				a, b, c = c, a, b
			}
			x := mix(a + mix(b+mix(c)))
			sum[0] += x
			sum[1] += mix(x ^ 0x9e3779b97f4a7c15)
		}
		parts[i] = sum
	})
	var total digest
	for _, p := range parts {
		total[0] += p[0]
		total[1] += p[1]
	}
	return total
}

// cornerKey hashes one corner.
func cornerKey(v [3]float32, grid float64) uint64 {
	h := uint64(0)
	for _, x := range v {
		word := uint64(math.Float32bits(x + 0))
		if grid > 0 {
			word = uint64(int64(math.Round(float64(x) / grid)))
		}
		h = mix(bits.RotateLeft64(h, 21) + word)
	}
	return h
}

// mix is the finish of SplitMix64 (Steele, Lea and Flood 2014).
func mix(h uint64) uint64 {
	h += 0x9e3779b97f4a7c15
	h = (h ^ h>>30) * 0xbf58476d1ce4e5b9
	h = (h ^ h>>27) * 0x94d049bb133111eb
	return h ^ h>>31
}

// fingerprintGrid (mm): exports of one mesh in several formats differ by less, designs by more. Assumed.
const fingerprintGrid = 1e-4

// Fingerprint names a surface in its place: meshes with the same facets up to order, to 0.0001 mm, have
// the same one, whatever file they come from. It is made for finding duplicates among many meshes;
// it is no protection against forgery, and a coordinate that lies just between two steps may make two
// names of one surface. Nothing can be read from it.
func Fingerprint(m *mesh.Mesh) string {
	d := digestOf(m, fingerprintGrid)
	return fmt.Sprintf("surface1-%016x%016x", d[0], d[1])
}

// Shape is what remains of a surface when it is moved, turned or mirrored. Meshes of one shape have
// shapes that are Near; the reverse is likely but for Compare to say.
type Shape struct {
	Area    float64    `json:"area_mm2"`
	Volume  float64    `json:"volume_mm3"` // without sign
	Spreads [3]float64 `json:"spreads_mm"` // standard deviations of the surface along its principal axes, ascending
}

// ShapeOf measures a mesh.
func ShapeOf(m *mesh.Mesh) Shape {
	x := momentsOf(m)
	s := Shape{Area: x.area, Volume: math.Abs(x.volume)}
	for i, v := range x.values {
		s.Spreads[i] = math.Sqrt(max(0, v))
	}
	return s
}

// Near reports whether two shapes may be one: all numbers agree to one part in 10000, which leaves room
// for the rounding of coordinates.
func (s Shape) Near(t Shape) bool {
	const tol = 1e-4
	near := func(a, b, scale float64) bool { return math.Abs(a-b) <= tol*scale }
	size := max(s.Spreads[2], t.Spreads[2])
	if !near(s.Area, t.Area, max(s.Area, t.Area)) || !near(s.Volume, t.Volume, max(s.Area, t.Area)*size) {
		return false
	}
	for i := range 3 {
		if !near(s.Spreads[i], t.Spreads[i], size) {
			return false
		}
	}
	return true
}
