package stl

import (
	"context"
	"fmt"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"dropwright/bundle/mesh"
)

// admesh (version 0.98, Debian's package) is the outside source here: an old checker of STL files. Its
// sums are float32, hence the tolerance; it hangs on some tiny binary files, hence the time limit.
const (
	admeshTolerance = 5e-4
	admeshLimit     = 60 * time.Second
)

type admeshReport struct {
	facets, disconnected, degenerate, parts int
	volume                                  float64
	min, max                                [3]float64
}

func runAdmesh(t *testing.T, data []byte) admeshReport {
	t.Helper()
	program, err := exec.LookPath("admesh")
	if err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatal("admesh is not installed, and this run must have it")
		}
		t.Skip("SKIPPED, admesh is not installed: nothing outside confirms the mesh measures")
	}
	name := filepath.Join(t.TempDir(), "part.stl")
	if err := os.WriteFile(name, data, 0o666); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), admeshLimit)
	defer cancel()
	out, err := exec.CommandContext(ctx, program, name).Output()
	if err != nil {
		t.Fatalf("admesh: %v", err)
	}
	field := func(pattern string) float64 {
		found := regexp.MustCompile(pattern + ` *[:=] *(\S+?),?\s`).FindSubmatch(out)
		if found == nil {
			t.Fatalf("admesh says nothing of %q:\n%s", pattern, out)
		}
		v, err := strconv.ParseFloat(string(found[1]), 64)
		if err != nil {
			t.Fatalf("admesh, %q: %v", pattern, err)
		}
		return v
	}
	r := admeshReport{
		facets:       int(field("Number of facets")),
		disconnected: int(field("Total disconnected facets")),
		degenerate:   int(field("Degenerate facets")),
		parts:        int(field("Number of parts")),
		volume:       field("Volume"),
	}
	for a, axis := range "XYZ" {
		r.min[a], r.max[a] = field(fmt.Sprintf("Min %c", axis)), field(fmt.Sprintf("Max %c", axis))
	}
	return r
}

// disagreement says in what r is not what admesh found, or "".
func disagreement(a admeshReport, r mesh.Report) string {
	off := func(got, want float64) bool { return !(math.Abs(got-want) <= admeshTolerance*math.Abs(want)+1e-5) }
	switch {
	case a.facets != r.Triangles:
		return fmt.Sprintf("%d facets, admesh %d", r.Triangles, a.facets)
	case (a.disconnected > 0) != (r.Open > 0):
		return fmt.Sprintf("%d open edges, admesh %d facets with some", r.Open, a.disconnected)
	case r.Volume != nil && off(*r.Volume, a.volume):
		return fmt.Sprintf("volume %v, admesh %v", *r.Volume, a.volume)
	}
	for k := range 3 {
		if off(r.Min[k], a.min[k]) || off(r.Max[k], a.max[k]) {
			return fmt.Sprintf("from %v to %v, admesh from %v to %v", r.Min, r.Max, a.min, a.max)
		}
	}
	return ""
}

func TestAdmeshAgrees(t *testing.T) {
	bore := mesh.Join(
		mesh.Transform(mesh.Torus(40, 6, 90, 40), mesh.Shift(3, 4, 5)),
		mesh.Transform(mesh.Sphere(7, 60, 30), mesh.Shift(3, 4, 5)),
	)
	open := mesh.Torus(30, 10, 60, 40)
	open.Triangles = open.Triangles[5:]
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{
		{"torus", mesh.Torus(60, 20, 200, 100)},
		{"two parts", bore},
		{"cup", mesh.Lathe([][2]float64{{0, 0}, {20, 0}, {22, 50}, {20, 50}, {18, 2}, {0, 2}}, 300)},
		{"open", open},
	} {
		data := binaryOf(t, c.m)
		a := runAdmesh(t, data)
		s, err := Survey(data)
		if err != nil {
			t.Fatal(err)
		}
		if d := disagreement(a, s.Report); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
		if c.name != "open" && a.parts != s.Report.Shells {
			t.Errorf("%s: %d shells, admesh %d parts", c.name, s.Report.Shells, a.parts)
		}

		// The comparison must be able to fail: another size, and a facet taken away.
		wrong, err := Survey(binaryOf(t, mesh.Transform(c.m, mesh.Scale(1.001))))
		if err != nil {
			t.Fatal(err)
		}
		if disagreement(a, wrong.Report) == "" {
			t.Errorf("%s: admesh is said to agree with a mesh a thousandth larger", c.name)
		}
		less := &mesh.Mesh{Vertices: c.m.Vertices, Triangles: c.m.Triangles[1:]}
		if wrong, err = Survey(binaryOf(t, less)); err != nil {
			t.Fatal(err)
		}
		if disagreement(a, wrong.Report) == "" {
			t.Errorf("%s: admesh is said to agree with a mesh that lacks a facet", c.name)
		}
	}
}

// Every sound example mesh of the repository, in one go. The broken ones are broken on purpose.
func TestAdmeshAgreesOnExamples(t *testing.T) {
	const root = "../../../examples"
	files := 0
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && d.Name() == "broken":
			return fs.SkipDir
		case d.IsDir() || !strings.EqualFold(filepath.Ext(name), ".stl"):
			return nil
		}
		data, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		s, err := Survey(data)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return nil
		}
		if d := disagreement(runAdmesh(t, data), s.Report); d != "" {
			t.Errorf("%s: %s", name, d)
		}
		files++
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files == 0 {
		t.Skip("SKIPPED, no example meshes here")
	}
	t.Logf("%d meshes", files)
}
