package motion

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

const tol = 1e-9

// bench is the machine of the hand-derived cases: 1500 mm/s2, corner deviation 0.02 mm.
var bench = Limits{Acceleration: 1500, CornerDeviation: 0.02}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tol {
		t.Errorf("%s: got %.12g, want %.12g (within %g)", what, got, want, tol)
	}
}

// Textbook cases: s = v*v/2a to speed up, the same to brake.
func TestTrapIsTheTextbookRamp(t *testing.T) {
	cases := []struct{ l, u, w, v, a, want float64 }{
		{100, 0, 0, 50, 1000, 100.0/50 + 50.0/1000}, // full trapezoid: l/v + v/a
		{1, 0, 0, 1000, 1000, 2 * math.Sqrt(1.0/1000)},
		{10, 20, 20, 20, 1000, 0.5},
		{7.5, 0, 50, 50, 500.0 / 3, 0.3}, // pure ramp: 2l/(u+w)
		{10, 0, 0, 20, 0, 0.5},           // no limit
		{0, 0, 0, 20, 100, 0},
		{10, 0, 0, 0, 100, 0},
	}
	for _, c := range cases {
		near(t, "trap", Trap(c.l, c.u, c.w, c.v, c.a), c.want, tol)
	}
}

func TestCorner(t *testing.T) {
	// s = sin 45 degrees: v = sqrt(1500*0.02*s/(1-s)) = 8.510 mm/s, derived by hand.
	near(t, "right angle", bench.Corner(0), 8.510, 5e-4)
	near(t, "back", bench.Corner(-1), 0, tol)
	if v := bench.Corner(1); !math.IsInf(v, 1) {
		t.Errorf("straight on: %g, want no limit", v)
	}
	if a, b := bench.Corner(0.9), bench.Corner(0.5); a <= b {
		t.Errorf("a wider turn must be slower: %g, %g", a, b)
	}
}

func square(l Limits, side, speed float64) float64 {
	p := Planner{Limits: l}
	p.Line([3]float64{side, 0, 0}, speed)
	p.Line([3]float64{0, side, 0}, speed)
	p.Line([3]float64{-side, 0, 0}, speed)
	p.Line([3]float64{0, -side, 0}, speed)
	return p.Seconds()
}

// Hand-derived: loops of a square of side S printed with 0.45 mm lines; the outer one at 50 mm/s,
// the second at 80 mm/s. Given to the millisecond.
func TestSquareLoop(t *testing.T) {
	for _, c := range []struct{ side, outer, second float64 }{{20, 1.666, 1.114}, {60, 4.866, 3.114}, {8, 0.706, 0.514}} {
		near(t, "outer loop", square(bench, c.side-0.45, 50), c.outer, 6e-4)
		near(t, "second loop", square(bench, c.side-3*0.45, 80), c.second, 6e-4)
		// The closed form, to the last digit: 0 -> corner, two sides corner -> corner, corner -> 0.
		v, l := bench.Corner(0), c.side-0.45
		want := Trap(l, 0, v, 50, 1500) + 2*Trap(l, v, v, 50, 1500) + Trap(l, v, 0, 50, 1500)
		near(t, "closed form", square(bench, l, 50), want, 1e-12)
	}
	// The wrong answer must be told apart: full stops in the corners are slower by about 0.3 %.
	if stops := square(Limits{Acceleration: 1500}, 19.55, 50); stops-1.666 < 6e-4 {
		t.Errorf("with full stops %.4f s: not told apart from 1.666", stops)
	}
}

// A straight line cut into pieces takes as long as the whole, however many pieces.
func TestPiecesOfALine(t *testing.T) {
	for _, n := range []int{2, 7, window - 1, window, window + 1, 5000} {
		p := Planner{Limits: bench}
		for range n {
			p.Line([3]float64{300 / float64(n) * 0.6, 300 / float64(n) * 0.8, 0}, 80)
		}
		near(t, "pieces", p.Seconds(), Trap(300, 0, 0, 80, 1500), 1e-8)
	}
}

