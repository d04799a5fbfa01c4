package mesh

import (
	"math"
	"testing"
)

func TestSuspectUnit(t *testing.T) {
	for _, c := range []struct {
		name         string
		size         [3]float64 // mm, as designed
		volume, area float64
	}{
		{"enclosure 91 x 62 x 24", [3]float64{91, 62, 24}, 20500, 25600},
		{"lid", [3]float64{85, 56, 2.4}, 5600, 10200},
		{"solid block", [3]float64{60, 40, 20}, 48000, 8800},
		{"long rail", [3]float64{200, 15, 10}, 30000, 10300},
		{"torus", [3]float64{79.9817, 79.96, 20}, 59082, 11834},
	} {
		for _, u := range []struct {
			name  string
			scale float64
		}{{"", 1}, {"inch", 25.4}, {"centimetre", 10}, {"metre", 1000}} {
			size := c.size
			for a := range size {
				size[a] = float64(float32(size[a] / u.scale)) // as a file holds it
			}
			got := SuspectUnit(size, c.volume/math.Pow(u.scale, 3), c.area/math.Pow(u.scale, 2))
			if got != u.name && !(u.name == "centimetre" && c.name == "long rail") { // 20 x 1.5 x 1 may be a pin
				t.Errorf("%s, drawn in %q: suspected %q", c.name, u.name, got)
			}
			if got := UnitAgainst(size, [3]float64{c.size[2], c.size[0], c.size[1]}); got != u.name {
				t.Errorf("%s, drawn in %q, against its size: %q", c.name, u.name, got)
			}
		}
	}
	// Small parts that are meant.
	for _, size := range [][3]float64{{10, 10, 10}, {8, 8, 3}, {6.5, 6.5, 2.5}, {11.9, 4, 4}} {
		if got := SuspectUnit(size, size[0]*size[1]*size[2]*0.8, 2*(size[0]*size[1]+size[1]*size[2]+size[2]*size[0])); got != "" {
			t.Errorf("%v: suspected %q", size, got)
		}
	}
	if got := SuspectUnit([3]float64{}, 0, 0); got != "" {
		t.Errorf("nothing: suspected %q", got)
	}
}

func TestSuspectUnitByHoles(t *testing.T) {
	for _, c := range []struct {
		holes []float64
		want  string
	}{
		{nil, ""},
		{[]float64{3.2, 3.2, 0.8}, ""},
		{[]float64{3.2 / 25.4, 3.2 / 25.4, 7.0 / 25.4}, "inch"},
		{[]float64{0.32, 0.32, 0.7}, "centimetre"},
		{[]float64{0.29}, "centimetre"},
	} {
		if got := SuspectUnitByHoles(c.holes); got != c.want {
			t.Errorf("%v: %q, want %q", c.holes, got, c.want)
		}
	}
}
