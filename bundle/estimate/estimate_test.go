package estimate

import (
	"errors"
	"fmt"
	"math"
	"math/rand"
	"strings"
	"testing"

	"dropwright/bundle/mesh"

	"pgregory.net/rapid"
)

// bracket is a small part with everything: thick and thin walls, a hole, a ledge.
func bracket() *mesh.Mesh {
	return mesh.Join(
		mesh.Box(30, 14, 3),
		mesh.Transform(mesh.Box(3, 14, 9), mesh.Shift(0, 0, 3)),
		mesh.Transform(mesh.Box(0.7, 14, 6), mesh.Shift(25, 0, 3)),
		mesh.Reverse(mesh.Transform(mesh.Prism(32, 2, 3), mesh.Shift(14, 7, 0))),
	)
}

// Identities of the formula: with everything filled the plastic is the sum of the layers' areas; it is
// linear in the infill density and rises with walls and skins.
func TestIdentities(t *testing.T) {
	m := bracket()
	rapid.Check(t, func(r *rapid.T) {
		s := plain
		s.Layer = rapid.SampledFrom([]float64{0.3, 0.5}).Draw(r, "layer")
		s.Walls = rapid.IntRange(0, 4).Draw(r, "walls")
		s.SolidTop = rapid.IntRange(0, 5).Draw(r, "top")
		s.SolidBottom = rapid.IntRange(0, 5).Draw(r, "bottom")
		at := func(infill float64) Estimate {
			s.Infill = infill
			e, err := Part(m, s, DefaultMachine())
			if err != nil {
				r.Fatal(err)
			}
			if math.Abs(e.Kinds.Sum()-e.Plastic) > 1e-9 {
				r.Fatalf("kinds %v do not add up to %g", e.Kinds, e.Plastic)
			}
			if e.Plastic > e.Section*(1+1e-12) {
				r.Fatalf("plastic %g is more than the section holds, %g", e.Plastic, e.Section)
			}
			return e
		}
		none, some, full := at(0), at(0.3), at(1)
		if math.Abs(full.Plastic-full.Section) > 1e-9*full.Section {
			r.Fatalf("filled: %g, sum of areas %g", full.Plastic, full.Section)
		}
		if want := none.Plastic + 0.3*(full.Plastic-none.Plastic); math.Abs(some.Plastic-want) > 1e-9*want {
			r.Fatalf("not linear: %g, want %g", some.Plastic, want)
		}
		for _, more := range []*int{&s.Walls, &s.SolidTop, &s.SolidBottom} {
			*more++
			if e := at(0.3); e.Plastic < some.Plastic-1e-9 {
				r.Fatalf("%+v: fell from %g to %g", s, some.Plastic, e.Plastic)
			}
			*more--
		}
		s.Walls = 100
		if e := at(0); math.Abs(e.Plastic-e.Section) > 1e-9*e.Section {
			r.Fatalf("a hundred walls: %g, sum of areas %g", e.Plastic, e.Section)
		}
	})
}

func TestOneWorkerEqualsMany(t *testing.T) {
	s := plain
	s.Supports, s.Brim, s.Layer = true, 3, 0.3
	for _, m := range []*mesh.Mesh{bracket(), mesh.Torus(20, 6, 60, 40)} {
		want, err := part(m, s, DefaultMachine(), 1)
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range []int{2, 3, 8} {
			if got, err := part(m, s, DefaultMachine(), w); err != nil || fmt.Sprintf("%#v", got) != fmt.Sprintf("%#v", want) {
				t.Errorf("%d workers: %+v, %v; one: %+v", w, got, err, want)
			}
		}
	}
}

// Triangles in another order, another first corner, a part elsewhere, turned by a quarter: the same
// but for rounding (and, turned, for other pixels).
func TestSamePartOtherwise(t *testing.T) {
	m := bracket()
	want := estimate(t, m, plain)
	shuffled := &mesh.Mesh{Vertices: m.Vertices}
	random := rand.New(rand.NewSource(1))
	for _, i := range random.Perm(len(m.Triangles)) {
		k, c := random.Intn(3), m.Triangles[i]
		shuffled.Triangles = append(shuffled.Triangles, [3]uint32{c[k], c[(k+1)%3], c[(k+2)%3]})
	}
	quarter := mesh.Transform(m, mesh.Matrix{{0, -1, 0, 0}, {1, 0, 0, 0}, {0, 0, 1, 0}})
	for _, c := range []struct {
		name  string
		mesh  *mesh.Mesh
		share float64
	}{
		{"shuffled", shuffled, 1e-9},
		{"moved", mesh.Transform(m, mesh.Shift(64, -32, 16)), 1e-4},
		{"turned", quarter, 1e-3},
		{"mirrored", mesh.Mirror(m), 1e-3},
		{"inside out", mesh.Reverse(m), 1e-3},
	} {
		got := estimate(t, c.mesh, plain)
		within(t, c.name+" plastic", got.Plastic, want.Plastic, c.share)
		within(t, c.name+" seconds", got.Seconds, want.Seconds, math.Max(c.share, 5e-3))
	}
}

