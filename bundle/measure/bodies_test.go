package measure

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestDistance2: closed forms for each region of a triangle's plane, then random points against the least of
// many samples of the triangle.
func TestDistance2(t *testing.T) {
	a, b, c := [3]float64{0, 0, 0}, [3]float64{4, 0, 0}, [3]float64{0, 3, 0}
	for _, x := range []struct {
		p    [3]float64
		want float64
	}{
		{[3]float64{1, 1, 2}, 4}, {[3]float64{-3, -4, 0}, 25}, {[3]float64{7, -1, 0}, 10}, {[3]float64{-1, 5, 0}, 5},
		{[3]float64{2, -2, 1}, 5}, {[3]float64{-2, 1, 0}, 4}, {[3]float64{4, 3, 0}, 2.4 * 2.4}, {[3]float64{1, 1, 0}, 0},
	} {
		if got := distance2(x.p, a, b, c); math.Abs(got-x.want) > 1e-12 {
			t.Errorf("%v: got %v, want %v", x.p, got, x.want)
		}
	}
	r := rand.New(rand.NewPCG(1, 2))
	random := func() [3]float64 { return [3]float64{r.Float64(), r.Float64(), r.Float64()} }
	for range 200 {
		p, a, b, c := random(), random(), random(), random()
		least := math.Inf(1)
		const n = 60
		for i := range n + 1 {
			for k := range n + 1 - i {
				u, v := float64(i)/n, float64(k)/n
				var q [3]float64
				for x := range 3 {
					q[x] = p[x] - (a[x] + u*(b[x]-a[x]) + v*(c[x]-a[x]))
				}
				least = min(least, dot(q, q))
			}
		}
		got := distance2(p, a, b, c)
		if got > least+1e-12 || math.Sqrt(least)-math.Sqrt(got) > 0.03 {
			t.Fatalf("%v to %v %v %v: got %v, samples give %v", p, a, b, c, got, least)
		}
	}
}
