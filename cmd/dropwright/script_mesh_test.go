package main

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"

	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
	"dropwright/bundle/section"
)

// meshCaseCmd changes an STL file the way that makers' files change: meshcase KIND FILE. A hole takes two diameters more,
// those that it has and gets.
func meshCaseCmd(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 && !(len(args) == 4 && args[0] == "hole") {
		ts.Fatalf("usage: meshcase header|shuffle|turn|move|mirror FILE, or meshcase hole FILE WAS IS")
	}
	name := ts.MkAbs(args[1])
	data, err := os.ReadFile(name)
	ts.Check(err)
	m, _, err := stl.Decode(data)
	ts.Check(err)
	switch args[0] {
	case "header":
		copy(data, "exported by somebody's program, twice")
		ts.Check(os.WriteFile(name, data, 0o666))
		return
	case "shuffle":
		order := rand.New(rand.NewPCG(1, 2)).Perm(len(m.Triangles))
		mixed := &mesh.Mesh{Vertices: m.Vertices}
		for _, i := range order {
			t := m.Triangles[i]
			mixed.Triangles = append(mixed.Triangles, [3]uint32{t[1], t[2], t[0]})
		}
		m = mixed
	case "turn":
		m = mesh.Transform(m, mesh.Matrix{{0, -1, 0, 0}, {1, 0, 0, 0}, {0, 0, 1, 0}})
	case "move":
		m = mesh.Transform(m, mesh.Shift(12.5, -3, 2))
	case "mirror":
		m = mesh.Mirror(m)
	case "hole":
		m = bored(ts, m, args[2], args[3])
	default:
		ts.Fatalf("unknown case %q", args[0])
	}
	var b bytes.Buffer
	ts.Check(stl.Write(&b, m))
	ts.Check(os.WriteFile(name, b.Bytes(), 0o666))
}

// bored is a mesh with its round holes along z of one diameter made another.
func bored(ts *testscript.TestScript, m *mesh.Mesh, from, to string) *mesh.Mesh {
	was, err := strconv.ParseFloat(from, 64)
	ts.Check(err)
	is, err := strconv.ParseFloat(to, 64)
	ts.Check(err)
	census, err := section.Holes(mesh.Merge(m), section.Options{})
	ts.Check(err)
	out := &mesh.Mesh{Vertices: slices.Clone(m.Vertices), Triangles: m.Triangles}
	holes := 0
	for _, h := range census.Holes {
		if h.Axis != [3]float64{0, 0, 1} || h.Kind != section.Round || math.Abs(h.Diameter-was) > 0.02 {
			continue
		}
		holes++
		for i, v := range m.Vertices {
			x, y := float64(v[0])-h.Centre[0], float64(v[1])-h.Centre[1]
			if r := math.Hypot(x, y); math.Abs(r-h.Diameter/2) < 0.02 {
				out.Vertices[i][0], out.Vertices[i][1] = float32(h.Centre[0]+x*is/h.Diameter), float32(h.Centre[1]+y*is/h.Diameter)
			}
		}
	}
	if holes == 0 {
		ts.Fatalf("no round hole of %s mm along z", from)
	}
	return out
}

// replaceCmd puts one text in the place of another that is there exactly as written: replace FILE OLD NEW.
func replaceCmd(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 3 {
		ts.Fatalf("usage: replace FILE OLD NEW")
	}
	text := ts.ReadFile(args[0])
	if !strings.Contains(text, args[1]) {
		ts.Fatalf("%s does not hold %q", args[0], args[1])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.ReplaceAll(text, args[1], args[2])), 0o666))
}