// Walls thinner than the lines asked for: filled once, never more, whatever the number of lines.
func TestThinWalls(t *testing.T) {
	for _, c := range []struct {
		thick float64
		walls int
	}{{0.2, 2}, {0.45, 2}, {0.7, 2}, {1.7, 2}, {0.8, 3}, {2.6, 3}, {0.3, 5}} {
		s := plain
		s.Walls = c.walls
		e := estimate(t, mesh.Box(40, c.thick, 10), s)
		within(t, fmt.Sprintf("wall of %g with %d lines", c.thick, c.walls), e.Plastic, 40*c.thick*10, 1e-4)
		if e.Kinds.Outline > 40*c.thick*10*(1+1e-6) {
			t.Errorf("outline %g is more than the wall holds", e.Kinds.Outline)
		}
	}
	// A wall that is just wide enough for an inside has one.
	if e := estimate(t, mesh.Box(40, 4, 10), plain); e.Kinds.Infill <= 0 {
		t.Errorf("4 mm wall without infill: %v", e.Kinds)
	}
}

func TestFirstLayerAndPlates(t *testing.T) {
	s := plain
	s.Infill = 1
	// 10 mm in 0.2 mm layers after a first one of 0.3: middle heights 0.4, 0.6 … 9.8: 1 + 48 layers, 9.9 mm; the
	// last 0.1 mm is half a layer and no more.
	s.FirstLayer = 0.3
	e := estimate(t, mesh.Box(10, 10, 10), s)
	if e.Layers != 49 {
		t.Errorf("layers: %d, want 49", e.Layers)
	}
	within(t, "first layer", e.Plastic, 100*9.9, 1e-9)
	s.FirstLayer = 0
	for _, c := range []struct {
		z      float64
		layers int
	}{{0.05, 1}, {0.2, 1}, {0.3, 1}, {0.31, 2}, {20, 100}} {
		e := estimate(t, mesh.Box(10, 10, c.z), s)
		if e.Layers != c.layers {
			t.Errorf("%g mm: %d layers, want %d", c.z, e.Layers, c.layers)
		}
		within(t, "plate", e.Plastic, 100*0.2*float64(c.layers), 1e-9)
	}
}

// A rim of width b round a convex outline: P*b + pi*b*b, in one layer; holes stay free.
func TestBrim(t *testing.T) {
	s := plain
	s.Brim = 5
	ring := mesh.Join(mesh.Box(20, 20, 4), mesh.Reverse(mesh.Transform(mesh.Box(10, 10, 4), mesh.Shift(5, 5, 0))))
	for _, m := range []*mesh.Mesh{mesh.Box(20, 20, 4), ring} {
		within(t, "brim", estimate(t, m, s).Kinds.Brim, 0.2*(80*5+math.Pi*25), 1e-3)
	}
}

// A table: what stands out over the leg by more than a layer's reach is held up from the bed, or from
// the foot where there is one.
func TestSupports(t *testing.T) {
	s := plain
	table := mesh.Join(mesh.Transform(mesh.Box(10, 10, 20), mesh.Shift(15, 15, 0)), mesh.Transform(mesh.Box(40, 40, 2), mesh.Shift(0, 0, 20)))
	if e := estimate(t, table, s); e.Kinds.Support != 0 {
		t.Errorf("supports not asked for: %v", e.Kinds)
	}
	s.Supports, s.SupportDensity = true, 0.2
	reach := 0.21 // one layer at 45 degrees and the hundredth for slopes at the limit
	under := 1600 - (100 + 40*reach + math.Pi*reach*reach)
	e := estimate(t, table, s)
	within(t, "supports", e.Kinds.Support, under*20*0.2, 2e-3)
	if slow := e.Seconds; slow <= estimate(t, table, plain).Seconds {
		t.Error("supports take no time")
	}
	// The same table on a foot as large as its top: supports begin on the foot.
	foot := mesh.Join(table, mesh.Transform(mesh.Box(40, 40, 2), mesh.Shift(0, 0, -2)))
	within(t, "supports on a foot", estimate(t, foot, s).Kinds.Support, under*20*0.2, 2e-3)
	// Slopes at the limit need none, steeper overhangs do.
	cone := func(out float64) *mesh.Mesh {
		return mesh.Lathe([][2]float64{{0, 0}, {5, 0}, {5 + out, 10}, {0, 10}}, 96)
	}
	if k := estimate(t, cone(10), s).Kinds; k.Support != 0 {
		t.Errorf("45 degrees: %v", k)
	}
	if k := estimate(t, cone(12), s).Kinds; k.Support < 100 {
		t.Errorf("50 degrees: %v", k)
	}
	s.SupportAngle = 55
	if k := estimate(t, cone(12), s).Kinds; k.Support != 0 {
		t.Errorf("50 degrees with a limit of 55: %v", k)
	}
}

