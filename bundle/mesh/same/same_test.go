package same

import (
	"math"
	"math/rand"
	"testing"

	"dropwright/bundle/mesh"
)

// turn is the rotation about an axis by degrees, then a shift.
func turn(axis [3]float64, degrees, x, y, z float64) mesh.Matrix {
	l := norm(axis) / (degrees * math.Pi / 180)
	return rotation([3]float64{axis[0] / l, axis[1] / l, axis[2] / l}).Then(mesh.Shift(x, y, z))
}

// mirrorX is the reflection in the plane x = 0.
var mirrorX = mesh.Matrix{{-1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}}

// shuffled is m with vertices and facets in another order and each facet begun at another corner.
func shuffled(m *mesh.Mesh, seed int64) *mesh.Mesh {
	random := rand.New(rand.NewSource(seed))
	place := random.Perm(len(m.Vertices))
	out := &mesh.Mesh{Vertices: make([][3]float32, len(m.Vertices)), Triangles: make([][3]uint32, len(m.Triangles))}
	for i, k := range place {
		out.Vertices[k] = m.Vertices[i]
	}
	for i, k := range random.Perm(len(m.Triangles)) {
		t, r := m.Triangles[k], random.Intn(3)
		out.Triangles[i] = [3]uint32{uint32(place[t[r]]), uint32(place[t[(r+1)%3]]), uint32(place[t[(r+2)%3]])}
	}
	return out
}

// soup gives every facet corners of its own, as STL has them.
func soup(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{}
	for _, t := range m.Triangles {
		n := uint32(len(out.Vertices))
		out.Vertices = append(out.Vertices, m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]])
		out.Triangles = append(out.Triangles, [3]uint32{n, n + 1, n + 2})
	}
	return out
}

// bracket has no symmetry: three boxes in a row of different sizes, not centred.
func bracket() *mesh.Mesh {
	return mesh.Join(mesh.Box(40, 20, 3), mesh.Transform(mesh.Box(3, 20, 25), mesh.Shift(0, 0, 3)), mesh.Transform(mesh.Box(5, 4, 9), mesh.Shift(30, 2, 3)))
}

// finer splits each facet in three at its middle.
func finer(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: append([][3]float32{}, m.Vertices...)}
	for _, t := range m.Triangles {
		n := uint32(len(out.Vertices))
		out.Vertices = append(out.Vertices, narrow(middleOf(m, t)))
		out.Triangles = append(out.Triangles, [3]uint32{t[0], t[1], n}, [3]uint32{t[1], t[2], n}, [3]uint32{t[2], t[0], n})
	}
	return out
}

var shapes = map[string]func() *mesh.Mesh{
	"cube":    func() *mesh.Mesh { return mesh.Box(10, 10, 10) },
	"box":     func() *mesh.Mesh { return mesh.Box(10, 20, 35) },
	"bracket": bracket,
	"prism":   func() *mesh.Mesh { return mesh.Prism(64, 10, 20) },
	"knob": func() *mesh.Mesh {
		return mesh.Join(mesh.Prism(48, 10, 8), mesh.Transform(mesh.Box(1, 2, 3), mesh.Shift(6, 1, 8)))
	},
	"sphere":   func() *mesh.Mesh { return mesh.Sphere(15, 40, 20) },
	"ring":     func() *mesh.Mesh { return mesh.Torus(30, 10, 60, 30) },
	"far away": func() *mesh.Mesh { return mesh.Transform(bracket(), mesh.Shift(200, -150, 90)) },
}

// mirrorSame says which shapes are their own mirror image.
var mirrorSame = map[string]bool{"cube": true, "box": true, "prism": true, "sphere": true, "ring": true}

func TestSameInAnyOrder(t *testing.T) {
	for name, make := range shapes {
		m := make()
		for what, other := range map[string]*mesh.Mesh{"itself": m, "shuffled": shuffled(m, 1), "soup": soup(m), "shuffled soup": shuffled(soup(m), 2)} {
			r := Compare(m, other, Options{})
			if r.Kind != Same || !r.Exact || r.Deviation != 0 || r.Motion != mesh.Identity || math.Abs(r.VolumeDelta()) > 1e-6 {
				t.Errorf("%s, %s: %+v", name, what, r)
			}
			if Fingerprint(m) != Fingerprint(other) {
				t.Errorf("%s, %s: fingerprints differ", name, what)
			}
		}
	}
}

