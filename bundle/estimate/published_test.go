package estimate

import (
	"math"
	"testing"

	"dropwright/bundle/mesh"
)

// Statements of authors of published designs: deposited volume of the whole print over mesh volume is 0.86
// for a flat, skin-heavy part and 0.54 for a large thin-walled case (both 20 % infill), 0.96 to 1.01 at
// 100 %, and above 1 for thin lattices. The parts themselves are not at hand; these are of their kind, so
// the ranges are wide. A lattice cannot come out above 1 here: lines do not overlap in the model.
func TestPublishedShares(t *testing.T) {
	shell := func(x, y, z, w float64) *mesh.Mesh {
		return mesh.Join(mesh.Box(x, y, z), mesh.Reverse(mesh.Transform(mesh.Box(x-2*w, y-2*w, z-w), mesh.Shift(w, w, w))))
	}
	bars := mesh.Box(0.8, 40, 6)
	for i := range 5 {
		bars = mesh.Join(bars, mesh.Transform(mesh.Box(0.8, 40, 6), mesh.Shift(5*float64(i+1), 0, 0)))
	}
	for _, c := range []struct {
		name   string
		mesh   *mesh.Mesh
		infill float64
		lo, hi float64
	}{
		{"flat plate of 2.2 mm", mesh.Box(100, 80, 2.2), 0.2, 0.76, 0.92},
		{"large case with walls of 4 mm", shell(180, 120, 60, 4), 0.2, 0.48, 0.62},
		{"filled case", shell(100, 60, 20, 4), 1, 0.96, 1.01},
		{"filled ball", mesh.Sphere(15, 48, 24), 1, 0.96, 1.01},
		{"thin bars", bars, 0.2, 0.97, 1.1},
	} {
		r, _ := mesh.Inspect(c.mesh)
		s := plain
		s.Infill = c.infill
		e := estimate(t, c.mesh, s)
		if got := e.Plastic / *r.Volume; got < c.lo || got > c.hi {
			t.Errorf("%s: %.3f of the mesh's volume, published %.2f to %.2f", c.name, got, c.lo, c.hi)
		}
		if note := e.Against(*r.Volume); note != "" {
			t.Errorf("%s: %s", c.name, note)
		}
	}
}

// Statements of authors on time: the whole print deposits 35 to 43 % of line width x layer height x 50 mm/s. The
// model, which knows no retractions and no waiting, is faster than that on a machine of those years; the end of
// its band must reach the range, and its middle must not be slower than any of them.
func TestPublishedThroughput(t *testing.T) {
	shell := func(x, y, z, w float64) *mesh.Mesh {
		return mesh.Join(mesh.Box(x, y, z), mesh.Reverse(mesh.Transform(mesh.Box(x-2*w, y-2*w, z-w), mesh.Shift(w, w, w))))
	}
	mc := DefaultMachine()
	mc.Acceleration = 500
	mc.Outline, mc.Wall, mc.Solid, mc.Infill, mc.First = 25, 50, 50, 50, 25
	for _, c := range []struct {
		name string
		mesh *mesh.Mesh
	}{
		{"enclosure", enclosure()},
		{"large case with walls of 4 mm", shell(180, 120, 60, 4)},
		{"small case with walls of 4 mm", shell(100, 60, 20, 4)},
	} {
		s := plain
		s.Infill = 0.2
		e, err := Part(c.mesh, s, mc)
		if err != nil {
			t.Fatal(err)
		}
		full := s.Line * s.Layer * 50
		middle, slow := e.Plastic/e.Seconds/full, e.Plastic/e.SecondsHigh/full
		if slow > 0.43 || middle < 0.35 {
			t.Errorf("%s: %.2f of the full flow, %.2f at the end of the band; published 0.35 to 0.43", c.name, middle, slow)
		}
		t.Logf("%s: %.2f, %.2f at the end of the band", c.name, middle, slow)
	}
}

func TestAgainst(t *testing.T) {
	if note := estimate(t, mesh.Box(20, 20, 0.3), plain).Against(120); note == "" {
		t.Error("two layers of 0.2 for a plate of 0.3 mm: nothing said")
	}
	if note := (Estimate{Section: 1, Basis: Toolpath}).Against(120); note != "" {
		t.Error(note)
	}
}

// The hull by area and corners: exact shapes, and a square filled with points.
func TestOutline(t *testing.T) {
	area := func(p [][2]float64) float64 {
		sum := 0.0
		for i, a := range p {
			b := p[(i+1)%len(p)]
			sum += a[0]*b[1] - a[1]*b[0]
		}
		return sum / 2
	}
	full := mesh.Box(10, 20, 5)
	for i := range 500 {
		full.Vertices = append(full.Vertices, [3]float32{float32(i % 10), float32(i%7) * 2, 1})
	}
	full.Vertices = append(full.Vertices, [3]float32{float32(math.NaN()), 0, 0}, [3]float32{float32(math.Inf(1)), 0, 0})
	for _, c := range []struct {
		name    string
		mesh    *mesh.Mesh
		corners int
		area    float64
	}{
		{"box", mesh.Box(10, 20, 5), 4, 200},
		{"box full of points", full, 4, 200},
		{"prism", mesh.Prism(12, 10, 5), 12, 6 * 100 * math.Sin(math.Pi/6)},
		{"torus", mesh.Torus(20, 5, 64, 32), 64, 32 * 625 * math.Sin(math.Pi/32)},
		{"two boxes", mesh.Join(mesh.Box(10, 10, 1), mesh.Transform(mesh.Box(10, 10, 1), mesh.Shift(20, 0, 0))), 4, 300},
	} {
		p := Outline(c.mesh)
		if len(p) != c.corners {
			t.Errorf("%s: %d corners, want %d", c.name, len(p), c.corners)
		}
		within(t, c.name, area(p), c.area, 1e-5)
	}
	line := &mesh.Mesh{Vertices: [][3]float32{{0, 0, 0}, {1, 1, 0}, {2, 2, 0}, {3, 3, 1}}}
	if p := Outline(line); p != nil {
		t.Errorf("a line has no hull: %v", p)
	}
	if p := Outline(&mesh.Mesh{}); p != nil {
		t.Errorf("nothing has no hull: %v", p)
	}
}
