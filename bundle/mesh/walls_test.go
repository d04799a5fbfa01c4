package mesh

import (
	"math"
	"slices"
	"testing"
)

func TestWallsExact(t *testing.T) {
	// Sealed cavity of 36 x 26 x 16 in 40 x 30 x 20: all walls 2; the part of the outside that has no
	// cavity beneath is thicker. Area below 2.01: outside opposite to the cavity and the cavity, 2 * 3856.
	w := MeasureWalls(hollowBox())
	near(t, "hollow box, thinnest", w.Thinnest, 2)
	if got := w.Below(2.01); math.Abs(got-7712) > 0.005*7712 {
		t.Errorf("hollow box: area below 2.01 is %.1f, want 7712", got)
	}
	if got := w.Below(1.99); got != 0 {
		t.Errorf("hollow box: area below 1.99 is %v", got)
	}
	// Walls 3, floor 2: both sides of the floor, 2 * 54 * 34.
	w = MeasureWalls(tray())
	near(t, "tray, thinnest", w.Thinnest, 2)
	if w.At[2] != 1 || w.At[0] < 3 || w.At[0] > 57 || w.At[1] < 3 || w.At[1] > 37 {
		t.Errorf("tray: thinnest at %v, which is not in the middle of the floor", w.At)
	}
	if got := w.Below(2.01); math.Abs(got-3672) > 0.005*3672 {
		t.Errorf("tray: area below 2.01 is %.1f, want 3672", got)
	}
	if i := slices.IndexFunc(w.samples, func(s wallSample) bool { return s.thickness > 2.01 }); i < 0 || math.Abs(w.samples[i].thickness-3) > 1e-5 {
		t.Errorf("tray: the next thickness is not 3")
	}
	near(t, "cube, thinnest", MeasureWalls(Box(20, 20, 20)).Thinnest, 20)
}

// A hexagon pocket, a thin rib among thick walls, a tilted wall, a wedge.
func TestWallsFound(t *testing.T) {
	rib := Join(Box(60, 40, 3), Transform(Box(0.4, 5, 10), Shift(30, 10, 5)))
	w := MeasureWalls(rib)
	if math.Abs(w.Thinnest-0.4) > 1e-5 || math.Abs(w.At[0]-30.2) > 1e-3 {
		t.Errorf("rib: %v at %v, want 0.4 at x 30.2", w.Thinnest, w.At)
	}
	sin, cos := math.Sincos(0.3)
	tilted := Transform(Box(30, 1.2, 20), Matrix{{cos, -sin, 0, 80}, {sin, cos, 0, 90}, {0, 0, 1, 0}})
	if w := MeasureWalls(tilted); math.Abs(w.Thinnest-1.2) > 5e-5 {
		t.Errorf("tilted wall: %v, want 1.2", w.Thinnest)
	}
	// A tube of outer radius 10, inner 8.5, 96 sides: chords make it (10 - 8.5) cos(pi/96) at least.
	tube := Join(Prism(96, 10, 20), Reverse(Transform(Prism(96, 8.5, 30), Shift(0, 0, -5))))
	if w := MeasureWalls(tube); math.Abs(w.Thinnest-1.5*math.Cos(math.Pi/96)) > 2e-3 {
		t.Errorf("tube: %v, want 1.4992", w.Thinnest)
	}
	// Opposite points of a sphere's facets are nearly a diameter apart.
	if w := MeasureWalls(Sphere(15, 64, 32)); w.Thinnest < 29.5 || w.Thinnest > 30 {
		t.Errorf("sphere: %v, want just below 30", w.Thinnest)
	}
	// Edges of 60 and of 45 degrees are no walls, though they end in nothing; the end faces are 20 apart.
	near(t, "triangular prism", MeasureWalls(Prism(3, 10, 20)).Thinnest, 20)
	right := Box(10, 10, 20)
	for i, v := range right.Vertices {
		if v[1] == 10 {
			right.Vertices[i][0] = 0 // the face x = 10 becomes the hypotenuse, y = 10 an edge
		}
	}
	near(t, "right-angled prism", MeasureWalls(right).Thinnest, 20)
	for name, m := range map[string]*Mesh{
		"empty":      {},
		"one facet":  {Vertices: [][3]float32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, Triangles: [][3]uint32{{0, 1, 2}}},
		"degenerate": {Vertices: [][3]float32{{0, 0, 0}, {1, 0, 0}}, Triangles: [][3]uint32{{0, 1, 1}}},
		"inside out": Reverse(Box(10, 10, 10)),
	} {
		if w := MeasureWalls(m); w.Thinnest != 0 || w.Below(100) != 0 {
			t.Errorf("%s: %v", name, w.Thinnest)
		}
	}
}

func TestWallsInvariant(t *testing.T) {
	m := Join(hollowBox(), Transform(Torus(30, 3, 48, 24), Shift(0, 0, 60)))
	want := MeasureWalls(m)
	for seed := range int64(3) {
		got := MeasureWalls(shuffledFacets(m, seed))
		if got.Thinnest != want.Thinnest || got.At != want.At || got.Below(6) != want.Below(6) {
			t.Errorf("shuffled: %v at %v, %v; want %v at %v, %v", got.Thinnest, got.At, got.Below(6), want.Thinnest, want.At, want.Below(6))
		}
	}
}

// subdivided splits every facet in four.
func subdividedFacets(m *Mesh) *Mesh {
	out := &Mesh{Vertices: slices.Clone(m.Vertices)}
	middle := map[[2]uint32]uint32{}
	mid := func(a, b uint32) uint32 {
		key := [2]uint32{min(a, b), max(a, b)}
		id, ok := middle[key]
		if !ok {
			id = uint32(len(out.Vertices))
			middle[key] = id
			p, q := wide(m.Vertices[a]), wide(m.Vertices[b])
			out.Vertices = append(out.Vertices, narrow([3]float64{(p[0] + q[0]) / 2, (p[1] + q[1]) / 2, (p[2] + q[2]) / 2}))
		}
		return id
	}
	for _, t := range m.Triangles {
		a, b, c := mid(t[0], t[1]), mid(t[1], t[2]), mid(t[2], t[0])
		out.Triangles = append(out.Triangles, [3]uint32{t[0], a, c}, [3]uint32{a, t[1], b}, [3]uint32{c, b, t[2]}, [3]uint32{a, b, c})
	}
	return out
}

func TestWallsOfFineMesh(t *testing.T) {
	m := tray()
	for range 5 {
		m = subdividedFacets(m)
	}
	w := MeasureWalls(m)
	near(t, "thinnest", w.Thinnest, 2)
	if got := w.Below(2.01); math.Abs(got-3672) > 0.02*3672 {
		t.Errorf("area below 2.01 is %.1f, want 3672", got)
	}
}

func BenchmarkWallsTray(b *testing.B) {
	m := tray()
	for range 4 {
		m = subdividedFacets(m)
	}
	b.Logf("%d facets", len(m.Triangles))
	for b.Loop() {
		MeasureWalls(m)
	}
}

func BenchmarkWalls1M(b *testing.B) {
	m := Torus(60, 20, 1000, 500)
	for b.Loop() {
		MeasureWalls(m)
	}
}
