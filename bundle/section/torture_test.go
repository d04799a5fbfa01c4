package section

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"dropwright/bundle/mesh"
)

// readSTL reads a binary STL: 84 bytes, then 50 for each triangle.
func readSTL(t testing.TB, name string) *mesh.Mesh {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	n := int(binary.LittleEndian.Uint32(b[80:]))
	if len(b) != 84+50*n {
		t.Fatalf("%s: %d bytes for %d triangles", name, len(b), n)
	}
	var s solid
	for i := range n {
		var p [3][3]float64
		for j := range 9 {
			p[j/3][j%3] = float64(math.Float32frombits(binary.LittleEndian.Uint32(b[84+50*i+12+4*j:])))
		}
		s.triangle(p[0], p[1], p[2])
	}
	return &s.m
}

// The accuracy that is promised: diameters 0.01 mm, depths 0.02 mm. Places are as good as depths.
const (
	tolDiameter = 0.01
	tolDepth    = 0.02
)

// wanted describes one thing of a census as its designer typed it.
type wanted struct {
	what   string // kind, or "sealed", "boss", "opening", "pocket"
	axis   [3]float64
	d      float64 // for openings the first side
	n      int     // sides; for openings 0
	centre [3]float64
	depth  float64
	ends   string // mouths at From and To, by first letters
	sinks  []Sink // Angle and Length are not compared when 0
	side   float64
}

var ex, ey, ez = [3]float64{1, 0, 0}, [3]float64{0, 1, 0}, [3]float64{0, 0, 1}

// torture lists testdata/torture.scad by hand.
func torture() []wanted {
	var w []wanted
	z := func(what string, x, y, lo, hi, d float64, n int, ends string, sinks ...Sink) {
		w = append(w, wanted{what, ez, d, n, [3]float64{x, y, (lo + hi) / 2}, hi - lo, ends, sinks, 0})
	}
	for i, n := range []int{8, 12, 16, 24, 32, 48, 64, 96} {
		z(Round, 8+10*float64(i), 52, 0, 8, 3.2, n, "oo")
	}
	z(Round, 90, 52, 0, 8, 3, 5, "oo")
	z(Round, 100, 52, 0, 8, 4, 7, "oo")
	z(Hexagon, 10, 40, 5.6, 8, 5.5, 6, "no")
	z(Round, 10, 40, 0, 5.6, 3.4, 32, "oo")
	z(Hexagon, 22, 40, 0, 3, 5.5, 6, "oc")
	z(Round, 34, 40, 3, 8, 2.5, 24, "co")
	z(Round, 44, 40, 0, 6, 4.2, 40, "oc")
	z("sealed", 54, 40, 2, 6, 5, 32, "cc")
	z(Round, 68, 40, 0, 8, 3.2, 32, "oo",
		Sink{Kind: Counterbore, Diameter: 5.5, Depth: 4, Length: 2, AtTo: true},
		Sink{Kind: Counterbore, Diameter: 8, Depth: 2, Length: 2, AtTo: true})
	z(Round, 82, 40, 0, 8, 3.4, 48, "oo", Sink{Kind: Countersink, Diameter: 6.4, Depth: 1.5, Length: 1.5, Angle: 90, AtTo: true})
	z(Round, 96, 40, 0, 8, 3.4, 32, "oo", Sink{Kind: Counterbore, Diameter: 6.4, Depth: 3, Length: 3})
	w = append(w,
		wanted{Round, ex, 3, 32, [3]float64{12.5, 30, 4}, 25, "oc", nil, 0},
		wanted{Round, ey, 2.8, 24, [3]float64{112, 5, 4}, 10, "oc", nil, 0},
		wanted{Round, ey, 2, 20, [3]float64{76, 4, 4}, 8, "oo", nil, 0}, // ends in the middle of the 4 mm hole, see below
	)
	tilt := 15 * math.Pi / 180
	w = append(w,
		wanted{Round, [3]float64{math.Sin(tilt), 0, math.Cos(tilt)}, 3.2, 32, [3]float64{20, 14, 4}, 8 / math.Cos(tilt), "oo", nil, 0},
		wanted{Round, [3]float64{0, -math.Sqrt2 / 2, math.Sqrt2 / 2}, 7, 48, [3]float64{40, 12, 4}, 8 * math.Sqrt2, "oo", nil, 0},
	)
	z(Round, 60, 10, 4, 8, 4, 36, "co")
	z(Round, 76, 10, 0, 8, 4, 36, "oo")
	z(Round, 108, 26, 11, 16, 2.5, 24, "co")
	z("boss", 104, 12, 8, 14, 5, 32, "co")
	z("boss", 108, 26, 8, 16, 7, 48, "co")
	z("boss", 92, 10, 6, 8, 5, 48, "co")
	open := func(what string, x, y, lo, hi, a, b float64, ends string) {
		w = append(w, wanted{what, ez, a, 0, [3]float64{x, y, (lo + hi) / 2}, hi - lo, ends, nil, b})
	}
	open("opening", 44, 26, 0, 8, 12, 4, "oo")
	open("opening", 63, 26, 0, 8, 6, 6, "oo")
	// The round ends have 32 sides, of which one lies across the slot's length.
	open("opening", 76, 26, 0, 8, 11, 3, "oo")
	open("opening", 91.6, 26, 0, 8, 5.2, 6, "oo")
	open("pocket", 92, 10, 6, 8, 9, 9, "co")
	return w
}

