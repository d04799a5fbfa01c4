package measure

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"dropwright/bundle/design"
	"dropwright/bundle/estimate"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/manifest"
	"dropwright/bundle/measure/cache"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
	"dropwright/bundle/trial"
	"dropwright/bundle/unit"
)

// val is a value as if it had been written.
func val[T any](v T) design.Val[T] {
	return design.Val[T]{V: v, At: finding.Place{File: "series.yaml", Line: 1, Column: 1}}
}

// bench is a series of one filament and two printers: only the second takes parts above 30 mm.
func bench() *design.House {
	bed := func(x float64) []design.Val[unit.Length] {
		return []design.Val[unit.Length]{val(unit.Length(x)), val(unit.Length(x)), val(unit.Length(x))}
	}
	return &design.House{
		Printers: []design.Printer{
			{Name: val(design.Name("small")), Bed: bed(30), StartTime: val(unit.Duration(100))},
			{Name: val(design.Name("bench")), Bed: bed(200), ChangeOver: val(unit.Duration(50))},
		},
		Filaments: []design.Filament{{Name: val(design.Name("clay")), Material: val(design.Text("PETG"))}},
		Print: design.Print{Layer: val(unit.Length(0.2)), Line: val(unit.Length(0.45)), Walls: val(design.Int(2)), Infill: val(unit.Share(0.15)),
			Solid: design.SolidLayers{Top: val(design.Int(4)), Bottom: val(design.Int(4))}},
	}
}

func meshFile(t *testing.T, m *mesh.Mesh) *fstest.MapFile {
	t.Helper()
	var b bytes.Buffer
	if err := stl.Write(&b, m); err != nil {
		t.Fatal(err)
	}
	return &fstest.MapFile{Data: b.Bytes()}
}

// folder is a design of one part, a cube of 20 mm, with more lines for its part and more files.
func folder(t *testing.T, more string, files map[string]string) (fstest.MapFS, *design.Design, []byte) {
	t.Helper()
	text := "title: Cube\nsummary: A cube.\nchanges: [{revision: 1.0.0, date: 2027-01-05, text: first release}]\nlicence: CC0-1.0\n" +
		"colours: {body: clay}\nparts:\n  - {name: cube, colour: body, mesh: meshes/cube.stl" + more + "}\n"
	fsys := fstest.MapFS{"meshes/cube.stl": meshFile(t, mesh.Box(20, 20, 20))}
	for name, data := range files {
		fsys[name] = &fstest.MapFile{Data: []byte(data)}
	}
	d, _, found := manifest.Decode("cube", "design.yaml", []byte(text), manifest.Context{Filaments: []string{"clay"}})
	if finding.Count(found, finding.Error) > 0 {
		t.Fatal(found)
	}
	return fsys, d, []byte(text)
}

func measured(t *testing.T, fsys fstest.MapFS, d *design.Design, text []byte, opt Options) *facts.Part {
	t.Helper()
	f, err := Design(fsys, d, text, bench(), opt)
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Parts) != 1 {
		t.Fatalf("%d parts", len(f.Parts))
	}
	return &f.Parts[0]
}

// tower is a print file of a square tower: loops of side-0.45 mm at every layer of 0.2 mm. Each loop feeds
// 4*(side-0.45)*feed mm.
func tower(side float64, layers int, feed float64) string {
	var b strings.Builder
	b.WriteString("G21\nG90\nM83\nG28\n")
	r := side/2 - 0.225
	for k := range layers {
		fmt.Fprintf(&b, "G0 Z%.2f F3000\nG0 X%.3f Y%.3f F9000\n", 0.2*float64(k+1), -r, -r)
		for _, p := range [][2]float64{{r, -r}, {r, r}, {-r, r}, {-r, -r}} {
			fmt.Fprintf(&b, "G1 X%.3f Y%.3f E%.6f F3000\n", p[0], p[1], 2*r*feed)
		}
	}
	return b.String()
}

var estimates = Options{Topics: Topics{Estimate: true}}

