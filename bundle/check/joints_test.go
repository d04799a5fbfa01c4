package check

import (
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/hardware"
)

func place(line int) finding.Place {
	return finding.Place{File: "design.yaml", Line: line, Column: 1}
}

func named[T any](v T, line int) design.Val[T] { return design.Val[T]{V: v, At: place(line)} }

func forAll[T any](v T, line int) design.ByVariant[T] {
	x := named(v, line)
	return design.ByVariant[T]{At: place(line), All: &x}
}

// lamp is a design of one joint: four M3x8 through a lid into a box, with its facts as they would be measured.
func lamp() (*design.Design, *facts.Design) {
	d := &design.Design{At: place(1)}
	for i, n := range []design.Name{"lid", "box"} {
		d.Parts = append(d.Parts, design.Part{At: place(2 + i), Name: named(n, 2+i), Mesh: forAll(design.Path(n+".stl"), 2+i)})
	}
	f := design.Fastener{At: place(5), Name: named(design.Name("lid-screw"), 5), Screw: forAll(design.Text("M3x8"), 5), Count: forAll(design.Int(4), 5),
		Through: []design.Val[design.Name]{named(design.Name("lid"), 5)}, Into: design.Into{At: place(5), Target: named(design.Name("box"), 5)}}
	d.Fasteners = []design.Fastener{f}
	two := 2.0
	j := facts.Joint{Fastener: "lid-screw", Variant: design.Plain, Thing: "ISO 4762 - M3 x 8", Standard: "ISO 4762", Size: "M3", Length: 8, Count: 4, Into: "plastic",
		Fits: &facts.Lengths{Min: 8, Max: 11, Made: []float64{8, 10}}}
	lid := facts.Member{Name: "lid", Kind: "part", File: "lid.stl", Role: "clearance", Thickness: &two, Allowed: &facts.Band{Min: 3.13, Max: 3.75, Usual: 3.4, Basis: "a table"}, Copies: 1, Allowance: 0.15}
	box := facts.Member{Name: "box", Kind: "part", File: "box.stl", Role: "thread", Index: -1, Allowed: &facts.Band{Min: 2.46, Max: 2.85, Usual: 2.6, Basis: "a table"}, NeedBoss: 6, Copies: 1}
	for i := range 4 {
		x, y := float64(i%2)*30, float64(i/2)*20
		lid.Holes = append(lid.Holes, facts.FitHole{Placed: true, At: [3]float64{x, y, 1}, Out: [3]float64{0, 0, 1}, Diameter: 3.4, Passes: 3.4, Depth: 2, Through: true})
		box.Holes = append(box.Holes, facts.FitHole{Placed: true, At: [3]float64{x, y, 14}, Out: [3]float64{0, 0, 1}, Diameter: 2.65, Passes: 2.65, Depth: 9, Wall: 3})
		j.Screws = append(j.Screws, facts.Screw{Clamped: 2, Bites: 6, Needs: 6, Reach: 6, Room: 9})
	}
	j.Members = []facts.Member{lid, box}
	return d, &facts.Design{Measured: facts.Measured{Fit: &facts.Fit{Joints: []facts.Joint{j}}}}
}

func codesOf(d *design.Design, f *facts.Design, run func(*Input, *report)) ([]string, *report) {
	r := &report{variants: d.VariantNames()}
	run(&Input{Design: d, Facts: f, House: &design.House{}}, r)
	var out []string
	for _, x := range r.merged() {
		out = append(out, x.Code)
	}
	slices.Sort(out)
	return out, r
}

