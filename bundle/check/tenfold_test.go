package check

import "testing"

func TestMeantIsATenthOrTenfold(t *testing.T) {
	for _, c := range []struct {
		v, low, high, want float64
		ok                 bool
	}{
		{46, 4.4, 5, 4.6, true}, {0.46, 4.4, 5, 4.6, true}, {4.6, 4.4, 5, 0, false},
		{5.3, 4.4, 5, 0, false}, // a wide one that no table has
		{9.9, 4.4, 5, 0, false}, // twice as wide: odd, and no lost point
		{12, 4.4, 5, 0, false},  // no tenth or tenfold of it fits
		{57, 2.4, 12, 5.7, true}, {24, 2.4, 12, 0, false}, {120, 2.4, 12, 12, true}, {0, 4.4, 5, 0, false}, {-46, 4.4, 5, 0, false},
	} {
		if got, ok := meant(c.v, c.low, c.high); ok != c.ok || ok && got-c.want > 1e-9 || c.want-got > 1e-9 {
			t.Errorf("%v in %v to %v: %v, %v; want %v, %v", c.v, c.low, c.high, got, ok, c.want, c.ok)
		}
	}
}
