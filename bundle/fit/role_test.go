package fit

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"dropwright/bundle/hardware"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
	"dropwright/bundle/section"
)

// meshOf reads a mesh of the demo season.
func meshOf(t testing.TB, file string) *mesh.Mesh {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "examples", "allotment-instruments", "designs", filepath.FromSlash(file)))
	if err != nil {
		t.Fatal(err)
	}
	m, _, err := stl.Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func shapeOf(t testing.TB, file string) *Shape {
	t.Helper()
	s, err := ShapeOf(meshOf(t, file))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// allowance of the demo season, mm.
const allowance = 0.15

// What the CAD sources of the demo say each hole is for, and nothing else: every hole made for a fastener has
// the role it was drawn for, and slots, windows, vents, ribs and text have none.
func TestDemoHolesHaveTheirRoles(t *testing.T) {
	type use struct {
		role Role
		size hardware.Size
	}
	for _, c := range []struct {
		file string
		want map[use]int // holes that can be this
		none int         // holes that no fastener could use: magnets, axles, funnels
	}{
		// case.scad: 4 insert holes 4.1, 4 mounts 2.2 (M2.5), 4 holes 2.65 (M3) for the cheeks
		{"vent-minder/meshes/case-ce.stl", map[use]int{{Insert, "M3"}: 4, {Thread, "M2.5"}: 4, {Thread, "M3"}: 4}, 0},
		// the PC/104 board takes M3
		{"vent-minder/meshes/case-stack.stl", map[use]int{{Insert, "M3"}: 4, {Thread, "M3"}: 8}, 0},
		{"vent-minder/meshes/arm.stl", map[use]int{{Thread, "M3"}: 4, {Thread, "M2"}: 2}, 0},
		{"vent-minder/meshes/cheek-left.stl", map[use]int{{Clearance, "M3"}: 4}, 0},
		{"vent-minder/meshes/window-ce.stl", map[use]int{{Clearance, "M3"}: 4}, 0},
		{"vent-minder/meshes/window-stack.stl", map[use]int{{Clearance, "M3"}: 4}, 0},
		// box.scad: 4 pockets for M3 nuts; the fan's opening of 36 mm is for no fastener
		{"seed-dryer/meshes/box.stl", map[use]int{{Nut, "M3"}: 4}, 5},
		{"seed-dryer/meshes/rack.stl", nil, 0},
		{"seed-dryer/meshes/filter-frame.stl", nil, 0},
		{"seed-dryer/meshes/lid.stl", nil, 0},
		// base.scad: 3 holes 4.5 for M4; foot.scad: one 3.45
		{"rain-tipper/meshes/base.stl", map[use]int{{Clearance, "M4"}: 3}, 0},
		{"rain-tipper/meshes/foot.stl", map[use]int{{Thread, "M4"}: 1}, 0},
	} {
		s := shapeOf(t, c.file)
		got := map[use]int{}
		none := 0
		for i := range s.Holes {
			uses := Uses(s, i, allowance)
			for _, u := range uses {
				got[use{u.Role, u.Size}]++
			}
			if len(uses) == 0 {
				none++
			}
		}
		for u, n := range c.want {
			if got[u] < n {
				t.Errorf("%s: %d holes can be %s %s, drawn are %d", c.file, got[u], u.role, u.size, n)
			}
		}
		if none < c.none {
			t.Errorf("%s: %d holes have no role, should be %d", c.file, none, c.none)
		}
		if c.want == nil && len(s.Holes) > 0 {
			t.Errorf("%s: %d holes found among slots", c.file, len(s.Holes))
		}
	}
}

// Holes drawn in the middle of each band have that role; a blind hole passes nothing; a faceted hole counts
// by the circle between its flats (row 60 of the published faults: 2.99 where 3.2 was meant).
func TestRolesOfDrawnHoles(t *testing.T) {
	plate := func(d float64, corners int, through bool) *Shape {
		h := section.Hole{Axis: [3]float64{0, 0, 1}, Kind: section.Round, Diameter: d, Passes: d * cosOf(corners), Corners: corners, Depth: 8, Narrow: 8, Through: through,
			From: section.End{Mouth: section.Closed}, To: section.End{At: [3]float64{0, 0, 8}, Mouth: section.Open}}
		if through {
			h.From.Mouth = section.Open
		}
		return &Shape{Census: section.Census{Holes: []section.Hole{h}}, Walls: []float64{0}}
	}
	has := func(s *Shape, r Role, size hardware.Size) bool {
		return slices.Contains(Uses(s, 0, allowance), Use{r, size})
	}
	for _, size := range []hardware.Size{"M2", "M2.5", "M3", "M4", "M5", "M6"} {
		c, _ := hardware.ClearanceOf(size)
		if !has(plate(c.Medium, 64, true), Clearance, size) {
			t.Errorf("%s: the medium hole of ISO 273, %g mm, is no clearance hole", size, c.Medium)
		}
		if has(plate(c.Medium, 64, false), Clearance, size) {
			t.Errorf("%s: a blind hole was taken for a clearance hole", size)
		}
		if has(plate(size.Nominal(), 64, true), Clearance, size) {
			t.Errorf("%s: a hole of the screw's own diameter was taken for a clearance hole", size)
		}
		p, _ := hardware.PilotBand(size, allowance)
		if !has(plate(p.Usual, 64, false), Thread, size) {
			t.Errorf("%s: %g mm is no hole to cut a thread in", size, p.Usual)
		}
	}
	if has(plate(3.3, 8, true), Clearance, "M3") {
		t.Error("a hole of 3.3 mm with eight sides passes 3.05 mm and was taken for a clearance hole of M3")
	}
	if len(Uses(plate(36, 128, true), 0, allowance)) != 0 {
		t.Error("a fan's opening was taken for a screw's hole")
	}
}

func cosOf(corners int) float64 { return math.Cos(math.Pi / float64(corners)) }

func ExampleUses() {
	s := &Shape{Census: section.Census{Holes: []section.Hole{{Axis: [3]float64{0, 0, 1}, Kind: section.Round, Diameter: 2.2, Passes: 2.2, Depth: 8,
		From: section.End{Mouth: section.Closed}, To: section.End{At: [3]float64{0, 0, 8}, Mouth: section.Open}}}}, Walls: []float64{0}}
	fmt.Println(Uses(s, 0, 0.15))
	// Output: [{thread M2.5}]
}
