package bom

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"dropwright/bundle/bed"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

func val[T any](v T) design.Val[T] {
	return design.Val[T]{V: v, At: finding.Place{File: "x.yaml", Line: 1, Column: 1}}
}

func square(x float64) []design.Val[unit.Length] {
	return []design.Val[unit.Length]{val(unit.Length(x)), val(unit.Length(x)), val(unit.Length(x))}
}

// tiles is a design of one part of 45 x 45 mm in one colour and one of 20 x 20 mm in another, with facts as
// measure would give them. The bed of 110 mm keeps 5 mm free along the rim: 100 x 100 mm of room.
func tiles() (*design.Design, *facts.Design, *design.House) {
	d := &design.Design{Parts: []design.Part{
		{Name: val(design.Name("tile")), Colour: val(design.Name("body"))},
		{Name: val(design.Name("knob")), Colour: val(design.Name("arm"))},
	}}
	d.Folder = "tiles"
	d.Colours.Entries = []design.DictEntry[design.OneOrMore[design.Name]]{
		{Key: "body", Value: design.OneOrMore[design.Name]{Items: []design.Val[design.Name]{val(design.Name("clay"))}}},
		{Key: "arm", Value: design.OneOrMore[design.Name]{Items: []design.Val[design.Name]{val(design.Name("straw"))}}},
	}
	stand := func(name string, x, grams, seconds float64) facts.Part {
		return facts.Part{Part: name, Variant: design.Plain, Stands: &[3]float64{x, x, 5}, FitsOn: []string{"bench"}, Outline: [][2]float64{{0, 0}, {x, 0}, {x, x}, {0, x}},
			Estimate: &facts.Estimate{Grams: grams, GramsLow: grams - 1, GramsHigh: grams + 2, Metres: grams / 3, Seconds: seconds, SecondsLow: seconds / 2, SecondsHigh: seconds * 2, Basis: "model"}}
	}
	f := &facts.Design{}
	f.Parts = []facts.Part{stand("knob", 20, 4, 600), stand("tile", 45, 10, 3600)}
	f.Printers = []facts.Printer{{Name: "bench", Start: 240, ChangeOver: 600}}
	h := &design.House{
		Printers: []design.Printer{{Name: val(design.Name("bench")), Bed: square(110)}},
		Filaments: []design.Filament{{Name: val(design.Name("clay")), Material: val(design.Text("PETG")), PricePerKg: val(unit.Money(20))},
			{Name: val(design.Name("straw")), Material: val(design.Text("PETG"))}},
	}
	return d, f, h
}

func bill(d *design.Design, f *facts.Design, h *design.House, builds int) Variant {
	return Compute(d, f, h, []string{design.Plain}, builds, func(string) string { return "" }).Variants[0]
}

// By hand: a tile takes 50 x 50 mm with the spacing, and 70 % of 110 - 2*5 + 5 = 105 mm square (the last
// neighbour needs no spacing) hold 7717.5 mm2: three tiles are one load, four are two.
func TestLoadsByHand(t *testing.T) {
	if bed.Allowance != 0.7 || bed.DefaultEdge != 5 || bed.DefaultSpacing != 5 {
		t.Fatal("the figures below are for another bed")
	}
	for _, c := range []struct {
		builds, body, arm int
		each              float64 // of the body's loads
	}{
		{1, 1, 1, 240 + 600 + 3600},
		{3, 1, 1, 240 + 600 + 3*3600},
		{4, 2, 1, 240 + 600 + 2*3600},
		{12, 4, 1, 240 + 600 + 3*3600},
	} {
		d, f, h := tiles()
		v := bill(d, f, h, c.builds)
		if len(v.Filament) != 2 || len(v.Filament[0].Loads) != 1 || len(v.Filament[1].Loads) != 1 {
			t.Fatalf("%d builds: %+v", c.builds, v.Filament)
		}
		body, arm := v.Filament[0].Loads[0], v.Filament[1].Loads[0]
		if body.Count != c.body || arm.Count != c.arm || body.Printer != "bench" || math.Abs(body.Seconds-c.each) > 1e-6 {
			t.Errorf("%d builds: %+v and %+v, want %d and %d of %.0f s", c.builds, body, arm, c.body, c.arm, c.each)
		}
		// The printing time stays the sum of the parts: what heating and taking off add is in the loads.
		if want := float64(c.builds) * 4200; *v.PrintSeconds != want {
			t.Errorf("%d builds print %.0f s, want %.0f", c.builds, *v.PrintSeconds, want)
		}
		if x := v.Filament[0]; *x.Grams != float64(10*c.builds) || *x.GramsLow != float64(9*c.builds) || *x.GramsHigh != float64(12*c.builds) || *x.Cost != cents(0.2*float64(c.builds)) {
			t.Errorf("%d builds: %v g (%v to %v), %v", c.builds, *x.Grams, *x.GramsLow, *x.GramsHigh, *x.Cost)
		}
	}
}

