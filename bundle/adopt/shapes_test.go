package adopt_test

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path"
	"strings"
	"testing"
	"testing/fstest"

	"dropwright/bundle/adopt"
	"dropwright/bundle/board"
	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/bundle/manifest"
	"dropwright/examples"
)

// demoMesh is a mesh of the demo season.
func demoMesh(t testing.TB, design, mesh string) []byte {
	t.Helper()
	data, err := fs.ReadFile(examples.Season, path.Join("designs", design, "meshes", mesh+".stl"))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// lay makes a folder in memory.
func lay(files map[string][]byte) fstest.MapFS {
	out := fstest.MapFS{}
	for n, d := range files {
		out[n] = &fstest.MapFile{Data: d, Mode: 0o644}
	}
	return out
}

// read adopts a folder in memory and decodes the draft.
func read(t testing.TB, fsys fs.FS, opt adopt.Options) (*adopt.Draft, *design.Design) {
	t.Helper()
	if opt.Name == "" {
		opt.Name = "thing"
	}
	opt.Date = design.Date{Year: 2027, Month: 1, Day: 5}
	d, err := adopt.Read(fsys, opt)
	if err != nil {
		t.Fatal(err)
	}
	m, _, found := manifest.Decode(opt.Name, "design.yaml", d.Manifest, manifest.Context{Boards: board.Builtin()})
	if m == nil || len(found) > 0 {
		t.Fatalf("the draft's form: %v\n%s", found, d.Manifest)
	}
	return d, m
}

// partsOf writes a draft's parts on one line each.
func partsOf(m *design.Design) string {
	var out []string
	for _, p := range m.Parts {
		var files []string
		for _, f := range p.Mesh.Values() {
			files = append(files, string(f.V))
		}
		drawn, mirrored := p.CopiesOf(m.VariantNames()[0])
		line := fmt.Sprintf("%s %s %d", p.Name.V, strings.Join(files, "+"), drawn)
		if mirrored > 0 {
			line += fmt.Sprintf("+%d", mirrored)
		}
		if p.Role.Set() {
			line += " " + string(p.Role.V)
		}
		out = append(out, line)
	}
	return strings.Join(out, "\n")
}

func TestMeshesAreSorted(t *testing.T) {
	cheek, foot := demoMesh(t, "vent-minder", "cheek-left"), demoMesh(t, "rain-tipper", "foot")
	jet, capMesh := demoMesh(t, "mist-valve", "jet"), demoMesh(t, "mist-valve", "cap")
	right := readSTL(t, cheek).mirrored().stl()
	turned := readSTL(t, foot).each(func(p point) point { return point{50 - p[1], 20 + p[0], p[2]} }).stl()
	shown := append(readSTL(t, jet), readSTL(t, capMesh).moved(point{100, 0, 0})...).stl()
	for _, c := range []struct {
		name  string
		files map[string][]byte
		ages  map[string]int64
		want  string
		left  string // of the files that found no place
	}{
		{"the same bytes twice", map[string][]byte{"foot.stl": foot, "foot - Copy.stl": foot}, nil, "foot foot.stl 1", "foot - Copy.stl"},
		{"the same shape moved and turned under another name", map[string][]byte{"foot.stl": foot, "leg.stl": turned}, nil, "leg leg.stl 1", "foot.stl"},
		{"a pair", map[string][]byte{"cheek-L.stl": cheek, "cheek-R.stl": right}, nil, "cheek cheek-L.stl 1+1", "cheek-R.stl"},
		{"a pair with copies", map[string][]byte{"cheek_left_x2.stl": cheek, "cheek_right_x2.stl": right}, nil, "cheek cheek_left_x2.stl 2+2", "cheek_right_x2.stl"},
		{"states by name", map[string][]byte{"foot.stl": cheek, "foot v2.stl": jet, "foot v3 final.stl": foot}, nil, "foot foot v3 final.stl 1", "foot v2.stl"},
		{"states by folder", map[string][]byte{"foot.stl": foot, "old/foot.stl": jet}, nil, "foot foot.stl 1", "old/foot.stl"},
		{"states by history", map[string][]byte{"a/foot_red.stl": foot, "a/foot-red.stl": jet}, map[string]int64{"a/foot_red.stl": 5, "a/foot-red.stl": 9}, "foot a/foot-red.stl 1", "a/foot_red.stl"},
		{"copies in names", map[string][]byte{"jet x3.stl": jet, "2x_cap.stl": capMesh}, nil, "cap 2x_cap.stl 2\njet jet x3.stl 3", ""},
		{"an assembly", map[string][]byte{"jet.stl": jet, "cap.stl": capMesh, "both.stl": shown}, nil, "both both.stl 1 reference\ncap cap.stl 1\njet jet.stl 1", ""},
		{"a name before each part", map[string][]byte{"mister-jet.stl": jet, "mister-cap.stl": capMesh}, nil, "cap mister-cap.stl 1\njet mister-jet.stl 1", ""},
		{"top and bottom are two parts", map[string][]byte{"case-top.stl": jet, "case-bottom.stl": capMesh}, nil, "bottom case-bottom.stl 1\ntop case-top.stl 1", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, m := read(t, lay(c.files), adopt.Options{Ages: c.ages})
			got := partsOf(m)
			lines := strings.Split(got, "\n")
			want := strings.Split(c.want, "\n")
			if len(lines) != len(want) {
				t.Fatalf("%s\n%s", got, d.Manifest)
			}
			for _, w := range want {
				if !strings.Contains("\n"+got+"\n", "\n"+w+"\n") {
					t.Errorf("got\n%s\nwant\n%s", got, c.want)
				}
			}
			found := c.left == ""
			for _, l := range d.Left {
				found = found || l.File == c.left
			}
			if !found {
				t.Errorf("%s is not said to be left out: %v", c.left, d.Left)
			}
		})
	}
}

