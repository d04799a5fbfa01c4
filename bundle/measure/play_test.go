package measure

import (
	"math"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
)

// The room that lids have in their boxes is written in their CAD sources: `play` on each side in cad/lid.scad.
func TestPlaysOfTheDemo(t *testing.T) {
	for _, c := range []struct {
		design, a, b, axis string
		total              float64
	}{
		{"light-plate", "box", "lid", "x", 2 * 0.3},
		{"mist-valve", "base", "lid", "x", 2 * 0.3},
		{"seed-dryer", "box", "lid", "x", 2 * 0.35},
		{"seed-dryer", "box", "lid", "y", 2 * 0.35},
	} {
		fsys, d, _ := demoFolder(t, c.design, nil)
		out := &facts.Fit{}
		plays(fsys, d, out)
		got := math.NaN()
		for _, p := range out.Plays {
			if p.Overlap > 0 {
				t.Errorf("%s: %+v", c.design, p)
			}
			if p.A == c.a && p.B == c.b && p.Axis == c.axis {
				got = p.Total
			}
		}
		if !(math.Abs(got-c.total) < 0.02) {
			t.Errorf("%s: %s in %s along %s: %v mm, drawn %v; all: %+v", c.design, c.b, c.a, c.axis, got, c.total, out.Plays)
		}
	}
}

// A lid moved aside by more than its room takes up the space of the wall, and the finding's place is that of the lid.
func TestPlaysOfAMovedLid(t *testing.T) {
	fsys, d, _ := demoFolder(t, "seed-dryer", nil)
	for i := range d.Parts {
		if d.Parts[i].Name.V == "lid" {
			d.Parts[i].Place[0].At[0].V += 0.6
		}
	}
	out := &facts.Fit{}
	plays(fsys, d, out)
	for _, p := range out.Plays {
		if p.B == "lid" && p.A == "box" && p.Overlap > 1 && math.Abs(p.Deep-0.25) < 0.03 {
			return
		}
	}
	t.Errorf("0.6 aside with 0.35 of room is 0.25 too far: %+v", out.Plays)
}

func TestTooManyBodiesAreSaid(t *testing.T) {
	fsys, d, _ := demoFolder(t, "seed-dryer", nil)
	for i := range d.Parts {
		if d.Parts[i].Name.V == "rack" {
			n := design.Val[design.Int]{V: mostBodies + 1}
			d.Parts[i].Copies = design.ByVariant[design.Int]{All: &n}
			for len(d.Parts[i].Place) <= mostBodies {
				d.Parts[i].Place = append(d.Parts[i].Place, d.Parts[i].Place[0])
			}
		}
	}
	out := &facts.Fit{}
	plays(fsys, d, out)
	if out.PlaysUnknown == "" || len(out.Plays) > 0 {
		t.Errorf("%+v", out)
	}
}
