package mesh

import (
	"reflect"
	"runtime"
	"testing"
)

// with returns m with more triangles on the vertices it has.
func with(m *Mesh, ts ...[3]uint32) *Mesh {
	return &Mesh{Vertices: m.Vertices, Triangles: append(append([][3]uint32(nil), m.Triangles...), ts...)}
}

// faultCounts is the report's faults by kind.
func faultCounts(r Report) map[string]int {
	out := map[string]int{}
	for _, f := range r.Faults {
		out[f.Kind] = f.Count
	}
	return out
}

// cubeAt is a cube of 10 with its low corner at (x, y, z).
func cubeAt(x, y, z float64) *Mesh { return Transform(Box(10, 10, 10), Shift(x, y, z)) }

// Counts by hand: a triangle has three edges, a face's diagonal is an edge, and so on.
func TestDefects(t *testing.T) {
	cube := Box(10, 10, 10)
	turned := with(cube)
	turned.Triangles[3][1], turned.Triangles[3][2] = turned.Triangles[3][2], turned.Triangles[3][1]
	for _, c := range []struct {
		name             string
		m                *Mesh
		faults           map[string]int
		vertices, shells int
		volume           float64 // 0: none is to be given
	}{
		{"sound", cube, map[string]int{}, 8, 1, 1000},
		{"one removed", &Mesh{cube.Vertices, cube.Triangles[1:]}, map[string]int{OpenEdge: 3}, 8, 1, 0},
		{"one reversed", turned, map[string]int{FlippedEdge: 3}, 8, 1, 0},
		{"one repeated", with(cube, cube.Triangles[5]), map[string]int{NonmanifoldEdge: 3, DuplicateTriangle: 1}, 8, 1, 1000},
		{"one degenerate", with(cube, [3]uint32{0, 0, 1}), map[string]int{DegenerateTriangle: 1}, 8, 1, 1000},
		{"sharing an edge", Join(cube, cubeAt(10, 10, 0)), map[string]int{NonmanifoldEdge: 1}, 14, 2, 2000},
		{"sharing a face", Join(cube, cubeAt(10, 0, 0)), map[string]int{NonmanifoldEdge: 5, DuplicateTriangle: 2}, 12, 2, 2000},
		{"overlapping by half", Join(cube, cubeAt(5, 0, 0)), map[string]int{ShellOverlap: 2}, 16, 2, 2000},
		{"inside out", Reverse(cube), map[string]int{InsideOut: 1}, 8, 1, -1000},
		{"two apart", Join(cube, cubeAt(20, 0, 0)), map[string]int{}, 16, 2, 2000},
		{"two sheets back to back", &Mesh{cube.Vertices[:3], [][3]uint32{{0, 1, 2}, {0, 2, 1}}}, map[string]int{DuplicateTriangle: 1}, 3, 1, 0},
		{"empty", &Mesh{}, map[string]int{}, 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, _ := Inspect(Merge(c.m))
			if got := faultCounts(r); !reflect.DeepEqual(got, c.faults) {
				t.Errorf("faults %v, want %v", got, c.faults)
			}
			if r.Vertices != c.vertices {
				t.Errorf("%d vertices, want %d", r.Vertices, c.vertices)
			}
			if r.Shells != c.shells {
				t.Errorf("%d shells, want %d", r.Shells, c.shells)
			}
			switch {
			case c.volume == 0 && r.Volume != nil && *r.Volume != 0:
				t.Errorf("volume %v of a mesh that encloses none", *r.Volume)
			case c.volume != 0 && r.Volume == nil:
				t.Error("no volume")
			case c.volume != 0:
				near(t, "volume", *r.Volume, c.volume)
			}
			if r.Watertight != (r.Open == 0 && r.Triangles > 0) {
				t.Errorf("watertight %v with %d open edges", r.Watertight, r.Open)
			}
		})
	}
}

func TestPlacesOfFaults(t *testing.T) {
	cube := Box(10, 10, 10)
	r, _ := Inspect(&Mesh{cube.Vertices, cube.Triangles[1:]}) // without (0,0,0) (0,10,0) (10,0,0)
	want := [][3]float64{{0, 5, 0}, {5, 0, 0}, {5, 5, 0}}
	if len(r.Faults) != 1 || !reflect.DeepEqual(r.Faults[0].At, want) {
		t.Errorf("faults %+v, want the places %v", r.Faults, want)
	}
	// No more than ten places, and the smallest ones.
	torus := Torus(30, 10, 40, 20)
	open := &Mesh{Vertices: torus.Vertices}
	for i := 0; i < len(torus.Triangles); i += 2 {
		open.Triangles = append(open.Triangles, torus.Triangles[i])
	}
	r, _ = Inspect(open)
	if f := r.Faults[0]; f.Kind != OpenEdge || f.Count != 3*len(open.Triangles) || len(f.At) != 10 || f.At[0][0] > -38 {
		t.Errorf("fault %+v", f)
	}
}