// found brings a census into the same form.
func found(c Census) []wanted {
	letters := func(a, b End) string { return a.Mouth.String()[:1] + b.Mouth.String()[:1] }
	var w []wanted
	hole := func(what string, h Hole) {
		w = append(w, wanted{what, h.Axis, h.Diameter, h.Corners, h.Centre, h.Depth, letters(h.From, h.To), h.Sinks, 0})
	}
	for _, h := range c.Holes {
		hole(h.Kind, h)
	}
	for _, h := range c.Sealed {
		hole("sealed", h)
	}
	for _, b := range c.Bosses {
		w = append(w, wanted{"boss", b.Axis, b.Diameter, b.Corners, b.Centre, b.Height, letters(b.From, b.To), nil, 0})
	}
	for what, list := range map[string][]Opening{"opening": c.Openings, "pocket": c.Pockets} {
		for _, o := range list {
			w = append(w, wanted{what, o.Axis, o.Size[0], 0, o.Centre, o.Depth, letters(o.From, o.To), nil, o.Size[1]})
		}
	}
	return w
}

func near(a, b [3]float64, tol float64) bool {
	d := minus(a, b)
	return dot(d, d) <= tol*tol
}

func (w *wanted) matches(g *wanted) bool {
	if w.what != g.what || !near(w.axis, g.axis, 1e-3) || !near(w.centre, g.centre, tolDepth) ||
		w.n != g.n || math.Abs(w.depth-g.depth) > tolDepth || w.ends != g.ends || len(w.sinks) != len(g.sinks) {
		return false
	}
	tol := tolDiameter
	if w.n == 0 {
		tol = 2 * tolDepth // an opening is measured by its outline, a groove of 48 sides as a square around it
	}
	if math.Abs(w.d-g.d) > tol || math.Abs(w.side-g.side) > tol {
		return false
	}
	for i, s := range w.sinks {
		r := g.sinks[i]
		if s.Kind != r.Kind || s.AtTo != r.AtTo || math.Abs(s.Diameter-r.Diameter) > tolDiameter || math.Abs(s.Depth-r.Depth) > tolDepth ||
			math.Abs(s.Length-r.Length) > tolDepth || math.Abs(s.Angle-r.Angle) > 0.5 {
			return false
		}
	}
	return true
}

// differences pairs what is wanted with what was found and tells what is left on either side.
func differences(want, got []wanted) (out []string) {
	got = slices.Clone(got)
	for _, w := range want {
		i := slices.IndexFunc(got, func(g wanted) bool { return w.matches(&g) })
		if i < 0 {
			out = append(out, fmt.Sprintf("missing %+v", w))
			continue
		}
		got = slices.Delete(got, i, i+1)
	}
	for _, g := range got {
		out = append(out, fmt.Sprintf("invented %+v", g))
	}
	return out
}