// A part that fits only without the rim is a load by itself; optional parts take none; a jig serves all builds.
func TestLoadsOfOddParts(t *testing.T) {
	d, f, h := tiles()
	x, _ := f.Part("tile", design.Plain)
	x.Stands, x.Outline = &[3]float64{108, 108, 5}, nil
	if l := bill(d, f, h, 3).Filament[0].Loads; len(l) != 1 || l[0].Count != 3 || l[0].Seconds != 240+3600+600 {
		t.Errorf("as large as the bed: %+v", l)
	}
	d, f, h = tiles()
	d.Parts[0].Role = val(design.Role("jig"))
	if l := bill(d, f, h, 8).Filament[0].Loads; len(l) != 1 || l[0].Count != 1 {
		t.Errorf("a jig: %+v", l)
	}
	d, f, h = tiles()
	d.Parts[0].Optional = val(design.Bool(true))
	if l := bill(d, f, h, 8).Filament[0].Loads; l != nil {
		t.Errorf("optional: %+v", l)
	}
}

// What is not known gives no count: no estimate, no bed that takes it, no printer of that name.
func TestLoadsUnknown(t *testing.T) {
	for name, spoil := range map[string]func(*facts.Design, *design.House){
		"no estimate": func(f *facts.Design, _ *design.House) { f.Parts[1].Estimate = nil },
		"fits no bed": func(f *facts.Design, _ *design.House) { f.Parts[1].FitsOn = nil },
		"no size":     func(f *facts.Design, _ *design.House) { f.Parts[1].Stands = nil },
		"no printer":  func(_ *facts.Design, h *design.House) { h.Printers = nil },
		"no bed":      func(_ *facts.Design, h *design.House) { h.Printers[0].Bed = nil },
		"no time":     func(f *facts.Design, _ *design.House) { f.Parts[1].Estimate.Seconds = math.NaN() },
	} {
		d, f, h := tiles()
		spoil(f, h)
		if l := bill(d, f, h, 2).Filament[0].Loads; l != nil {
			t.Errorf("%s: %+v", name, l)
		}
	}
	d, f, h := tiles()
	f.Parts[1].Estimate, f.Parts[1].Unestimated = nil, "no density is known for moon dust"
	if v := bill(d, f, h, 1); v.Complete || !strings.Contains(strings.Join(v.Missing, "; "), "moon dust") {
		t.Errorf("missing: %q", v.Missing)
	}
}

// The rows, whatever their format, hold the loads; the facts are not changed by a bill.
func TestLoadsInEveryFormat(t *testing.T) {
	d, f, h := tiles()
	before, _ := json.Marshal(f)
	b := Compute(d, f, h, []string{design.Plain}, 4, func(string) string { return "" })
	for name, write := range map[string]func(*bytes.Buffer) error{
		"csv":  func(w *bytes.Buffer) error { return b.WriteCSV(w) },
		"md":   func(w *bytes.Buffer) error { return b.WriteMarkdown(w) },
		"html": func(w *bytes.Buffer) error { return b.WriteHTML(w) },
	} {
		var w bytes.Buffer
		if err := write(&w); err != nil || !strings.Contains(w.String(), "on bench, time of each") || !strings.Contains(w.String(), "2h14m") {
			t.Errorf("%s: %v\n%s", name, err, w.String())
		}
	}
	if after, _ := json.Marshal(f); !bytes.Equal(before, after) {
		t.Error("the bill changed the facts")
	}
}

func TestBasis(t *testing.T) {
	d, f, h := tiles()
	if got, want := bill(d, f, h, 1).Basis(), "grams and times rest on the model alone: clay 9 to 12 g, straw 3 to 6 g"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	f.Parts[1].Estimate.Basis = "calibrated"
	if got, want := bill(d, f, h, 1).Basis(), "grams and times rest tile on logged trials; knob on the model alone: clay 9 to 12 g, straw 3 to 6 g"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := (Variant{}).Basis(); got != "" {
		t.Errorf("%q", got)
	}
}
