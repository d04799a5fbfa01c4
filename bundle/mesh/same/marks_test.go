package same

import (
	"math"
	"testing"

	"dropwright/bundle/mesh"
)

func areaOf(m *mesh.Mesh) float64 { return momentsOf(m).area }

// What is marked has the area of what was changed: a hole of 6 x 6 through a plate of 4 that moved by 2, was filled
// or opened. The parts together have the area of the whole.
func TestMarks(t *testing.T) {
	const fine = 0.5
	aside := turn([3]float64{1, 2, 3}, 40, 1, 2, 3)
	for name, c := range map[string]struct {
		a, b        *mesh.Mesh
		motion      mesh.Matrix
		gone, fresh float64 // mm2
	}{
		"hole filled":      {plate(5, 5, 6), plate(0, 0, 0), mesh.Identity, 4 * 24, 2 * 36},
		"hole opened":      {plate(0, 0, 0), plate(5, 5, 6), mesh.Identity, 2 * 36, 4 * 24},
		"the same":         {plate(5, 5, 6), plate(5, 5, 6), mesh.Identity, 0, 0},
		"the same, turned": {plate(5, 5, 6), mesh.Transform(plate(5, 5, 6), aside), aside, 0, 0},
		"filled, turned":   {plate(5, 5, 6), mesh.Transform(plate(0, 0, 0), aside), aside, 4 * 24, 2 * 36},
	} {
		gone, fresh := Marks(c.a, c.b, c.motion, 0.05, fine)
		for k, m := range [2]Marked{gone, fresh} {
			whole := areaOf([2]*mesh.Mesh{c.a, c.b}[k])
			if sum := areaOf(m.Alike) + areaOf(m.Differ); math.Abs(sum-whole) > 1e-3*whole {
				t.Errorf("%s: %v mm2 in two parts, the whole has %v", name, sum, whole)
			}
		}
		// Of each border, as long as a side, pieces of the size of fine may fall on either side.
		if got := areaOf(gone.Differ); math.Abs(got-c.gone) > 60*fine*0.3 {
			t.Errorf("%s: %v mm2 are gone, want %v", name, got, c.gone)
		}
		if got := areaOf(fresh.Differ); math.Abs(got-c.fresh) > 60*fine*0.3 {
			t.Errorf("%s: %v mm2 are new, want %v", name, got, c.fresh)
		}
	}
	// Where the hole moved, as much is gone as is new: of its walls both across, and 2 mm of those along; and above
	// and below a strip.
	gone, fresh := Marks(plate(5, 5, 6), plate(7, 5, 6), mesh.Identity, 0.05, fine)
	for _, m := range []Marked{gone, fresh} {
		if got, want := areaOf(m.Differ), 2*(6.0*4)+2*(2*4)+2*(2*6); math.Abs(got-want) > 60*fine*0.3 {
			t.Errorf("hole moved: %v mm2 differ, want %v", got, want)
		}
	}
	a, b := &mesh.Mesh{}, mesh.Box(1, 2, 3)
	if gone, fresh := Marks(a, b, mesh.Identity, 0.1, 0.1); len(gone.Differ.Triangles)+len(gone.Alike.Triangles) != 0 || len(fresh.Differ.Triangles) != 12 {
		t.Errorf("nothing against a box: %v %v", gone, fresh)
	}
}
