package section

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"

	"dropwright/bundle/mesh"
)

func mustStack(t testing.TB, m *mesh.Mesh, f Frame, planes []float64, workers int) *Stack {
	t.Helper()
	s, err := NewStack(m, f, planes, workers)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// levels returns all distinct vertex heights, where a careless cut goes wrong.
func levels(m *mesh.Mesh, f Frame) []float64 {
	var z []float64
	for _, p := range m.Vertices {
		_, _, w := f.In([3]float64{float64(p[0]), float64(p[1]), float64(p[2])})
		z = append(z, w)
	}
	slices.Sort(z)
	return slices.Compact(z)
}

// Closed forms: a box, a box with a sealed cavity (40x30x20 and 36x26x16), a regular polygon.
func TestAreaAndLengthAreExact(t *testing.T) {
	const tol = 1e-5 // float32 coordinates of 40 mm are good to 2e-6
	var hollow solid
	hollow.box([3]float64{0, 0, 0}, [3]float64{40, 30, 20}, false)
	hollow.box([3]float64{2, 2, 2}, [3]float64{38, 28, 18}, true)
	var prism solid
	prism.lathe(64, [][2]float64{{0, 0}, {10, 0}, {10, 20}, {0, 20}})
	gon := 32 * 100 * math.Sin(2*math.Pi/64)
	rim := 2 * 64 * 10 * math.Sin(math.Pi/64)
	for _, c := range []struct {
		name         string
		m            *mesh.Mesh
		f            Frame
		z            float64
		area, length float64
		loops        int
	}{
		{"cube", box(20, 20, 20), AlongZ, 7, 400, 80, 1},
		{"cube at its top", box(20, 20, 20), AlongX, 20, 400, 80, 1},
		{"cube at its bottom", box(20, 20, 20), AlongY, 0, 0, 0, 0},
		{"hollow wall", &hollow.m, AlongZ, 1, 1200, 140, 1},
		{"hollow at the cavity's floor", &hollow.m, AlongZ, 2, 1200, 140, 1},
		{"hollow ring", &hollow.m, AlongZ, 10, 1200 - 936, 140 + 124, 2},
		{"hollow along x", &hollow.m, AlongX, 10, 600 - 416, 100 + 84, 2},
		{"hollow along y", &hollow.m, AlongY, 10, 800 - 576, 120 + 104, 2},
		{"prism", &prism.m, AlongZ, 10, gon, rim, 1},
	} {
		s := mustStack(t, c.m, c.f, []float64{c.z}, 1)
		var sec Section
		s.Cut(0, &sec)
		loops, open := sec.Loops()
		if math.Abs(sec.Area()-c.area) > tol*(1+c.area) || math.Abs(sec.Length()-c.length) > tol*(1+c.length) {
			t.Errorf("%s: area %v length %v, want %v and %v", c.name, sec.Area(), sec.Length(), c.area, c.length)
		}
		if len(loops) != c.loops || open != 0 {
			t.Errorf("%s: %d loops, %d open, want %d and none", c.name, len(loops), open, c.loops)
		}
		sum := 0.0
		for _, l := range loops {
			sum += l.Area
		}
		if math.Abs(sum-c.area) > tol*(1+c.area) {
			t.Errorf("%s: loops add up to %v mm2, want %v", c.name, sum, c.area)
		}
	}
	// The wrong radius must fail the same tolerance.
	if wrong := 32 * 10.05 * 10.05 * math.Sin(2*math.Pi/64); math.Abs(wrong-gon) < tol*(1+gon) {
		t.Error("the tolerance would not notice a radius changed by 0.05")
	}
}

func TestPlanesThroughVerticesCloseEveryLoop(t *testing.T) {
	for name, m := range map[string]*mesh.Mesh{
		"sphere": sphere(15, 60, 30), "torus": torus(30, 10, 60, 30), "box": box(10, 20, 30),
	} {
		for _, f := range []Frame{AlongX, AlongY, AlongZ} {
			s := mustStack(t, m, f, levels(m, f), 2)
			var sec Section
			for k := range s.Len() {
				s.Cut(k, &sec)
				if _, open := sec.Loops(); open != 0 {
					t.Fatalf("%s along %v: %d open chains at level %d", name, f.W, open, k)
				}
			}
		}
	}
}

// The volume is the sum of areas times layer thickness, up to the curvature.
func TestSectionsAddUpToTheVolume(t *testing.T) {
	m := sphere(15, 200, 100)
	planes, err := LayerPlanes(-15, 15, 0.2)
	if err != nil || len(planes) != 150 {
		t.Fatalf("%d planes, %v; want 150", len(planes), err)
	}
	area := make([]float64, len(planes))
	mustStack(t, m, AlongZ, planes, 2).Each(2, func(k int, sec *Section) { area[k] = sec.Area() })
	sum := 0.0
	for _, a := range area {
		sum += a * 0.2
	}
	// Sum of a lathe of 200x100, from its closed form.
	if want := 14131.5358; math.Abs(sum-want) > 0.01 {
		t.Errorf("sum of sections %v mm3, want %v", sum, want)
	}
}

func TestLayerPlanes(t *testing.T) {
	for _, c := range []struct {
		height, h float64
		want      int
	}{{0.05, 0.2, 1}, {0.3, 0.2, 1}, {0.31, 0.2, 2}, {20, 0.2, 100}, {0, 0.2, 1}} {
		if p, err := LayerPlanes(1, 1+c.height, c.h); err != nil || len(p) != c.want || p[0] != 1+c.h/2 {
			t.Errorf("height %v: %d planes %v, want %d", c.height, len(p), err, c.want)
		}
	}
	for _, bad := range [][3]float64{{0, 1, 0}, {0, 1, -1}, {0, 1, math.NaN()}, {1, 0, 0.2}, {0, math.Inf(1), 0.2}, {0, 1e9, 0.01}} {
		if _, err := LayerPlanes(bad[0], bad[1], bad[2]); err == nil {
			t.Errorf("LayerPlanes(%v) must refuse", bad)
		}
	}
	if _, err := NewStack(box(1, 1, 1), AlongZ, []float64{1, 0}, 1); err == nil {
		t.Error("descending planes must be refused")
	}
}

func TestWorkersDoNotChangeTheResult(t *testing.T) {
	m := torus(30, 10, 120, 60)
	planes, _ := LayerPlanes(-10, 10, 0.1)
	cut := func(workers int) []string {
		out := make([]string, len(planes))
		mustStack(t, m, AlongZ, planes, workers).Each(workers, func(k int, sec *Section) {
			loops, open := sec.Loops()
			out[k] = fmt.Sprint(sec.Segments, len(loops), open)
		})
		return out
	}
	if one, three := cut(1), cut(3); !reflect.DeepEqual(one, three) {
		t.Error("one and three workers differ")
	}
}

func TestTJunctionsAreSnapped(t *testing.T) {
	// One face of a cube has an extra vertex in the middle of an edge that its neighbour lacks.
	m := box(10, 10, 10)
	var s solid
	for _, tri := range m.Triangles {
		var p [3][3]float64
		top := 0
		for i, v := range tri {
			for a := range 3 {
				p[i][a] = float64(m.Vertices[v][a])
			}
			if p[i][0] == 10 {
				top++
			}
		}
		split := -1
		for i := range 3 {
			if q, r := p[i], p[(i+1)%3]; top == 3 && q[1] == 10 && r[1] == 10 && q[2] != r[2] {
				split = i
			}
		}
		if split < 0 {
			s.triangle(p[0], p[1], p[2])
			continue
		}
		a, b, c := p[split], p[(split+1)%3], p[(split+2)%3]
		mid := [3]float64{a[0], a[1], 5}
		s.triangle(a, mid, c)
		s.triangle(mid, b, c)
	}
	if len(s.m.Triangles) != 13 {
		t.Fatalf("%d triangles, want 13", len(s.m.Triangles))
	}
	var sec Section
	mustStack(t, &s.m, AlongZ, []float64{3.3}, 1).Cut(0, &sec)
	loops, open := sec.Loops()
	if len(loops) != 1 || open != 0 || math.Abs(loops[0].Area-100) > 1e-9 {
		t.Errorf("%d loops, %d open, want one of 100 mm2", len(loops), open)
	}
	// A missing triangle is no T-junction and must not be papered over.
	s.m.Triangles = s.m.Triangles[1:]
	mustStack(t, &s.m, AlongX, []float64{4}, 1).Cut(0, &sec)
	if _, open := sec.Loops(); open != 1 {
		t.Errorf("%d open chains with a triangle missing, want 1", open)
	}
}

func TestWinding(t *testing.T) {
	var s solid
	s.box([3]float64{0, 0, 0}, [3]float64{40, 30, 20}, false)
	s.box([3]float64{2, 2, 2}, [3]float64{38, 28, 18}, true)
	s.box([3]float64{1, 1, 1}, [3]float64{5, 5, 5}, false)
	var sec Section
	mustStack(t, &s.m, AlongZ, []float64{3}, 1).Cut(0, &sec)
	for p, want := range map[Point]int{{-1, 3}: 0, {20, 10}: 0, {20, 1}: 1, {1.5, 1.5}: 2, {3, 3}: 1, {39, 29}: 1} {
		if got := sec.Winding(p); got != want {
			t.Errorf("winding at %v is %d, want %d", p, got, want)
		}
	}
}

func TestBadVerticesAreNeverCut(t *testing.T) {
	m := box(10, 10, 10)
	m.Vertices[3][2] = float32(math.NaN())
	m.Vertices[5][0] = float32(math.Inf(1))
	var sec Section
	mustStack(t, m, AlongZ, []float64{-1, 5, 11}, 1).Cut(1, &sec)
	for _, g := range sec.Segments {
		if math.IsNaN(g.A[0]+g.A[1]+g.B[0]+g.B[1]) || math.IsInf(g.A[0]+g.B[0], 0) {
			t.Errorf("segment %v is not finite", g)
		}
	}
	sec.Loops()
}

func TestFrames(t *testing.T) {
	for _, d := range [][3]float64{{0, 0, -3}, {1, 2, 3}, {-1, 0, 0}, {0, -2, 1e-9}, {0.3, -0.1, -0.9}} {
		f, err := Along(d)
		if err != nil {
			t.Fatal(err)
		}
		c := cross(f.U, f.V)
		for i := range 3 {
			if math.Abs(c[i]-f.W[i]) > 1e-12 {
				t.Errorf("frame along %v is not right-handed: %v", d, f)
			}
		}
		u, v, w := f.In([3]float64{1, 2, 3})
		if p := f.Point(u, v, w); math.Abs(p[0]-1)+math.Abs(p[1]-2)+math.Abs(p[2]-3) > 1e-12 {
			t.Errorf("frame along %v: %v does not come back", d, p)
		}
	}
	if f, _ := Along([3]float64{-2, 0, 0}); f != AlongX {
		t.Errorf("along -x is %v, want AlongX", f)
	}
	if _, err := Along([3]float64{}); err == nil {
		t.Error("a direction without length must be refused")
	}
}

func BenchmarkStack(b *testing.B) {
	m := torus(60, 20, 1000, 500) // 1 M triangles
	planes, _ := LayerPlanes(-20, 20, 0.2)
	b.Run("sort", func(b *testing.B) {
		for b.Loop() {
			mustStack(b, m, AlongZ, planes, 0)
		}
	})
	s := mustStack(b, m, AlongZ, planes, 0)
	b.Run("cut", func(b *testing.B) {
		for b.Loop() {
			s.Each(0, func(int, *Section) {})
		}
	})
	b.Run("cut and link", func(b *testing.B) {
		for b.Loop() {
			s.Each(0, func(_ int, sec *Section) { sec.Loops() })
		}
	})
}
