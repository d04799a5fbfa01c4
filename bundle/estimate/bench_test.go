package estimate

import (
	"fmt"
	"math"
	"testing"

	"dropwright/bundle/mesh"
)

// enclosure is a shell of 91 x 62 x 24 mm with rounded corners, four bosses with holes, and ports: about
// as many triangles and outlines as a published case base has.
func enclosure() *mesh.Mesh {
	outer := roundedBox(91, 62, 24, 5, 24, 0)
	inner := mesh.Reverse(mesh.Transform(roundedBox(86.2, 57.2, 22, 2.6, 24, 0), mesh.Shift(2.4, 2.4, 2)))
	parts := []*mesh.Mesh{outer, inner}
	for _, p := range [][2]float64{{8, 8}, {83, 8}, {8, 54}, {83, 54}} {
		boss := mesh.Join(mesh.Prism(48, 3.5, 6), mesh.Reverse(mesh.Transform(mesh.Prism(48, 1.7, 6.5), mesh.Shift(0, 0, -0.25))))
		parts = append(parts, mesh.Transform(boss, mesh.Shift(p[0], p[1], 2)))
	}
	return mesh.Join(parts...)
}

// roundedBox is a box with corners rounded in the plane.
func roundedBox(x, y, z, r float64, n int, lo float64) *mesh.Mesh {
	var ring [][2]float64
	for q, c := range [][2]float64{{x - r, r}, {x - r, y - r}, {r, y - r}, {r, r}} {
		for i := range n {
			a := math.Pi/2*float64(q-1) + math.Pi/2*float64(i)/float64(n-1)
			ring = append(ring, [2]float64{c[0] + r*math.Cos(a), c[1] + r*math.Sin(a)})
		}
	}
	m := &mesh.Mesh{}
	for _, h := range []float64{lo, lo + z} {
		for _, p := range ring {
			m.Vertices = append(m.Vertices, [3]float32{float32(p[0]), float32(p[1]), float32(h)})
		}
	}
	k := uint32(len(ring))
	for i := range k {
		a, b := i, (i+1)%k
		m.Triangles = append(m.Triangles, [3]uint32{a, b, b + k}, [3]uint32{a, b + k, a + k})
		if i > 0 && i+1 < k {
			m.Triangles = append(m.Triangles, [3]uint32{0, i + 1, i}, [3]uint32{k, k + i, k + i + 1})
		}
	}
	return m
}

func BenchmarkEnclosure(b *testing.B) {
	m, s := enclosure(), plain
	s.Walls, s.SolidTop = 3, 5
	b.ReportAllocs()
	for b.Loop() {
		estimate(b, m, s)
	}
}

func BenchmarkSupports(b *testing.B) {
	m, s := enclosure(), plain
	s.Supports = true
	for b.Loop() {
		estimate(b, m, s)
	}
}

// Growth with triangles: a torus of 40 mm height in 200 layers.
func BenchmarkTorus(b *testing.B) {
	for _, n := range []int{250, 500, 1000, 2000} {
		nu, nv := int(1000*math.Sqrt(float64(n)/1000)), int(500*math.Sqrt(float64(n)/1000))
		m := mesh.Torus(60, 20, nu, nv)
		b.Run(fmt.Sprintf("%dk", 2*nu*nv/1000), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				estimate(b, m, plain)
			}
		})
	}
}

// Growth with layers: time per layer and memory stay as they are.
func BenchmarkLayers(b *testing.B) {
	for _, z := range []float64{20, 200} {
		m := mesh.Box(60, 60, z)
		b.Run(fmt.Sprintf("%.0f", z*5), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				estimate(b, m, plain)
			}
		})
	}
}
