package estimate

import (
	"math"
	"sort"
	"testing"

	"dropwright/bundle/mesh"
	"dropwright/bundle/motion"
	"dropwright/bundle/section"
)

var bench = motion.Limits{Acceleration: 1500, CornerDeviation: 0.02}

func square2(side float64) []section.Point {
	return []section.Point{{0, 0}, {side, 0}, {side, side}, {0, side}}
}

func circle(r float64, n int) []section.Point {
	var p []section.Point
	for i := range n {
		y, x := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		p = append(p, section.Point{r * x, r * y})
	}
	return p
}

// Derived by hand: the outer loop of a square printed in 0.45 mm lines at 50 mm/s, the second at 80.
func TestSquareLoopExactly(t *testing.T) {
	m := DefaultMachine()
	m.Limits = bench
	for _, c := range []struct{ side, outer, second float64 }{{20, 1.666, 1.114}, {60, 4.866, 3.114}, {8, 0.706, 0.514}} {
		var tr tracer
		got := tr.trace([]section.Loop{{Points: square2(c.side)}}, false, &plain, &m, 50, 80)
		if math.Abs(got.outlineSeconds-c.outer) > 6e-4 || math.Abs(got.wallSeconds-c.second) > 6e-4 {
			t.Errorf("side %g: %.4f and %.4f s, want %.3f and %.3f", c.side, got.outlineSeconds, got.wallSeconds, c.outer, c.second)
		}
		v, l := bench.Corner(0), c.side-0.45
		want := motion.Trap(l, 0, v, 50, 1500) + 2*motion.Trap(l, v, v, 50, 1500) + motion.Trap(l, v, 0, 50, 1500)
		within(t, "closed form", got.outlineSeconds, want, 1e-12)
		within(t, "outline length", got.outline, 4*(c.side-0.45), 1e-12)
		within(t, "wall length", got.wall, 4*(c.side-3*0.45), 1e-12)
	}
}

// The same for a hole: its lines lie outside the outline, rounded at the corners.
func TestHoleLoop(t *testing.T) {
	m, s := DefaultMachine(), plain
	s.Walls = 4
	hole := square2(10)
	for i, j := 0, len(hole)-1; i < j; i, j = i+1, j-1 {
		hole[i], hole[j] = hole[j], hole[i]
	}
	var tr tracer
	got := tr.trace([]section.Loop{{Points: hole}}, false, &s, &m, 50, 80)
	within(t, "outline", got.outline, 40+2*math.Pi*0.5*0.45, 1e-9)
	within(t, "walls", got.wall, 3*40+2*math.Pi*0.45*(1.5+2.5+3.5), 1e-9)
	// An inside-out square has its lines where the square has them.
	flipped := tr.trace([]section.Loop{{Points: hole}}, true, &s, &m, 50, 80)
	within(t, "flipped", flipped.outline, 40-4*0.45, 1e-9)
}

// lines is the tool path of a convex region filled at the given angle: parallel lines, there and back,
// joined at their ends by the straight move to the next. Written independently of hatch.
func lines(region []section.Point, spacing, angle, speed float64, l motion.Limits) float64 {
	sin, cos := math.Sincos(angle)
	var p []section.Point
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, q := range region {
		r := section.Point{q[0]*cos + q[1]*sin, -q[0]*sin + q[1]*cos}
		p = append(p, r)
		lo, hi = math.Min(lo, r[1]), math.Max(hi, r[1])
	}
	plan := motion.Planner{Limits: l}
	var at section.Point
	n := 0
	for y := lo + spacing/2; y < hi; y += spacing {
		var x []float64
		for i := range p {
			a, b := p[i], p[(i+1)%len(p)]
			if (a[1] <= y) != (b[1] <= y) {
				x = append(x, a[0]+(y-a[1])*(b[0]-a[0])/(b[1]-a[1]))
			}
		}
		sort.Float64s(x)
		from, to := section.Point{x[0], y}, section.Point{x[len(x)-1], y}
		if n%2 == 1 {
			from, to = to, from
		}
		if n > 0 {
			plan.Line([3]float64{from[0] - at[0], from[1] - at[1], 0}, speed)
		}
		plan.Line([3]float64{to[0] - from[0], to[1] - from[1], 0}, speed)
		at = to
		n++
	}
	return plan.Seconds()
}

// Fill at 45 and 135 degrees, line by line, against the count of pixel stretches: within 3 % solid and
// 6 % sparse, at three sizes. At a side of 8 mm sparse lines are two or three, and rounding to whole
// lines alone makes a quarter of the time: no case.
func TestHatchAgainstSimulatedLines(t *testing.T) {
	for _, size := range []float64{15, 30, 60} {
		for _, c := range []struct {
			name   string
			region []section.Point
			mesh   *mesh.Mesh
		}{
			{"square", square2(size), mesh.Box(size, size, 1)},
			{"circle", circle(size/2, 128), mesh.Prism(128, size/2, 1)},
		} {
			for _, f := range []struct {
				name           string
				spacing, share float64
			}{{"solid", 0.45, 0.03}, {"sparse", 0.45 / 0.15, 0.06}} {
				b, _ := bounds(c.mesh)
				g := newGrid(b.ulo, b.uhi, 0, 0.45)
				paint := painter{grid: &g}
				h := hand{}
				h.loopEdges(&g, c.region)
				bits := make(bitmap, g.words())
				paint.fill(bits, h.edges)
				along, across := g.runs(bits)
				got := hatch(&g, float64(bits.count())*g.px*g.px, along, across, f.spacing, 80, bench)
				want := (lines(c.region, f.spacing, math.Pi/4, 80, bench) + lines(c.region, f.spacing, 3*math.Pi/4, 80, bench)) / 2
				t.Logf("%s %g %s: %.3f s, simulated %.3f s (%+.1f %%)", c.name, size, f.name, got, want, 100*(got/want-1))
				within(t, c.name+" "+f.name, got, want, f.share)
				// With full stops between the lines it must fail for solid fill of the smallest.
				if stop := hatch(&g, float64(bits.count())*g.px*g.px, along, across, f.spacing, 80, motion.Limits{Acceleration: 1500}); f.name == "solid" && size == 15 && math.Abs(stop/want-1) < f.share {
					t.Errorf("full stops are not told apart: %g", stop)
				}
			}
		}
	}
}

// A whole part: loops, fill, travel and changes of layer, without the minimum layer time, against the
// sum of separately simulated paths.
func TestCubeTime(t *testing.T) {
	m := DefaultMachine()
	m.Limits, m.MinLayer, m.First = bench, 0, 1000
	e, err := Part(mesh.Box(20, 20, 20), plain, m)
	if err != nil {
		t.Fatal(err)
	}
	inner := square2(20 - 4*0.45)
	path := func(spacing float64) float64 {
		return (lines(inner, spacing, math.Pi/4, 80, bench) + lines(inner, spacing, 3*math.Pi/4, 80, bench)) / 2
	}
	hops := 2*motion.Trap(0.45, 0, 0, m.Travel, 1500) + motion.Trap(18.2/2, 0, 0, m.Travel, 1500) + layerChange
	want := 100*(1.666+1.114+hops) + 8*path(0.45) + 92*path(3)
	within(t, "cube", e.Seconds, want, 0.03)
	m.MinLayer = 30
	slow, err := Part(mesh.Box(20, 20, 20), plain, m)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "minimum layer time", slow.Seconds, 3000, 1e-9)
}