// The figures of the cube by hand (2819.4064 mm3, see bundle/estimate): a design's part is estimated with the
// series' settings, in its filament, on the first printer that takes it.
func TestPartIsEstimatedAsItIsPrinted(t *testing.T) {
	fsys, d, text := folder(t, "", nil)
	x := measured(t, fsys, d, text, estimates)
	e := x.Estimate
	if e == nil {
		t.Fatal(x.Unestimated)
	}
	if math.Abs(e.Plastic/2819.4064-1) > 1e-3 {
		t.Errorf("plastic %.2f mm3", e.Plastic)
	}
	petg, _ := estimate.FilamentOf("PETG")
	if want := e.Plastic / 1000 * petg.Density; math.Abs(e.Grams-want) > 1e-9 {
		t.Errorf("%.4f g, want %.4f", e.Grams, want)
	}
	if e.Basis != "model" || !strings.Contains(e.Band, "model only") || e.Settings["walls"] != 2 || len(x.Outline) != 4 {
		t.Errorf("basis %q, band %q, settings %v, outline %v", e.Basis, e.Band, e.Settings, x.Outline)
	}
	if !(e.GramsLow < e.Grams && e.Grams < e.GramsHigh && e.SecondsLow < e.Seconds && e.Seconds < e.SecondsHigh) {
		t.Errorf("no band around the figures: %+v", e)
	}
}

func TestPrintersAreKept(t *testing.T) {
	fsys, d, text := folder(t, "", nil)
	f, err := Design(fsys, d, text, bench(), estimates)
	if err != nil {
		t.Fatal(err)
	}
	mc := estimate.DefaultMachine()
	want := []facts.Printer{{Name: "small", Start: 100, ChangeOver: mc.ChangeOver}, {Name: "bench", Start: mc.Start, ChangeOver: 50}}
	for i, p := range f.Printers {
		if p != want[i] {
			t.Errorf("%+v, want %+v", p, want[i])
		}
	}
	if p, ok := f.Printer("bench"); !ok || p.ChangeOver != 50 {
		t.Error("a printer is not found by its name")
	}
	if _, ok := f.Printer("none"); ok {
		t.Error("a printer that is none is found")
	}
}

// A print file replaces the model: 100 loops of 78.2 mm at 0.1 mm of filament a mm are 782 mm, by hand, in mass
// and metres exactly.
func TestToolpathReplacesTheModel(t *testing.T) {
	fsys, d, text := folder(t, ", toolpath: gcode/cube.gcode", map[string]string{"gcode/cube.gcode": tower(20, 100, 0.1)})
	x := measured(t, fsys, d, text, estimates)
	e := x.Estimate
	if e == nil || x.Toolpath == nil || e.Basis != "toolpath" {
		t.Fatalf("%+v %+v", e, x.Toolpath)
	}
	if x.Toolpath.Problem != "" || x.Toolpath.Misfits != nil || x.Toolpath.CutOff != 0 {
		t.Errorf("%+v", x.Toolpath)
	}
	if math.Abs(e.Metres-0.782) > 1e-5 || e.Layers != 100 || len(e.Kinds) != 0 {
		t.Errorf("%.6f m, %d layers, kinds %v", e.Metres, e.Layers, e.Kinds)
	}
	petg, _ := estimate.FilamentOf("PETG")
	if want := 782 * math.Pi / 4 * 1.75 * 1.75 / 1000 * petg.Density; math.Abs(e.Grams/want-1) > 1e-5 {
		t.Errorf("%.4f g, want %.4f", e.Grams, want)
	}
	// Each loop has 4 sides of 19.55 mm at 50 mm/s: 1.564 s and a little for the corners and the way up.
	if e.Seconds < 100*1.6 || e.Seconds > 100*2.2 {
		t.Errorf("%.1f s", e.Seconds)
	}
	// Trials are of the model: they leave a simulated file alone.
	opt := estimates
	opt.Factors = factors("small", 1.2, 1.5, 0)
	if y := measured(t, fsys, d, text, opt).Estimate; y.Grams != e.Grams || y.Seconds != e.Seconds || y.Basis != "toolpath" {
		t.Errorf("trials changed a print file's figures: %+v", y)
	}
}

