package picture

import (
	"bytes"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
)

// plain is an orthographic view along an axis and a picture large enough to measure in.
var (
	clay  = Colour{0x8a, 0x5a, 0x44}
	above = View{From: [3]float64{0, 0, 1}}
	small = Options{Width: 400, Height: 400, Margin: 20}
)

func render(t testing.TB, bodies []Body, v View, o Options) *image.NRGBA {
	t.Helper()
	img, err := Render(bodies, v, o)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// covered is the area that is not transparent, in pixels.
func covered(img *image.NRGBA) float64 {
	sum := 0
	for i := 3; i < len(img.Pix); i += 4 {
		sum += int(img.Pix[i])
	}
	return float64(sum) / 255
}

// TestSilhouettes compares areas with those of the projections worked out by hand. The scale follows from the
// picture: what is longest fills it less its margins.
func TestSilhouettes(t *testing.T) {
	const side = 360.0 // pixels that the longer side of the projection has
	sqrt := math.Sqrt
	cases := []struct {
		name string
		m    *mesh.Mesh
		view View
		want float64
	}{
		{"cube from above", mesh.Box(20, 20, 20), above, side * side},
		{"box from the front", mesh.Box(40, 7, 10), View{From: [3]float64{0, -1, 0}}, side * side / 4},
		// A cube along its diagonal is a regular hexagon with side s*sqrt(2/3); upright it is 2 s sqrt(2/3) high.
		{"cube along its diagonal", mesh.Box(20, 20, 20), View{From: [3]float64{1, 1, 1}}, 3 * sqrt(3) / 2 * (side / 2) * (side / 2)},
		// A polyhedron of 200 sectors: the outline is a regular 200-gon.
		{"sphere from above", mesh.Sphere(15, 200, 100), above, 100 * math.Sin(2*math.Pi/200) * (side / 2) * (side / 2)},
		{"torus from above", mesh.Torus(30, 10, 200, 100), above, 100 * math.Sin(2*math.Pi/200) * (side * side / 4) * (1 - 0.25)},
		// In perspective a sphere is a circle too; it fills the picture like any.
		{"sphere in perspective", mesh.Sphere(15, 200, 100), View{From: [3]float64{0, 0, 1}, Perspective: 40}, math.Pi * (side / 2) * (side / 2)},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			for _, samples := range []int{1, 4, 9, 16} {
				o := small
				o.Samples = samples
				got := covered(render(t, []Body{{Mesh: c.m, Colour: clay}}, c.view, o))
				// Half a sample along the outline, which is at most four sides long.
				tol := 0.5 / math.Sqrt(float64(samples)) * 4 * side / 10
				if math.Abs(got-c.want) > math.Max(tol, 0.003*c.want) {
					t.Errorf("%d samples: %.1f pixels, want %.1f", samples, got, c.want)
				}
			}
		})
	}
	// A wrong figure must not pass: the hole of the torus counts.
	got := covered(render(t, []Body{{Mesh: mesh.Torus(30, 10, 200, 100), Colour: clay}}, above, small))
	if want := math.Pi * side * side / 4; math.Abs(got-want) < 0.1*want {
		t.Errorf("torus without a hole: %.1f", got)
	}
}

// TestPerspective holds the size of the far face of a box against that of the near one: seen along z with an eye
// at distance D from the middle, faces at +h and -h are as (D+h) to (D-h).
func TestPerspective(t *testing.T) {
	m := mesh.Join(mesh.Transform(mesh.Box(10, 10, 1), mesh.Shift(0, 0, 19)), mesh.Transform(mesh.Box(10, 10, 1), mesh.Shift(30, 0, -20)))
	img := render(t, []Body{{Mesh: m, Colour: clay}}, View{From: [3]float64{0, 0, 1}, Perspective: 50}, Options{Width: 800, Height: 400, Margin: 10})
	b := boundOf(Body{Mesh: m})
	d := b.diagonal() / 2 / math.Sin(25*math.Pi/180)
	// Tops lie at 20 and -19, the middle of the box at 0.
	want := (d + 19) / (d - 20)
	row := 0
	var runs []int
	for y := range img.Rect.Dy() {
		var now []int
		n := 0
		for x := range img.Rect.Dx() + 1 {
			if x < img.Rect.Dx() && img.Pix[img.PixOffset(x, y)+3] > 127 {
				n++
			} else if n > 0 {
				now = append(now, n)
				n = 0
			}
		}
		if len(now) == 2 && now[0] > row {
			row, runs = now[0], now
		}
	}
	if len(runs) != 2 {
		t.Fatal("two squares beside one another expected")
	}
	// The sides of the plates show beside their tops by at most the height of one.
	if got := float64(runs[0]) / float64(runs[1]); math.Abs(got-want) > 0.07*want {
		t.Errorf("near to far as %.3f, want %.3f", got, want)
	}
}