func TestMotions(t *testing.T) {
	for name, make := range shapes {
		m := make()
		for _, c := range []struct {
			what   string
			motion mesh.Matrix
			want   Kind
		}{
			{"moved", mesh.Shift(12.5, -3, 0.7), Moved},
			{"moved by little", mesh.Shift(0, 0, 0.01), Moved},
			{"turned by 90 about z", turn([3]float64{0, 0, 1}, 90, 5, 6, 7), Turned},
			{"turned at random", turn([3]float64{0.3, -0.8, 0.52}, 77.3, 1, -2, 3), Turned},
			{"turned by little", turn([3]float64{0, 1, 0}, 0.5, 0, 0, 0), Turned},
			{"turned by 180", turn([3]float64{1, 2, 3}, 180, 0, 9, 0), Turned},
			{"mirrored", mirrorX, Mirrored},
			{"mirrored and turned", mirrorX.Then(turn([3]float64{0.3, -0.8, 0.52}, 130, 4, 4, 4)), Mirrored},
		} {
			want := c.want
			got := Compare(m, shuffled(mesh.Transform(m, c.motion), 3), Options{})
			// What a symmetric shape does to itself is less than what was done.
			rank := map[Kind]int{Same: 0, Moved: 1, Turned: 2, Mirrored: 3, Changed: 4}
			symmetric := mirrorSame[name] && rank[got.Kind] < rank[want]
			if got.Kind != want && !symmetric && !(name == "knob" && got.Kind == want) {
				t.Errorf("%s, %s: %s, want %s (deviation %v)", name, c.what, got.Kind, want, got.Deviation)
				continue
			}
			if got.Exact || got.Deviation != 0 {
				t.Errorf("%s, %s: exact %v, deviation %v", name, c.what, got.Exact, got.Deviation)
			}
			// The motion found lays one on the other, whether or not it is the one that was done.
			if r := Compare(mesh.Transform(m, got.Motion), mesh.Transform(m, c.motion), Options{}); r.Kind != Same {
				t.Errorf("%s, %s: the motion found leaves them %s by %v", name, c.what, r.Kind, r.Deviation)
			}
			if !mirrorSame[name] && name != "knob" {
				for i := range 3 {
					for j := range 3 {
						if math.Abs(got.Motion[i][j]-c.motion[i][j]) > 1e-4 {
							t.Errorf("%s, %s: motion %v, want %v", name, c.what, got.Motion, c.motion)
						}
					}
				}
			}
			if !ShapeOf(m).Near(ShapeOf(mesh.Transform(m, c.motion))) {
				t.Errorf("%s, %s: shapes are not near", name, c.what)
			}
		}
	}
}

func TestTurnOfResult(t *testing.T) {
	for _, c := range []struct {
		axis    [3]float64
		degrees float64
	}{{[3]float64{0, 0, 1}, 90}, {[3]float64{0.6, 0, 0.8}, 33}, {[3]float64{0, 1, 0}, 179.9}, {[3]float64{0.6, -0.8, 0}, 180}, {[3]float64{1, 0, 0}, 0.1}} {
		for _, mirrored := range []bool{false, true} {
			m := turn(c.axis, c.degrees, 1, 2, 3)
			if mirrored {
				m = mesh.Scale(-1).Then(m)
			}
			axis, degrees := Result{Motion: m}.Turn()
			if math.Abs(degrees-c.degrees) > 1e-5 || math.Abs(math.Abs(dot(axis, c.axis))-1) > 1e-6 || c.degrees < 179.95 && dot(axis, c.axis) < 0 {
				t.Errorf("%v by %v, mirrored %v: got %v by %v", c.axis, c.degrees, mirrored, axis, degrees)
			}
		}
	}
	if _, degrees := (Result{Motion: mesh.Identity}).Turn(); degrees != 0 {
		t.Errorf("no motion: %v degrees", degrees)
	}
}