// What does not print this mesh, or cannot be simulated, is a fact of its own, and the figures stay the model's.
func TestToolpathThatDoesNotFit(t *testing.T) {
	good := tower(20, 100, 0.1)
	_, d, text := folder(t, "", nil)
	fsys, _, _ := folder(t, "", nil)
	model := measured(t, fsys, d, text, estimates).Estimate
	half := good[:len(good)/2]
	thick := tower(20, 80, 0.1)
	for k := 80; k > 0; k-- { // 80 layers of 0.25 mm, from the top so that no height is met twice
		thick = strings.Replace(thick, fmt.Sprintf("G0 Z%.2f F", 0.2*float64(k)), fmt.Sprintf("G0 Z%.2f F", 0.25*float64(k)), 1)
	}
	for _, c := range []struct {
		name, file string
		problem    string // part of it
		misfit     string
		cut        bool
		figures    string // whose
	}{
		{"of a smaller cube", tower(15, 75, 0.1), "", "the mesh is 20.00 mm high", false, "model"},
		{"of thicker layers", thick, "", "", false, "toolpath"},
		{"of another width", tower(26, 100, 0.1), "", "it covers 26.0 x 26.0 mm", false, "model"},
		{"cut between lines", half[:strings.LastIndexByte(half, '\n')+1], "", "it prints up to", false, "model"},
		{"cut inside the last line", strings.TrimRight(good, "\n0"), "", "", true, "toolpath"},
		{"binary", "\x00\x01\x02\xff\xfe" + good, "line 1:", "", false, "model"},
		{"a mesh by mistake", string(fsys["meshes/cube.stl"].Data), "line 1", "", false, "model"},
		{"empty", "", "no move feeds filament", "", false, "model"},
		{"a line without end", "G1 X" + strings.Repeat("9", 1<<20), "line 1:", "", false, "model"},
		{"infinite moves", good + "G1 X1e308 E1e308\n", "line 605:", "", false, "model"},
		{"a second tool", "T1\n" + good, "line 1:", "", false, "model"},
	} {
		fsys, d, text := folder(t, ", toolpath: gcode/cube.gcode", map[string]string{"gcode/cube.gcode": c.file})
		x := measured(t, fsys, d, text, estimates)
		if x.Toolpath == nil || x.Estimate == nil {
			t.Errorf("%s: toolpath %v, estimate %v", c.name, x.Toolpath, x.Estimate)
			continue
		}
		if c.problem == "" && x.Toolpath.Problem != "" || !strings.Contains(x.Toolpath.Problem, c.problem) {
			t.Errorf("%s: problem %q, want %q in it", c.name, x.Toolpath.Problem, c.problem)
		}
		if all := strings.Join(x.Toolpath.Misfits, "; "); c.misfit == "" && all != "" || !strings.Contains(all, c.misfit) {
			t.Errorf("%s: misfits %q, want %q in them", c.name, all, c.misfit)
		}
		if (x.Toolpath.OtherLayers != "") != (c.file == thick) {
			t.Errorf("%s: layers %q", c.name, x.Toolpath.OtherLayers)
		}
		if (x.Toolpath.CutOff > 0) != c.cut {
			t.Errorf("%s: cut off in line %d", c.name, x.Toolpath.CutOff)
		}
		if x.Estimate.Basis != c.figures || c.figures == "model" && x.Estimate.Grams != model.Grams {
			t.Errorf("%s: basis %q, %.3f g", c.name, x.Estimate.Basis, x.Estimate.Grams)
		}
	}
	// A file that is not there is told among the files, not here.
	fsys, d, text = folder(t, ", toolpath: gcode/cube.gcode", nil)
	if x := measured(t, fsys, d, text, estimates); x.Toolpath != nil || x.Estimate == nil || x.Estimate.Basis != "model" {
		t.Errorf("absent: %+v %+v", x.Toolpath, x.Estimate)
	}
	// check asks for no estimate and must hear of the print file all the same.
	fsys, d, text = folder(t, ", toolpath: gcode/cube.gcode", map[string]string{"gcode/cube.gcode": "T1\n"})
	if x := measured(t, fsys, d, text, Options{}); x.Toolpath == nil || x.Toolpath.Problem == "" || x.Estimate != nil {
		t.Errorf("without an estimate: %+v %+v", x.Toolpath, x.Estimate)
	}
}

// factors are those of a printer in PETG, each resting on five trials.
func factors(printer string, grams, seconds, hole float64) []trial.Factors {
	fit := func(v, spread float64) trial.Fit { return trial.Fit{Value: v, Spread: spread, Used: 5} }
	return []trial.Factors{{Printer: printer, Material: "PETG", Grams: fit(grams, 0.03), Seconds: fit(seconds, 0.05), Hole: fit(hole, 0.04), Prints: 5}}
}