// One figure changed at a time gives exactly one finding, of the right code.
func TestJointRules(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*facts.Joint)
		want   string
	}{
		{"right", func(j *facts.Joint) {}, ""},
		{"short", func(j *facts.Joint) { j.Screws[2].Bites = 3.5 }, "screw-short"},
		{"just enough", func(j *facts.Joint) { j.Screws[2].Bites = 5.995 }, ""},
		{"long", func(j *facts.Joint) { j.Screws[1].Reach = 9.5 }, "screw-long"},
		{"no room known", func(j *facts.Joint) { j.Screws[1].Reach, j.Screws[1].Room = 9.5, 0 }, ""},
		{"not made", func(j *facts.Joint) { j.Length = 9 }, "screw-unmade"},
		{"a boss gone", func(j *facts.Joint) { j.Members[1].Holes[3] = facts.FitHole{Missing: true, Placed: true} }, "boss-missing"},
		{"a hole gone", func(j *facts.Joint) { j.Members[0].Holes[3] = facts.FitHole{Missing: true} }, "hole-missing"},
		{"a face low", func(j *facts.Joint) { j.Members[1].Holes[0].Low = 7 }, "boss-missing"},
		{"beside", func(j *facts.Joint) { j.Members[1].Holes[0].Off = 1 }, "hole-offset"},
		{"narrow", func(j *facts.Joint) { j.Members[1].Holes[0].Passes, j.Members[1].Holes[0].Diameter = 2.4, 2.4 }, "hole-narrow"},
		{"within rounding", func(j *facts.Joint) { j.Members[1].Holes[0].Passes = 2.4595 }, ""},
		{"wide", func(j *facts.Joint) { j.Members[1].Holes[0].Passes = 2.9 }, "hole-wide"},
		{"loose", func(j *facts.Joint) { j.Members[0].Holes[0].Passes = 4.2 }, "hole-loose"},
		{"head falls through", func(j *facts.Joint) { j.Members[0].Holes[0].Passes = 6 }, "hole-wide"},
		{"uneven", func(j *facts.Joint) { j.Members[1].Spread = 0.2 }, "hole-uneven"},
		{"thin", func(j *facts.Joint) { j.Members[1].Holes[0].Wall = 1.2 }, "boss-thin"},
		{"recess narrow", func(j *facts.Joint) {
			j.Members[0].Holes[0].Sink = &facts.Sink{Kind: "counterbore", Diameter: 5.6, Depth: 4}
		}, "sink-narrow"},
		{"recess flat", func(j *facts.Joint) {
			j.Members[0].Holes[0].Sink = &facts.Sink{Kind: "counterbore", Diameter: 6.5, Depth: 1}
		}, "head-proud"},
		{"countersunk on the flat", func(j *facts.Joint) { j.Standard = "ISO 10642" }, "sink-missing"},
		{"other thread", func(j *facts.Joint) { j.Unknown = []facts.Unknown{{Topic: "thread", Text: "M4"}} }, "thread-differs"},
		{"other pattern", func(j *facts.Joint) { j.Members[0].Unlike = &facts.Unlike{Name: "box", Span: 36, Other: 40} }, "hole-offset"},
	} {
		d, f := lamp()
		c.change(&f.Fit.Joints[0])
		got, r := codesOf(d, f, joints)
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: found %q, want %q", c.name, got, c.want)
		}
		if len(r.notChecked) != 0 {
			t.Errorf("%s: not checked: %v", c.name, r.notChecked)
		}
	}
}

// What is not known is said once for a joint, and once for variants that share the reason.
func TestNotCheckedOnce(t *testing.T) {
	d, f := lamp()
	d.Variants = []design.Variant{{Name: named(design.Name("a"), 1)}, {Name: named(design.Name("b"), 1)}}
	one := f.Fit.Joints[0]
	one.Screws, one.Fits = nil, nil
	one.Unknown = []facts.Unknown{{Topic: "length", Text: "servo: its thickness is not stated"}}
	f.Fit.Joints = nil
	for _, v := range []string{"a", "b"} {
		one.Variant = v
		f.Fit.Joints = append(f.Fit.Joints, one)
	}
	got, r := codesOf(d, f, joints)
	if len(got) != 0 || len(r.notChecked) != 1 || r.notChecked[0].Variant != "" || !strings.Contains(r.notChecked[0].Text, "thickness") {
		t.Errorf("findings %q, not checked %+v", got, r.notChecked)
	}
	// Nothing worked out and nothing found is not a pass either.
	d, f = lamp()
	f.Fit.Joints[0].Screws = nil
	if _, r := codesOf(d, f, joints); len(r.notChecked) != 1 {
		t.Errorf("a joint without figures passed: %v", r.notChecked)
	}
	// Meshes that were not measured: each fastener is said.
	d, f = lamp()
	f.Fit = nil
	if _, r := codesOf(d, f, joints); len(r.notChecked) != 1 {
		t.Errorf("a design that was not measured passed: %v", r.notChecked)
	}
}

// A screw that is too short names the figures and the lengths that fit, as a colleague would.
func TestShortScrewSaysWhatToTake(t *testing.T) {
	d, f := lamp()
	j := &f.Fit.Joints[0]
	j.Length, j.Into = 6, "insert"
	j.Fits = &facts.Lengths{Min: 5.9, Max: 12.4, Made: []float64{8, 10, 12}}
	for i := range j.Screws {
		j.Screws[i] = facts.Screw{Clamped: 3.9, Bites: 2.1, Needs: 3, Reach: 2.1, Room: 8.5}
	}
	_, r := codesOf(d, f, joints)
	if len(r.findings) != 1 {
		t.Fatalf("%+v", r.findings)
	}
	for _, want := range []string{"M3x6 leaves 2.1 mm in the insert", "needs 3 mm"} {
		if !strings.Contains(r.findings[0].Text, want) {
			t.Errorf("%q is not in %q", want, r.findings[0].Text)
		}
	}
	if want := "write M3x8; up to M3x12 fits; past 12.4 mm it bottoms"; r.findings[0].Hint != want {
		t.Errorf("hint %q, want %q", r.findings[0].Hint, want)
	}
	if strings.Contains(r.findings[0].Text+r.findings[0].Hint, "N·m") {
		t.Error("a torque is stated")
	}
}

