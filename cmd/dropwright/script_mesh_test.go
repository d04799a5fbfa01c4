package main

import (
	"bytes"
	"math/rand/v2"
	"os"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"

	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
)

// meshCaseCmd changes an STL file the way that makers' files change: meshcase KIND FILE.
func meshCaseCmd(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: meshcase header|shuffle|turn|move|mirror FILE")
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
	default:
		ts.Fatalf("unknown case %q", args[0])
	}
	var b bytes.Buffer
	ts.Check(stl.Write(&b, m))
	ts.Check(os.WriteFile(name, b.Bytes(), 0o666))
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
