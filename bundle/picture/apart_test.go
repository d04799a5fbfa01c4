package picture

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"testing"

	"dropwright/bundle/mesh"
)

// tray is a box without a lid: outer size, wall and floor of 2 mm, as a lathe of four sides turned straight.
func tray(side, height float64) *mesh.Mesh {
	r := side / math.Sqrt2
	in := r - 2*math.Sqrt2
	m := mesh.Lathe([][2]float64{{0, 0}, {r, 0}, {r, height}, {in, height}, {in, 2}, {0, 2}}, 4)
	sin, cos := math.Sincos(math.Pi / 4)
	return mesh.Transform(m, mesh.Matrix{{cos, -sin, 0, 0}, {sin, cos, 0, 0}, {0, 0, 1, 0}})
}

func at(m *mesh.Mesh, x, y, z float64) Body {
	return Body{Mesh: m, Place: mesh.Shift(x, y, z)}
}

func TestExplode(t *testing.T) {
	box := func(x, y, z float64) *mesh.Mesh { return mesh.Box(x, y, z) }
	up, down, left := vec{0, 0, 1}, vec{0, 0, -1}, vec{-1, 0, 0}
	cases := []struct {
		name   string
		bodies []Body
		want   []vec
	}{
		{"lid on a tray", []Body{{Mesh: tray(40, 20)}, at(box(40, 40, 2), -20, -20, 20)}, []vec{{}, up}},
		{"lid with a lip", []Body{{Mesh: tray(40, 20)}, at(mesh.Join(mesh.Transform(box(40, 40, 2), mesh.Shift(0, 0, 4)), mesh.Transform(box(35, 35, 4), mesh.Shift(2.5, 2.5, 0))), -20, -20, 16)}, []vec{{}, up}},
		{"block in a tray", []Body{{Mesh: tray(40, 20)}, at(box(10, 10, 5), -5, -5, 2)}, []vec{{}, up}},
		{"block below a tray turned over", []Body{{Mesh: tray(40, 20), Place: mesh.Matrix{{1, 0, 0, 0}, {0, -1, 0, 0}, {0, 0, -1, 20}}}, at(box(10, 10, 5), -5, -5, 0)}, []vec{{}, down}},
		{"plate at a side", []Body{at(box(40, 40, 40), 0, 0, 0), at(box(2, 30, 30), -2, 5, 5)}, []vec{{}, left}},
		{"feet", []Body{at(box(60, 60, 30), 0, 0, 10), at(box(8, 8, 10), 0, 0, 0), at(box(8, 8, 10), 52, 52, 0)}, []vec{{}, down, down}},
		// The block cannot leave before the lid: the lid goes farther than the block.
		{"block under a lid", []Body{{Mesh: tray(40, 20)}, at(box(10, 10, 5), -5, -5, 2), at(box(40, 40, 2), -20, -20, 20)}, []vec{{}, up, up}},
		{"what stays", []Body{at(box(40, 40, 2), 0, 0, 20), {Mesh: box(40, 40, 20), Keep: true}}, []vec{up, {}}},
		{"the way that was asked for", []Body{at(box(40, 40, 40), 0, 0, 0), {Mesh: box(5, 5, 5), Place: mesh.Shift(10, 10, 40), Away: left}}, []vec{{}, left}},
		// A nut in the far wall of a tray comes into the tray, not through its near wall.
		{"nut from inside", []Body{{Mesh: tray(60, 20)}, {Mesh: Ring(5.5, 3, 2.4, true), Place: Along(vec{28, 0, 10}, vec{-1, 0, 0}), Away: left}}, []vec{{}, left}},
		{"one", []Body{{Mesh: box(1, 1, 1)}}, []vec{{}}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			moves := Explode(c.bodies, 3)
			for i, m := range moves {
				if d := sub(unit(m), c.want[i]); length(d) > 1e-9 {
					t.Errorf("body %d goes %v, want %v", i, m, c.want[i])
				}
			}
			for i := range c.bodies {
				if c.name == "nut from inside" {
					if b := boundOf(c.bodies[1].Moved(moves[1])); b.low[0] < -28 || b.high[0] > 28 {
						t.Errorf("the nut is at %v", b)
					}
					continue
				}
				for k := range i {
					if a, b := boundOf(c.bodies[i].Moved(moves[i])), boundOf(c.bodies[k].Moved(moves[k])); touch(a, b) {
						t.Errorf("bodies %d and %d still touch: %v %v", k, i, a, b)
					}
				}
			}
		})
	}
	m := Explode(cases[6].bodies, 3)
	if block, lid := 2+5+m[1][2], 20+m[2][2]; lid < block+3-1e-6 {
		t.Errorf("lid from %g, block up to %g", lid, block)
	}
}

func touch(a, b bound) bool {
	for k := range 3 {
		if a.high[k] <= b.low[k]+1e-6 || b.high[k] <= a.low[k]+1e-6 {
			return false
		}
	}
	return true
}