// Another cut into facets, or rounding below the tolerance, is no change.
func TestSameSurface(t *testing.T) {
	for name, make := range shapes {
		m := make()
		if r := Compare(m, finer(m), Options{}); r.Kind != Same || r.Exact {
			t.Errorf("%s cut finer: %s, deviation %v", name, r.Kind, r.Deviation)
		}
		if r := Compare(finer(m), mesh.Transform(m, turn([3]float64{1, 2, 3}, 40, 5, 5, 5)), Options{}); r.Kind != Turned && !(name == "sphere" && r.Kind == Moved) {
			t.Errorf("%s cut finer and turned: %s, deviation %v", name, r.Kind, r.Deviation)
		}
		noisy := &mesh.Mesh{Vertices: append([][3]float32{}, m.Vertices...), Triangles: m.Triangles}
		random := rand.New(rand.NewSource(4))
		for i := range noisy.Vertices {
			for a := range 3 {
				noisy.Vertices[i][a] += float32(random.Float64()-0.5) * 2e-4
			}
		}
		if r := Compare(m, noisy, Options{}); r.Kind != Same || r.Exact {
			t.Errorf("%s with noise of 0.0001: %s, deviation %v", name, r.Kind, r.Deviation)
		}
		if len(m.Triangles) > 200 {
			continue // it takes long to find that everything is a little off
		}
		if r := Compare(m, noisy, Options{Tolerance: 1e-6}); r.Kind != Changed || r.Deviation < 5e-5 || r.Deviation > 4e-4 {
			t.Errorf("%s with noise of 0.0001, tolerance 0.000001: %s, deviation %v", name, r.Kind, r.Deviation)
		}
	}
}

// plate is 40 x 30 x 4, with a square hole of the given size with one corner at (x, y); none for size 0.
func plate(x, y, size float64) *mesh.Mesh {
	if size == 0 {
		return mesh.Box(40, 30, 4)
	}
	m := &mesh.Mesh{}
	add := func(px, py, pz float64) uint32 {
		m.Vertices = append(m.Vertices, [3]float32{float32(px), float32(py), float32(pz)})
		return uint32(len(m.Vertices) - 1)
	}
	outer := [4][2]float64{{0, 0}, {40, 0}, {40, 30}, {0, 30}}
	inner := [4][2]float64{{x, y}, {x + size, y}, {x + size, y + size}, {x, y + size}}
	var ids [4][4]uint32 // outer low, outer high, inner low, inner high
	for i := range 4 {
		ids[0][i], ids[1][i] = add(outer[i][0], outer[i][1], 0), add(outer[i][0], outer[i][1], 4)
		ids[2][i], ids[3][i] = add(inner[i][0], inner[i][1], 0), add(inner[i][0], inner[i][1], 4)
	}
	quad := func(a, b, c, d uint32) {
		m.Triangles = append(m.Triangles, [3]uint32{a, b, c}, [3]uint32{a, c, d})
	}
	for i := range 4 {
		j := (i + 1) % 4
		quad(ids[0][i], ids[0][j], ids[1][j], ids[1][i]) // outside
		quad(ids[2][j], ids[2][i], ids[3][i], ids[3][j]) // hole
		quad(ids[1][i], ids[1][j], ids[3][j], ids[3][i]) // top
		quad(ids[0][j], ids[0][i], ids[2][i], ids[2][j]) // bottom
	}
	return m
}