// TestFillOnce: of the triangles that share the corners of a square each sample gets exactly one, whatever the order.
func TestFillOnce(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		mid := point{float32(1 + 30*r.Float64()), float32(1 + 30*r.Float64()), 0}
		if r.IntN(3) == 0 { // on a sample
			mid.x, mid.y = float32(math.Round(float64(mid.x))), float32(math.Round(float64(mid.y)))
		}
		corners := [4]point{{0, 0, 0}, {32, 0, 0}, {32, 32, 0}, {0, 32, 0}}
		count := make([]int, 32*32)
		for k := range 4 {
			var c canvas
			c.reset(span{0, 32}, 32)
			f := facet{c: 1}
			c.fill(0, &f, corners[k], mid, corners[(k+1)%4])
			for i, id := range c.ids {
				if id != nothing {
					count[i]++
				}
			}
		}
		for i, n := range count {
			if n != 1 {
				t.Fatalf("sample %d, %d is in %d triangles around %v", i%32, i/32, n, mid)
			}
		}
	}
}

func TestSameBytes(t *testing.T) {
	bodies := []Body{{Mesh: mesh.Torus(30, 10, 60, 40), Colour: clay, Line: 2, Number: 1}, {Mesh: mesh.Box(40, 30, 20), Colour: Colour{30, 90, 60}, Line: 1, Number: 2}}
	var first, paper []byte
	for _, workers := range []int{0, 1, 2, 3, 8, 100} {
		img := render(t, bodies, View{}, Options{Width: 700, Height: 500, Margin: 12, Workers: workers})
		p, err := Paper(img)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first, paper = img.Pix, p
		}
		if !bytes.Equal(first, img.Pix) || !bytes.Equal(paper, p) {
			t.Errorf("%d workers draw another picture", workers)
		}
	}
}

// TestBands: a line does not depend on where the bands of rows are cut.
func TestBands(t *testing.T) {
	o := Options{Width: 300, Height: 300, Margin: 10}
	bodies := []Body{{Mesh: mesh.Sphere(10, 40, 20), Colour: clay, Line: 9}}
	whole := render(t, bodies, View{}, o)
	n, _ := o.side()
	s := &stage{camera: newCamera(bodies, View{}, o, n, 0), width: o.Width * n, height: o.Height * n, n: n}
	s.solids = []solid{newSolid(bodies[0], 0, &s.camera)}
	margin := reach(bodies, n)
	s.plan(margin)
	list := s.lists[0]
	for _, l := range s.lists[1:] {
		list = append(list, l...)
	}
	s.bands, s.lists = nil, nil
	for y := 0; y < s.height; y += 2 * n {
		s.bands, s.lists = append(s.bands, span{y, min(y+2*n, s.height)}), append(s.lists, list)
	}
	cut := image.NewNRGBA(whole.Rect)
	s.draw(cut, []stamp{newStamp(9 * float64(n))}, margin, 1)
	if !bytes.Equal(whole.Pix, cut.Pix) {
		t.Error("bands of two pixels draw another picture")
	}
}

func pixel(img *image.NRGBA, x, y int) Colour {
	p := img.Pix[img.PixOffset(x, y):]
	return Colour{p[0], p[1], p[2]}
}

