package sheet

import (
	"bytes"
	"strings"
	"testing"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
)

// TestSeveralBuilds holds that the lists count all builds, the steps one, and that the sheet says so.
func TestSeveralBuilds(t *testing.T) {
	in := bell(t, "en")
	in.BOM = bom.Compute(in.Design, in.Facts, in.House, []string{design.Plain}, 3, func(string) string { return "" })
	s := Compose(in)
	for _, c := range s.Counts {
		switch {
		case c.Section == "fastener" && c.Count != 6:
			t.Errorf("%s: %v for 3 builds, want 6", c.Name, c.Count)
		case c.Section == "step" && c.Name == "clamp-screw" && c.Count != 2:
			t.Errorf("the step takes %v, want 2", c.Count)
		}
	}
	var b bytes.Buffer
	if err := s.Text(&b); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "3 builds") {
		t.Error("the sheet does not say that it is for 3 builds")
	}
}

// TestStepsFollowTheVariant holds that steps of other variants leave no gap in the numbers.
func TestStepsFollowTheVariant(t *testing.T) {
	in := bell(t, "en")
	d := *in.Design
	d.Assembly = append([]design.Step(nil), d.Assembly...)
	d.Assembly[0].Only = design.Only{val(design.Name("other"))}
	in.Design = &d
	var titles []string
	for _, x := range Compose(in).Sections {
		for _, b := range x.Blocks {
			if b.Kind == Group {
				titles = append(titles, b.Title)
			}
		}
	}
	if len(titles) != 2 || titles[0] != "Step 1: Join the halves" {
		t.Errorf("steps: %q", titles)
	}
}

// TestCautionsAreChosen holds where cautions come from beside the step's own list.
func TestCautionsAreChosen(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(d *design.Design, h *design.House)
		want   string
		never  bool
	}{
		{"mains by hazard", func(d *design.Design, h *design.House) { d.Bought[0].Hazard = val(design.Hazard("mains")) }, "DANGER: Mains voltage kills", false},
		{"lithium by hazard", func(d *design.Design, h *design.House) { d.Bought[1].Hazard = val(design.Hazard("lithium")) }, "WARNING: Lithium cells can burn", false},
		{"fumes by material", func(d *design.Design, h *design.House) { h.Filaments[0].Material = val(design.Text("ABS")) }, "CAUTION: Printing gives off fumes", false},
		{"no fumes of PETG", func(d *design.Design, h *design.House) {}, "Printing gives off fumes", true},
		{"softens outdoors", func(d *design.Design, h *design.House) { h.Filaments[0].Material = val(design.Text("PLA")) }, "Parts of PLA may give way above about", false},
		{"not indoors", func(d *design.Design, h *design.House) { d.UsedIn = nil }, "may give way", true},
		{"knife", func(d *design.Design, h *design.House) {
			d.Assembly[1].Tools = []design.Val[design.Text]{val(design.Text("sharp knife"))}
		}, "CAUTION: Sharp edges and points cut", false},
		{"supports", func(d *design.Design, h *design.House) {}, "CAUTION: Support material breaks off sharp", false},
		{"always", func(d *design.Design, h *design.House) { d.Assembly, d.Supplies = nil, nil }, "Local codes and licensed practice prevail", false},
	} {
		in := bell(t, "en")
		c.change(in.Design, in.House)
		in.BOM = bom.Compute(in.Design, in.Facts, in.House, []string{design.Plain}, 1, func(string) string { return "" })
		var b bytes.Buffer
		if err := Compose(in).Text(&b); err != nil {
			t.Fatal(err)
		}
		if strings.Contains(squeeze(b.String()), c.want) == c.never {
			t.Errorf("%s: %q, never %v, in\n%s", c.name, c.want, c.never, b.String())
		}
	}
}

// TestLicenceAnswers holds the plain answer for the common licences and what has none.
func TestLicenceAnswers(t *testing.T) {
	for id, want := range map[string]string{
		"CC0-1.0": "Yes, without conditions.", "CC-BY-SA-4.0": "Yes: name", "CC-BY-NC-4.0": "No, not for money", "CC-BY-ND-4.0": "unchanged files only",
		"CERN-OHL-S-2.0": "complete source", "LicenseRef-Early-Access": "Ask Hollow Lane Workshop first.", "": "Ask Hollow Lane Workshop first.", "Zlib": "read it first", "MIT OR Apache-2.0": "read it first",
	} {
		in := hook()
		in.Licence = id
		var b bytes.Buffer
		if err := Compose(in).Text(&b); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(squeeze(b.String()), want) {
			t.Errorf("%q: no %q in\n%s", id, want, b.String())
		}
	}
}

// TestWiresGetPinsOfTheirOwn holds how pins of a rail are given out.
func TestWiresGetPinsOfTheirOwn(t *testing.T) {
	rail := []Pin{{Header: "h", Number: "1"}, {Header: "h", Number: "2"}}
	w := func(every ...Pin) wire { return wire{to: ending{thing: "board", every: every}} }
	wires := []wire{w(rail...), w(rail...), w(rail...), w(Pin{Header: "h", Number: "1"})}
	choosePins(wires)
	var got []string
	for _, x := range wires {
		got = append(got, x.to.pin.Number)
	}
	// The exact pin 1 is taken first; the rail has one other, which the rest must share.
	if strings.Join(got, " ") != "2 2 2 1" {
		t.Errorf("pins %v", got)
	}
}

// TestPinsFromTheFacts holds that a sheet names pins by the facts when no board is handed in, and warns of a rail
// that can hurt.
func TestPinsFromTheFacts(t *testing.T) {
	in := bell(t, "en")
	in.Facts.Boards = &facts.Boards{Wires: []facts.Wire{{Variant: design.Plain, Row: 0, To: facts.End{Kind: facts.EndRail, Thing: "buzzer", Pins: []string{"x.3", "x.5"}, Rail: &facts.Rail{ID: "VBAT", Hazard: "lithium"}}}}}
	var b bytes.Buffer
	if err := Compose(in).Text(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"VBAT, pin 3 of header x", "WARNING: Lithium cells can burn"} {
		if !strings.Contains(squeeze(b.String()), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
}