func TestVariantsAndBoardsFromMeshesAlone(t *testing.T) {
	files := map[string][]byte{}
	for _, n := range []string{"case-ce", "case-stack", "window-ce", "window-stack", "arm", "cheek-left"} {
		files[n+".stl"] = demoMesh(t, "vent-minder", n)
	}
	d, m := read(t, lay(files), adopt.Options{})
	if len(m.Variants) != 2 || string(m.Variants[0].Board.V) != "96boards-ce" || string(m.Variants[1].Board.V) != "pc104" || m.Variants[0].SitsIn.V != "case" {
		t.Errorf("%s", d.Manifest)
	}
	for _, v := range d.Values { // without a word of text nothing is certain
		if v.Sure == adopt.Sure {
			t.Errorf("%s: %s is marked sure", v.Path, v.Text)
		}
	}
	got := ""
	for _, f := range m.Fasteners {
		x, _ := f.Designation("ce")
		got += fmt.Sprintf("%s %s %d; ", f.Name.V, x.V, f.CountOf("ce"))
	}
	if want := "board-screw M2.5x8 4; window-screw M3x8 4; "; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if !strings.Contains(string(d.Manifest), "No fastener uses 4 holes of case-ce.stl") {
		t.Errorf("holes that nobody uses are not named\n%s", d.Manifest)
	}
}

// TestSecondRunWritesTheSame: the same folder gives the same bytes, with any number of workers, and whatever order
// a file system lists it in.
func TestSecondRunWritesTheSame(t *testing.T) {
	for _, name := range folderNames(t, "folders") {
		dir := os.DirFS(layFolder(t, name))
		var first *adopt.Draft
		for _, workers := range []int{1, 3} {
			d, err := adopt.Read(dir, adopt.Options{Name: name, Date: design.Date{Year: 2027, Month: 1, Day: 5}, Workers: workers})
			if err != nil {
				t.Fatal(err)
			}
			if first == nil {
				first = d
				continue
			}
			if !bytes.Equal(d.Manifest, first.Manifest) || fmt.Sprint(d.Findings) != fmt.Sprint(first.Findings) {
				t.Errorf("%s: %d workers give another draft", name, workers)
			}
		}
	}
}

// TestPlaceholderIsKnown: check finds the summary that stands where none was found.
func TestPlaceholderIsKnown(t *testing.T) {
	if adopt.PlaceholderSummary != check.PlaceholderSummary {
		t.Errorf("%q, check looks for %q", adopt.PlaceholderSummary, check.PlaceholderSummary)
	}
}