func census(t testing.TB, m *mesh.Mesh, opt Options) Census {
	t.Helper()
	c, err := Holes(m, opt)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func expect(t *testing.T, what string, m *mesh.Mesh, want []wanted) {
	t.Helper()
	if d := differences(want, found(census(t, m, Options{}))); len(d) > 0 {
		t.Errorf("%s:\n%s", what, strings.Join(d, "\n"))
	}
}

// The plate is made by OpenSCAD, an independent source of the mesh; what must be found was read off
// the script by hand.
func TestTorturePlate(t *testing.T) {
	m := readSTL(t, "testdata/torture.stl")
	want := torture()
	expect(t, "as exported", m, want)
	expect(t, "shuffled", shuffled(m, 1), want)
	expect(t, "subdivided", subdivided(m), want)
	// A hole drawn 0.05 too wide in radius must be noticed, as must one too many or too few.
	wrong := torture()
	wrong[3].d += 0.1
	if d := differences(wrong, found(census(t, m, Options{}))); len(d) != 2 {
		t.Errorf("a wrong radius gives %d differences, want 2: %v", len(d), d)
	}
	// Pairs for a nut: the hexagon and its screw hole share a group, and nobody else is in it.
	c := census(t, m, Options{})
	for _, h := range c.Holes {
		if h.Kind != Hexagon {
			continue
		}
		mates := 0
		for _, o := range c.Holes {
			if o.Group == h.Group && o.Kind == Round && near(o.To.At, h.From.At, 1e-3) {
				mates++
			}
		}
		if want := map[Mouth]int{Narrowed: 1, Open: 0}[h.From.Mouth]; mates != want {
			t.Errorf("hexagon at %v has %d screw holes in its floor, want %d", h.Centre, mates, want)
		}
	}
}

// What passes a hole of N sides drawn with diameter D is D·cos(π/N). The values for D 3.2 were
// computed by hand calculator.
func TestPasses(t *testing.T) {
	c := census(t, readSTL(t, "testdata/torture.stl"), Options{})
	want := map[int]float64{8: 2.9564, 12: 3.0910, 16: 3.1385, 24: 3.1726, 32: 3.1846, 48: 3.1931, 64: 3.1961, 96: 3.1983}
	for _, h := range c.Holes {
		if h.Centre[1] != 52 && math.Abs(h.Centre[1]-52) > 1e-3 || h.Corners < 8 {
			continue
		}
		if math.Abs(h.Passes-want[h.Corners]) > 1e-3 {
			t.Errorf("%d sides: passes %v, want %v", h.Corners, h.Passes, want[h.Corners])
		}
		delete(want, h.Corners)
	}
	if len(want) != 0 {
		t.Errorf("not seen: %v", want)
	}
}

// Axes exchanged, moved, in another order and with another number of workers: the same things.
func TestCensusIsInvariant(t *testing.T) {
	m := readSTL(t, "testdata/torture.stl")
	roll := func(p [3]float64) [3]float64 { return [3]float64{p[2], p[0], p[1]} }
	want := torture()
	turned := m
	for range 2 {
		turned = rolled(turned)
		for i := range want {
			want[i].axis, want[i].centre = roll(want[i].axis), roll(want[i].centre)
			if f, _ := Along(want[i].axis); !near(f.W, want[i].axis, 1e-3) {
				// The axis of a tilted hole points up again after the turn.
				want[i].axis = f.W
				want[i].ends = want[i].ends[1:] + want[i].ends[:1]
			}
		}
		expect(t, "rolled", turned, want)
	}
	moved := &mesh.Mesh{Triangles: m.Triangles}
	for _, p := range m.Vertices {
		moved.Vertices = append(moved.Vertices, [3]float32{p[0] - 61.37, p[1] + 13.7, p[2] + 0.113})
	}
	want = torture()
	for i := range want {
		want[i].centre = minus(want[i].centre, [3]float64{61.37, -13.7, -0.113})
	}
	expect(t, "moved", moved, want)
	one, three := census(t, m, Options{Workers: 1}), census(t, m, Options{Workers: 3})
	if !reflect.DeepEqual(one, three) {
		t.Error("one and three workers differ")
	}
	other := census(t, shuffled(m, 2), Options{})
	for i, h := range other.Holes {
		if g := one.Holes[i]; g.Kind != h.Kind || !near(g.Centre, h.Centre, 1e-3) || g.Group != h.Group {
			t.Errorf("hole %d is %v in one order of facets and %v in another", i, g, h)
		}
	}
}

// Turned anyhow, all holes of the plate are tilted ones. Posts and openings are looked for along the
// main axes only.
func TestHolesOfTheTurnedPlate(t *testing.T) {
	m := readSTL(t, "testdata/torture.stl")
	other := func(w wanted) bool { return w.what != Round && w.what != Hexagon && w.what != "sealed" }
	for _, a := range [][2]float64{{20, 30}, {7, 0}, {45, 45}, {0, 90.5}} {
		want := slices.DeleteFunc(torture(), other)
		for i := range want {
			w := &want[i]
			w.axis, w.centre = spin(w.axis, a[0], a[1]), spin(w.centre, a[0], a[1])
			if f, _ := Along(w.axis); !near(f.W, w.axis, 1e-3) {
				w.axis, w.ends = f.W, w.ends[1:]+w.ends[:1]
				w.sinks = slices.Clone(w.sinks)
				for j := range w.sinks {
					w.sinks[j].AtTo = !w.sinks[j].AtTo
				}
			}
		}
		got := slices.DeleteFunc(found(census(t, turned(m, a[0], a[1]), Options{})), other)
		if d := differences(want, got); len(d) > 0 {
			t.Errorf("turned by %v:\n%s", a, strings.Join(d, "\n"))
		}
	}
}

// enclosure lists testdata/enclosure.scad by hand.
func enclosure() []wanted {
	var w []wanted
	at := func(what string, axis [3]float64, x, y, z, depth, d float64, n int, ends string, sinks ...Sink) {
		w = append(w, wanted{what, axis, d, n, [3]float64{x, y, z}, depth, ends, sinks, 0})
	}
	for _, x := range []float64{7, 84} {
		for _, y := range []float64{7, 55} {
			at(Round, ez, x, y, 10, 20, 3.4, 48, "oo", Sink{Kind: Counterbore, Diameter: 6.4, Depth: 3, Length: 3})
			at("boss", ez, x, y, 11, 18, 7, 64, "co")
		}
	}
	for _, x := range []float64{20, 70} {
		for _, y := range []float64{15, 47} {
			at(Round, ez, x, y, 4.5, 5, 2.5, 32, "co")
			at("boss", ez, x, y, 4.5, 5, 6, 40, "co")
		}
	}
	at(Round, ex, 1.2, 20, 12, 2.4, 3, 32, "oo")
	at(Round, ex, 1.2, 40, 12, 2.4, 3, 32, "oo")
	at(Round, ex, 89.8, 31, 14, 2.4, 4.5, 48, "oo")
	at(Round, ey, 30, 1.2, 12, 2.4, 7, 64, "oo")
	at(Round, ez, 49, 34, 1.75, 3.5, 3.2, 24, "oo")
	at(Hexagon, ez, 49, 34, 4.75, 2.5, 5.7, 6, "no")
	at(Round, ez, 60, 40, 1, 2, 5, 48, "oo", Sink{Kind: Chamfer, Diameter: 6, Depth: 0.5, Length: 0.5, Angle: 90})
	open := func(what string, axis [3]float64, x, y, z, depth, a, b float64, ends string) {
		w = append(w, wanted{what, axis, a, 0, [3]float64{x, y, z}, depth, ends, nil, b})
	}
	open("opening", ey, 54.8, 1.7, 9.8, 1.4, 3.6, 9.6, "oo")
	open("pocket", ey, 54.8, 0.5, 9.85, 1, 6.5, 12.4, "oc")
	open("opening", ey, 73, 1.2, 10, 2.4, 3.6, 9.6, "oo")
	for i := range 6 {
		open("opening", ez, 28+3*float64(i), 31.5, 1, 2, 1.6, 14.6, "oo")
	}
	return w
}

// The inside of the box is a pocket that other pockets and posts interrupt; how it is divided is of
// no interest and not compared.
func TestEnclosure(t *testing.T) {
	m := readSTL(t, "testdata/enclosure.stl")
	for what, m := range map[string]*mesh.Mesh{"as exported": m, "subdivided twice": subdivided(subdivided(m))} {
		got := slices.DeleteFunc(found(census(t, m, Options{})), func(g wanted) bool {
			return g.n == 0 && g.axis == ez && g.d > 80
		})
		for _, o := range census(t, m, Options{}).Openings {
			if o.Size[0] > 80 {
				t.Errorf("%s: the inside is taken for a window: %+v", what, o)
			}
		}
		if d := differences(enclosure(), got); len(d) > 0 {
			t.Errorf("%s:\n%s", what, strings.Join(d, "\n"))
		}
	}
}

// Noise that meshes come with must not change anything but the last digits.
func TestNoiseIsTolerated(t *testing.T) {
	m := readSTL(t, "testdata/torture.stl")
	each := func(f func(float32) float32) *mesh.Mesh {
		out := &mesh.Mesh{Triangles: m.Triangles}
		for _, p := range m.Vertices {
			out.Vertices = append(out.Vertices, [3]float32{f(p[0]), f(p[1]), f(p[2])})
		}
		return out
	}
	// Text files often have six digits; above 100 mm that is a thousandth.
	const shift = 150.25
	want := torture()
	for i := range want {
		want[i].centre = minus(want[i].centre, [3]float64{-shift, -shift, -shift})
	}
	expect(t, "six digits", each(func(x float32) float32 {
		f, err := strconv.ParseFloat(fmt.Sprintf("%.6g", float64(x)+shift), 64)
		if err != nil {
			t.Fatal(err)
		}
		return float32(f)
	}), want)
	r := rand.New(rand.NewSource(1))
	for _, size := range []float32{1e-6, 1e-5, 1e-4} {
		expect(t, fmt.Sprint("noise of ", size), each(func(x float32) float32 { return x + size*(2*r.Float32()-1) }), torture())
	}
	// T-junctions: every third triangle split in four, its neighbours not.
	split := &mesh.Mesh{}
	fine := subdivided(m)
	split.Vertices = fine.Vertices
	for i, tri := range m.Triangles {
		if i%3 == 0 {
			split.Triangles = append(split.Triangles, fine.Triangles[4*i:4*i+4]...)
		} else {
			split.Triangles = append(split.Triangles, tri)
		}
	}
	upright := func(w wanted) bool { return w.axis == ex || w.axis == ey || w.axis == ez }
	straight := slices.DeleteFunc(torture(), func(w wanted) bool { return !upright(w) })
	got := slices.DeleteFunc(found(census(t, split, Options{})), func(w wanted) bool { return !upright(w) })
	if d := differences(straight, got); len(d) > 0 {
		t.Errorf("T-junctions:\n%s", strings.Join(d, "\n"))
	}
	// Without shared vertices only places tell which triangles meet. Rings of edges cannot be seen then,
	// so the two tilted holes are missed; nothing else may be.
	loose := &mesh.Mesh{}
	for _, tri := range m.Triangles {
		n := uint32(len(loose.Vertices))
		for _, v := range tri {
			loose.Vertices = append(loose.Vertices, m.Vertices[v])
		}
		loose.Triangles = append(loose.Triangles, [3]uint32{n, n + 1, n + 2})
	}
	expect(t, "not welded", loose, straight)
}

// The meshes in testdata are what the scripts make. OpenSCAD is slow, so CI only.
func TestMeshesAreCurrent(t *testing.T) {
	ci := os.Getenv("DROPWRIGHT_CI") != ""
	if _, err := exec.LookPath("openscad"); err != nil {
		if ci {
			t.Fatal("openscad is not installed; CI needs it to make the test meshes")
		}
		t.Skip("NOT CHECKED: openscad is not installed; the meshes in testdata are taken as they are")
	}
	if !ci {
		t.Skip("NOT CHECKED: making the meshes takes a minute; set DROPWRIGHT_CI to do it")
	}
	for _, name := range []string{"torture", "enclosure"} {
		out := filepath.Join(t.TempDir(), name+".stl")
		if msg, err := exec.Command("openscad", "-o", out, "--export-format", "binstl", "testdata/"+name+".scad").CombinedOutput(); err != nil {
			t.Fatalf("openscad: %v\n%s", err, msg)
		}
		fresh, kept := found(census(t, readSTL(t, out), Options{})), found(census(t, readSTL(t, "testdata/"+name+".stl"), Options{}))
		if d := differences(kept, fresh); len(d) > 0 {
			t.Errorf("%s made afresh:\n%s", name, strings.Join(d, "\n"))
		}
	}
}

func BenchmarkCensus(b *testing.B) {
	m := readSTL(b, "testdata/enclosure.stl")
	for _, c := range []struct {
		name  string
		times int
	}{{"6k", 0}, {"1.6M", 4}} {
		for range c.times {
			m = inFileOrder(subdivided(m))
		}
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				census(b, m, Options{})
			}
			b.ReportMetric(float64(len(m.Triangles)), "triangles")
		})
		b.Run(c.name+"/sweep", func(b *testing.B) {
			for b.Loop() {
				if _, err := newSweep(m, AlongZ, 0); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(c.name+"/rings", func(b *testing.B) {
			for b.Loop() {
				allBores(m)
			}
		})
	}
}