// TestApartRandom: whatever the heap, bodies come apart, the same way every time.
func TestApartRandom(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 40 {
		var bodies []Body
		for range 2 + r.IntN(6) {
			bodies = append(bodies, at(mesh.Box(1+20*r.Float64(), 1+20*r.Float64(), 1+20*r.Float64()), 30*r.Float64(), 30*r.Float64(), 30*r.Float64()))
		}
		moves := Explode(bodies, 1)
		for i, m := range Explode(bodies, 1) {
			if m != moves[i] {
				t.Fatal("another way the second time")
			}
			for k := range i {
				if touch(boundOf(bodies[i].Moved(m)), boundOf(bodies[k].Moved(moves[k]))) {
					t.Errorf("bodies %d and %d of %d still touch", k, i, len(bodies))
				}
			}
		}
		if n := len(Apart(bodies, moves, 0.1)); n < len(bodies) {
			t.Errorf("%d bodies of %d left", n, len(bodies))
		}
	}
}

func TestContact(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 40 {
		var bodies []Body
		for range 1 + r.IntN(12) {
			bodies = append(bodies, at(mesh.Box(1+40*r.Float64(), 1+20*r.Float64(), 1+20*r.Float64()), 100*r.NormFloat64(), 100*r.NormFloat64(), 100*r.NormFloat64()))
		}
		out := Contact(bodies, 2, 1.5)
		for i, b := range out {
			x := boundOf(b)
			if math.Abs(x.low[2]) > 1e-4 {
				t.Errorf("body %d stands at %g", i, x.low[2])
			}
			for k := range i {
				o := boundOf(out[k])
				if x.low[0] < o.high[0]+2-1e-3 && o.low[0] < x.high[0]+2-1e-3 && x.low[1] < o.high[1]+2-1e-3 && o.low[1] < x.high[1]+2-1e-3 {
					t.Errorf("bodies %d and %d are nearer than 2 mm", k, i)
				}
			}
		}
		for _, b := range Beside(out, bodies[:1]) {
			if x := boundOf(b); touch(x, boundOf(out[0])) || math.Abs(x.low[2]) > 1e-4 {
				t.Error("what lies beside the scene touches it")
			}
		}
	}
}

// TestStand: the face that is named looks down, and nothing is mirrored.
func TestStand(t *testing.T) {
	for face, n := range map[string]vec{"+x": {1, 0, 0}, "-x": {-1, 0, 0}, "+y": {0, 1, 0}, "-y": {0, -1, 0}, "+z": {0, 0, 1}, "-z": {0, 0, -1}, "": {0, 0, -1}} {
		m := Stand(face)
		if got := m.Apply(n); got != (vec{0, 0, -1}) {
			t.Errorf("%s looks to %v", face, got)
		}
		if d := m.Det(); d != 1 {
			t.Errorf("%s: determinant %g", face, d)
		}
	}
}

// TestHardware holds volumes against those of the bodies of revolution, with the area of a regular polygon of n sides
// for that of a circle, n/2 r2 sin(2 pi/n).
func TestHardware(t *testing.T) {
	circle := func(n, d float64) float64 { return n / 2 * d * d / 4 * math.Sin(2*math.Pi/n) }
	cases := []struct {
		name string
		m    *mesh.Mesh
		want float64
	}{
		// M3x16 of ISO 4762: head 5.5 x 3; the chamfer of 0.375 takes a ring of about 1.2 mm3 off a hundred.
		{"socket screw", Screw{Diameter: 3, Length: 16, HeadDiameter: 5.5, HeadHeight: 3}.Mesh(), circle(roundSides, 3)*16 + circle(roundSides, 5.5)*3 - 1.24},
		{"with its socket", Screw{Diameter: 3, Length: 16, HeadDiameter: 5.5, HeadHeight: 3, Recess: 2.5, RecessDepth: 1.3}.Mesh(), circle(roundSides, 3)*16 + circle(roundSides, 5.5)*3 - circle(roundSides, 2.5)*1.3 - 1.24},
		{"washer", Ring(7, 3.2, 0.5, false), (circle(48, 7) - circle(48, 3.2)) * 0.5},
		{"magnet", Ring(6, 0, 3, false), circle(48, 6) * 3},
		// A hexagon 5.5 across flats has the area sqrt(3)/2 * 5.5^2.
		{"nut", Ring(5.5, 3, 2.4, true), (math.Sqrt(3)/2*5.5*5.5 - circle(48, 3)) * 2.4},
	}
	for _, c := range cases {
		rep, _ := mesh.Inspect(mesh.Merge(c.m))
		if rep.Volume == nil || math.Abs(*rep.Volume-c.want) > 0.01*c.want {
			t.Errorf("%s: not %.2f mm3", c.name, c.want)
		}
		if len(rep.Faults) > 0 {
			t.Errorf("%s: %v", c.name, rep.Faults)
		}
	}
	// A countersunk head is part of the length.
	b := boundOf(Body{Mesh: Screw{Diameter: 3, Length: 10, HeadDiameter: 5.6, HeadHeight: 1.65, Countersunk: true}.Mesh()})
	if math.Abs(b.high[2]) > 1e-6 || math.Abs(b.low[2]+10) > 1e-6 {
		t.Errorf("countersunk from %g to %g, want 0 to -10", b.high[2], b.low[2])
	}
	for name, m := range map[string]*mesh.Mesh{"no length": Screw{Diameter: 3}.Mesh(), "bore": Ring(3, 4, 1, false), "infinite": Ring(math.Inf(1), 0, 1, false), "NaN": Screw{Diameter: math.NaN(), Length: 1}.Mesh()} {
		if len(m.Triangles) > 0 {
			t.Errorf("%s makes a solid", name)
		}
	}
}

