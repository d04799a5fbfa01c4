package same

import (
	"math"
	"math/rand"
	"runtime"
	"testing"

	"dropwright/bundle/mesh"
)

// cup is a blind bore in a cylinder, in n sectors: 8n facets that are slivers for a large n.
func cup(bore float64, n int) *mesh.Mesh {
	return mesh.Lathe([][2]float64{{0, 0}, {20, 0}, {20, 30}, {bore, 30}, {bore, 5}, {0, 5}}, n)
}

// needles are thin facets through one point in all directions: each is about as near to any place as the others.
func needles(n int, seed int64) *mesh.Mesh {
	random := rand.New(rand.NewSource(seed))
	m := &mesh.Mesh{}
	for range n {
		x := [3]float64{random.NormFloat64(), random.NormFloat64(), random.NormFloat64()}
		l := 30 / norm(x)
		for k := range 3 {
			x[k] *= l
		}
		id := uint32(len(m.Vertices))
		m.Vertices = append(m.Vertices, narrow(x), narrow([3]float64{-x[0], -x[1], -x[2]}), narrow([3]float64{x[0] + 0.001, x[1], x[2]}))
		m.Triangles = append(m.Triangles, [3]uint32{id, id + 1, id + 2})
	}
	return m
}

// A cup of a million slivers against one of another bore took more than 8 minutes: the upright boxes of slivers
// that run askew overlap by the ten thousand. Boxes opened are counted, for time depends on the machine.
func TestSliversTakeFewBoxes(t *testing.T) {
	askew := turn([3]float64{1, 2, 3}, 40, 1, 2, 3)
	for name, motion := range map[string]mesh.Matrix{"upright": mesh.Identity, "askew": askew} {
		other := mesh.Transform(cup(10.5, 7500), motion)
		p := &pair{}
		points := p.samples(other, 200)
		for order, m := range map[string]*mesh.Mesh{"in order": cup(10, 7500), "shuffled": shuffled(cup(10, 7500), 1)} {
			tr := newTree(mesh.Transform(m, motion))
			visits := 0
			for _, x := range points {
				visits += tr.nearest(x, -1).visits
			}
			// The tree must owe it to the planks, or this test tells nothing.
			with := visits / len(points)
			visits, tr.planks = 0, nil
			for _, x := range points {
				visits += tr.nearest(x, -1).visits
			}
			without := visits / len(points)
			t.Logf("%s, %s: %d boxes a search, %d without planks", name, order, with, without)
			if with > 150 || without < 2*with {
				t.Errorf("%s, %s: %d boxes a search, %d without planks; at most 150 and half of it are good", name, order, with, without)
			}
		}
	}
	if newTree(mesh.Torus(30, 10, 200, 100)).planks != nil {
		t.Error("a ring of compact facets has planks")
	}
}

// The nearest point by a tree with planks is that by trying all facets; a search cut short brackets it.
func TestPlanksBrute(t *testing.T) {
	line := &mesh.Mesh{Vertices: [][3]float32{{0, 0, 0}, {9, 9, 9}, {3, 3, 3}, {1, 2, 3}}, Triangles: [][3]uint32{{0, 1, 2}, {3, 3, 3}}}
	m := mesh.Transform(mesh.Join(cup(10, 200), needles(200, 1), line), turn([3]float64{1, 2, 3}, 40, 500, 2, 3))
	tr := newTree(m)
	if tr.planks == nil {
		t.Fatal("no planks")
	}
	random := rand.New(rand.NewSource(6))
	points := (&pair{}).samples(m, 100) // those on the surface as well
	for range 300 {
		points = append(points, [3]float64{500 + random.NormFloat64()*40, random.NormFloat64() * 40, random.NormFloat64() * 20})
	}
	for _, p := range points {
		want := math.Inf(1)
		for _, f := range m.Triangles {
			want = min(want, distance(p, closest(p, wide(m.Vertices[f[0]]), wide(m.Vertices[f[1]]), wide(m.Vertices[f[2]]))))
		}
		h := tr.nearest(p, -1)
		if math.Abs(h.distance-want) > 1e-12 || h.least != h.distance {
			t.Fatalf("%v: %v, want %v", p, h.distance, want)
		}
		for _, most := range []int{1, 4, last, 40} {
			if c := tr.search(p, -1, math.Inf(1), -1, most); c.visits > most || c.least > want+1e-12 || c.distance < want-1e-12 {
				t.Fatalf("%v with %d boxes: %v to %v in %d, want %v", p, most, c.least, c.distance, c.visits, want)
			}
		}
	}
}

// Where no tree helps, the work is bounded and the result says so.
func TestPurse(t *testing.T) {
	tr := newTree(needles(20_000, 1))
	const n, each = 100, 50
	spent, cut := 0, false
	purse := purse(n * each)
	for _, x := range (&pair{}).samples(needles(n, 2), 1000)[:n] {
		h := purse.nearest(tr, [3]float64{x[0] / 9, x[1] / 9, x[2] / 9}, -1, -1)
		spent += h.visits
		cut = cut || h.least < h.distance
		if math.IsInf(h.distance, 0) {
			t.Errorf("%v: nothing found", x)
		}
	}
	if spent > n*(each+last) || !cut {
		t.Errorf("%d boxes were opened, want at most %d; cut short: %v", spent, n*(each+last), cut)
	}
	r := Compare(needles(2_000, 1), needles(2_000, 2), Options{})
	if r.Kind != Changed || !r.Sampled {
		t.Errorf("needles: %+v", r)
	}
}

func TestSampled(t *testing.T) {
	for _, c := range []struct {
		n       int
		sampled bool
	}{{16, false}, {64, false}, {7500, true}} {
		r := Compare(cup(10, c.n), cup(10.5, c.n), Options{})
		if r.Kind != Changed || math.Abs(r.Deviation-0.5) > 0.01 || r.Sampled != c.sampled {
			t.Errorf("%d sectors: %+v", c.n, r)
		}
	}
	// Facets that both meshes have need no look inside, so a dent is known for sure however many there are.
	m := cup(10, 7500)
	m.Vertices[7777][2] += 0.5
	if r := Compare(cup(10, 7500), m, Options{}); r.Kind != Changed || math.Abs(r.Deviation-0.5) > 0.02 || r.Sampled {
		t.Errorf("a dent: %+v", r)
	}
}

// What is found when the work is cut short does not depend on the number of processors.
func TestSampledDeterministic(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for name, pair := range map[string][2]*mesh.Mesh{
		"needles": {needles(2_000, 1), needles(2_000, 2)},
		"cups":    {cup(10, 4000), cup(10.5, 4000)},
	} {
		runtime.GOMAXPROCS(1)
		want := Compare(pair[0], pair[1], Options{})
		for _, n := range []int{5} {
			runtime.GOMAXPROCS(n)
			if got := Compare(pair[0], pair[1], Options{}); got != want {
				t.Errorf("%s on %d processors: %+v, want %+v", name, n, got, want)
			}
		}
	}
}

// BenchmarkSlivers compares two cups of a million slivers each; 4 s of processor time are wanted.
func BenchmarkSlivers(b *testing.B) {
	benchmark(b, Changed, cup(10, 125_000), cup(10.5, 125_000))
}

func BenchmarkDent1M(b *testing.B) {
	m := million()
	m.Vertices[77_777][2] += 0.5
	benchmark(b, Changed, million(), m)
}

func BenchmarkDentSlivers(b *testing.B) {
	m := cup(10, 125_000)
	m.Vertices[77_777][2] += 0.5
	benchmark(b, Changed, cup(10, 125_000), m)
}
