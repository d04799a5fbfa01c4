package adopt_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"dropwright/bundle/adopt"
	"dropwright/bundle/board"
	"dropwright/bundle/design"
	"dropwright/bundle/manifest"
)

// TestHostileFolders: links, deep trees, odd names, huge and broken files cost no more than a note, and what is
// good beside them is adopted.
func TestHostileFolders(t *testing.T) {
	dir := t.TempDir()
	put := func(name string, data []byte) {
		t.Helper()
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := errors.Join(os.MkdirAll(filepath.Dir(p), 0o777), os.WriteFile(p, data, 0o666)); err != nil {
			t.Fatal(err)
		}
	}
	outside := t.TempDir()
	if err := os.WriteFile(filepath.Join(outside, "secret.stl"), demoMesh(t, "mist-valve", "jet"), 0o666); err != nil {
		t.Fatal(err)
	}
	put("lid.stl", demoMesh(t, "mist-valve", "lid"))
	put("broken.stl", []byte("solid x\nfacet normal 0 0"))
	put("empty.stl", nil)
	put("zip.3mf", []byte("PK\x03\x04 no zip at all"))
	put("pointer.stl", []byte("version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 12345\n"))
	put(strings.Repeat("deep/", 20)+"far.stl", demoMesh(t, "mist-valve", "cap"))
	put(".hidden/kept.stl", demoMesh(t, "mist-valve", "cap"))
	put("readme.md", append([]byte("# \xff\xfe odd \x00"), make([]byte, 100)...))
	put("huge.md", []byte(strings.Repeat("| a | b |\n", 200_000)))
	put("list.csv", []byte(strings.Repeat(";", 300_000)+"\n"+strings.Repeat("\"", 1001)))
	put("table.html", []byte(strings.Repeat("<table><tr><td colspan=9999 rowspan=9999>", 3000)))
	put("items.txt", []byte(strings.Repeat("- 4x M3x8 ", 5000)+"\n"+strings.Repeat("(", 5000)+"\n99999999999x M3x8\n"))
	put("name: with #signs & 'quotes'.stl", demoMesh(t, "mist-valve", "base"))
	put("new\nline.stl", demoMesh(t, "mist-valve", "cap"))
	put(`back\slash.stl`, demoMesh(t, "mist-valve", "cap"))
	put("boards/bomb.yaml", []byte("a: &a [*a]\n"+strings.Repeat("[", 5000)))
	for name, to := range map[string]string{"out.stl": filepath.Join(outside, "secret.stl"), "away": outside, "loop": "."} {
		if err := os.Symlink(to, filepath.Join(dir, name)); err != nil {
			t.Skip("SKIPPED LOUDLY: this system makes no links: ", err)
		}
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer root.Close()
	d, err := adopt.Read(root.FS(), adopt.Options{Name: "odd", Date: design.Date{Year: 2027, Month: 1, Day: 5}})
	if err != nil {
		t.Fatal(err)
	}
	m, _, found := manifest.Decode("odd", "design.yaml", d.Manifest, manifest.Context{Boards: board.Builtin()})
	if m == nil || len(found) > 0 {
		t.Fatalf("%v\n%s", found, d.Manifest)
	}
	text := string(d.Manifest)
	for _, want := range []string{"lid.stl", `"name: with #signs & 'quotes'.stl"`} {
		if !strings.Contains(text, "mesh: "+want) {
			t.Errorf("%s is no part:\n%s", want, text)
		}
	}
	for _, never := range []string{"secret", "out.stl", "far.stl", "kept.stl", "line.stl", "slash.stl"} {
		if strings.Contains(text, never) {
			t.Errorf("the draft speaks of %s", never)
		}
	}
	notes := strings.Join(d.Notes, "\n")
	for _, want := range []string{"3 links were not followed", "folders lie deeper", "huge.md holds", "no plain files, or have names"} {
		if !strings.Contains(notes, want) {
			t.Errorf("no note that %q: %s", want, notes)
		}
	}
}

func TestNothingToAdopt(t *testing.T) {
	if _, err := adopt.Read(fstest.MapFS{"readme.md": {Data: []byte("# x")}}, adopt.Options{}); !errors.Is(err, adopt.ErrNothing) {
		t.Errorf("%v", err)
	}
	if _, err := adopt.Read(os.DirFS(filepath.Join(t.TempDir(), "absent")), adopt.Options{}); err == nil || errors.Is(err, adopt.ErrNothing) {
		t.Errorf("a folder that is not there: %v", err)
	}
	_, err := adopt.Read(lay(map[string][]byte{"lid.stl": demoMesh(t, "mist-valve", "lid")}), adopt.Options{Stop: func() bool { return true }})
	if !errors.Is(err, adopt.ErrStopped) {
		t.Errorf("stopped: %v", err)
	}
}

// FuzzTexts: whatever stands in a readme and a list beside a mesh, the draft decodes without a finding about its
// form, and is the same the second time.
func FuzzTexts(f *testing.F) {
	for _, name := range folderNames(f, "folders") {
		filepath.WalkDir(filepath.Join(testFolder(f, name), "files"), func(p string, e os.DirEntry, err error) error {
			if err == nil && !e.IsDir() {
				if data, err := os.ReadFile(p); err == nil && len(data) < 8000 {
					f.Add(string(data), "Item;Qty\nM3x8;4\n")
				}
			}
			return nil
		})
	}
	f.Add("# a: b\n\n\"x\" # y\n\n1. Use {a} [b] & *c* | d\n2. \u2028 \u0085 - ? : , 'q'\n", "a,b\n\"\"\",1\n")
	f.Add("| File | Qty |\n|---|---|\n| lid.stl | 4 |\n\n## Steps\n1. Screw with 4x M3x8\n", "x\ty")
	f.Fuzz(func(t *testing.T, readme, list string) {
		if len(readme) > 20_000 || len(list) > 20_000 {
			t.Skip()
		}
		fsys := fstest.MapFS{"README.md": {Data: []byte(readme)}, "parts.csv": {Data: []byte(list)}, "lid.stl": {Data: smallMesh}}
		opt := adopt.Options{Name: "thing", Date: design.Date{Year: 2027, Month: 1, Day: 5}, Workers: 1}
		d, err := adopt.Read(fsys, opt)
		if err != nil {
			t.Fatal(err)
		}
		m, _, found := manifest.Decode("thing", "design.yaml", d.Manifest, manifest.Context{Boards: board.Builtin()})
		if m == nil || len(found) > 0 {
			t.Fatalf("%v\n%s", found, d.Manifest)
		}
		if again, err := adopt.Read(fsys, opt); err != nil || string(again.Manifest) != string(d.Manifest) {
			t.Fatal("the second run differs")
		}
	})
}

// FuzzNames: whatever a mesh is called, the draft decodes and names it as it is.
func FuzzNames(f *testing.F) {
	for _, n := range []string{"lid", "case_CE_x1", "Arm (x2)", "cheek-L", "a v2 final", "x3", "left", "- Copy", "null", "ünï", "a: b", "#1", "*", "'", "\"", "true", "1.10"} {
		f.Add(n)
	}
	f.Fuzz(func(t *testing.T, name string) {
		file := name + ".stl"
		if strings.ContainsAny(name, "/\x00") || name == "" || !fstestValid(file) {
			t.Skip()
		}
		d, err := adopt.Read(fstest.MapFS{file: {Data: smallMesh}, "base.stl": {Data: smallMesh}}, adopt.Options{Name: "thing", Date: design.Date{Year: 2027, Month: 1, Day: 5}, Workers: 1})
		if err != nil {
			t.Fatal(err)
		}
		m, _, found := manifest.Decode("thing", "design.yaml", d.Manifest, manifest.Context{})
		if m == nil || len(found) > 0 {
			t.Fatalf("%q: %v\n%s", name, found, d.Manifest)
		}
	})
}

func fstestValid(name string) bool {
	for _, seg := range strings.Split(name, "/") {
		if seg == "" || seg == "." || seg == ".." {
			return false
		}
	}
	return strings.ToValidUTF8(name, "") == name
}

// smallMesh is a tetrahedron.
var smallMesh = []byte(`solid t
facet normal 0 0 -1 outer loop vertex 0 0 0 vertex 0 20 0 vertex 20 0 0 endloop endfacet
facet normal 0 -1 0 outer loop vertex 0 0 0 vertex 20 0 0 vertex 0 0 20 endloop endfacet
facet normal -1 0 0 outer loop vertex 0 0 0 vertex 0 0 20 vertex 0 20 0 endloop endfacet
facet normal 1 1 1 outer loop vertex 20 0 0 vertex 0 20 0 vertex 0 0 20 endloop endfacet
endsolid t
`)

func TestUpdateSaysWhatChanged(t *testing.T) {
	lid, jet, capMesh := demoMesh(t, "mist-valve", "lid"), demoMesh(t, "mist-valve", "jet"), demoMesh(t, "mist-valve", "cap")
	data := []byte("title: T\nsummary: S\nchanges: [{revision: 1.0.0, date: 2027-01-05, text: t}]\ncolours: {body: clay}\nparts:\n  - {name: lid, colour: body, mesh: lid.stl}\n  - {name: jet, colour: body, mesh: jet.stl}\n  - {name: cap, colour: body, mesh: cap.stl}\n  - {name: base, colour: body, mesh: base.stl}\n")
	d, _, found := manifest.Decode("t", "design.yaml", data, manifest.Context{})
	if len(found) > 0 {
		t.Fatal(found)
	}
	before := map[string][]byte{"lid.stl": lid, "jet.stl": jet, "cap.stl": capMesh, "base.stl": demoMesh(t, "mist-valve", "base")}
	old := func(f string) ([]byte, bool) { b, ok := before[f]; return b, ok }
	longer := readSTL(t, lid).each(func(p point) point { return point{p[0] * 1.02, p[1], p[2]} }).stl()
	for _, c := range []struct {
		name string
		now  map[string][]byte
		want string
	}{
		{"nothing", before, ""},
		{"written anew in another form", map[string][]byte{"lid.stl": readSTL(t, lid).ascii(), "jet.stl": jet, "cap.stl": capMesh, "base.stl": before["base.stl"]}, ""},
		{"changed", map[string][]byte{"lid.stl": longer, "jet.stl": jet, "cap.stl": capMesh, "base.stl": before["base.stl"]}, "changed lid lid.stl"},
		{"moved", map[string][]byte{"lid.stl": readSTL(t, lid).moved(point{5, 0, 0}).stl(), "jet.stl": jet, "cap.stl": capMesh, "base.stl": before["base.stl"]}, "moved lid lid.stl"},
		{"renamed by its shape, gone, new", map[string][]byte{"cover.stl": lid, "jet.stl": jet, "cap.stl": capMesh, "knob x2.stl": demoMesh(t, "rain-tipper", "foot")}, "gone base base.stl; renamed lid cover.stl; new knob knob x2.stl {name: knob, colour: body, mesh: \"knob x2.stl\", copies: 2}"},
		{"renamed by its stem", map[string][]byte{"lid v2.stl": longer, "jet.stl": jet, "cap.stl": capMesh, "base.stl": before["base.stl"]}, "renamed lid lid v2.stl"},
		{"a second copy is no new part", map[string][]byte{"lid.stl": lid, "jet.stl": jet, "cap.stl": capMesh, "base.stl": before["base.stl"], "lid - Copy.stl": lid, "spare lid.stl": lid, "old/knob.stl": smallMesh}, ""},
	} {
		changes, err := adopt.Update(lay(c.now), d, old, adopt.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, x := range changes {
			got = append(got, strings.TrimSpace(fmt.Sprintf("%s %s %s %s", x.Kind, x.Part, x.File, x.Entry)))
			if x.Text == "" || x.Kind != "new" && !x.At.Known() {
				t.Errorf("%s: %+v says nothing, or not where", c.name, x)
			}
		}
		want := strings.Split(c.want, "; ")
		if c.want == "" {
			want = nil
		}
		if len(got) != len(want) {
			t.Errorf("%s: %q, want %q", c.name, got, want)
			continue
		}
		for _, w := range want {
			if !strings.Contains(strings.Join(got, "; ")+"; ", w+"; ") {
				t.Errorf("%s: %q, want %q", c.name, got, w)
			}
		}
	}
}

// TestSculptedMeshes: a mesh of many facets without a flat face is not searched for holes, and that is said; one
// with flat faces is.
func TestSculptedMeshes(t *testing.T) {
	d, m := read(t, lay(map[string][]byte{"gnome.stl": ball(60, 350).stl(), "lid.stl": finer(finer(finer(readSTL(t, demoMesh(t, "mist-valve", "lid"))))).stl(), "base.stl": demoMesh(t, "mist-valve", "base")}), adopt.Options{})
	if notes := strings.Join(d.Notes, "\n"); notes != "gnome.stl has no flat face and was not searched for holes" {
		t.Errorf("%q", notes)
	}
	found := false
	for _, f := range m.Fasteners {
		found = found || f.Name.V == "lid-screw"
	}
	if !found {
		t.Errorf("the finely meshed lid lost its holes\n%s", d.Manifest)
	}
}
