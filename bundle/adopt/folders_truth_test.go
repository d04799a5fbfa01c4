package adopt_test

import (
	"io/fs"
	"math"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/facts"
	"dropwright/bundle/measure"
)

// The truth is only worth something when the folder really holds it.

func TestFoldersHoldWhatTheyExpect(t *testing.T) {
	for _, name := range folderNames(t, "folders") {
		t.Run(name, func(t *testing.T) {
			tr, dir := readTruth(t, name), os.DirFS(layFolder(t, name))
			var told []string
			for _, p := range tr.Parts {
				if (p.File == "") == (len(p.Files) == 0) || p.Copies+p.Mirrored < 1 || p.Name == "" {
					t.Errorf("part %+v: wants a name, copies, and either file or files", p)
				}
				for _, f := range p.Files {
					told = append(told, f)
				}
				told = append(told, p.File, p.MirrorFile)
			}
			for _, n := range tr.NotParts {
				if !slices.Contains([]string{"reference", "older", "duplicate"}, n.Why) {
					t.Errorf("%s: no such reason: %s", n.File, n.Why)
				}
				told = append(told, n.File)
			}
			told = slices.DeleteFunc(told, func(f string) bool { return f == "" })
			slices.Sort(told)
			meshes := meshesIn(t, dir)
			if !slices.Equal(told, meshes) {
				t.Errorf("told of\n%q, the folder holds\n%q", told, meshes)
			}
			for _, f := range meshes {
				m := measure.Mesh(dir, f, measure.Options{})
				if m.Error != "" || m.Watertight == nil || !*m.Watertight || m.UnitSuspect != nil {
					t.Errorf("%s: error %q, watertight %v, unit %v", f, m.Error, m.Watertight, m.UnitSuspect)
				}
			}
			for _, f := range tr.Fasteners {
				if !slices.Contains([]string{"screw", "insert", "nut"}, f.Kind) || f.Count < 1 || !strings.HasPrefix(f.Designation, "M") {
					t.Errorf("fastener %+v", f)
				}
			}
		})
	}
}

func TestContradictionsHoldWhatTheyExpect(t *testing.T) {
	names := folderNames(t, "contradictions")
	if len(names) != 6 {
		t.Errorf("%d folders, want the six of the list of faults", len(names))
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			tr, dir := readTruth(t, name), os.DirFS(layFolder(t, name))
			if len(tr.Findings) == 0 || len(tr.Holes) == 0 {
				t.Error("wants findings and holes")
			}
			for _, f := range meshesIn(t, dir) {
				m := measure.Mesh(dir, f, measure.Options{Topics: measure.Topics{Holes: true}})
				if m.Error != "" || m.Watertight == nil || !*m.Watertight {
					t.Fatalf("%s: error %q, watertight %v", f, m.Error, m.Watertight)
				}
				wrong := false // the one deliberate fault about units, told by its words
				for _, x := range tr.Findings {
					wrong = wrong || slices.Contains(x.Words, path.Base(f)) && slices.Contains(x.Words, "inch")
				}
				if largest := slices.Max((*m.Size)[:]); wrong != (largest < 3) {
					t.Errorf("%s: largest side %.1f mm, in inches: %v", f, largest, wrong)
				}
				var want trueHoles
				for _, h := range tr.Holes {
					if h.File == f {
						want = h
					}
				}
				if msg := compareHoles(m.Holes, want); msg != "" {
					t.Errorf("%s: %s", f, msg)
				}
			}
		})
	}
}

// TestHolesAreCompared feeds the comparison above what it must reject.
func TestHolesAreCompared(t *testing.T) {
	dir := os.DirFS(layFolder(t, "list-4-holes-6"))
	m := measure.Mesh(dir, "lid.stl", measure.Options{Topics: measure.Topics{Holes: true}})
	right := trueHoles{Diameter: 3.4, Depth: 2, Count: 6}
	if msg := compareHoles(m.Holes, right); msg != "" {
		t.Fatal(msg)
	}
	for _, h := range []trueHoles{{Diameter: 3.4, Depth: 2, Count: 4}, {Diameter: 3.0, Depth: 2, Count: 6}, {Diameter: 3.4, Depth: 3, Count: 6}} {
		if compareHoles(m.Holes, h) == "" {
			t.Errorf("%+v passes for %+v", h, right)
		}
	}
}

func compareHoles(got []facts.Hole, want trueHoles) string {
	if len(got) != want.Count {
		return "another number of holes"
	}
	const tol = 0.03 // mm: a circle through 64 corners, written in single precision
	for _, h := range got {
		if math.Abs(h.Diameter-want.Diameter) > tol || math.Abs(h.Depth-want.Depth) > tol {
			return "a hole of another size"
		}
	}
	return ""
}

// TestTwoNamesAreOneChiralMesh: the two arms have one volume and size, and other bytes.
func TestTwoNamesAreOneChiralMesh(t *testing.T) {
	dir := os.DirFS(layFolder(t, "two-names-one-mesh"))
	a := measure.Mesh(dir, "arm_left.stl", measure.Options{})
	b := measure.Mesh(dir, "arm_right.stl", measure.Options{})
	if a.SHA256 == b.SHA256 {
		t.Error("equal bytes: comparing hashes would find them")
	}
	if math.Abs(*a.Volume-*b.Volume) > 0.01 {
		t.Errorf("volumes %v and %v", *a.Volume, *b.Volume)
	}
}

// meshesIn lists the mesh files of a folder, sorted, without what begins with a dot.
func meshesIn(t testing.TB, dir fs.FS) []string {
	t.Helper()
	var out []string
	err := fs.WalkDir(dir, ".", func(p string, d fs.DirEntry, err error) error {
		if ext := strings.ToLower(filepath.Ext(p)); err == nil && !d.IsDir() && !strings.HasPrefix(d.Name(), ".") && (ext == ".stl" || ext == ".3mf") {
			out = append(out, p)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(out)
	return out
}