func TestChanged(t *testing.T) {
	for name, c := range map[string]struct {
		a, b           *mesh.Mesh
		deviation, tol float64
		volume         float64
		at             [3]float64 // where, within reach
		reach          float64
		first          bool
	}{
		"longer box": {mesh.Box(10, 20, 30), mesh.Box(10, 20, 31), 1, 1e-5, 200, [3]float64{5, 10, 31}, 12, false},
		"hole moved": {plate(5, 5, 6), plate(7, 5, 6), 2, 0.02, 0, [3]float64{9, 8, 2}, 6, false},
		// The middle of the filled hole is 3 from its rim; that no vertex shows.
		"hole filled": {plate(5, 5, 6), plate(0, 0, 0), 3, 0.04, 144, [3]float64{8, 8, 2}, 3, false},
		"hole opened": {plate(0, 0, 0), plate(5, 5, 6), 3, 0.04, -144, [3]float64{8, 8, 2}, 3, true},
		"hole wider":  {plate(5, 5, 6), plate(4.9, 4.9, 6.2), math.Sqrt(0.02), 2e-3, -4 * (6.2*6.2 - 36), [3]float64{8, 8, 2}, 5, false},
		"boss added":  {mesh.Box(30, 30, 3), mesh.Join(mesh.Box(30, 30, 3), mesh.Transform(mesh.Box(4, 4, 7), mesh.Shift(10, 12, 2))), 6, 1e-4, 112, [3]float64{12, 14, 9}, 3, false},
		"scaled":      {mesh.Sphere(10, 48, 24), mesh.Sphere(10.5, 48, 24), 0.5, 0.01, 655.56, [3]float64{}, 11, true},
	} {
		for _, swapped := range []bool{false, true} {
			a, b, volume, first := c.a, c.b, c.volume, c.first
			if swapped {
				a, b, volume, first = b, a, -volume, !first
			}
			r := Compare(a, shuffled(b, 5), Options{})
			if r.Kind != Changed || math.Abs(r.Deviation-c.deviation) > c.tol || math.Abs(r.VolumeDelta()-volume) > 0.5 {
				t.Errorf("%s, swapped %v: %s by %v, volume %v; want %v, %v", name, swapped, r.Kind, r.Deviation, r.VolumeDelta(), c.deviation, volume)
			}
			if distance(r.At, c.at) > c.reach {
				t.Errorf("%s, swapped %v: at %v, want about %v", name, swapped, r.At, c.at)
			}
			if name != "scaled" && name != "hole moved" && name != "hole wider" && r.OnFirst != first {
				t.Errorf("%s, swapped %v: on first %v", name, swapped, r.OnFirst)
			}
			for i := range 3 {
				if r.At[i] < r.Low[i] || r.At[i] > r.High[i] {
					t.Errorf("%s: %v is outside %v to %v", name, r.At, r.Low, r.High)
				}
			}
			if Fingerprint(a) == Fingerprint(b) {
				t.Errorf("%s: fingerprints are equal", name)
			}
		}
	}
}

// A part that was changed and moved as well is compared where it fits best.
func TestChangedAndMoved(t *testing.T) {
	r := Compare(plate(5, 5, 6), mesh.Transform(plate(7, 5, 6), mesh.Shift(100, -40, 12)), Options{})
	if r.Kind != Changed || math.Abs(r.Deviation-2) > 0.03 || r.Motion != mesh.Shift(100, -40, 12) {
		t.Errorf("moved: %+v", r)
	}
	sin := turn([3]float64{0, 0, 1}, 30, 10, 20, 30)
	r = Compare(plate(5, 5, 6), mesh.Transform(plate(5.5, 5, 6), sin), Options{})
	if r.Kind != Changed || r.Deviation > 0.5 || r.Deviation < 0.25 {
		t.Errorf("turned by 30 degrees: %s by %v", r.Kind, r.Deviation)
	}
}

// Small faults must not pass for the same.
func TestSmallFaults(t *testing.T) {
	m := mesh.Torus(60, 20, 100, 50)
	for name, change := range map[string]func(m *mesh.Mesh){
		"a facet is missing": func(m *mesh.Mesh) { m.Triangles = append(m.Triangles[:777:777], m.Triangles[778:]...) },
		"a vertex is off by 0.05": func(m *mesh.Mesh) {
			m.Vertices = append([][3]float32{}, m.Vertices...)
			m.Vertices[777][2] += 0.05
		},
	} {
		n := &mesh.Mesh{Vertices: m.Vertices, Triangles: m.Triangles}
		change(n)
		for _, motion := range []mesh.Matrix{mesh.Identity, mesh.Shift(3, 4, 5), turn([3]float64{1, 1, 0}, 50, 0, 0, 0)} {
			if r := Compare(m, mesh.Transform(n, motion), Options{}); r.Kind != Changed {
				t.Errorf("%s: %s", name, r.Kind)
			}
		}
	}
	r := Compare(bracket(), mesh.Reverse(bracket()), Options{})
	if r.Kind != Changed || r.Deviation != 0 || r.Volumes[0] != -r.Volumes[1] {
		t.Errorf("inside out: %+v", r)
	}
}