func TestAlong(t *testing.T) {
	for _, d := range []vec{{0, 0, 1}, {0, 0, -1}, {1, 0, 0}, {-3, 0, 0}, {0, 1, 0}, {1, 2, 3}, {}} {
		m := Along(vec{1, 2, 3}, d)
		want := unit(d)
		if want == (vec{}) {
			want = vec{0, 0, 1}
		}
		if got := sub(m.Apply(vec{0, 0, 1}), vec{1, 2, 3}); length(sub(got, want)) > 1e-12 || math.Abs(m.Det()-1) > 1e-12 {
			t.Errorf("%v: z goes to %v, determinant %g", d, got, m.Det())
		}
	}
}

// TestPaper: what is read back is the picture on white, with its white and its ink untouched.
func TestPaper(t *testing.T) {
	img := render(t, []Body{{Mesh: mesh.Torus(30, 10, 90, 60), Colour: clay, Line: 2, Number: 7}, {Mesh: mesh.Sphere(9, 40, 30), Colour: Colour{40, 120, 200}, Line: 1}}, View{}, small)
	data, err := Paper(img)
	if err != nil {
		t.Fatal(err)
	}
	back, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	p, ok := back.(*image.Paletted)
	if !ok || len(p.Palette) > 256 {
		t.Fatalf("%T, not indexed", back)
	}
	worst := 0.0
	for y := range 400 {
		for x := range 400 {
			a, b := img.NRGBAAt(x, y), color.NRGBAModel.Convert(p.At(x, y)).(color.NRGBA)
			if a.A == 0 && b != White.rgba() || a == Ink.rgba() && b != a {
				t.Fatalf("%d, %d: %v became %v", x, y, a, b)
			}
			for k, v := range [3]uint8{a.R, a.G, a.B} {
				want := (float64(v)*float64(a.A) + 255*(255-float64(a.A))) / 255
				worst = math.Max(worst, math.Abs(want-float64([3]uint8{b.R, b.G, b.B}[k])))
			}
		}
	}
	if worst > 24 {
		t.Errorf("a colour is %.0f off", worst)
	}
	if empty, err := Paper(image.NewNRGBA(image.Rect(0, 0, 3, 2))); err != nil || len(empty) == 0 {
		t.Errorf("an empty picture: %v", err)
	}
	if len(data) > 30_000 {
		t.Errorf("%d bytes", len(data))
	}
	full, err := PNG(img)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := png.Decode(bytes.NewReader(full))
	if err != nil {
		t.Fatal(err)
	}
	if got, ok := whole.(*image.NRGBA); !ok || !bytes.Equal(got.Pix, img.Pix) {
		t.Error("PNG changes the picture")
	}
}

// TestNumbers: each number has its circle, none lies over another, and a line leads into its body.
func TestNumbers(t *testing.T) {
	for _, n := range []int{1, 2, 5, 12} {
		var bodies []Body
		for i := range n {
			bodies = append(bodies, Body{Mesh: mesh.Box(8, 8, 8), Place: mesh.Shift(float64(i%4)*12, float64(i/4)*12, 0), Colour: clay, Line: 1, Number: i + 1})
		}
		without := make([]Body, n)
		for i, b := range bodies {
			b.Number = 0
			without[i] = b
		}
		o := Options{Width: 600, Height: 450, Margin: 10}
		img := render(t, bodies, View{}, o)
		white := 0
		for _, x := range []int{int(o.Margin + radiusOf(o)), 600 - int(o.Margin+radiusOf(o))} {
			in := false
			for y := range 450 {
				p := img.NRGBAAt(x, y)
				if p.A > 200 && !in {
					white++
				}
				in = p.A > 200
			}
		}
		if white != n {
			t.Errorf("%d circles for %d numbers", white, n)
		}
		if bytes.Equal(img.Pix, render(t, without, View{}, o).Pix) {
			t.Error("numbers do not show")
		}
	}
	if got := digitsOf(1050); len(got) != 4 || got[0] != 1 || got[3] != 0 {
		t.Errorf("digits of 1050: %v", got)
	}
}

func TestParseColour(t *testing.T) {
	if c, ok := ParseColour("#8a5A44"); !ok || c != clay {
		t.Errorf("%v %v", c, ok)
	}
	for _, s := range []string{"", "8a5a44", "#8a5a4", "#8a5a444", "#8a5a4g", "#-a5a44", "#+a5a44"} {
		if _, ok := ParseColour(s); ok {
			t.Errorf("%q passed", s)
		}
	}
	if got := clay.Mix(White, 1); got != White {
		t.Errorf("all white: %v", got)
	}
}