// Factors of the printer and material at hand scale the figures and narrow the band; others leave them alone.
func TestCalibrated(t *testing.T) {
	fsys, d, text := folder(t, "", nil)
	model := measured(t, fsys, d, text, estimates).Estimate
	opt := estimates
	opt.Factors = factors("small", 1.1, 1.4, 0.2)
	x := measured(t, fsys, d, text, opt)
	e := x.Estimate
	if e.Basis != "calibrated" || !strings.Contains(e.Band, "5 prints on small in PETG") {
		t.Errorf("basis %q, band %q", e.Basis, e.Band)
	}
	if math.Abs(e.Grams/model.Grams-1.1) > 1e-9 || math.Abs(e.Seconds/model.Seconds-1.4) > 1e-9 {
		t.Errorf("grams × %.4f, seconds × %.4f", e.Grams/model.Grams, e.Seconds/model.Seconds)
	}
	if wide, narrow := model.GramsHigh-model.GramsLow, e.GramsHigh-e.GramsLow; narrow >= wide || narrow <= 0 {
		t.Errorf("the band of the mass went from %.3f to %.3f g", wide, narrow)
	}
	if wide, narrow := model.SecondsHigh-model.SecondsLow, e.SecondsHigh-e.SecondsLow; narrow >= wide || narrow <= 0 {
		t.Errorf("the band of the time went from %.0f to %.0f s", wide, narrow)
	}
	if x.HoleAllowance == nil || *x.HoleAllowance != 0.2 {
		t.Errorf("hole allowance %v", x.HoleAllowance)
	}
	few := factors("small", 1.1, 1.4, 0.2)
	few[0].Grams.Used, few[0].Seconds.Used, few[0].Hole.Used = 2, 2, 2
	other := factors("small", 1.1, 1.4, 0.2)
	other[0].Material = "PLA"
	for name, f := range map[string][]trial.Factors{"another printer": factors("bench", 1.1, 1.4, 0.2), "another material": other, "two trials": few} {
		opt.Factors = f
		if x := measured(t, fsys, d, text, opt); x.Estimate.Basis != "model" || x.Estimate.Grams != model.Grams || x.HoleAllowance != nil {
			t.Errorf("%s: %+v, allowance %v", name, x.Estimate, x.HoleAllowance)
		}
	}
}

// A part that several variants print from one mesh has the same figures in each, one from a mesh of its own not.
func TestVariantsOfOnePart(t *testing.T) {
	text := "title: Cube\nsummary: A cube.\nchanges: [{revision: 1.0.0, date: 2027-01-05, text: first release}]\nlicence: CC0-1.0\n" +
		"variants: [{name: low, title: Low}, {name: mid, title: Mid}, {name: tall, title: Tall}]\ncolours: {body: clay}\nparts:\n" +
		"  - {name: cube, colour: body, mesh: {low: meshes/cube.stl, mid: meshes/cube.stl, tall: meshes/tall.stl}, toolpath: gcode/cube.gcode}\n" +
		"  - {name: foot, colour: body, mesh: meshes/cube.stl, print: {walls: 5}}\n"
	d, _, found := manifest.Decode("cube", "design.yaml", []byte(text), manifest.Context{Filaments: []string{"clay"}})
	if finding.Count(found, finding.Error) > 0 {
		t.Fatal(found)
	}
	fsys := fstest.MapFS{"meshes/cube.stl": meshFile(t, mesh.Box(20, 20, 20)), "meshes/tall.stl": meshFile(t, mesh.Box(20, 20, 40)),
		"gcode/cube.gcode": {Data: []byte(tower(20, 100, 0.1))}}
	f, err := Design(fsys, d, []byte(text), bench(), estimates)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, x := range f.Parts {
		got[x.Part+" "+x.Variant] = fmt.Sprintf("%s %v walls %s %s, %d misfits", x.Mesh, x.Estimate.Settings["walls"], x.Estimate.Basis, x.FitsOn, func() int {
			if x.Toolpath == nil {
				return -1
			}
			return len(x.Toolpath.Misfits)
		}())
	}
	want := map[string]string{
		"cube low": "meshes/cube.stl 2 walls toolpath [small bench], 0 misfits", "cube mid": "meshes/cube.stl 2 walls toolpath [small bench], 0 misfits",
		"cube tall": "meshes/tall.stl 2 walls model [bench], 2 misfits",
		"foot low":  "meshes/cube.stl 5 walls model [small bench], -1 misfits", "foot mid": "meshes/cube.stl 5 walls model [small bench], -1 misfits", "foot tall": "meshes/cube.stl 5 walls model [small bench], -1 misfits",
	}
	for k, w := range want {
		if got[k] != w {
			t.Errorf("%s: %q, want %q", k, got[k], w)
		}
	}
}

