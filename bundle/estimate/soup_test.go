package estimate

import (
	"math"
	"testing"

	"dropwright/bundle/mesh"

	"pgregory.net/rapid"
)

// Triangles without any sense: no panic, no figure that is none, never more plastic than a full box.
func TestSenselessTriangles(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		scale := rapid.SampledFrom([]float64{0.01, 1, 30, 1e4}).Draw(r, "scale")
		m := &mesh.Mesh{}
		n := rapid.IntRange(3, 12).Draw(r, "vertices")
		for range n {
			m.Vertices = append(m.Vertices, [3]float32{
				float32(scale * rapid.Float64Range(-1, 1).Draw(r, "x")),
				float32(scale * rapid.Float64Range(-1, 1).Draw(r, "y")),
				float32(rapid.Float64Range(0, 3).Draw(r, "z")),
			})
		}
		corner := func() uint32 { return uint32(rapid.IntRange(0, n-1).Draw(r, "corner")) }
		for range rapid.IntRange(1, 4).Draw(r, "tetrahedra") { // closed, overlapping, flat, inside out
			a, b, c, d := corner(), corner(), corner(), corner()
			m.Triangles = append(m.Triangles, [3]uint32{a, b, c}, [3]uint32{a, c, d}, [3]uint32{a, d, b}, [3]uint32{b, d, c})
		}
		for range rapid.IntRange(0, 3).Draw(r, "triangles") {
			m.Triangles = append(m.Triangles, [3]uint32{corner(), corner(), corner()})
		}
		s := plain
		s.Layer, s.Supports, s.Brim = 0.4, rapid.Bool().Draw(r, "supports"), 2
		e, err := Part(m, s, DefaultMachine())
		if err != nil {
			return
		}
		box := 4 * scale * scale * 4
		for _, v := range []float64{e.Plastic, e.Grams, e.Seconds, e.GramsHigh, e.SecondsHigh, e.Kinds.Outline, e.Kinds.Wall, e.Kinds.Solid, e.Kinds.Infill} {
			if math.IsNaN(v) || math.IsInf(v, 0) || v < -1e-9 {
				r.Fatalf("%+v", e)
			}
		}
		if inside := e.Kinds.Outline + e.Kinds.Wall + e.Kinds.Solid + e.Kinds.Infill; inside > box {
			r.Fatalf("%g mm3 in a box of %g", inside, box)
		}
	})
}
