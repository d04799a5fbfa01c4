package fit

import (
	"math"
	"math/rand/v2"
	"testing"

	"dropwright/bundle/mesh"
	"dropwright/bundle/section"
)

// Boxes cut out of a box and of a ball have the volume that geometry gives, and are closed.
func TestPieceOfKnownVolume(t *testing.T) {
	p, err := Piece(mesh.Box(40, 30, 20), [3]float64{5, -10, 4}, [3]float64{25, 50, 12})
	if err != nil {
		t.Fatal(err)
	}
	r, _ := mesh.Inspect(p)
	if !r.Watertight || r.InsideOut || math.Abs(*r.Volume-20*30*8) > 0.01 {
		t.Errorf("a box of 20 x 30 x 8 mm: %v mm3, watertight %v", *r.Volume, r.Watertight)
	}
	// A plate with a hole keeps the hole: the corner of the cut is a ring.
	ring := mesh.Lathe([][2]float64{{0, 0}, {10, 0}, {10, 5}, {0, 5}}, 64)
	if _, err := Piece(ring, [3]float64{20, 20, 0}, [3]float64{30, 30, 5}); err == nil {
		t.Error("a box beside the part gave a piece")
	}
	if _, err := Piece(ring, [3]float64{1, 1, 1}, [3]float64{1, 2, 2}); err == nil {
		t.Error("an empty box gave a piece")
	}
	half, err := Piece(mesh.Sphere(10, 64, 32), [3]float64{-20, -20, 0.5}, [3]float64{20, 20, 20})
	if err != nil {
		t.Fatal(err)
	}
	h, _ := mesh.Inspect(half)
	const r10, d = 10.0, 9.5
	want := math.Pi * d * d * (3*r10 - d) / 3 // spherical cap
	if got := *h.Volume; got > want*1.02 || got < want*0.96 {
		t.Errorf("a cap of a ball: %g mm3, the formula says %g", got, want)
	}
}

// Around every hole of the demo season's parts a piece comes out closed, right side out, no larger than its
// box, and with the hole in it.
func TestPiecesOfTheDemo(t *testing.T) {
	for _, file := range []string{"vent-minder/meshes/case-ce.stl", "vent-minder/meshes/arm.stl", "vent-minder/meshes/cheek-left.stl", "seed-dryer/meshes/box.stl", "rain-tipper/meshes/base.stl"} {
		m := meshOf(t, file)
		s := shapeOf(t, file)
		for i, h := range s.Holes {
			if i%3 != 0 {
				continue // the others are their copies
			}
			lo, hi := BoxAround([][3]float64{h.From.At, h.To.At}, h.Diameter/2+8)
			p, err := Piece(m, lo, hi)
			if err != nil {
				t.Errorf("%s, hole %d at %v: %v", file, i, h.Centre, err)
				continue
			}
			r, _ := mesh.Inspect(p)
			if !r.Watertight || r.InsideOut || r.Degenerate > 0 {
				t.Errorf("%s, hole %d: watertight %v, inside out %v, %d triangles without area", file, i, r.Watertight, r.InsideOut, r.Degenerate)
			}
			for k := range 3 {
				if r.Min[k] < lo[k]-planeGive-1e-4 || r.Max[k] > hi[k]+planeGive+1e-4 {
					t.Errorf("%s, hole %d: the piece leaves its box", file, i)
				}
			}
			c, err := section.Holes(p, section.Options{})
			found := false
			for _, x := range c.Holes {
				found = found || math.Abs(x.Diameter-h.Diameter) < 0.02 && distance(x.Centre, h.Centre) < 0.2
			}
			if err != nil || !found {
				t.Errorf("%s, hole %d of %.2f mm is not in its piece: %v", file, i, h.Diameter, err)
			}
		}
	}
}

// Random boxes through curved and hollow shapes: the pieces on both sides of a plane add up to the whole.
func TestCutsAddUp(t *testing.T) {
	rnd := rand.New(rand.NewPCG(6, 4))
	shapes := map[string]*mesh.Mesh{
		"ball":        mesh.Sphere(10, 37, 18),
		"hollow ball": mesh.Join(mesh.Sphere(10, 24, 12), mesh.Reverse(mesh.Sphere(7, 20, 11))),
		"case":        meshOf(t, "vent-minder/meshes/case-ce.stl"),
		"rack":        meshOf(t, "seed-dryer/meshes/rack.stl"),
	}
	for name, m := range shapes {
		r, _ := mesh.Inspect(m)
		for range 6 {
			k := rnd.IntN(3)
			at := r.Min[k] + (0.1+0.8*rnd.Float64())*r.Size[k]
			at = between(m, k, at)
			sum := 0.0
			for _, side := range []float64{-1, 1} {
				p, err := cutPlane(m, k, at, side)
				if err != nil {
					t.Fatalf("%s cut at %g along %d: %v", name, at, k, err)
				}
				pr, _ := mesh.Inspect(p)
				if !pr.Watertight || pr.Volume == nil {
					t.Fatalf("%s cut at %g along %d: %d open edges, %d of more than two facets", name, at, k, pr.EdgeCounts.Open, pr.EdgeCounts.Nonmanifold)
				}
				sum += *pr.Volume
			}
			if math.Abs(sum-*r.Volume) > 1e-4**r.Volume {
				t.Errorf("%s cut at %g along %d: the halves hold %g mm3, the whole %g", name, at, k, sum, *r.Volume)
			}
		}
	}
}

// An open mesh gives an error, never a piece that looks closed.
func TestPieceOfAnOpenMesh(t *testing.T) {
	m := mesh.Box(10, 10, 10)
	m.Triangles = m.Triangles[:len(m.Triangles)-1]
	_, err := Piece(m, [3]float64{-1, -1, -1}, [3]float64{5, 20, 20})
	_, other := Piece(m, [3]float64{5, -1, -1}, [3]float64{20, 20, 20})
	if err == nil && other == nil {
		t.Error("both pieces of an open box passed as closed")
	}
}