// TestColours: the face that is lit best has the colour asked for, others the same hue darker; a flat body has it
// exactly.
func TestColours(t *testing.T) {
	for _, c := range []Colour{clay, {0xe3, 0xcf, 0x8a}, {0xff, 0, 0}, {0xff, 0xff, 0xff}, {0x10, 0x10, 0x12}} {
		seen := map[Colour]bool{}
		lift := 2
		if c[0] < 0x20 { // black is lifted, so that its form shows
			lift = 24
		}
		img := render(t, []Body{{Mesh: mesh.Box(30, 30, 30), Colour: c}}, View{}, small)
		for y := range 400 {
			for x := range 400 {
				if img.Pix[img.PixOffset(x, y)+3] == 255 {
					seen[pixel(img, x, y)] = true
				}
			}
		}
		near, tones := 255, map[int]bool{}
		for s := range seen {
			worst := 0
			for i := range 3 {
				worst = max(worst, int(math.Abs(float64(s[i])-float64(c[i]))))
			}
			near = min(near, worst)
			tones[int(s[0])+int(s[1])+int(s[2])] = true
			for i := range 3 {
				if int(s[i]) > int(c[i])+lift {
					t.Errorf("%v shows as %v: brighter than it is", c, s)
				}
			}
		}
		if near > max(14, lift) {
			t.Errorf("%v does not show: nearest is %d off", c, near)
		}
		if len(tones) < 3 {
			t.Errorf("%v: %d tones on three faces", c, len(tones))
		}
		flat := render(t, []Body{{Mesh: mesh.Box(30, 30, 30), Colour: c, Flat: true}}, View{}, small)
		if got := pixel(flat, 200, 200); got != c {
			t.Errorf("flat: %v, want %v", got, c)
		}
	}
}

// TestFaceTones: the three directions of a box differ enough to tell them apart in black and white.
func TestFaceTones(t *testing.T) {
	c := newCamera([]Body{{Mesh: mesh.Box(1, 1, 1)}}, View{}, small, 2, 0)
	var tones []float64
	for _, n := range []vec{{0, 0, 1}, {0, -1, 0}, {1, 0, 0}} {
		k := tone(float32(dot(n, c.right)), float32(dot(n, c.up)), float32(dot(n, c.to)))
		tones = append(tones, float64(k)/toneSteps)
	}
	if tones[0] < 0.92 {
		t.Errorf("top %.2f, want its colour", tones[0])
	}
	if tones[0]-tones[1] < 0.12 || tones[1]-tones[2] < 0.12 {
		t.Errorf("top, front, side %.2f: hard to tell apart", tones)
	}
}

// TestLines counts ink on a cube seen from Workbench: nine edges of it show.
func TestLines(t *testing.T) {
	m := mesh.Box(20, 20, 20)
	ink := func(line float64) float64 {
		with := render(t, []Body{{Mesh: m, Colour: White, Line: line}}, View{}, small)
		sum := 0.0
		for i := 0; i < len(with.Pix); i += 4 {
			// A white face is 189 or brighter: what is darker than the mean of that and ink is mostly ink.
			if with.Pix[i] < (189+0x1c)/2-8 {
				sum += float64(with.Pix[i+3]) / 255
			}
		}
		return sum
	}
	if n := ink(0); n > 0 {
		t.Errorf("no line asked for, %g pixels of ink", n)
	}
	c := newCamera([]Body{{Mesh: m}}, View{}, small, 1, 0)
	long := 0.0
	edges := 0
	for i, p := range m.Vertices {
		for _, q := range m.Vertices[i+1:] {
			d := sub(wide(p), wide(q))
			if math.Abs(length(d)-20) > 1e-6 || wide(p) == (vec{0, 20, 0}) || wide(q) == (vec{0, 20, 0}) { // at the hidden corner
				continue
			}
			x, y := dot(d, c.right)*c.scale, dot(d, c.up)*c.scale
			long += math.Hypot(x, y)
			edges++
		}
	}
	if edges != 9 {
		t.Fatalf("%d edges", edges)
	}
	for _, w := range []float64{2, 3, 5} {
		if got, want := ink(w), w*long; math.Abs(got-want) > 0.12*want {
			t.Errorf("width %g: %g pixels of ink, want %.0f", w, got, want)
		}
	}
}

// TestSmooth: a cylinder of 24 sides has no line along its side and no flat stripes, a box has both of its tones only.
func TestSmooth(t *testing.T) {
	side := View{From: [3]float64{0, -1, 0}}
	img := render(t, []Body{{Mesh: mesh.Prism(24, 10, 20), Colour: White, Line: 1}}, side, small)
	tones, ink := map[uint8]bool{}, 0
	for x := range 400 {
		if p := pixel(img, x, 200); img.Pix[img.PixOffset(x, 200)+3] == 255 {
			tones[p[0]] = true
			if p[0] < 60 && x > 30 && x < 370 {
				ink++
			}
		}
	}
	if len(tones) < 40 || ink > 0 {
		t.Errorf("%d tones, %d pixels of ink across a cylinder", len(tones), ink)
	}
	// With 8 sides each is a face of its own.
	img = render(t, []Body{{Mesh: mesh.Prism(8, 10, 20), Colour: White, Line: 1}}, side, small)
	ink = 0
	for x := 30; x < 370; x++ {
		if pixel(img, x, 200)[0] < 60 {
			ink++
		}
	}
	if ink == 0 {
		t.Error("an octagon without edges")
	}
}

