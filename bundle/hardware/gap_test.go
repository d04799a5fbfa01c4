package hardware

import "testing"

func TestSnugGap(t *testing.T) {
	g, from, ok := SnugGap()
	if !ok || g != 0.1 || len(from.Sources) == 0 { // KAPYC: 0.1 to 0.2 in total
		t.Errorf("%v from %+v, %v", g, from, ok)
	}
}