func TestEmptyAndFlat(t *testing.T) {
	empty := &mesh.Mesh{}
	if r := Compare(empty, &mesh.Mesh{Vertices: [][3]float32{{1, 2, 3}}}, Options{}); r.Kind != Same {
		t.Errorf("two empty meshes: %+v", r)
	}
	for _, swapped := range []bool{false, true} {
		a, b := empty, mesh.Box(3, 4, 12)
		if swapped {
			a, b = b, a
		}
		if r := Compare(a, b, Options{}); r.Kind != Changed || r.Deviation != 13 || r.OnFirst != swapped {
			t.Errorf("an empty mesh and a box: %+v", r)
		}
	}
	point := &mesh.Mesh{Vertices: [][3]float32{{1, 1, 1}}, Triangles: [][3]uint32{{0, 0, 0}}}
	line := &mesh.Mesh{Vertices: [][3]float32{{0, 0, 0}, {1, 0, 0}, {2, 0, 0}}, Triangles: [][3]uint32{{0, 1, 2}}}
	flat := &mesh.Mesh{Vertices: [][3]float32{{0, 0, 0}, {1, 0, 0}, {0, 2, 0}}, Triangles: [][3]uint32{{0, 1, 2}}}
	all := []*mesh.Mesh{point, line, flat, mesh.Box(1, 1, 1)}
	for i, a := range all {
		for j, b := range all {
			r := Compare(a, b, Options{})
			if (r.Kind == Same) != (i == j) || math.IsNaN(r.Deviation) || math.IsInf(r.Deviation, 0) {
				t.Errorf("%d and %d: %+v", i, j, r)
			}
		}
	}
}

// Order and number of processors make no difference.
func TestDeterministic(t *testing.T) {
	a, b := mesh.Torus(60, 20, 48, 24), mesh.Join(mesh.Torus(60, 20.3, 48, 24), mesh.Transform(mesh.Box(2, 2, 2), mesh.Shift(60, 0, 0)))
	want := Compare(a, b, Options{})
	for seed := range int64(4) {
		got := Compare(shuffled(a, seed), shuffled(b, seed+10), Options{})
		got.Volumes = want.Volumes // sums in another order
		if got != want {
			t.Errorf("seed %d: %+v, want %+v", seed, got, want)
		}
	}
}

// A mesh in metres is a thousand times smaller, and still not the same as any other.
func TestTiny(t *testing.T) {
	m, n := mesh.Transform(bracket(), mesh.Scale(0.001)), mesh.Transform(plate(5, 5, 6), mesh.Scale(0.001))
	if r := Compare(m, n, Options{}); r.Kind != Changed || r.Deviation < 0.01 {
		t.Errorf("different: %+v", r)
	}
	if r := Compare(m, mesh.Transform(m, turn([3]float64{1, 2, 3}, 40, 0, 0, 0)), Options{}); r.Kind != Turned {
		t.Errorf("turned: %+v", r)
	}
}

// Fingerprints do not see what is below the grid, and see all else.
func TestFingerprint(t *testing.T) {
	m := bracket()
	n := &mesh.Mesh{Vertices: append([][3]float32{}, m.Vertices...), Triangles: m.Triangles}
	n.Vertices[3][0] += 1e-5
	if Fingerprint(m) != Fingerprint(n) {
		t.Error("0.00001 mm makes another fingerprint")
	}
	n.Vertices[3][0] += 1e-3
	if Fingerprint(m) == Fingerprint(n) {
		t.Error("0.001 mm makes no other fingerprint")
	}
	if Fingerprint(m) == Fingerprint(mesh.Reverse(m)) || Fingerprint(m) == Fingerprint(mesh.Transform(m, mesh.Shift(1, 0, 0))) {
		t.Error("inside out or moved makes no other fingerprint")
	}
	negative := &mesh.Mesh{Vertices: append([][3]float32{}, m.Vertices...), Triangles: m.Triangles}
	for i := range negative.Vertices {
		for a, x := range negative.Vertices[i] {
			if x == 0 {
				negative.Vertices[i][a] = float32(math.Copysign(0, -1))
			}
		}
	}
	if Fingerprint(m) != Fingerprint(negative) || !Compare(m, negative, Options{}).Exact {
		t.Error("-0 is not 0")
	}
	if ShapeOf(bracket()).Near(ShapeOf(mesh.Box(40, 20, 3))) || ShapeOf(mesh.Box(10, 20, 30)).Near(ShapeOf(mesh.Box(10, 20, 30.1))) {
		t.Error("different shapes are near")
	}
}

