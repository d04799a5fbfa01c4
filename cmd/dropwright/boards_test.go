package main

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/board"
	"dropwright/bundle/finding"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
)

// minder copies the demo's vent minder with its series into a folder, and returns that of the design.
func minder(t *testing.T) (series, design string) {
	t.Helper()
	from := filepath.Join(repository(t), "examples", "allotment-instruments")
	series = t.TempDir()
	copyFile := func(rel string) {
		data, err := os.ReadFile(filepath.Join(from, rel))
		if err == nil {
			err = os.MkdirAll(filepath.Dir(filepath.Join(series, rel)), 0o755)
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(series, rel), data, 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, top := range []string{"LICENSES", "designs/vent-minder"} {
		err := filepath.WalkDir(filepath.Join(from, top), func(p string, e fs.DirEntry, err error) error {
			if err == nil && !e.IsDir() {
				rel, _ := filepath.Rel(from, p)
				copyFile(rel)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(filepath.Join(from, "series.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(series, "series.yaml"), text, 0o644); err != nil {
		t.Fatal(err)
	}
	return series, filepath.Join(series, "designs", "vent-minder")
}

// judgedMinder is what check has to say of the vent minder: codes of errors and warnings, with their texts.
func judgedMinder(t *testing.T, series string) (codes, said []string) {
	t.Helper()
	a := testApp(t, series)
	s, err := a.openSeries()
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	c, err := a.checkOne(s, "vent-minder", "", texts{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range c.list {
		codes = append(codes, f.Code)
		said = append(said, f.Code+": "+f.Text+" | "+f.Hint)
		if f.Level == finding.Note {
			t.Logf("note: %s", f.Text)
		}
	}
	return codes, said
}

// editOnce replaces text in a file of the design; the text must be there once.
func editOnce(t *testing.T, file, from, to string) {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(data), from); n != 1 {
		t.Fatalf("%q stands %d times in %s", from, n, file)
	}
	if err := os.WriteFile(file, []byte(strings.Replace(string(data), from, to, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
}

// renderCase makes a mesh from changed CAD with OpenSCAD.
func renderCase(t *testing.T, dir string) {
	t.Helper()
	if _, err := exec.LookPath("openscad"); err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatal("openscad is missing: the mutations of the demo's case were not tried")
		}
		t.Skip("SKIPPED LOUDLY: openscad is missing, the mutations of the demo's case were not tried")
	}
	raw := filepath.Join(t.TempDir(), "case.stl")
	cmd := exec.Command("openscad", "-q", "-D", `board="ce"`, "-o", raw, filepath.Join(dir, "cad", "case.scad"))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("openscad: %v: %s", err, out)
	}
	data, err := os.ReadFile(raw)
	if err != nil {
		t.Fatal(err)
	}
	m, _, err := stl.Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	saveMesh(t, filepath.Join(dir, "meshes", "case-ce.stl"), m)
}

func saveMesh(t *testing.T, file string, m *mesh.Mesh) {
	t.Helper()
	var b bytes.Buffer
	if err := stl.Write(&b, m); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

func loadMesh(t *testing.T, file string) *mesh.Mesh {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	m, _, err := stl.Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Each mutation of the demo gives the finding it should and no other.
func TestDemoBoardMutations(t *testing.T) {
	inCase := func(from, to string) func(t *testing.T, dir string) {
		return func(t *testing.T, dir string) {
			editOnce(t, filepath.Join(dir, "cad", "case.scad"), from, to)
			renderCase(t, dir)
		}
	}
	rib := func(box string) func(t *testing.T, dir string) {
		return inCase("        ties();\n    }\n}", "        ties();\n    }\n    "+box+"\n}")
	}
	move := func(m mesh.Matrix) func(t *testing.T, dir string) {
		return func(t *testing.T, dir string) {
			file := filepath.Join(dir, "meshes", "case-ce.stl")
			saveMesh(t, file, mesh.Transform(loadMesh(t, file), m))
		}
	}
	half := mesh.Matrix{{-1, 0, 0, 0}, {0, -1, 0, 0}, {0, 0, 1, 0}}
	design := func(from, to string) func(t *testing.T, dir string) {
		return func(t *testing.T, dir string) { editOnce(t, filepath.Join(dir, "design.yaml"), from, to) }
	}
	both := func(list ...func(t *testing.T, dir string)) func(t *testing.T, dir string) {
		return func(t *testing.T, dir string) {
			for _, f := range list {
				f(t, dir)
			}
		}
	}
	typed := design("board: 96boards-ce, sits_in: case}", "board: 96boards-ce, sits_in: case, seat: {at: [0, 0, 10.975]}}")
	for _, c := range []struct {
		name   string
		change func(t *testing.T, dir string)
		want   string // code
		says   string
	}{
		{"as it is", func(*testing.T, string) {}, "", ""},
		{"a port shifted by 3 mm", inCase("translate([71.5, width() + gap", "translate([74.5, width() + gap"), "port-blocked", "dc-in"},
		{"a rib in the opening", rib("translate([56, -gap - wall, 0]) cube([1.5, wall, top() + 8]);"), "port-blocked", "usb-host-2"},
		{"two leads swapped", both(design("{from: servo.brown, to: board.GND, length: 180}", "{from: servo.brown, to: board.5V, length: 180, only: [ce]}\n    - {from: servo.brown, to: board.GND, length: 180, only: [stack]}"), design("{from: servo.red, to: board.5V, length: 180, only: [ce]}", "{from: servo.red, to: board.GND, length: 180, only: [ce]}")), "lead-crossed", "swapped"},
		{"the mesh turned by 180 degrees: the seat is found all the same", move(half), "", ""},
		{"the mesh turned under a typed seat", both(typed, move(half)), "seat-off", "turn: 180"},
		{"a typed seat that is right", typed, "", ""},
		{"the mesh mirrored", func(t *testing.T, dir string) {
			file := filepath.Join(dir, "meshes", "case-ce.stl")
			saveMesh(t, file, mesh.Mirror(loadMesh(t, file)))
		}, "seat-mirrored", "mirror image"},
	} {
		t.Run(c.name, func(t *testing.T) {
			series, dir := minder(t)
			c.change(t, dir)
			codes, said := judgedMinder(t, series)
			want := []string{}
			if c.want != "" {
				want = append(want, c.want)
			}
			if fmt.Sprint(codes) != fmt.Sprint(want) || c.says != "" && !slices.ContainsFunc(said, func(s string) bool { return strings.Contains(s, c.says) }) {
				t.Errorf("found %q, want %q with %q", said, want, c.says)
			}
			for _, s := range said {
				t.Log(s)
			}
		})
	}
}

// Every drawing is well-formed, names what it shows, and comes out the same each time.
func TestBoardDrawings(t *testing.T) {
	drawings := map[string]string{"what to measure": drawMeasures()}
	for _, id := range board.Builtin() {
		p, err := board.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		drawings[id] = drawBoard(p)
		if drawings[id] != drawBoard(p) {
			t.Errorf("%s is drawn differently each time", id)
		}
	}
	for name, text := range drawings {
		dec := xml.NewDecoder(strings.NewReader(text))
		for {
			_, err := dec.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Errorf("%s: %v", name, err)
				break
			}
		}
		if !strings.Contains(text, "<title") || strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
			t.Errorf("%s: no title, or a figure that is none", name)
		}
	}
	// names from outside must not break out of the drawing
	if got := escaped(`<b a="&">`); got != "&lt;b a=&quot;&amp;&quot;&gt;" {
		t.Errorf("escaped to %s", got)
	}
}