// TestOtherHands: folders in two more hands, one with a single table for everything and DIN numbers, one in plain
// sentences.
func TestOtherHands(t *testing.T) {
	mist := func(n string) []byte { return demoMesh(t, "mist-valve", n) }
	rain := func(n string) []byte { return demoMesh(t, "rain-tipper", n) }
	for _, c := range []struct {
		name, parts, fasteners string
		steps                  int
		files                  map[string][]byte
	}{
		{"one table", "base MV_base_v1.2.stl 1\njet MV_jet.stl 3\nlid MV_lid_v1.2.stl 1\nnozzle-cap MV_nozzleCap.stl 3",
			"lid-screw DIN 912 - M3 x 8 4 insert; board-screw DIN 7985 - M3 x 10 4; nozzle-cap-screw DIN 7985 - M3 x 10 6; relay-module-screw DIN 7985 - M3 x 10 6", 4,
			map[string][]byte{"MV_base_v1.2.stl": mist("base"), "MV_base_v1.1.stl": mist("cap"), "MV_lid_v1.2.stl": mist("lid"), "MV_jet.stl": mist("jet"), "MV_nozzleCap.stl": mist("cap"), "BOM.md": []byte(`# BOM

| # | Component | Needed | Source | Remarks |
|---|---|---|---|---|
| 1 | MV_base_v1.2.stl (printed, black) | 1 | printed | |
| 2 | MV_lid_v1.2.stl (printed, black) | 1 | printed | |
| 3 | jet (printed, orange) | 3 | printed | print solid |
| 4 | nozzle cap (printed, orange) | 3 | printed | |
| 5 | PC/104 board | 1 | - | rev 2.6 |
| 6 | DIN 912 M3x8 | 4 | shop | lid |
| 7 | DIN 7985 M3x10 | 16 | shop | board 4, relay 4, terminals 2, nozzle caps 6 |
| 8 | Brass insert M3 D4.6 L5.7 | 4 | shop | base corners |
| 9 | Relay module 12 V | 1 | shop | |
`), "readme.markdown": []byte(`Mist Valve
==========
Opens a 12 V valve and mists the cuttings.

## Build

### Step 1 – Inserts
Heat the four brass inserts into the base.

### Step 2 – Boards
Fix the PC/104 board with four M3x10 pan head, the relay module with four more and the terminal block with two.

### Step 3 – Nozzles
For each of the three nozzles lay an O-ring in the jet and screw the cap down with two M3x10.

### Step 4 – Lid
Close the lid with the M3x8 screws.
`)}},
		{"sentences", "base stl/base.stl 1\nbucket stl/bucket.stl 1\nfoot stl/foot.stl 3\nhood stl/hood.stl 1", "base-screw M4x16 3", 5,
			map[string][]byte{"stl/base.stl": rain("base"), "stl/bucket.stl": rain("bucket"), "stl/foot.stl": rain("foot"), "stl/hood.stl": rain("hood"), "NOTES.txt": []byte(`Rain gauge, third try (works!)

print list:
hood.stl - one, green
base.stl - one, green, 4 perimeters
bucket.stl - one, yellow, 10% infill
foot.stl - three of them, yellow

also needed: 3x M4x16 button head bolts for the feet, 8 disc magnets 6x3, a 3 mm steel rod 48 long, reed sensor.
0.2mm layers, PETG, 15% infill, no supports needed for anything.

how to build
* glue 3 magnets in the base
* bolt the feet on with the M4 bolts
* glue 2 magnets in the bucket and hang it on the rod
* push the sensor in
* hood on top, last 3 magnets in there

license is CC BY 4.0, have fun
`)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, m := read(t, lay(c.files), adopt.Options{})
			if got := partsOf(m); got != c.parts {
				t.Errorf("parts\n%s\nwant\n%s", got, c.parts)
			}
			var got []string
			for _, f := range m.Fasteners {
				v := m.VariantNames()[0]
				x, _ := f.Designation(v)
				line := fmt.Sprintf("%s %s %d", f.Name.V, x.V, f.CountOf(v))
				if f.Into.Held != nil && f.Into.Held.Insert != nil {
					line += " insert"
				}
				got = append(got, line)
			}
			if strings.Join(got, "; ") != c.fasteners {
				t.Errorf("fasteners\n%s\nwant\n%s", strings.Join(got, "; "), c.fasteners)
			}
			if len(m.Assembly) != c.steps {
				t.Errorf("%d steps", len(m.Assembly))
			}
			for _, f := range d.Findings {
				t.Errorf("%s: %s", f.At, f.Text)
			}
			if t.Failed() {
				t.Logf("\n%s", d.Manifest)
			}
		})
	}
}
