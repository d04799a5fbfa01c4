package mesh

import (
	"math"
	"testing"
)

// near fails unless got is within a relative error of 1e-6 of want.
func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	const tol = 1e-6
	if !(math.Abs(got-want) <= tol*math.Abs(want)) {
		t.Errorf("%s = %.9g, want %.9g", what, got, want)
	}
}

// hollowBox is a box of 40x30x20 around a sealed cavity of 36x26x16: walls of 2 all around.
func hollowBox() *Mesh {
	return Join(Box(40, 30, 20), Reverse(Transform(Box(36, 26, 16), Shift(2, 2, 2))))
}

// tray is 60x40x20 with walls of 3, a floor of 2, and open at the top.
func tray() *Mesh {
	// The rim is the ring between the outer and the inner rectangle, split into eight triangles.
	outer, inner := Box(60, 40, 20), Transform(Box(54, 34, 18), Shift(3, 3, 2))
	m := Join(outer, Reverse(inner))
	keep := m.Triangles[:0]
	top := func(t [3]uint32) bool {
		return m.Vertices[t[0]][2] == 20 && m.Vertices[t[1]][2] == 20 && m.Vertices[t[2]][2] == 20
	}
	for _, t := range m.Triangles {
		if !top(t) {
			keep = append(keep, t)
		}
	}
	m.Triangles = keep
	// Corners of the top: outer 4 5 7 6 counter-clockwise, inner the same plus 8.
	ring := []uint32{4, 5, 7, 6}
	for i, a := range ring {
		b := ring[(i+1)%4]
		m.Triangles = append(m.Triangles, [3]uint32{a, b, b + 8}, [3]uint32{a, b + 8, a + 8})
	}
	return m
}

// The values are worked out by hand: volumes and areas of boxes; for the 64-gon
// 32 R^2 sin(2 pi/64) h; for lathes and tori the closed forms of their plane facets.
func TestExactShapes(t *testing.T) {
	lathe := Sphere(15, 200, 100)
	for _, c := range []struct {
		name          string
		m             *Mesh
		volume, area  float64
		vertices      int
		shells, voids int
	}{
		{"cube 20", Box(20, 20, 20), 8000, 2400, 8, 1, 0},
		{"64-gon", Prism(64, 10, 20), 6273.09698, 1883.44216, 130, 1, 0},
		{"hollow box", hollowBox(), 9024, 9056, 16, 2, 1},
		{"tray", tray(), 14952, 11968, 16, 1, 0},
		{"sphere", lathe, 14131.35424, 2826.85206, 200*99 + 2, 1, 0},
		{"torus", Torus(30, 10, 120, 60), 59082.448461, 11834.734173, 7200, 1, 0},
		{"torus of a million", Torus(60, 20, 1000, 500), 473725.425984, 47373.594600, 500000, 1, 0},
	} {
		r, _ := Inspect(c.m)
		if r.Volume == nil {
			t.Errorf("%s: no volume: %+v", c.name, r)
			continue
		}
		near(t, c.name+" volume", *r.Volume, c.volume)
		near(t, c.name+" area", r.Area, c.area)
		if r.Vertices != c.vertices || r.Shells != c.shells || r.Voids != c.voids || !r.Watertight || len(r.Faults) > 0 {
			t.Errorf("%s: %+v", c.name, r)
		}
	}
}