// What was learnt since is not hidden by what was kept before; a cold and a warm run agree.
func TestCacheKnowsTheFactors(t *testing.T) {
	fsys, d, text := folder(t, ", toolpath: gcode/cube.gcode", map[string]string{"gcode/cube.gcode": tower(30, 100, 0.1)})
	opt := estimates
	opt.Cache = cache.New(t.TempDir(), "test", 0)
	before := measured(t, fsys, d, text, opt)
	opt.Factors = factors("small", 1.1, 1.4, 0.2)
	after := measured(t, fsys, d, text, opt)
	if before.Estimate.Basis != "model" || after.Estimate.Basis != "calibrated" {
		t.Errorf("basis %q, then %q", before.Estimate.Basis, after.Estimate.Basis)
	}
	warm := measured(t, fsys, d, text, opt)
	a, _ := json.Marshal(after)
	b, _ := json.Marshal(warm)
	if !bytes.Equal(a, b) {
		t.Errorf("cold and warm differ:\n%s\n%s", a, b)
	}
	fsys["gcode/cube.gcode"] = &fstest.MapFile{Data: []byte(tower(20, 100, 0.1))}
	if x := measured(t, fsys, d, text, opt); x.Estimate.Basis != "toolpath" {
		t.Errorf("a new print file is not read: %q", x.Estimate.Basis)
	}
	// The same for a mesh by itself.
	p, _ := d.Part("cube")
	opt.Print = PrintingOf(p, d, bench())
	if m := Mesh(fsys, "meshes/cube.stl", opt); m.Estimate == nil || m.Estimate.Basis != "toolpath" {
		t.Errorf("%+v", m.Estimate)
	}
	fsys["gcode/cube.gcode"] = &fstest.MapFile{Data: []byte("T1\n")}
	if m := Mesh(fsys, "meshes/cube.stl", opt); m.Estimate == nil || m.Estimate.Basis != "calibrated" {
		t.Errorf("%+v", m.Estimate)
	}
}

// The figure for a trial is the model's on the printer that printed it, whatever was learnt and whatever lies
// beside the part.
func TestModelOfATrial(t *testing.T) {
	fsys, d, _ := folder(t, ", toolpath: gcode/cube.gcode", map[string]string{"gcode/cube.gcode": tower(20, 100, 0.1)})
	h := bench()
	f, err := Model(fsys, d, h, "cube", design.Plain, h.Printers[0], h.Filaments[0])
	if err != nil {
		t.Fatal(err)
	}
	if f.Estimate.Basis != estimate.Model || math.Abs(f.Estimate.Plastic/2819.4064-1) > 1e-3 || f.Machine.Start != 100 || len(f.Mesh) != 64 {
		t.Errorf("%+v", f)
	}
	if hash, err := Hash(fsys, "meshes/cube.stl"); err != nil || hash != f.Mesh {
		t.Errorf("%q is not the hash of the mesh: %v", f.Mesh, err)
	}
	if _, err := Model(fsys, d, h, "none", design.Plain, h.Printers[0], h.Filaments[0]); err != ErrNoPart {
		t.Errorf("a part that is none: %v", err)
	}
	fsys["meshes/cube.stl"] = &fstest.MapFile{Data: []byte("version https://git-lfs.github.com/spec/v1\n")}
	if _, err := Model(fsys, d, h, "cube", design.Plain, h.Printers[0], h.Filaments[0]); err == nil || !strings.Contains(err.Error(), "meshes/cube.stl") {
		t.Errorf("a mesh that is none: %v", err)
	}
}

// An estimate that cannot be given says why.
func TestUnestimatedSaysWhy(t *testing.T) {
	fsys, d, text := folder(t, "", nil)
	h := bench()
	h.Filaments[0].Material = val(design.Text("moon dust"))
	f, err := Design(fsys, d, text, h, estimates)
	if err != nil {
		t.Fatal(err)
	}
	if x := f.Parts[0]; x.Estimate != nil || !strings.Contains(x.Unestimated, "moon dust") {
		t.Errorf("%+v, %q", x.Estimate, x.Unestimated)
	}
	h.Filaments[0].Density = val(design.Quantity(1.5))
	if f, _ = Design(fsys, d, text, h, estimates); f.Parts[0].Estimate == nil {
		t.Errorf("with a density: %q", f.Parts[0].Unestimated)
	}
}
