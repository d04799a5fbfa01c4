package section

import (
	"fmt"
	"math"
	"math/rand"
	"testing"

	"dropwright/bundle/mesh"
)

// ring revolves a closed profile of (radius, z) points, counter-clockwise in the (r, z) half-plane:
// a round plate with a hole of any shape in its middle, of exactly known size.
func ring(n int, profile ...[2]float64) *mesh.Mesh {
	var s solid
	if profile[0][0] != 0 { // a plate that is whole on the axis needs no closing
		profile = append(profile, profile[0])
	}
	s.lathe(n, profile)
	return &s.m
}

// turned turns a mesh about x and then about y, in degrees.
func turned(m *mesh.Mesh, x, y float64) *mesh.Mesh {
	out := &mesh.Mesh{Triangles: m.Triangles}
	for _, p := range m.Vertices {
		q := spin([3]float64{float64(p[0]), float64(p[1]), float64(p[2])}, x, y)
		out.Vertices = append(out.Vertices, [3]float32{float32(q[0]), float32(q[1]), float32(q[2])})
	}
	return out
}

func spin(p [3]float64, x, y float64) [3]float64 {
	sx, cx := math.Sincos(x * math.Pi / 180)
	p = [3]float64{p[0], cx*p[1] - sx*p[2], sx*p[1] + cx*p[2]}
	sy, cy := math.Sincos(y * math.Pi / 180)
	return [3]float64{cy*p[0] + sy*p[2], p[1], cy*p[2] - sy*p[0]}
}

