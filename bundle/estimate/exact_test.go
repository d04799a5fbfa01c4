package estimate

import (
	"math"
	"testing"

	"dropwright/bundle/mesh"
)

// plain is the print of the hand-derived cases: 0.2 mm layers, 0.45 mm lines, two walls, four solid
// layers above and below, 15 % infill.
var plain = Settings{Layer: 0.2, Line: 0.45, Walls: 2, SolidTop: 4, SolidBottom: 4, Infill: 0.15}

func hollowBox() *mesh.Mesh {
	return mesh.Join(mesh.Box(40, 30, 20), mesh.Reverse(mesh.Transform(mesh.Box(36, 26, 16), mesh.Shift(2, 2, 2))))
}

func tray() *mesh.Mesh {
	return mesh.Join(mesh.Box(60, 40, 20), mesh.Reverse(mesh.Transform(mesh.Box(54, 34, 18), mesh.Shift(3, 3, 2))))
}

func estimate(t testing.TB, m *mesh.Mesh, s Settings) Estimate {
	t.Helper()
	e, err := Part(m, s, DefaultMachine())
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// within checks a figure to a share of the wanted one.
func within(t testing.TB, what string, got, want, share float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > share*math.Abs(want) {
		t.Errorf("%s: got %.6g, want %.6g (%+.4f %%, allowed %g %%)", what, got, want, 100*(got/want-1), 100*share)
	}
}

// Derived by hand from the formula in the package comment: a convex outline of area A and length P with
// exterior angles a moved in by d leaves A - P*d + d*d*sum(tan(a/2)); a convex hole grown by d takes
// A + P*d + pi*d*d. Band is the walls, solid and sparse are volumes before the infill density.
var exact = []struct {
	name                         string
	mesh                         func() *mesh.Mesh
	plastic, band, solid, sparse float64
}{
	{"cube 20", func() *mesh.Mesh { return mesh.Box(20, 20, 20) }, 2819.4064, 1375.2000, 529.9840, 6094.8160},
	{"64-sided prism", func() *mesh.Mesh { return mesh.Prism(64, 10, 20) }, 2211.7702, 1079.5845, 415.4810, 4778.0315},
	{"hollow box", hollowBox, 7730.8942, 4281.5150, 3221.1840, 1521.3010},
	{"tray", tray, 10624.3378, 6432.2044, 3428.4282, 5091.3673},
	{"sphere of 200 x 100", func() *mesh.Mesh { return mesh.Sphere(15, 200, 100) }, 3907.4473, 1922.1620, 181.0345, 12028.3394},
}

func TestExactPlastic(t *testing.T) {
	for _, c := range exact {
		t.Run(c.name, func(t *testing.T) {
			e := estimate(t, c.mesh(), plain)
			t.Logf("plastic %+.4f %%, kinds %v, %g s", 100*(e.Plastic/c.plastic-1), e.Kinds, e.Seconds)
			within(t, "plastic", e.Plastic, c.plastic, 0.001)
			within(t, "walls", e.Kinds.Outline+e.Kinds.Wall, c.band, 0.001)
			within(t, "solid", e.Kinds.Solid, c.solid, 0.005)
			within(t, "infill", e.Kinds.Infill, 0.15*c.sparse, 0.001)
			if e.Notes != nil {
				t.Errorf("notes on a clean mesh: %q", e.Notes)
			}
			// The check must tell a wrong answer: one wall less is 10 % and more away.
			s := plain
			s.Walls = 1
			if p := estimate(t, c.mesh(), s).Plastic; math.Abs(p/c.plastic-1) < 0.05 {
				t.Errorf("one wall instead of two is not told apart: %g", p)
			}
		})
	}
}