func TestMassAndLength(t *testing.T) {
	// Hand calculation: the cube's 2819.4064 mm3 are 1.17217 m of 1.75 mm filament and 3.4961 g of PLA.
	e := Estimate{Plastic: 2819.4064, Basis: Model}
	e.weigh(plain.filled())
	within(t, "grams", e.Grams, 3.4961, 1e-4)
	within(t, "metres", e.Metres, 1.17217, 1e-5)
	if e.GramsLow >= e.Grams || e.GramsHigh <= e.Grams || e.GramsLow < 0.85*e.Grams {
		t.Errorf("band %g to %g around %g", e.GramsLow, e.GramsHigh, e.Grams)
	}
	// Metres a kilogram as printed in filament tables (327.4 and 123.4 for PETG, 150.7 for ABS) and as
	// computed there for the others.
	for _, c := range []struct {
		material       string
		diameter, want float64
	}{
		{"PETG", 1.75, 327.4}, {"PETG", 2.85, 123.4}, {"ABS", 2.85, 150.7}, {"PLA", 1.75, 335.3}, {"PLA", 2.85, 126.4},
		{"abs", 1.75, 399.8}, {"ASA", 1.75, 388.6}, {"TPU", 1.75, 343.6}, {"PA6", 1.75, 364.7}, {"PC", 1.75, 346.5},
		{"pet-g", 1.75, 327.4},
	} {
		f, ok := FilamentOf(c.material)
		if got := MetresPerKilo(f.Density, c.diameter); !ok || math.Abs(got-c.want) > 0.05 {
			t.Errorf("%s %g: %.2f m/kg, want %.1f", c.material, c.diameter, got, c.want)
		}
	}
	if _, ok := FilamentOf("unobtainium"); ok {
		t.Error("a material that does not exist")
	}
}

func TestMeasuredAndScaled(t *testing.T) {
	e := Measured(1172.17, 100, 50, plain)
	within(t, "grams", e.Grams, 3.4961, 1e-4)
	if e.Basis != Toolpath || e.Layers != 50 || e.Seconds != 100 || len(e.Kinds.Map()) != 0 {
		t.Errorf("got %+v", e)
	}
	c := estimate(t, mesh.Box(10, 10, 10), plain)
	d := c.Scaled(1.1, 0.03, 1.5, 0.2, "5 prints")
	within(t, "grams", d.Grams, 1.1*c.Grams, 1e-12)
	within(t, "high", d.GramsHigh, 1.1*c.Grams*1.03, 1e-12)
	within(t, "low seconds", d.SecondsLow, 1.5*c.Seconds*0.8, 1e-12)
	within(t, "kinds", d.Kinds.Sum(), d.Plastic, 1e-12)
	if d.Basis != Calibrated || !strings.Contains(d.Band, "5 prints") {
		t.Errorf("got %+v", d)
	}
}