// Revolved plates 20 wide and 6 thick; every figure follows from the profile.
func TestLatheHoles(t *testing.T) {
	const n = 48
	post := wanted{what: "boss", axis: ez, d: 20, n: n, centre: [3]float64{0, 0, 3}, depth: 6, ends: "oo"}
	hole := func(d float64, sinks ...Sink) wanted {
		return wanted{what: Round, axis: ez, d: d, n: n, centre: [3]float64{0, 0, 3}, depth: 6, ends: "oo", sinks: sinks}
	}
	drafted := hole(4)
	blind := func(sinks ...Sink) wanted {
		w := hole(4, sinks...)
		w.ends, w.centre[2], w.depth = "co", 4, 4
		return w
	}
	lower, upper := hole(3, Sink{Kind: Counterbore, Diameter: 8, Depth: 4, Length: 2, AtTo: true}), hole(3)
	lower.centre[2], lower.depth, upper.centre[2], upper.depth = 2, 4, 5, 2
	lower.sinks[0].Depth = 2
	bowl := [][2]float64{{0, 0}, {10, 0}, {10, 6}}
	for i := range 16 {
		a := math.Pi / 2 * float64(i) / 15
		bowl = append(bowl, [2]float64{5 * math.Cos(a), 6 - 5*math.Sin(a)})
	}
	bowl[len(bowl)-1][0] = 0
	dome := [][2]float64{{0, 0}, {10, 0}, {10, 6}, {2, 6}}
	for i := range 31 {
		a := math.Pi / 2 * float64(i) / 30
		dome = append(dome, [2]float64{2 * math.Cos(a), 2 - 1.5*math.Sin(a)})
	}
	dome[len(dome)-1][0] = 0
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		want []wanted
	}{
		{"plain", ring(n, [2]float64{2, 0}, [2]float64{10, 0}, [2]float64{10, 6}, [2]float64{2, 6}), []wanted{hole(4)}},
		{"counterbored on both sides", ring(n, [2]float64{2, 1}, [2]float64{4, 1}, [2]float64{4, 0}, [2]float64{10, 0},
			[2]float64{10, 6}, [2]float64{3.5, 6}, [2]float64{3.5, 4}, [2]float64{2, 4}),
			[]wanted{hole(4, Sink{Kind: Counterbore, Diameter: 8, Depth: 1, Length: 1}, Sink{Kind: Counterbore, Diameter: 7, Depth: 2, Length: 2, AtTo: true})}},
		{"countersunk below a recess", ring(n, [2]float64{2, 0}, [2]float64{10, 0}, [2]float64{10, 6}, [2]float64{4, 6}, [2]float64{4, 5}, [2]float64{2, 3}),
			[]wanted{hole(4, Sink{Kind: Countersink, Diameter: 8, Depth: 3, Length: 2, Angle: 90, AtTo: true}, Sink{Kind: Counterbore, Diameter: 8, Depth: 1, Length: 1, AtTo: true})}},
		{"countersunk all the way", ring(n, [2]float64{2, 0}, [2]float64{10, 0}, [2]float64{10, 6}, [2]float64{5, 6}),
			[]wanted{hole(4, Sink{Kind: Countersink, Diameter: 10, Depth: 6, Length: 6, Angle: 2 * math.Atan(0.5) * 180 / math.Pi, AtTo: true})}},
		{"drafted by one degree", ring(n, [2]float64{2, 0}, [2]float64{10, 0}, [2]float64{10, 6}, [2]float64{2 + 6*math.Tan(math.Pi/180), 6}), []wanted{drafted}},
		{"chamber inside", ring(n, [2]float64{1.5, 0}, [2]float64{10, 0}, [2]float64{10, 6}, [2]float64{1.5, 6}, [2]float64{1.5, 4},
			[2]float64{4, 4}, [2]float64{4, 2}, [2]float64{1.5, 2}), []wanted{lower, upper}},
		{"blind", ring(n, [2]float64{0, 0}, [2]float64{10, 0}, [2]float64{10, 6}, [2]float64{2, 6}, [2]float64{2, 2}, [2]float64{0, 2}), []wanted{blind()}},
		{"blind for a tapered insert", ring(n, [2]float64{0, 0}, [2]float64{10, 0}, [2]float64{10, 6}, [2]float64{2.3, 6}, [2]float64{2, 2}, [2]float64{0, 2}), []wanted{blind()}},
		{"the same with a chamfer", ring(n, [2]float64{0, 0}, [2]float64{10, 0}, [2]float64{10, 6}, [2]float64{2.7, 6}, [2]float64{2.3, 5.6}, [2]float64{2, 2}, [2]float64{0, 2}),
			[]wanted{blind(Sink{Kind: Chamfer, Diameter: 5.4, Depth: 0.4, Length: 0.4, Angle: 90, AtTo: true})}},
		{"dimple", ring(n, [2]float64{0, 0}, [2]float64{10, 0}, [2]float64{10, 6}, [2]float64{2, 6}, [2]float64{0, 4}), nil},
		{"ball-nosed", ring(n, dome...), []wanted{blind()}},
		{"bowl", ring(n, bowl...), nil},
		{"waisted", ring(n, [2]float64{2, 0}, [2]float64{10, 0}, [2]float64{10, 6}, [2]float64{2, 6}, [2]float64{1, 3}), nil},
	} {
		want := append([]wanted{post}, c.want...)
		if c.name == "waisted" {
			// Two cones, narrowest at an edge: a curved surface as far as the census knows.
			want = want[:1]
		}
		for _, a := range [][2]float64{{0, 0}, {90, 0}, {-90, 90}} {
			turnedWant := make([]wanted, len(want))
			for i, w := range want {
				w.axis, w.centre = spin(w.axis, a[0], a[1]), spin(w.centre, a[0], a[1])
				if f, err := Along(w.axis); err != nil || !near(f.W, w.axis, 1e-6) {
					w.axis = f.W
					w.ends = w.ends[1:] + w.ends[:1]
					w.sinks = append([]Sink(nil), w.sinks...)
					for j := range w.sinks {
						w.sinks[j].AtTo = !w.sinks[j].AtTo
					}
					if len(w.sinks) == 2 && w.sinks[0].AtTo != w.sinks[1].AtTo {
						w.sinks[0], w.sinks[1] = w.sinks[1], w.sinks[0]
					}
				}
				turnedWant[i] = w
			}
			if c.name == "chamber inside" && a[0] != 0 {
				continue // the chamber goes to the lower hole, which is the other one then
			}
			expect(t, fmt.Sprintf("%s turned by %v", c.name, a), turned(c.m, a[0], a[1]), turnedWant)
		}
	}
}

// A round box with posts in it: its inside is one pocket, not a hole, although it is round above the
// posts and a hole in its side divides it.
func TestRoundBoxIsNoHole(t *testing.T) {
	var s solid
	s.lathe(64, [][2]float64{{0, 0}, {30, 0}, {30, 30}, {27, 30}, {27, 3}, {0, 3}})
	m := &s.m
	for _, x := range []float64{-15, 15} {
		var post solid
		post.lathe(32, [][2]float64{{0, 3}, {4, 3}, {4, 14}, {0, 14}})
		n := uint32(len(m.Vertices))
		for _, p := range post.m.Vertices {
			m.Vertices = append(m.Vertices, [3]float32{p[0] + float32(x), p[1], p[2]})
		}
		for _, tri := range post.m.Triangles {
			m.Triangles = append(m.Triangles, [3]uint32{tri[0] + n, tri[1] + n, tri[2] + n})
		}
	}
	want := []wanted{
		{what: "boss", axis: ez, d: 60, n: 64, centre: [3]float64{0, 0, 15}, depth: 30, ends: "oo"},
		{what: "boss", axis: ez, d: 8, n: 32, centre: [3]float64{-15, 0, 8.5}, depth: 11, ends: "co"},
		{what: "boss", axis: ez, d: 8, n: 32, centre: [3]float64{15, 0, 8.5}, depth: 11, ends: "co"},
		{what: "pocket", axis: ez, d: 54, centre: [3]float64{0, 0, 16.5}, depth: 27, ends: "co", side: 54},
	}
	expect(t, "pot", m, want)
}

