package mesh

import (
	"math"
	"math/rand"
	"testing"
)

// shuffled is m with facets in another order and each facet begun at another corner.
func shuffledFacets(m *Mesh, seed int64) *Mesh {
	random := rand.New(rand.NewSource(seed))
	out := &Mesh{Vertices: m.Vertices, Triangles: make([][3]uint32, len(m.Triangles))}
	for i, k := range random.Perm(len(m.Triangles)) {
		t, r := m.Triangles[k], random.Intn(3)
		out.Triangles[i] = [3]uint32{t[r], t[(r+1)%3], t[(r+2)%3]}
	}
	return out
}

// wedge is a prism along y: a square of 10 in the xz plane whose right side leans out by the given
// angle from the upright.
func wedge(degrees float64) *Mesh {
	m := Box(10, 20, 10)
	lean := 10 * math.Tan(degrees*math.Pi/180)
	for i, v := range m.Vertices {
		if v[0] == 10 && v[2] == 10 {
			m.Vertices[i][0] = float32(10 + lean)
		}
	}
	return m
}

func TestOverhangExact(t *testing.T) {
	// Flat solids: exact by hand. geometry of the tray: 54 x 34 floor inside 60 x 40.
	for name, c := range map[string]struct {
		m                 *Mesh
		contact, overhang float64
	}{
		"cube 20":    {Box(20, 20, 20), 400, 0},
		"tray":       {tray(), 2400, 0},
		"hollow box": {hollowBox(), 1200, 36 * 26},
		"wedge 44":   {wedge(44), 200, 0},
		// The chamfer that everybody draws prints without support.
		"wedge 45":                {wedge(45), 200, 0},
		"wedge 45 far away":       {Transform(wedge(45), Shift(150, 150, 10)), 200, 0},
		"wedge 46":                {wedge(46), 200, 200 / math.Cos(46*math.Pi/180)},
		"table: box over a box":   {Join(Box(10, 10, 10), Transform(Box(30, 30, 5), Shift(-10, -10, 10))), 100, 900},
		"cube raised by 5 microm": {Join(Box(10, 10, 10), Transform(Box(10, 10, 10), Shift(20, 0, 0.005))), 200, 0},
	} {
		s := Stand(c.m, "-z", 45)
		if math.Abs(s.Contact-c.contact) > 1e-3 || math.Abs(s.Overhang-c.overhang) > 1e-3 {
			t.Errorf("%s: contact %v, overhang %v; want %v, %v", name, s.Contact, s.Overhang, c.contact, c.overhang)
		}
	}
}

// The sphere's cap below 45 degrees is 2 pi R^2 (1 - cos 45), the ring's lower quarter pi^2 r R (Archimedes;
// Pappus); overhang and contact together make it up.
func TestOverhangOfRoundSolids(t *testing.T) {
	sphere := 2 * math.Pi * 15 * 15 * (1 - math.Sqrt2/2)
	for name, c := range map[string]struct {
		m         *Mesh
		want, tol float64
	}{
		"sphere 200 x 100":      {Sphere(15, 200, 100), sphere, 0.5},
		"sphere 64 x 30":        {Sphere(15, 64, 30), sphere, 4},
		"ring 60/20 1000 x 500": {Torus(60, 20, 1000, 500), math.Pi * math.Pi * 20 * 60, 3},
		"ring 30/10 120 x 60":   {Torus(30, 10, 120, 60), math.Pi * math.Pi * 10 * 30, 10},
	} {
		s := Stand(c.m, "-z", 45)
		if got := s.Overhang + s.Contact; math.Abs(got-c.want) > c.tol {
			t.Errorf("%s: %.3f, want %.3f", name, got, c.want)
		}
	}
	if s := Stand(Sphere(15, 200, 100), "-z", 45); math.Abs(s.Contact-0.70) > 0.01 {
		t.Errorf("the sphere touches the bed with %.3f mm2, want 0.70: the facets around the pole", s.Contact)
	}
	// A steeper limit leaves less.
	last := math.Inf(1)
	for _, limit := range []float64{0, 15, 30, 45, 60, 75} {
		got := Stand(Sphere(15, 200, 100), "-z", limit).Overhang
		want := 2 * math.Pi * 15 * 15 * (1 - math.Sin(limit*math.Pi/180))
		if got >= last || math.Abs(got-want) > 2 {
			t.Errorf("limit %v: %.2f, want %.2f and less than %.2f", limit, got, want, last)
		}
		last = got
	}
}

// Order of facets, first corner, place and size scale as they must.
func TestOverhangInvariant(t *testing.T) {
	m := Join(Torus(30, 10, 48, 24), Transform(tray(), Shift(100, 0, -10)), Transform(wedge(50), Shift(-80, 0, -10)))
	for _, face := range Faces {
		want := Stand(m, face, 45)
		for seed := range int64(3) {
			if got := Stand(shuffledFacets(m, seed), face, 45); got != want {
				t.Errorf("%s: shuffled %+v, want %+v", face, got, want)
			}
		}
		got := Stand(Transform(m, Scale(2)), face, 45)
		if math.Abs(got.Overhang-4*want.Overhang) > 1e-4*want.Overhang || math.Abs(got.Contact-4*want.Contact) > 0.02*want.Contact || math.Abs(got.Height-2*want.Height) > 1e-4 {
			t.Errorf("%s: doubled %+v, want 4 times %+v", face, got, want)
		}
	}
	if s := Stand(&Mesh{}, "-z", 45); s != (Standing{Face: "-z"}) {
		t.Errorf("empty mesh: %+v", s)
	}
	degenerate := &Mesh{Vertices: [][3]float32{{0, 0, 0}, {1, 0, 0}}, Triangles: [][3]uint32{{0, 1, 1}, {0, 0, 0}}}
	if s := Stand(degenerate, "-z", 45); s.Contact != 0 || s.Overhang != 0 {
		t.Errorf("degenerate facets: %+v", s)
	}
}

func TestParseFace(t *testing.T) {
	for _, f := range Faces {
		if got, err := ParseFace(string(f)); err != nil || got != f {
			t.Errorf("%s: %v %v", f, got, err)
		}
	}
	for _, s := range []string{"", "z", "+w", "-Z", "+z "} {
		if _, err := ParseFace(s); err == nil {
			t.Errorf("%q is accepted", s)
		}
	}
}

func BenchmarkStand1M(b *testing.B) {
	m := Torus(60, 20, 1000, 500)
	for b.Loop() {
		Stand(m, "-z", 45)
	}
}

func BenchmarkStandOn1M(b *testing.B) {
	m := Torus(60, 20, 1000, 500)
	for b.Loop() {
		StandOn(m, 45)
	}
}