// TestAnyMesh draws what no file should hold: nothing may crash or take long, and nothing may be drawn of it that is
// not finite.
func TestAnyMesh(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	odd := []float32{0, 1, -1, float32(math.NaN()), float32(math.Inf(1)), float32(math.Inf(-1)), math.MaxFloat32, -math.MaxFloat32, 1e-38, 1e20}
	for round := range 300 {
		m := &mesh.Mesh{}
		for range r.IntN(12) {
			var v [3]float32
			for k := range v {
				v[k] = float32(r.NormFloat64() * 10)
				if r.IntN(6) == 0 {
					v[k] = odd[r.IntN(len(odd))]
				}
			}
			m.Vertices = append(m.Vertices, v)
		}
		for range r.IntN(20) {
			m.Triangles = append(m.Triangles, [3]uint32{uint32(r.IntN(14)), uint32(r.IntN(14)), uint32(r.IntN(14))})
		}
		bodies := []Body{{Mesh: m, Colour: clay, Line: 2, Number: 3}, {Mesh: m, Place: mesh.Scale(0), Number: 1, Line: 1}}
		v := View{Perspective: float64(round%3) * 40}
		render(t, bodies, v, Options{Width: 60, Height: 40, Margin: 3})
		for _, v := range Explode(bodies, 0) {
			if v != v {
				t.Fatalf("round %d: shifted by %v", round, v)
			}
		}
		render(t, Contact(bodies, 0, 1.5), v, Options{Width: 20, Height: 20})
	}
	for _, m := range []*mesh.Mesh{{}, {Vertices: [][3]float32{{1, 2, 3}}}} {
		if n := covered(render(t, []Body{{Mesh: m, Number: 1}}, View{}, small)); n != 0 {
			t.Errorf("nothing drawn covers %g pixels", n)
		}
	}
	// A plate seen edge-on has a line for an outline, and no area.
	flat := &mesh.Mesh{Vertices: [][3]float32{{0, 0, 0}, {10, 0, 0}, {10, 10, 0}}, Triangles: [][3]uint32{{0, 1, 2}}}
	render(t, []Body{{Mesh: flat, Line: 1}}, View{From: [3]float64{0, -1, 0}}, small)
}

func TestOpenAndInsideOut(t *testing.T) {
	box := mesh.Box(20, 20, 20)
	whole := covered(render(t, []Body{{Mesh: box, Colour: clay}}, View{}, small))
	for name, m := range map[string]*mesh.Mesh{"inside out": mesh.Reverse(box), "open": {Vertices: box.Vertices, Triangles: box.Triangles[:11]}} {
		if got := covered(render(t, []Body{{Mesh: m, Colour: clay}}, View{}, small)); math.Abs(got-whole) > 1 {
			t.Errorf("%s: %.0f pixels, want %.0f", name, got, whole)
		}
	}
}

func TestMirrored(t *testing.T) {
	// An L is not its own mirror image.
	l := mesh.Join(mesh.Box(30, 10, 5), mesh.Box(10, 30, 5))
	a := render(t, []Body{{Mesh: l, Colour: clay, Line: 1}}, above, small)
	b := render(t, []Body{{Mesh: mesh.Mirror(l), Colour: clay, Line: 1}}, above, small)
	placed := render(t, []Body{{Mesh: l, Place: mesh.Matrix{{-1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}}, Colour: clay, Line: 1}}, above, small)
	if bytes.Equal(a.Pix, b.Pix) {
		t.Error("the mirror image looks the same")
	}
	if !bytes.Equal(b.Pix, placed.Pix) {
		t.Error("a mirroring place is not the mirror image")
	}
	differ := 0
	for y := range 400 {
		for x := range 400 {
			if a.Pix[a.PixOffset(x, y)+3] != b.Pix[b.PixOffset(399-x, y)+3] {
				differ++
			}
		}
	}
	if differ > 1600 { // the outline may be off by a sample
		t.Errorf("%d pixels of the mirror image are not mirrored", differ)
	}
}

