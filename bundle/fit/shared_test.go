package fit

import (
	"testing"

	"dropwright/bundle/section"
)

// holed is a shape with holes at places on z = 0, all along z.
func holed(width float64, through bool, at ...[2]float64) *Shape {
	s := &Shape{Walls: make([]float64, len(at))}
	for i, p := range at {
		h := section.Hole{Axis: [3]float64{0, 0, 1}, Kind: section.Round, Diameter: width, Passes: width, Corners: 64, Depth: 9, Narrow: 9, DraftedTo: width, Through: through, Group: i,
			From: section.End{At: [3]float64{p[0], p[1], -9}, Mouth: section.Closed}, To: section.End{At: [3]float64{p[0], p[1], 0}, Mouth: section.Open}, Centre: [3]float64{p[0], p[1], -4.5}}
		if through {
			h.From.Mouth = section.Open
		}
		s.Holes = append(s.Holes, h)
	}
	return s
}

func TestSharedPatterns(t *testing.T) {
	square := [][2]float64{{0, 0}, {40, 0}, {40, 30}, {0, 30}}
	lid := holed(3.4, true, square...)
	turned := [][2]float64{{100, 0}, {100, 40}, {70, 40}, {70, 0}} // a quarter turn, elsewhere
	base := holed(2.65, false, append(turned, [2]float64{5, 5}, [2]float64{9, 50})...)
	got := Shared(lid, base, "M3", Thread, 0.15, 0, 3, nil, nil)
	if len(got) != 1 || len(got[0].Through) != 4 || len(got[0].Into) != 4 || got[0].Clearance != 3.4 || got[0].Diameter != 2.65 {
		t.Fatalf("%+v", got)
	}
	for _, h := range got[0].Into {
		if h > 3 {
			t.Errorf("hole %d is none of the pattern", h)
		}
	}
	// what is taken is not used, and no other size, role or pattern serves
	if got := Shared(lid, base, "M3", Thread, 0.15, 0, 3, nil, func(h int) bool { return h != 0 && h != 1 }); len(got) != 0 {
		t.Errorf("with two holes taken: %+v", got)
	}
	if got := Shared(lid, base, "M4", Thread, 0.15, 0, 3, nil, nil); len(got) != 0 {
		t.Errorf("M4: %+v", got)
	}
	if got := Shared(lid, base, "M3", Insert, 0.15, 4.6, 3, nil, nil); len(got) != 0 {
		t.Errorf("as inserts: %+v", got)
	}
	other := holed(2.65, false, [2]float64{0, 0}, [2]float64{41, 0}, [2]float64{41, 33}, [2]float64{0, 33})
	if got := Shared(lid, other, "M3", Thread, 0.15, 0, 3, nil, nil); len(got) != 0 {
		t.Errorf("another rectangle: %+v", got)
	}
	if got := Suited(base, "M3", Thread, 0.15, 0); len(got) != 6 {
		t.Errorf("%v suit a thread of M3", got)
	}
	if got := Suited(base, "M3", Clearance, 0.15, 0); len(got) != 0 {
		t.Errorf("%v pass an M3", got)
	}
}