// The same hole at any angle: found once, with the right axis, as long as its wall closes.
func TestLatheHolesAtAnyAngle(t *testing.T) {
	m := ring(40, [2]float64{2, 0}, [2]float64{12, 0}, [2]float64{12, 5}, [2]float64{4, 5}, [2]float64{4, 3}, [2]float64{2, 3})
	for _, a := range [][2]float64{{1, 0}, {3, 0}, {5, 5}, {15, 0}, {0, 15}, {30, 20}, {45, 0}, {45, 45}, {60, 10}, {80, 33}, {89, 0}} {
		for what, m := range map[string]*mesh.Mesh{"": turned(m, a[0], a[1]), "subdivided": turned(subdivided(m), a[0], a[1])} {
			w := wanted{what: Round, axis: spin(ez, a[0], a[1]), d: 4, n: 40, centre: spin([3]float64{0, 0, 2.5}, a[0], a[1]), depth: 5, ends: "oo",
				sinks: []Sink{{Kind: Counterbore, Diameter: 8, Depth: 2, Length: 2, AtTo: true}}}
			expect(t, fmt.Sprint(what, " at ", a), m, []wanted{w})
		}
	}
}

// A hole across a pipe is as deep as the pipe's wall on its axis. The mesh is built from its formulas:
// ends on the pipe's cylinders, 3 mm apart, made of strips along the hole's wall and triangles that
// fill up to a square block cut out of the pipe.
func TestHoleInACurvedWall(t *testing.T) {
	const (
		n          = 32
		inner      = 12.0
		outer      = 15.0
		r          = 2.5
		half, long = 6.0, 8.0
	)
	on := func(radius, y, z float64) [3]float64 { return [3]float64{math.Sqrt(radius*radius - y*y), y, z} }
	var s solid
	rim := func(i int) (y, z, by, bz float64) {
		a := 2 * math.Pi * float64(i%n) / n
		y, z = r*math.Cos(a), r*math.Sin(a)
		k := math.Max(math.Abs(math.Cos(a))/half, math.Abs(math.Sin(a))/long)
		return y, z, math.Cos(a) / k, math.Sin(a) / k
	}
	for i := range n {
		y0, z0, by0, bz0 := rim(i)
		y1, z1, by1, bz1 := rim(i + 1)
		// Eight strips between the hole and the block's edge follow the pipe.
		for k := range 8 {
			at := func(radius float64, f int, y, z, by, bz float64) [3]float64 {
				g := float64(f) / 8
				return on(radius, y+g*(by-y), z+g*(bz-z))
			}
			s.quad(at(outer, k, y0, z0, by0, bz0), at(outer, k+1, y0, z0, by0, bz0), at(outer, k+1, y1, z1, by1, bz1), at(outer, k, y1, z1, by1, bz1))
			s.quad(at(inner, k, y1, z1, by1, bz1), at(inner, k+1, y1, z1, by1, bz1), at(inner, k+1, y0, z0, by0, bz0), at(inner, k, y0, z0, by0, bz0))
		}
		s.quad(on(inner, y1, z1), on(inner, y0, z0), on(outer, y0, z0), on(outer, y1, z1))
		s.quad(on(inner, by0, bz0), on(inner, by1, bz1), on(outer, by1, bz1), on(outer, by0, bz0))
	}
	want := wanted{what: Round, axis: ex, d: 2 * r, n: n, centre: [3]float64{13.5, 0, 0}, depth: 3, ends: "oo"}
	expect(t, "hole in a pipe", &s.m, []wanted{want})
	want.axis, want.centre = ey, [3]float64{0, 13.5, 0}
	expect(t, "rolled", rolled(&s.m), []wanted{want})
	want.axis, want.centre = spin(ex, 0, 20), spin([3]float64{13.5, 0, 0}, 0, 20)
	if f, err := Along(want.axis); err == nil {
		want.axis = f.W
	}
	expect(t, "turned", turned(&s.m, 0, 20), []wanted{want})
}

