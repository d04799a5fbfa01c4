package fit

import (
	"encoding/json"
	"math/rand/v2"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/section"
	"dropwright/bundle/unit"
)

// Whatever a manifest joins and whatever holes its meshes have, something comes out: no panic, figures that
// print as JSON, the same twice, and for every screw either figures, an unknown, or a hole that is wrong.
func TestAnyJointGivesAnAnswer(t *testing.T) {
	rnd := rand.New(rand.NewPCG(6, 9))
	pick := func(list ...string) string { return list[rnd.IntN(len(list))] }
	for trial := range 600 {
		shapes := map[string]*Shape{}
		for _, name := range []string{"lid.stl", "box.stl"} {
			var holes []section.Hole
			for range rnd.IntN(9) {
				h := round(float64(rnd.IntN(5))*10, float64(rnd.IntN(3))*10, 10, []float64{1.7, 2.65, 3.4, 4.1, 5.5, 8}[rnd.IntN(6)], 2+rnd.Float64()*8, rnd.IntN(2) == 0)
				h.Group = 1 + rnd.IntN(5)
				h.Axis = [][3]float64{{0, 0, 1}, {0, 1, 0}, {1, 0, 0}}[rnd.IntN(3)]
				if rnd.IntN(4) == 0 {
					h.Kind, h.Corners = section.Hexagon, 6
				}
				if rnd.IntN(3) == 0 {
					h.Sinks = []section.Sink{{Kind: []string{section.Counterbore, section.Countersink, section.Chamfer}[rnd.IntN(3)], Diameter: h.Diameter + rnd.Float64()*4, Depth: rnd.Float64() * 3, AtTo: rnd.IntN(2) == 0}}
				}
				holes = append(holes, h)
			}
			if rnd.IntN(8) > 0 {
				shapes[name] = shapeWith(holes...)
			}
		}
		in := into(pick("box", "lid", "motor", "post", "nobody"))
		switch rnd.IntN(4) {
		case 0:
			in = design.Into{At: at, Held: &design.IntoMap{In: val(design.Name(pick("box", "lid", "nobody"))), Nut: val(design.Text(pick("ISO 4032", "ISO 7040", "nut", "ISO 7089", "rubbish")))}}
		case 1:
			in = design.Into{At: at, Held: &design.IntoMap{In: val(design.Name(pick("box", "lid"))), Insert: &design.InsertUse{At: at, Thread: val(design.Text(pick("M3", "M4", "M77"))), Outer: val(unit.Length(rnd.Float64() * 7)), Length: val(unit.Length(rnd.Float64() * 9))}}}
		}
		var through []design.Name
		for range rnd.IntN(4) {
			through = append(through, design.Name(pick("lid", "box", "washer", "motor", "board", "nobody")))
		}
		d := screwInto(pick("M3x8", "M3x12", "M2.5x5", "DIN 912 - M3 x 8", "M3x7.5", "M9x2", "ISO 4032 - M3"), design.Head(pick("", "pan", "countersunk", "button", "set")), rnd.IntN(9), in, through...)
		d.Bought = []design.Bought{{At: at, Name: val(design.Name("motor")), Thickness: val(unit.Length(3))}}
		d.Fasteners = append(d.Fasteners, design.Fastener{At: at, Name: val(design.Name("post")), Standoff: all(design.Text(pick("M3x10", "M2.5x12", "x"))), Into: into("box")})
		for i := range d.Parts {
			d.Parts[i].Copies = all(design.Int(rnd.IntN(4)))
		}
		run := func() string {
			f := Work(Input{Design: d, House: &design.House{}, Shapes: shapes})
			b, err := json.Marshal(f)
			if err != nil {
				t.Fatalf("trial %d: %v", trial, err)
			}
			for _, j := range f.Joints {
				wrong := len(j.Unknown) > 0 || len(j.Screws) == j.Count
				for _, m := range j.Members {
					for _, h := range m.Holes {
						wrong = wrong || h.Missing || h.Low > 0 || m.Role == "nut" && (h.Round == nil || h.Depth < m.NeedDepth)
					}
				}
				if !wrong {
					t.Fatalf("trial %d: %s passes without figures: %s", trial, j.Fastener, b)
				}
			}
			return string(b)
		}
		if a, b := run(), run(); a != b {
			t.Fatalf("trial %d: two runs differ:\n%s\n%s", trial, a, b)
		}
	}
}