func TestPaperBackground(t *testing.T) {
	o := small
	o.Paper = &White
	img := render(t, []Body{{Mesh: mesh.Box(1, 1, 1), Colour: clay}}, View{}, o)
	if img.NRGBAAt(0, 0) != White.rgba() {
		t.Errorf("corner %v", img.NRGBAAt(0, 0))
	}
	clear := render(t, []Body{{Mesh: mesh.Box(1, 1, 1), Colour: clay}}, View{}, small)
	if clear.NRGBAAt(0, 0).A != 0 {
		t.Error("background is not transparent")
	}
}

func TestRefused(t *testing.T) {
	for _, o := range []Options{{}, {Width: 10}, {Width: -1, Height: 10}, {Width: MaxSide + 1, Height: 1}, {Width: 10, Height: 10, Samples: 5}, {Width: 10, Height: 10, Margin: 5}, {Width: 10, Height: 10, Margin: math.NaN()}} {
		if _, err := Render(nil, View{}, o); err == nil {
			t.Errorf("%+v passed", o)
		}
	}
	if _, err := Render(make([]Body, MaxBodies+1), View{}, Options{Width: 10, Height: 10}); err == nil {
		t.Error("too many bodies passed")
	}
}

// look16 is a picture in 16 by 12 fields of grey, as digits from 0 to 9.
func look16(img *image.NRGBA) []string {
	var out []string
	w, h := img.Rect.Dx()/16, img.Rect.Dy()/12
	for j := range 12 {
		line := ""
		for i := range 16 {
			sum := 0.0
			for y := range h {
				for x := range w {
					p := img.NRGBAAt(i*w+x, j*h+y)
					a := float64(p.A) / 255
					sum += a*(0.3*float64(p.R)+0.6*float64(p.G)+0.1*float64(p.B)) + 255*(1-a)
				}
			}
			line += fmt.Sprint(int(sum / float64(w*h) / 255 * 9.99))
		}
		out = append(out, line)
	}
	return out
}

// golden are the demo's case and bucket as look16 sees them; made by this program and looked at.
var golden = map[string][]string{
	"vent-minder/meshes/case-ce.stl": {"9999999999999999", "9999868999999999", "8446323358999999", "5332233333368999", "5322232333333468", "8432333333334625",
		"9833333333333225", "9975333333333225", "9999974333332259", "9999999974332599", "9999999999967999", "9999999999999999"},
	"rain-tipper/meshes/bucket.stl": {"9997899999999999", "9983334567999999", "9843333332389999", "5333333323334899", "5333333223333348", "5333323232333335",
		"5333332233333435", "9643333233333325", "9999633233333225", "9999974543333249", "9999999998643499", "9999999999998999"},
}

func demo(t testing.TB, name string) *mesh.Mesh {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "examples", "allotment-instruments", "designs", filepath.FromSlash(name)))
	if err != nil {
		t.Fatal(err)
	}
	m, _, err := stl.Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestGolden(t *testing.T) {
	for _, name := range []string{"vent-minder/meshes/case-ce.stl", "rain-tipper/meshes/bucket.stl"} {
		img := render(t, []Body{{Mesh: demo(t, name), Colour: clay, Line: 1.5}}, View{}, Options{Width: 320, Height: 240, Margin: 8})
		got, want := look16(img), golden[name]
		if turned := look16(render(t, []Body{{Mesh: demo(t, name), Colour: clay, Line: 1.5}}, above, Options{Width: 320, Height: 240, Margin: 8})); slices.Equal(turned, want) {
			t.Errorf("%s looks the same from above", name)
		}
		if len(want) != 12 {
			t.Errorf("%s looks like\n%q", name, got)
			continue
		}
		for j := range got {
			for i := range got[j] {
				if d := int(got[j][i]) - int(want[j][i]); d < -1 || d > 1 {
					t.Errorf("%s: row %d looks like %s, kept %s", name, j, got[j], want[j])
					break
				}
			}
		}
	}
}

func BenchmarkCase(b *testing.B) {
	m := demo(b, "vent-minder/meshes/case-ce.stl")
	for b.Loop() {
		if _, err := PNG(render(b, []Body{{Mesh: m, Colour: clay, Line: 1.6}}, View{}, Options{Width: 1200, Height: 900, Margin: 20})); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMillion(b *testing.B) {
	m := mesh.Torus(60, 20, 1000, 500)
	for b.Loop() {
		if _, err := PNG(render(b, []Body{{Mesh: m, Colour: clay, Line: 1.6}}, View{}, Options{Width: 1200, Height: 900, Margin: 20})); err != nil {
			b.Fatal(err)
		}
	}
}