// Nothing of this has a hole, and a mesh may be empty or broken.
func TestNothingIsInvented(t *testing.T) {
	var cavity, ball solid
	cavity.box([3]float64{0, 0, 0}, [3]float64{40, 30, 20}, false)
	cavity.box([3]float64{2, 2, 2}, [3]float64{38, 28, 18}, true)
	ball.box([3]float64{-20, -20, -20}, [3]float64{20, 20, 20}, false)
	inner := sphere(15, 48, 25)
	for _, t := range inner.Triangles {
		ball.triangle(place(inner, t[0]), place(inner, t[2]), place(inner, t[1]))
	}
	bad := box(10, 10, 10)
	bad.Vertices[2][1] = float32(math.NaN())
	for name, m := range map[string]*mesh.Mesh{
		"box": box(30, 20, 10), "sealed box": &cavity.m, "sphere": sphere(15, 60, 30), "odd sphere": sphere(15, 61, 31),
		"hollow sphere": &ball.m, "torus": torus(30, 10, 64, 32), "turned torus": turned(torus(30, 10, 64, 32), 20, 30),
		"empty": {}, "flat": box(10, 10, 0), "not a number": bad,
		"one triangle": {Vertices: [][3]float32{{0, 0, 0}, {1, 0, 0}, {0, 1, 1}}, Triangles: [][3]uint32{{0, 1, 2}}},
	} {
		expect(t, name, m, nil)
	}
}

// Along a given axis the bosses and openings of that direction are found too.
func TestGivenAxis(t *testing.T) {
	m := turned(ring(40, [2]float64{2, 0}, [2]float64{12, 0}, [2]float64{12, 5}, [2]float64{2, 5}), 25, 10)
	axis := spin(ez, 25, 10)
	want := []wanted{
		{what: Round, axis: axis, d: 4, n: 40, centre: spin([3]float64{0, 0, 2.5}, 25, 10), depth: 5, ends: "oo"},
		{what: "boss", axis: axis, d: 24, n: 40, centre: spin([3]float64{0, 0, 2.5}, 25, 10), depth: 5, ends: "oo"},
	}
	for _, sign := range []float64{-3, 1} {
		c := census(t, m, Options{Axes: [][3]float64{scale(axis, sign), {0, 0, 1}}})
		if d := differences(want, found(c)); len(d) > 0 {
			t.Error(d)
		}
	}
	if _, err := Holes(m, Options{Axes: [][3]float64{{0, 0, 0}}}); err == nil {
		t.Error("an axis without direction must be refused")
	}
}

// Whatever the triangles, the census comes back, and the same with any number of workers.
func TestSoupIsSurvived(t *testing.T) {
	r := rand.New(rand.NewSource(7))
	for range 200 {
		m := &mesh.Mesh{}
		size := math.Pow(10, 4*r.Float64()-2)
		for range 3 + r.Intn(40) {
			var p [3]float32
			for a := range p {
				if p[a] = float32(size * math.Round(8*r.NormFloat64()) / 8); r.Intn(200) == 0 {
					p[a] = []float32{float32(math.NaN()), float32(math.Inf(1)), math.MaxFloat32, 0}[r.Intn(4)]
				}
			}
			m.Vertices = append(m.Vertices, p)
		}
		for range r.Intn(300) {
			n := len(m.Vertices)
			m.Triangles = append(m.Triangles, [3]uint32{uint32(r.Intn(n)), uint32(r.Intn(n)), uint32(r.Intn(n))})
		}
		one := fmt.Sprint(census(t, m, Options{Workers: 1}))
		if two := fmt.Sprint(census(t, m, Options{Workers: 2})); one != two {
			t.Fatalf("one and two workers differ:\n%s\n%s", one, two)
		}
	}
}

// Which of several wider parts takes the head.
func TestSinkOfAHole(t *testing.T) {
	cb, cs, ch := Sink{Kind: Counterbore, Diameter: 6, Depth: 3}, Sink{Kind: Countersink, Diameter: 6.4, Depth: 2}, Sink{Kind: Chamfer, Diameter: 4, Depth: 3.2}
	wide := Sink{Kind: Counterbore, Diameter: 9, Depth: 1}
	to := func(s Sink) Sink { s.AtTo = true; return s }
	for i, c := range []struct {
		sinks []Sink
		want  Sink
		ok    bool
	}{
		{nil, Sink{}, false},
		{[]Sink{ch, to(ch)}, Sink{}, false},
		{[]Sink{cb, wide}, cb, true},
		{[]Sink{ch, cb}, cb, true},
		{[]Sink{cs, {Kind: Counterbore, Diameter: 6.4, Depth: 0.5}}, cs, true},
		{[]Sink{cs, wide}, Sink{Kind: Counterbore, Diameter: 9, Depth: 2}, true},
		{[]Sink{cb, to(wide)}, to(wide), true},
		{[]Sink{ch, to(ch), to(cs)}, to(cs), true},
	} {
		h := Hole{Sinks: c.sinks}
		if got, ok := h.Sink(); got != c.want || ok != c.ok {
			t.Errorf("case %d: %+v %v, want %+v %v", i, got, ok, c.want, c.ok)
		}
	}
}
