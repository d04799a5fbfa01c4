package check

import (
	"slices"
	"strings"
	"testing"
	"time"

	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
)

// TestOneWrongMesh: a box exported in inches has none of the pilot holes; that is said of the box, and neither
// the lid nor the screw is blamed.
func TestOneWrongMesh(t *testing.T) {
	inch, small := "inch", [3]float64{2, 2, 1}
	judged := func(change func(*facts.Mesh)) (found []string, open []finding.NotChecked) {
		d, f := lamp()
		m := facts.Mesh{File: "box.stl", Size: &small, Triangles: 12}
		change(&m)
		f.Meshes = []facts.Mesh{m}
		box := &f.Fit.Joints[0].Members[1]
		box.Found = 0
		for i := range box.Holes {
			box.Holes[i].Missing = true
		}
		in, r := &Input{Design: d, Facts: f}, &report{variants: d.VariantNames()}
		units(in, r)
		joints(in, r)
		for _, x := range r.findings {
			found = append(found, x.Code)
			if x.Code == "boss-missing" && !strings.Contains(x.Hint, "into: {nut: ISO 4032, in: box}") {
				t.Errorf("the hint forgets nuts: %q", x.Hint)
			}
		}
		return found, r.notChecked
	}
	for name, c := range map[string]struct {
		change func(*facts.Mesh)
		want   []string
	}{
		"in inches":  {func(m *facts.Mesh) { m.UnitSuspect = &inch }, []string{"unit-wrong"}},
		"unreadable": {func(m *facts.Mesh) { m.Size, m.Error = nil, "cut short" }, nil},
		"sound":      {func(*facts.Mesh) {}, []string{"boss-missing"}},
	} {
		got, open := judged(c.change)
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: found %q, want %q", name, got, c.want)
		}
		if said := len(open) == 1 && strings.HasPrefix(open[0].Text, "joint lid-screw: box.stl"); said != (name != "sound") {
			t.Errorf("%s: not checked: %v", name, open)
		}
	}
}

// TestMissingFile: nothing follows from the age of a file that is not there, and the hint names no file that has
// a use of its own.
func TestMissingFile(t *testing.T) {
	day := func(n int) Age { return Age{At: time.Date(2027, 1, n, 0, 0, 0, 0, time.UTC)} }
	in := &Input{Facts: &facts.Design{}, Past: Past{Ages: map[string]Age{"meshes/arm.stl": day(7), "front.png": day(5)}}}
	if !in.newer("meshes/arm.stl", "front.png") {
		t.Fatal("the mesh is newer")
	}
	in.Facts.Files = []facts.File{{Path: "meshes/arm.stl", Named: true, Problem: "missing"}, {Path: "meshes/case.stl", Named: true}, {Path: "meshes/arm.txt"}}
	if in.newer("meshes/arm.stl", "front.png") {
		t.Error("a file that is not there was changed")
	}
	if got := nearestFile(in.Facts, "meshes/arm.stl"); got != "" {
		t.Errorf("proposed %q", got)
	}
	in.Facts.Files = append(in.Facts.Files, facts.File{Path: "meshes/Arm-2.STL"})
	if got := nearestFile(in.Facts, "meshes/arm.stl"); got != "meshes/Arm-2.STL" {
		t.Errorf("proposed %q", got)
	}
}
