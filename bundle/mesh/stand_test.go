package mesh

import (
	"math"
	"testing"
)

func TestBestFace(t *testing.T) {
	for name, c := range map[string]struct {
		m    *Mesh
		want Face
	}{
		"cube stays":             {Box(20, 20, 20), "-z"},
		"tray stays":             {tray(), "-z"},
		"tray upside down":       {Transform(tray(), Matrix{{1, 0, 0, 0}, {0, -1, 0, 0}, {0, 0, -1, 0}}), "+z"},
		"tray on its side":       {Transform(tray(), Matrix{{0, 0, 1, 0}, {1, 0, 0, 0}, {0, 1, 0, 0}}), "-x"},
		"post lies down":         {Box(10, 10, 100), "-y"},
		"mushroom on its head":   {Join(Box(10, 10, 30), Transform(Box(40, 40, 5), Shift(-15, -15, 30))), "+z"},
		"flat-bottomed cone":     {Lathe([][2]float64{{0, 0}, {20, 0}, {0, 15}}, 64), "-z"},
		"funnel goes on its rim": {Lathe([][2]float64{{0, 0}, {2, 0}, {20, 8}, {0, 8}}, 64), "+z"},
	} {
		if got := BestFace(StandOn(c.m, 45)); got.Face != c.want {
			t.Errorf("%s: stands on %s, want %s (%+v)", name, got.Face, c.want, StandOn(c.m, 45))
		}
	}
}

func TestStandOnFaces(t *testing.T) {
	// A box of 10 x 20 x 30: each face has the area of its two other sides.
	want := map[Face][2]float64{"-z": {200, 30}, "+z": {200, 30}, "-y": {300, 20}, "+y": {300, 20}, "-x": {600, 10}, "+x": {600, 10}}
	for i, s := range StandOn(Transform(Box(10, 20, 30), Shift(-3, 5, 7)), 45) {
		if s.Face != Faces[i] || math.Abs(s.Contact-want[s.Face][0]) > 1e-3 || math.Abs(s.Height-want[s.Face][1]) > 1e-5 || s.Overhang != 0 {
			t.Errorf("%+v, want contact and height %v", s, want[s.Face])
		}
	}
}

func TestFitsBed(t *testing.T) {
	bed := [3]float64{220, 220, 250}
	turned := func(m *Mesh, degrees float64) *Mesh {
		sin, cos := math.Sincos(degrees * math.Pi / 180)
		return Transform(m, Matrix{{cos, -sin, 0, 11}, {sin, cos, 0, -500}, {0, 0, 1, 3}})
	}
	for name, c := range map[string]struct {
		m    *Mesh
		bed  [3]float64
		fits bool
		turn float64 // < 0: any
	}{
		"small":                   {Box(100, 100, 100), bed, true, 0},
		"exactly":                 {Transform(Box(220, 220, 250), Shift(-900, 77, 5)), bed, true, 0},
		"too wide":                {Box(220.1, 220, 10), bed, false, 0},
		"too high":                {Box(10, 10, 250.1), bed, false, 0},
		"quarter turn":            {Box(50, 200, 10), [3]float64{210, 60, 20}, true, 90},
		"bar across the diagonal": {Box(300, 5, 10), bed, true, 45},
		// A bar of length L and width b fits a square of side s at 45 degrees if L + b <= s sqrt 2.
		"longest bar":  {Box(220*math.Sqrt2-5, 5, 10), bed, true, 45},
		"bar too long": {Box(220*math.Sqrt2-4.9, 5, 10), bed, false, 0},
		// In a bed of 300 x 100 a bar of 310 x 3 needs atan(1/3) or so: 310 cos a + 3 sin a <= 300.
		"bar in a long bed":        {Box(310, 3, 10), [3]float64{300, 100, 10}, true, -1},
		"bar in a long bed, wide":  {Box(310, 40, 10), [3]float64{300, 100, 10}, false, 0},
		"turned by 10":             {turned(Box(219, 219, 10), 10), bed, true, 80},
		"turned by 50":             {turned(Box(219, 219, 10), 50), bed, true, 40},
		"long box turned by 50":    {turned(Box(219, 100, 10), 50), [3]float64{219.5, 110, 20}, true, 130},
		"long box turned by 50, b": {turned(Box(219, 100, 10), 50), [3]float64{110, 219.5, 20}, true, 40},
		"disc":                     {Prism(360, 110, 10), bed, true, 0},
		"disc too large":           {Prism(360, 110.1, 10), bed, false, 0},
		"empty":                    {&Mesh{}, bed, true, 0},
	} {
		got := FitsBed(c.m, c.bed)
		if got.Fits != c.fits {
			t.Errorf("%s: %+v, want fits %v", name, got, c.fits)
			continue
		}
		if got.Fits && c.turn >= 0 && math.Abs(got.Turn-c.turn) > 3 {
			t.Errorf("%s: turned by %v, want about %v", name, got.Turn, c.turn)
		}
		if got.Fits && len(c.m.Triangles) > 0 {
			// Turn it and look.
			sin, cos := math.Sincos(got.Turn * math.Pi / 180)
			r, _ := Inspect(Transform(c.m, Matrix{{cos, -sin, 0, 0}, {sin, cos, 0, 0}, {0, 0, 1, 0}}))
			for a := range 3 {
				if r.Size[a] > c.bed[a]+2e-3 {
					t.Errorf("%s: turned by %v it is %v, the bed %v", name, got.Turn, r.Size, c.bed)
				}
			}
		}
	}
}

// Against brute force: 1800 angles for random boxes and beds.
func TestFitsBedBrute(t *testing.T) {
	for i := range 60 {
		x, y := 100+float64(i*37%150), 5+float64(i*53%120)
		bed := [3]float64{90 + float64(i*71%100), 60 + float64(i*29%130), 20}
		m := Transform(Box(x, y, 10), Matrix{{math.Cos(float64(i)), -math.Sin(float64(i)), 0, 0}, {math.Sin(float64(i)), math.Cos(float64(i)), 0, 0}, {0, 0, 1, 0}})
		best := math.Inf(1) // the smallest excess over the bed
		for k := range 1800 {
			sin, cos := math.Sincos(float64(k) * math.Pi / 1800)
			w, d := x*math.Abs(cos)+y*math.Abs(sin), x*math.Abs(sin)+y*math.Abs(cos)
			best = min(best, max(w-bed[0], d-bed[1]))
		}
		got := FitsBed(m, bed)
		if math.Abs(best) > 0.2 && got.Fits != (best < 0) {
			t.Errorf("%v x %v in %v: %+v, the best of 1800 angles is %.3f over", x, y, bed, got, best)
		}
	}
}

func BenchmarkFitsBed1M(b *testing.B) {
	m := Torus(60, 20, 1000, 500)
	for b.Loop() {
		FitsBed(m, [3]float64{100, 100, 100})
	}
}
