package fit

import (
	"math"
	"testing"

	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
)

func block(lo, hi [3]float64) *mesh.Mesh {
	return mesh.Transform(mesh.Box(hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2]), shiftOf(lo))
}

func shiftOf(p [3]float64) mesh.Matrix { return mesh.Shift(p[0], p[1], p[2]) }

// trough is a box open above and at both ends (along y): a floor and two walls, 40 wide inside.
func trough() Body {
	return Body{"box", mesh.Join(block([3]float64{-22, 0, 0}, [3]float64{22, 60, 2}), block([3]float64{-22, 0, 2}, [3]float64{-20, 60, 20}), block([3]float64{20, 0, 2}, [3]float64{22, 60, 20}))}
}

func along(list []facts.Play, axis string) (facts.Play, bool) {
	for _, p := range list {
		if p.Axis == axis && p.Overlap == 0 {
			return p, true
		}
	}
	return facts.Play{}, false
}

func playsOf(bodies ...Body) []facts.Play {
	out, _ := Plays(bodies)
	return out
}

// Exact gaps of flat faces, worked out by hand.
func TestPlayBetweenWalls(t *testing.T) {
	for _, c := range []struct {
		name        string
		left, right float64 // gaps at the two walls
	}{{"no gap at all", 0, 0}, {"five hundredths", 0.05, 0}, {"a snug fit", 0.1, 0.05}, {"loose", 0.25, 0.25}} {
		lid := Body{"lid", block([3]float64{-20 + c.left, 5, 10}, [3]float64{20 - c.right, 55, 14})}
		for _, pair := range [][]Body{{trough(), lid}, {lid, trough()}} {
			p, ok := along(playsOf(pair...), "x")
			if !ok || math.Abs(p.Total-c.left-c.right) > 0.005 {
				t.Errorf("%s: %+v, want %v in all", c.name, playsOf(pair...), c.left+c.right)
			}
			if _, ok := along(playsOf(pair...), "y"); ok {
				t.Errorf("%s: nothing stops it along y", c.name)
			}
		}
	}
	far := Body{"lid", block([3]float64{-19, 5, 10}, [3]float64{19, 55, 14})}
	if got := playsOf(trough(), far); len(got) > 0 {
		t.Errorf("a millimetre on each side is no fit: %+v", got)
	}
	// The rim of a lid: each half touches one wall, with air between. Its play is that of the whole lid.
	rim := Body{"lid", mesh.Join(block([3]float64{-19.9, 5, 10}, [3]float64{-18, 55, 14}), block([3]float64{18, 5, 10}, [3]float64{20, 55, 14}))}
	if p, ok := along(playsOf(trough(), rim), "x"); !ok || math.Abs(p.Total-0.1) > 0.005 {
		t.Errorf("a rim: %+v, want 0.1 in all", playsOf(trough(), rim))
	}
}

func TestWhatOnlyLiesOnAnotherIsNotHeld(t *testing.T) {
	lid := Body{"lid", block([3]float64{-22, 0, 20}, [3]float64{22, 60, 24})}
	if got := playsOf(trough(), lid); len(got) > 0 {
		t.Errorf("a lid on a rim: %+v", got)
	}
	beside := Body{"peg", block([3]float64{22, 0, 0}, [3]float64{30, 60, 20})}
	if got := playsOf(trough(), beside); len(got) > 0 {
		t.Errorf("a block against the wall: %+v", got)
	}
}

func TestOverlapIsTold(t *testing.T) {
	lid := Body{"lid", block([3]float64{-20.3, 5, 10}, [3]float64{19.9, 55, 14})} // 0.3 into one wall, 50 long and 4 high
	got := playsOf(trough(), lid)
	if len(got) != 1 || math.Abs(got[0].Overlap-60) > 2 || math.Abs(got[0].Deep-0.3) > 0.005 || got[0].Axis != "x" {
		t.Errorf("%+v, want 60 mm3, 0.3 deep along x", got)
	}
}