// The nearest point by the tree is that by trying all facets.
func TestNearestBrute(t *testing.T) {
	m := mesh.Join(mesh.Torus(30, 10, 24, 12), bracket())
	tr := newTree(m)
	random := rand.New(rand.NewSource(6))
	for range 500 {
		p := [3]float64{random.NormFloat64() * 40, random.NormFloat64() * 40, random.NormFloat64() * 20}
		want := math.Inf(1)
		for _, f := range m.Triangles {
			want = min(want, distance(p, closest(p, wide(m.Vertices[f[0]]), wide(m.Vertices[f[1]]), wide(m.Vertices[f[2]]))))
		}
		if got := tr.nearest(p, -1); math.Abs(got.distance-want) > 1e-12 {
			t.Fatalf("%v: %v, want %v", p, got.distance, want)
		}
	}
}

// A search that begins at a guess finds what one from the top finds, or stops within what is enough.
func TestGuess(t *testing.T) {
	tr := newTree(shuffled(mesh.Join(mesh.Torus(30, 10, 48, 24), bracket()), 3))
	random := rand.New(rand.NewSource(7))
	stopped := 0
	for range 500 {
		p := [3]float64{random.NormFloat64() * 40, random.NormFloat64() * 40, random.NormFloat64() * 20}
		want := tr.nearest(p, -1)
		guess := int32(random.Intn(len(tr.order)))
		if got := tr.search(p, -1, math.Inf(1), guess, math.MaxInt); got.distance != want.distance {
			t.Fatalf("%v from %d: %v, want %v", p, guess, got.distance, want.distance)
		}
		enough := 1.05 * want.distance
		got := tr.search(p, enough, math.Inf(1), want.place, math.MaxInt)
		if got.distance > enough || got.distance < want.distance {
			t.Fatalf("%v: %v, want %v to %v", p, got.distance, want.distance, enough)
		}
		if got.visits == 1 {
			stopped++
		}
	}
	if stopped < 490 {
		t.Errorf("a good guess spared the rest of the search only %d times of 500", stopped)
	}
}

// What only one of two lists has is found whether few heaps or many are sorted, twins counted.
func TestDifference(t *testing.T) {
	random := rand.New(rand.NewSource(8))
	for _, n := range []int{3, 700, 60_000} {
		var a, b []facetHash
		wantA, wantB := map[uint32]bool{}, map[uint32]bool{}
		for i := range n {
			h := random.Uint64()
			switch {
			case i%10 == 1:
				a = append(a, facetHash{h, uint32(i)})
				wantA[uint32(i)] = true
			case i%10 == 2:
				b = append(b, facetHash{h, uint32(i)})
				wantB[uint32(i)] = true
			case i%10 == 3: // one has it twice
				a = append(a, facetHash{h, uint32(i)}, facetHash{h, uint32(i)})
				b = append(b, facetHash{h, uint32(i)})
				wantA[uint32(i)] = true
			default:
				a, b = append(a, facetHash{h, uint32(i)}), append(b, facetHash{h, uint32(i)})
			}
		}
		random.Shuffle(len(a), func(i, j int) { a[i], a[j] = a[j], a[i] })
		onlyA, onlyB := difference(a, b)
		for k, got := range [2][]uint32{onlyA, onlyB} {
			want := [2]map[uint32]bool{wantA, wantB}[k]
			if len(got) != len(want) {
				t.Errorf("%d facets: %d are on one side only, want %d", n, len(got), len(want))
			}
			for _, f := range got {
				if !want[f] {
					t.Fatalf("%d facets: %d is on both sides", n, f)
				}
			}
		}
	}
}
