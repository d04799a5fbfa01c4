package mesh

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// noisy is m with loose facets whose corners are off by up to eps (mm) each.
func noisy(m *Mesh, eps float64, seed uint64) *Mesh {
	r := rand.New(rand.NewPCG(seed, 2))
	out := &Mesh{}
	for _, t := range m.Triangles {
		n := uint32(len(out.Vertices))
		for _, id := range t {
			p := wide(m.Vertices[id])
			for a := range p {
				p[a] += eps * (2*r.Float64() - 1)
			}
			out.Vertices = append(out.Vertices, narrow(p))
		}
		out.Triangles = append(out.Triangles, [3]uint32{n, n + 1, n + 2})
	}
	return out
}

// quartered splits every facet in four at the middles of its edges.
func quartered(m *Mesh) *Mesh {
	out := &Mesh{Vertices: append([][3]float32(nil), m.Vertices...)}
	middles := map[[2]uint32]uint32{}
	middle := func(a, b uint32) uint32 {
		key := [2]uint32{min(a, b), max(a, b)}
		id, ok := middles[key]
		if !ok {
			id = uint32(len(out.Vertices))
			p, q := wide(m.Vertices[a]), wide(m.Vertices[b])
			out.Vertices = append(out.Vertices, narrow([3]float64{(p[0] + q[0]) / 2, (p[1] + q[1]) / 2, (p[2] + q[2]) / 2}))
			middles[key] = id
		}
		return id
	}
	for _, t := range m.Triangles {
		a, b, c := middle(t[0], t[1]), middle(t[1], t[2]), middle(t[2], t[0])
		out.Triangles = append(out.Triangles, [3]uint32{t[0], a, c}, [3]uint32{a, t[1], b}, [3]uint32{c, b, t[2]}, [3]uint32{a, b, c})
	}
	return out
}

// shape draws one of the exact solids, of any size that a printer takes.
func shape(t *rapid.T) *Mesh {
	size := func(label string) float64 { return rapid.Float64Range(13, 300).Draw(t, label) }
	n := rapid.IntRange(3, 40).Draw(t, "sectors")
	switch rapid.IntRange(0, 3).Draw(t, "shape") {
	case 0:
		return Box(size("x"), size("y"), size("z"))
	case 1:
		return Prism(n, size("radius"), size("height"))
	case 2:
		return Sphere(size("radius"), n, n/2+2)
	}
	minor := rapid.Float64Range(5, 40).Draw(t, "minor")
	return Torus(minor+size("more"), minor, n, n/2+3)
}

func TestMetamorphic(t *testing.T) {
	const tol = 1e-5 // float32 vertices are rounded anew by each transformation
	rapid.Check(t, func(t *rapid.T) {
		m := shape(t)
		base, _ := Inspect(m)
		if base.Volume == nil || len(base.Faults) > 0 {
			t.Fatalf("the shape itself: %+v", base)
		}
		check := func(what string, m *Mesh, volume, area float64, centroid [3]float64) {
			r, _ := Inspect(m)
			if r.Volume == nil {
				t.Fatalf("%s: no volume: %+v", what, r)
			}
			if e := math.Abs(*r.Volume-volume) / math.Abs(volume); e > tol {
				t.Errorf("%s: volume %v, want %v", what, *r.Volume, volume)
			}
			if e := math.Abs(r.Area-area) / area; e > tol {
				t.Errorf("%s: area %v, want %v", what, r.Area, area)
			}
			reach := r.Size[0] + r.Size[1] + r.Size[2]
			if d := distance(*r.Centroid, centroid); d > tol*reach {
				t.Errorf("%s: centroid %v, want %v", what, *r.Centroid, centroid)
			}
			if r.Shells != base.Shells || r.EdgeCounts != (EdgeCounts{Vertices: r.Vertices}) {
				t.Errorf("%s: %+v", what, r)
			}
		}
		v, a, g := *base.Volume, base.Area, *base.Centroid
		d := rapid.Float64Range(-500, 500).Draw(t, "shift")
		check("moved", Transform(m, Shift(d, -d, d/2)), v, a, [3]float64{g[0] + d, g[1] - d, g[2] + d/2})
		check("axes swapped", Transform(m, Matrix{{0, 1, 0, 0}, {0, 0, 1, 0}, {1, 0, 0, 0}}), v, a, [3]float64{g[1], g[2], g[0]})
		check("mirrored", Mirror(m), v, a, [3]float64{-g[0], g[1], g[2]})
		check("mirrored twice", Mirror(Mirror(m)), v, a, g)
		check("reversed", Reverse(m), -v, a, g)
		s := rapid.Float64Range(0.2, 5).Draw(t, "scale")
		check("scaled", Transform(m, Scale(s)), v*s*s*s, a*s*s, [3]float64{g[0] * s, g[1] * s, g[2] * s})
		check("quartered", quartered(m), v, a, g)
		turn := &Mesh{Vertices: m.Vertices}
		for i, t := range m.Triangles {
			turn.Triangles = append(turn.Triangles, [3]uint32{t[i%3], t[(i+1)%3], t[(i+2)%3]})
		}
		check("facets begun elsewhere", turn, v, a, g)
	})
}

// The sums are integers of a scale that follows the part, so that neither distance nor size costs digits
// beyond those that float32 vertices lose themselves.
func TestSumsFarAndSmall(t *testing.T) {
	r, _ := Inspect(Transform(Box(8, 8, 8), Shift(1<<20, -1<<20, 1<<20)))
	near(t, "volume far away", *r.Volume, 512)
	near(t, "area far away", r.Area, 384)
	for _, s := range []float64{1e-30, 1e-6, 1e6, 1e30} {
		r, _ := Inspect(Transform(Torus(30, 10, 120, 60), Scale(s)))
		near(t, "volume scaled", *r.Volume/(s*s*s), 59082.448461)
		near(t, "area scaled", r.Area/(s*s), 11834.734173)
	}
}

func TestInt128(t *testing.T) {
	var s int128
	for range 5 {
		s.add(math.MaxInt64)
	}
	if got, want := s.float(), 5*math.Ldexp(1, 63); got != want {
		t.Errorf("sum %v, want %v", got, want)
	}
	for range 10 {
		s.add(math.MinInt64)
	}
	if got, want := s.float(), -5*math.Ldexp(1, 63); got != want {
		t.Errorf("sum %v, want %v", got, want)
	}
}