// A round peg in a round hole, and the same pair turned and moved together.
func TestPlayOfAPeg(t *testing.T) {
	const n, r = 96, 5.0
	ring := func(outer, inner, high float64) *mesh.Mesh {
		return mesh.Lathe([][2]float64{{inner, 0}, {outer, 0}, {outer, high}, {inner, high}, {inner, 0}}, n)
	}
	for _, gap := range []float64{0.02, 0.15} {
		peg, hole := mesh.Prism(n, r-gap, 12), ring(12, r, 10)
		if rep, _ := mesh.Inspect(hole); rep.EdgeCounts.Open != 0 || rep.Volume == nil || *rep.Volume < 0 {
			t.Fatalf("the ring is no solid: %+v", rep)
		}
		for name, m := range map[string]mesh.Matrix{"as drawn": mesh.Identity, "moved and on its side": {{1, 0, 0, 3.7}, {0, 0, -1, 11}, {0, 1, 0, -5}}} {
			got := playsOf(Body{"plate", mesh.Transform(hole, m)}, Body{"peg", mesh.Transform(peg, m)})
			p, ok := along(got, "x")
			if !ok || p.Total < 2*gap-0.02 || p.Total > 2*gap+0.06 { // facets and the width of the touching strip
				t.Errorf("%s, gap %v: %+v", name, gap, got)
			}
		}
	}
}

func TestPlayOfOddBodies(t *testing.T) {
	empty := Body{"nothing", &mesh.Mesh{}}
	open := trough()
	open.Mesh = &mesh.Mesh{Vertices: open.Mesh.Vertices, Triangles: open.Mesh.Triangles[1:]}
	playsOf(empty, trough())
	playsOf(open, Body{"lid", block([3]float64{-20, 5, 10}, [3]float64{20, 55, 14})})
	thin := Body{"wire", block([3]float64{-20, 5, 10}, [3]float64{20, 5.001, 10.001})}
	if got := playsOf(trough(), thin); len(got) > 0 {
		t.Errorf("a wire without surface: %+v", got)
	}
}

// A tower of sheets, each of which meets every line of sight, is given up before it fills the memory.
func TestPlaysOfEndlessSheets(t *testing.T) {
	tower := &mesh.Mesh{}
	for i := range 3000 {
		sheet := block([3]float64{-20, 0, float64(i) / 100}, [3]float64{20, 60, float64(i)/100 + 0.005})
		at := uint32(len(tower.Vertices))
		tower.Vertices = append(tower.Vertices, sheet.Vertices...)
		for _, f := range sheet.Triangles {
			tower.Triangles = append(tower.Triangles, [3]uint32{f[0] + at, f[1] + at, f[2] + at})
		}
	}
	out, left := Plays([]Body{{"tower", tower}, trough()})
	if len(out) > 0 || len(left) != 1 || left[0] != "tower and box" {
		t.Errorf("%+v, left %v", out, left)
	}
}

// BenchmarkPlays: a ring and a peg of a quarter of a million facets each, compared along three axes.
func BenchmarkPlays(b *testing.B) {
	const n = 1400
	var profile [][2]float64
	for i := range 90 {
		profile = append(profile, [2]float64{50, float64(i)})
	}
	for i := range 90 {
		profile = append(profile, [2]float64{40, float64(89 - i)})
	}
	ring := mesh.Lathe(append(profile, profile[0]), n)
	peg := mesh.Sphere(39.9, n/2, n/4)
	bodies := []Body{{"ring", ring}, {"peg", mesh.Transform(peg, mesh.Shift(0, 0, 45))}}
	b.ReportMetric(float64(len(ring.Triangles)+len(peg.Triangles)), "facets")
	for b.Loop() {
		if len(playsOf(bodies...)) == 0 {
			b.Fatal("nothing found")
		}
	}
}