// reference plans a whole path at once in speeds, not squares: an independent second form.
func reference(l Limits, d [][3]float64, speed []float64) float64 {
	n := len(d)
	length := make([]float64, n)
	for i := range d {
		length[i] = math.Hypot(math.Hypot(d[i][0], d[i][1]), d[i][2])
	}
	v := make([]float64, n+1)
	for i := 1; i < n; i++ {
		dot := (d[i-1][0]*d[i][0] + d[i-1][1]*d[i][1] + d[i-1][2]*d[i][2]) / (length[i-1] * length[i])
		v[i] = math.Min(l.Corner(dot), math.Min(speed[i-1], speed[i]))
	}
	for i := n - 1; i > 0; i-- {
		v[i] = math.Min(v[i], math.Sqrt(v[i+1]*v[i+1]+2*l.Acceleration*length[i]))
	}
	var sum float64
	for i := 1; i <= n; i++ {
		v[i] = math.Min(v[i], math.Sqrt(v[i-1]*v[i-1]+2*l.Acceleration*length[i-1]))
		sum += Trap(length[i-1], v[i-1], v[i], speed[i-1], l.Acceleration)
	}
	return sum
}

// The window must not show: the sum equals that of a plan over the whole path.
func TestPlannerEqualsWholePlan(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(1, 3*window).Draw(r, "n")
		scale := rapid.SampledFrom([]float64{0.05, 1, 20}).Draw(r, "scale")
		seed := rapid.Uint64().Draw(r, "seed")
		next := func() float64 { // splitmix64, public domain: fast numbers, one draw
			seed += 0x9e3779b97f4a7c15
			z := (seed ^ seed>>30) * 0xbf58476d1ce4e5b9
			z = (z ^ z>>27) * 0x94d049bb133111eb
			return float64((z^z>>31)>>11) / (1 << 53)
		}
		p := Planner{Limits: Limits{Acceleration: 500 + 3000*next(), CornerDeviation: 0.05 * next()}}
		var d [][3]float64
		var speed []float64
		heading := 0.0
		for range n {
			heading += (next() - 0.5) * 0.8
			l := scale * (0.05 + next())
			m := [3]float64{l * math.Cos(heading), l * math.Sin(heading), 0}
			v := 10 + 140*next()
			d, speed = append(d, m), append(speed, v)
			p.Line(m, v)
		}
		want := reference(p.Limits, d, speed)
		if got := p.Seconds(); math.Abs(got-want) > 1e-9*want+1e-9 {
			r.Fatalf("%d moves: %.12g s, whole plan %.12g s", n, got, want)
		}
	})
}

func TestWaitAndReset(t *testing.T) {
	p := Planner{Limits: bench}
	p.Line([3]float64{10, 0, 0}, 50)
	p.Wait(2)
	p.Line([3]float64{10, 0, 0}, 50)
	near(t, "two moves and a wait", p.Seconds(), 2*Trap(10, 0, 0, 50, 1500)+2, tol)
	near(t, "asked again", p.Seconds(), 2*Trap(10, 0, 0, 50, 1500)+2, tol)
	p.Reset()
	near(t, "reset", p.Seconds(), 0, 0)
	p.Line([3]float64{}, 50)
	p.Line([3]float64{1, 0, 0}, 0)
	near(t, "moves without length or speed", p.Seconds(), 0, 0)
}

// Without limits a path takes length over speed.
func TestNoLimits(t *testing.T) {
	near(t, "square", square(Limits{}, 20, 50), 1.6, tol)
}

// v*v/r = a: at radius 6 mm and 1500 mm/s2 v*v is 9000.
func TestArcSpeed(t *testing.T) {
	near(t, "arc speed", bench.ArcSpeed(6), math.Sqrt(9000), tol)
	if !math.IsInf(Limits{}.ArcSpeed(1), 1) {
		t.Error("without limits an arc has none")
	}
}

func BenchmarkPlanner(b *testing.B) {
	p := Planner{Limits: bench}
	for i := range b.N {
		s, c := math.Sincos(float64(i) * 0.1)
		p.Line([3]float64{c, s, 0}, 60)
	}
	p.Seconds()
}