func TestShells(t *testing.T) {
	outer, inner := Box(40, 30, 20), Transform(Box(36, 26, 16), Shift(2, 2, 2))
	ball := Transform(Sphere(4, 24, 12), Shift(20, 15, 10))
	for _, c := range []struct {
		name   string
		m      *Mesh
		shells int
		voids  int
		faults map[string]int
	}{
		{"hollow", Join(outer, Reverse(inner)), 2, 1, map[string]int{}},
		{"hollow, void first", Join(Reverse(inner), outer), 2, 1, map[string]int{}},
		{"hollow and inside out", Reverse(Join(outer, Reverse(inner))), 2, 1, map[string]int{InsideOut: 1}},
		{"void with the wrong sign", Join(outer, inner), 2, 0, map[string]int{ShellSign: 1}},
		{"a ball loose in the void", Join(outer, Reverse(inner), ball), 3, 1, map[string]int{}},
		{"a ball left in the solid", Join(outer, ball), 2, 0, map[string]int{ShellSign: 1}},
		{"a ball-shaped void", Join(outer, Reverse(ball)), 2, 1, map[string]int{}},
		{"beside a solid that is inside out", Join(outer, Reverse(cubeAt(50, 0, 0))), 2, 0, map[string]int{ShellSign: 1}},
		{"a ball through the wall", Join(outer, Transform(ball, Shift(0, 15, 0))), 2, 0, map[string]int{ShellOverlap: 1}},
		{"links of a chain", Join(Torus(10, 2, 48, 24), Transform(Torus(10, 2, 48, 24), Matrix{{1, 0, 0, 10}, {0, 0, -1, 0}, {0, 1, 0, 0}})), 2, 0, map[string]int{}},
	} {
		r, _ := Inspect(c.m)
		if r.Shells != c.shells || r.Voids != c.voids || !reflect.DeepEqual(faultCounts(r), c.faults) {
			t.Errorf("%s: %d shells, %d voids, faults %v; want %d, %d, %v", c.name, r.Shells, r.Voids, faultCounts(r), c.shells, c.voids, c.faults)
		}
	}
}

// A mesh with more shells than are looked at one by one is still counted, and in bounded time.
func TestManyShells(t *testing.T) {
	var parts []*Mesh
	for i := range maxShells + 1 {
		parts = append(parts, Transform(Box(1, 1, 1), Shift(float64(2*(i%64)), float64(2*(i/64)), 0)))
	}
	r, _ := Inspect(Join(parts...))
	if r.Shells != len(parts) || r.List != nil || len(r.Faults) != 0 {
		t.Errorf("%d shells, list of %d, faults %v", r.Shells, len(r.List), r.Faults)
	}
	r, _ = Inspect(Join(parts[:300]...))
	if r.Shells != 300 || len(r.List) != 300 || len(r.Faults) != 0 || *r.Volume != 300 {
		t.Errorf("%+v", r)
	}
}

// The report may depend neither on the order of the facets, nor on where each begins, nor on the number
// of workers: not even in the last digit.
func TestOrderDoesNotMatter(t *testing.T) {
	broken := Torus(60, 20, 300, 150)
	broken.Triangles = broken.Triangles[40 : len(broken.Triangles)-7]
	for _, c := range []struct {
		name string
		m    *Mesh
	}{
		{"torus", Torus(60, 20, 300, 150)},
		{"far away", Transform(Torus(60, 20, 300, 150), Shift(1e5, -3e4, 7))},
		{"open", broken},
		{"shells", Join(hollowBox(), Transform(Sphere(4, 24, 12), Shift(20, 15, 10)), cubeAt(5, 5, 15))},
		{"touching", Join(cubeAt(0, 0, 0), cubeAt(10, 0, 0), cubeAt(20, 10, 0), cubeAt(20, 10, 0))},
		{"noisy", noisy(Torus(30, 10, 120, 60), 1e-6, 3)},
	} {
		s := soupOf(c.m)
		want, _, err := Survey(s, nil)
		if err != nil {
			t.Fatal(err)
		}
		check := func(what string, m *Mesh) {
			t.Helper()
			got, _, err := Survey(soupOf(m), nil)
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(got, want) {
				t.Errorf("%s, %s:\n got %+v\nwant %+v", c.name, what, got, want)
			}
		}
		for seed := range uint64(3) {
			check("shuffled", shuffled(c.m, seed))
		}
		old := runtime.GOMAXPROCS(1)
		check("one worker", c.m)
		runtime.GOMAXPROCS(5)
		check("five workers", c.m)
		runtime.GOMAXPROCS(old)
		welded, err := Weld(s)
		if err != nil {
			t.Fatal(err)
		}
		if got, _ := Inspect(welded); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: Inspect %+v\nSurvey %+v", c.name, got, want)
		}
	}
}
