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