func TestFaultyMeshes(t *testing.T) {
	cube := mesh.Box(20, 20, 20)
	want := estimate(t, cube, plain)
	// Two cubes that overlap by half: their union is printed, once.
	both := mesh.Join(cube, mesh.Transform(cube, mesh.Shift(10, 0, 0)))
	union := estimate(t, mesh.Box(30, 20, 20), plain)
	got := estimate(t, both, plain)
	within(t, "section of the union", got.Section, union.Section, 2e-3)
	if len(got.Notes) != 1 || !strings.Contains(got.Notes[0], "overlap") {
		t.Errorf("notes %q", got.Notes)
	}
	// One triangle missing in a side: no layer closes there, and it says so.
	torn := &mesh.Mesh{Vertices: both.Vertices, Triangles: append([][3]uint32(nil), cube.Triangles...)}
	for i, c := range torn.Triangles {
		z := cube.Vertices[c[0]][2] + cube.Vertices[c[1]][2] + cube.Vertices[c[2]][2]
		if z != 0 && z != 60 {
			torn.Triangles = append(torn.Triangles[:i:i], torn.Triangles[i+1:]...)
			break
		}
	}
	if _, err := Part(torn, plain, DefaultMachine()); !errors.Is(err, ErrNoSection) {
		t.Errorf("torn cube: %v", err)
	}
	half := mesh.Join(torn, mesh.Transform(cube, mesh.Shift(40, 0, 0)))
	got = estimate(t, half, plain)
	within(t, "torn and whole", got.Plastic, want.Plastic, 1e-3)
	if len(got.Notes) != 1 || !strings.Contains(got.Notes[0], "do not close") {
		t.Errorf("notes %q", got.Notes)
	}
	for name, m := range map[string]*mesh.Mesh{
		"empty":    {},
		"no faces": {Vertices: cube.Vertices},
		"flat":     {Vertices: [][3]float32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, Triangles: [][3]uint32{{0, 1, 2}}},
		"not finite": {Vertices: [][3]float32{{float32(math.NaN()), 0, 0}, {float32(math.Inf(1)), 0, 0}, {0, float32(math.NaN()), 0}},
			Triangles: [][3]uint32{{0, 1, 2}}},
	} {
		if _, err := Part(m, plain, DefaultMachine()); !errors.Is(err, ErrNoSection) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Part(mesh.Box(10, 10, 10_000), plain, DefaultMachine()); err == nil || !strings.Contains(err.Error(), "millimetres") {
		t.Errorf("10 m high: %v", err)
	}
}

// Sizes far from a desktop printer's: no panic, no large memory, still the right order.
func TestOddSizes(t *testing.T) {
	for _, m := range []*mesh.Mesh{
		mesh.Box(0.1, 0.1, 1), mesh.Box(3000, 0.5, 1), mesh.Box(1, 2000, 1), mesh.Box(1e6, 1e6, 1), mesh.Box(1e20, 1e20, 1),
		mesh.Transform(mesh.Box(10, 10, 1), mesh.Shift(1e5, -1e5, 1e4)),
	} {
		s := plain
		s.Infill = 1
		e, err := Part(m, s, DefaultMachine())
		if err != nil {
			t.Errorf("%v: %v", m.Vertices[7], err)
			continue
		}
		p, q := m.Vertices[0], m.Vertices[len(m.Vertices)-1]
		want := math.Abs(float64(q[0]-p[0]) * float64(q[1]-p[1]) * float64(q[2]-p[2]))
		within(t, fmt.Sprint(q), e.Plastic, want, 0.01)
	}
}

func TestSettingsOutOfRange(t *testing.T) {
	m := mesh.Box(10, 10, 10)
	for want, change := range map[string]func(*Settings, *Machine){
		"layer 20":         func(s *Settings, _ *Machine) { s.Layer = 20 },
		"layer 0":          func(s *Settings, _ *Machine) { s.Layer = 0 },
		"layer NaN":        func(s *Settings, _ *Machine) { s.Layer = math.NaN() },
		"line":             func(s *Settings, _ *Machine) { s.Line = -1 },
		"walls":            func(s *Settings, _ *Machine) { s.Walls = 1000 },
		"infill 1500":      func(s *Settings, _ *Machine) { s.Infill = 15 },
		"solid top":        func(s *Settings, _ *Machine) { s.SolidTop = -1 },
		"brim":             func(s *Settings, _ *Machine) { s.Brim = 1e9 },
		"no density known": func(s *Settings, _ *Machine) { s.Material = "wood" },
		"density 1240":     func(s *Settings, _ *Machine) { s.Density = 1240 },
		"acceleration":     func(_ *Settings, m *Machine) { m.Acceleration = -5 },
		"outline speed":    func(_ *Settings, m *Machine) { m.Outline = math.Inf(1) },
		"minimum layer":    func(_ *Settings, m *Machine) { m.MinLayer = -1 },
	} {
		s, mc := plain, DefaultMachine()
		change(&s, &mc)
		if _, err := Part(m, s, mc); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q, got %v", want, err)
		}
	}
	if got := fmt.Sprint(plain.Map()); !strings.Contains(got, "infill:15 ") || !strings.Contains(got, "density:1.24") {
		t.Errorf("settings: %s", got)
	}
}