func step(title string, uses ...string) design.Step {
	s := design.Step{At: place(20), Title: named(design.Text(title), 20), Text: named(design.Text("Hand tight."), 20)}
	for i, u := range uses {
		n := design.Quantity(1)
		if u == "lid-screw" {
			n = 4
		}
		s.Uses.Entries = append(s.Uses.Entries, design.DictEntry[design.ByVariant[design.Quantity]]{Key: u, KeyAt: place(20 + i), Value: forAll(n, 20+i)})
	}
	return s
}

func TestOrderOfSteps(t *testing.T) {
	makes := func(s design.Step, name string) design.Step { s.Makes = named(design.Name(name), 30); return s }
	after := func(s design.Step, title string) design.Step {
		s.After = []design.Val[design.Text]{named(design.Text(title), 31)}
		return s
	}
	tools := func(s design.Step, list ...string) design.Step {
		for _, x := range list {
			s.Tools = append(s.Tools, named(design.Text(x), 32))
		}
		return s
	}
	for _, c := range []struct {
		name  string
		steps []design.Step
		want  string
	}{
		{"in order", []design.Step{step("a", "box"), step("b", "lid", "lid-screw")}, ""},
		{"in one step", []design.Step{step("a", "box", "lid", "lid-screw")}, ""},
		{"the lid comes later", []design.Step{step("a", "box", "lid-screw"), step("b", "lid")}, "fastener-early"},
		{"the box comes later", []design.Step{step("a", "lid", "lid-screw"), step("b", "box")}, "fastener-early"},
		{"made before", []design.Step{makes(step("a", "box"), "filled"), step("b", "filled", "lid", "lid-screw")}, ""},
		{"made later", []design.Step{step("b", "filled", "lid", "lid-screw"), makes(step("a", "box"), "filled")}, "made-late"},
		{"after what stands before", []design.Step{step("a", "box"), after(step("b", "lid", "lid-screw"), "a")}, ""},
		{"after what stands behind", []design.Step{after(step("b", "box", "lid", "lid-screw"), "c"), step("c")}, "step-order"},
		{"the right key", []design.Step{tools(step("a", "box", "lid", "lid-screw"), "hex key 2.5")}, ""},
		{"keys", []design.Step{tools(step("a", "box", "lid", "lid-screw"), "file", "hex keys")}, ""},
		{"the wrong key", []design.Step{tools(step("a", "box", "lid", "lid-screw"), "hex key 3")}, "tool-missing"},
		{"no key among the tools", []design.Step{tools(step("a", "box", "lid", "lid-screw"), "pliers")}, "tool-missing"},
	} {
		d, f := lamp()
		d.Assembly = c.steps
		got, r := codesOf(d, f, order)
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: found %q, want %q: %+v", c.name, got, c.want, r.findings)
		}
	}
}

func TestToolsInAMakersWords(t *testing.T) {
	for _, c := range []struct {
		words string
		tool  hardware.Driver
		want  bool
	}{
		{"hex key 2.5", hardware.Driver{Kind: "hex key", Size: "2.5 mm"}, true},
		{"2.5 mm hex bit", hardware.Driver{Kind: "hex key", Size: "2.5 mm"}, true},
		{"hex key 2", hardware.Driver{Kind: "hex key", Size: "2.5 mm"}, false},
		{"cross-head screwdriver", hardware.Driver{Kind: "screwdriver", Size: "PH1"}, true},
		{"PH1 screwdriver", hardware.Driver{Kind: "screwdriver", Size: "PH1"}, true},
		{"screwdriver PH2", hardware.Driver{Kind: "screwdriver", Size: "PH1"}, false},
		{"T10 driver", hardware.Driver{Kind: "screwdriver", Size: "T10"}, true},
		{"slotted screwdriver", hardware.Driver{Kind: "screwdriver", Size: "PH1"}, false},
		{"spanner 5.5", hardware.Driver{Kind: "spanner", Size: "5.5 mm"}, true},
		{"soldering iron", hardware.Driver{Kind: "spanner", Size: "5.5 mm"}, false},
	} {
		if got := toolListed([]design.Val[design.Text]{named(design.Text(c.words), 1)}, c.tool); got != c.want {
			t.Errorf("%q for a %s: %v", c.words, c.tool, got)
		}
	}
}

func TestSizesInTexts(t *testing.T) {
	for text, want := range map[string]string{
		"Four M3x8, hand tight":                "M3x8",
		"an M2,5 × 5 and m3 x 12":              "M2.5x5 M3x12",
		"ISO 4762 - M3 x 16":                   "M3x16",
		"the M3 nuts":                          "",
		"a box of 40 x 30, room M12 by twelve": "",
		"M3x8 and again M3x8":                  "M3x8",
	} {
		if got := strings.Join(sizesIn(text), " "); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}
