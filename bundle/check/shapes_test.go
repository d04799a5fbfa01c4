package check

import (
	"slices"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

func part(name, mesh string) design.Part {
	v := design.Val[design.Path]{V: design.Path(mesh), At: at}
	return design.Part{At: at, Name: design.Val[design.Name]{V: design.Name(name), At: at}, Mesh: design.ByVariant[design.Path]{At: at, All: &v}}
}

func length(x float64) design.Val[unit.Length] {
	return design.Val[unit.Length]{V: unit.Length(x), At: at}
}

func mesh(file string, size [3]float64, volume float64) facts.Mesh {
	yes, no, zero := true, false, 0
	return facts.Mesh{File: file, Triangles: 12, Size: &size, Volume: &volume, Watertight: &yes, InsideOut: &no, OpenEdges: &zero}
}

func TestOpposite(t *testing.T) {
	for name, want := range map[string]string{"cheek-left": "cheek-right", "right-arm": "left-arm", "arm-l": "arm-r", "left": "", "leftover": "", "plinth": "", "bracket-lh-2": "bracket-rh-2"} {
		if got := opposite(name); got != want {
			t.Errorf("%s: got %q, want %q", name, got, want)
		}
	}
}

func TestBare(t *testing.T) {
	for name, want := range map[string]bool{"1": true, "part-1": true, "body2": true, "new-part": true, "v2": true, "b-1": true, "hook": false, "hook-2": false, "foot": false, "part-hook": false} {
		if bare(name) != want {
			t.Errorf("%s: want %v", name, want)
		}
	}
}

// TestPairs: what two meshes are to each other decides with their names what is said.
func TestPairs(t *testing.T) {
	for _, c := range []struct {
		a, b, kind string
		symmetric  bool
		want       []string
	}{
		{"hook", "peg", "turned", false, []string{"mesh-twice"}},
		{"hook", "peg", "mirrored", false, nil},
		{"hook", "peg", "", false, nil},
		{"arm-left", "arm-right", "mirrored", false, nil},
		{"arm-left", "arm-right", "same", false, []string{"side-twice"}},
		{"arm-left", "arm-right", "turned", true, []string{"mesh-twice"}},
		{"arm-left", "arm-right", "", false, nil}, // of other sizes: different on purpose
	} {
		in := &Input{Design: &design.Design{Parts: []design.Part{part(c.a, "a.stl"), part(c.b, "b.stl")}},
			Facts: &facts.Design{Measured: facts.Measured{Meshes: []facts.Mesh{mesh("a.stl", [3]float64{1, 2, 3}, 6), mesh("b.stl", [3]float64{1, 2, 4}, 6)}}}}
		if c.kind != "" {
			in.Facts.Scan.Alike = []facts.Alike{{A: "a.stl", B: "b.stl", Kind: c.kind, Symmetric: c.symmetric}}
		}
		if got := codes(in, duplicates); !slices.Equal(got, c.want) {
			t.Errorf("%s and %s, %q: found %q, want %q", c.a, c.b, c.kind, got, c.want)
		}
	}
	spare := part("hook-spare", "a.stl")
	spare.Role = design.Val[design.Role]{V: "spare", At: at}
	if got := codes(&Input{Design: &design.Design{Parts: []design.Part{part("hook", "a.stl"), spare}}}, duplicates); got != nil {
		t.Errorf("a spare of the same file: found %q", got)
	}
	if got := codes(&Input{Design: &design.Design{Parts: []design.Part{part("hook", "a.stl"), part("peg", "a.stl")}}}, duplicates); !slices.Equal(got, []string{"mesh-twice"}) {
		t.Errorf("one file for two parts: found %q", got)
	}
}

// TestUnits: size, board and holes each tell a unit; a stated size that fits silences the guess.
func TestUnits(t *testing.T) {
	inch := "inch"
	base := func() *Input {
		m := mesh("a.stl", [3]float64{4, 3.2, 1}, 10)
		m.UnitSuspect = &inch
		return &Input{Design: &design.Design{Parts: []design.Part{part("case", "a.stl")}}, Facts: &facts.Design{Measured: facts.Measured{Meshes: []facts.Mesh{m}, Scan: facts.Scan{Solids: []facts.Solid{{File: "a.stl"}}}}}}
	}
	for name, c := range map[string]struct {
		change func(*Input)
		want   []string
	}{
		"guess": {func(*Input) {}, []string{"unit-suspect"}},
		"stated": {func(in *Input) {
			in.Design.Parts[0].Size = []design.Val[unit.Length]{length(3.2), length(4), length(1)}
		}, nil},
		"stated else": {func(in *Input) { in.Design.Parts[0].Size = []design.Val[unit.Length]{length(9), length(4), length(1)} }, []string{"part-size-differs"}},
		"by size": {func(in *Input) {
			in.Facts.Scan.Solids[0].UnitBySize = "inch"
			in.Design.Parts[0].Size = []design.Val[unit.Length]{length(101.6), length(81.28), length(25.4)}
		}, []string{"unit-wrong"}},
		"by holes, no screw": {func(in *Input) { in.Facts.Scan.Solids[0].UnitByHoles = "inch" }, []string{"unit-suspect"}},
		"by holes": {func(in *Input) {
			in.Facts.Scan.Solids[0].UnitByHoles = "inch"
			in.Design.Fasteners = []design.Fastener{{At: at, Through: []design.Val[design.Name]{{V: "case", At: at}}}}
		}, []string{"unit-wrong"}},
		"by board": {func(in *Input) { // a 96Boards CE board is 85 x 54 mm (its specification 1.0): 4 x 3.2 inches hold it
			in.Facts.Meshes[0].UnitSuspect = nil
			in.Design.Variants = []design.Variant{{At: at, Name: design.Val[design.Name]{V: "ce", At: at}, Board: text("96boards-ce"), SitsIn: design.Val[design.Name]{V: "case", At: at}}}
		}, []string{"unit-wrong"}},
		"board fits": {func(in *Input) {
			in.Facts.Meshes[0].UnitSuspect, in.Facts.Meshes[0].Size = nil, &[3]float64{101.6, 81.28, 25.4}
			in.Design.Variants = []design.Variant{{At: at, Name: design.Val[design.Name]{V: "ce", At: at}, Board: text("96boards-ce"), SitsIn: design.Val[design.Name]{V: "case", At: at}}}
		}, nil},
	} {
		in := base()
		c.change(in)
		if got := codes(in, units); !slices.Equal(got, c.want) {
			t.Errorf("%s: found %q, want %q", name, got, c.want)
		}
	}
}

// TestBodies: how bodies lie to each other and to the bed; one finding for one mesh.
func TestBodies(t *testing.T) {
	body := func(x, z float64) facts.Body {
		return facts.Body{Closed: true, Min: [3]float64{x, 0, z}, Max: [3]float64{x + 10, 10, z + 10}, Volume: 1000}
	}
	with := func(b facts.Body, change func(*facts.Body)) facts.Body { change(&b); return b }
	group := func(b facts.Body, n int) facts.Body { b.Group = n; return b }
	for name, c := range map[string]struct {
		bodies []facts.Body
		face   design.Face
		want   []string
	}{
		"apart":             {[]facts.Body{body(0, 0), group(body(20, 0), 1)}, "", []string{"shell-extra"}},
		"touching":          {[]facts.Body{body(0, 0), body(10, 0)}, "", nil},
		"overlapping":       {[]facts.Body{body(0, 0), with(body(5, 0), func(b *facts.Body) { b.Overlaps = true })}, "", []string{"shell-overlap"}},
		"stacked":           {[]facts.Body{body(0, 0), body(0, 10)}, "", nil},
		"floating":          {[]facts.Body{body(0, 0), group(body(0, 11), 1)}, "", []string{"shell-floating"}},
		"floating, turned":  {[]facts.Body{body(0, 0), group(body(20, 0), 1)}, "-x", []string{"shell-floating"}},
		"standing, turned":  {[]facts.Body{body(0, 0), group(body(0, 11), 1)}, "+x", []string{"shell-extra"}},
		"two of three meet": {[]facts.Body{body(0, 0), body(10, 0), group(body(30, 0), 2)}, "", []string{"shell-extra"}},
		"inside":            {[]facts.Body{body(0, 0), with(body(0, 0), func(b *facts.Body) { b.Depth = 1 })}, "", []string{"shell-inside"}},
		"void":              {[]facts.Body{body(0, 0), with(body(0, 0), func(b *facts.Body) { b.Depth, b.Void = 1, true })}, "", nil},
	} {
		p := part("hook", "a.stl")
		if c.face != "" {
			p.StandOn = design.Val[design.Face]{V: c.face, At: at}
		}
		in := &Input{Design: &design.Design{Parts: []design.Part{p}}, Facts: &facts.Design{Measured: facts.Measured{Meshes: []facts.Mesh{mesh("a.stl", [3]float64{1, 1, 1}, 1)}, Scan: facts.Scan{Solids: []facts.Solid{{File: "a.stl", Bodies: c.bodies}}}}}}
		if got := codes(in, surfaces); !slices.Equal(got, c.want) {
			t.Errorf("%s: found %q, want %q", name, got, c.want)
		}
	}
}

// TestNozzles: settings must suit one nozzle of the series.
func TestNozzles(t *testing.T) {
	for _, c := range []struct {
		layer, line float64
		nozzles     []float64
		want        int
	}{
		{0.2, 0.45, []float64{0.4}, 0}, {0.32, 0.4, []float64{0.4}, 0}, {0.4, 0.45, []float64{0.4}, 1}, {0.2, 0.2, []float64{0.4}, 1},
		{0.2, 0.9, []float64{0.4}, 1}, {0.4, 0.9, []float64{0.4, 0.8}, 0}, {0.4, 0.45, nil, 0},
	} {
		h := &design.House{Print: design.Print{Layer: length(c.layer), Line: length(c.line)}}
		for _, n := range c.nozzles {
			h.Printers = append(h.Printers, design.Printer{Nozzle: length(n)})
		}
		if got := codes(&Input{Design: &design.Design{Parts: []design.Part{part("hook", "a.stl")}}, House: h}, settingsClash); len(got) != c.want {
			t.Errorf("%+v: found %q", c, got)
		}
	}
}

// TestPrivacy: what goes out as it is weighs more; what the series says of itself is no leak.
func TestPrivacy(t *testing.T) {
	p := part("hook", "a.3mf")
	p.From.Items = []design.Val[design.Path]{{V: "hook.step", At: at}}
	d := &design.Design{Parts: []design.Part{p}, Photos: []design.Photo{{File: design.Val[design.Path]{V: "front.jpg", At: at}}}, Story: design.Val[design.Path]{V: "story.md", At: at}}
	for _, c := range []struct {
		leak facts.Leak
		want string
	}{
		{facts.Leak{File: "front.jpg", Kind: "position"}, "photo-located"},
		{facts.Leak{File: "front.jpg", Kind: "serial", Text: "123"}, "photo-private"},
		{facts.Leak{File: "a.3mf", Kind: "path", Text: "/home/x/y"}, "mesh-private"},
		{facts.Leak{File: "hook.step", Kind: "path", Text: "/home/x/y"}, "file-private"},
		{facts.Leak{File: "hook.step", Kind: "name", Text: "A. Stranger"}, "name-private"},
		{facts.Leak{File: "hook.step", Kind: "name", Text: "Hollow Lane Workshop"}, ""},
		{facts.Leak{File: "story.md", Kind: "email", Text: "ask@hollow-lane.example"}, ""},
		{facts.Leak{File: "story.md", Kind: "path", Text: "/home/x/y"}, "file-private"},
		{facts.Leak{File: "not-named.txt", Kind: "path", Text: "/home/x/y"}, ""},
	} {
		in := &Input{Design: d, House: &design.House{Maker: design.Maker{Name: text("Hollow Lane Workshop")}}, Facts: &facts.Design{Measured: facts.Measured{Scan: facts.Scan{Leaks: []facts.Leak{c.leak}}}}}
		got := append(codes(in, privacy), "")[0]
		if got != c.want {
			t.Errorf("%+v: found %q, want %q", c.leak, got, c.want)
		}
	}
}

// TestMaterial: softening figures are those of bundle/hardware; 74 °C is what a dashboard reached.
func TestMaterial(t *testing.T) {
	for _, c := range []struct {
		material, used string
		want           int
	}{
		{"PLA", "window", 1}, {"PLA", "in the car", 1}, {"PLA", "desk", 0}, {"PETG", "greenhouse", 0}, {"PETG", "car", 1}, {"ASA", "car", 0}, {"PLA", "carpet", 0},
	} {
		d := &design.Design{Parts: []design.Part{part("hook", "a.stl")}, UsedIn: []design.Val[design.Text]{text(c.used)}}
		d.Parts[0].Colour = design.Val[design.Name]{V: "body", At: at}
		d.Colours.Entries = []design.DictEntry[design.Palette]{{Key: "body", KeyAt: at, Value: design.Palette{At: at, Items: []design.Val[design.Name]{{V: "clay", At: at}}}}}
		h := &design.House{Filaments: []design.Filament{{Name: design.Val[design.Name]{V: "clay", At: at}, Material: text(c.material)}}}
		if got := codes(&Input{Design: d, House: h}, material); len(got) != c.want {
			t.Errorf("%s used in %s: found %q", c.material, c.used, got)
		}
	}
}

// TestTableExplains: each code has a paragraph for people.
func TestTableExplains(t *testing.T) {
	for _, c := range finding.Codes() {
		if len(c.Why) < 60 || c.Why[len(c.Why)-1] != '.' {
			t.Errorf("%s: %q explains too little", c.Name, c.Why)
		}
	}
}
