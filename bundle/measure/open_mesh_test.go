package measure

import (
	"bytes"
	"strings"
	"testing"
	"testing/fstest"

	"dropwright/bundle/estimate"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
)

// A prism without one of its triangles encloses nothing: a mass would be made up. Whole, it has one.
func TestOpenMeshHasNoMass(t *testing.T) {
	for _, open := range []bool{false, true} {
		m := mesh.Prism(24, 10, 20)
		if open {
			m.Triangles = m.Triangles[1:]
		}
		var b bytes.Buffer
		if err := stl.Write(&b, m); err != nil {
			t.Fatal(err)
		}
		opt := estimates
		opt.Print = Printing{Settings: estimate.Defaults(), Machine: estimate.DefaultMachine()}
		f := Mesh(fstest.MapFS{"part.stl": {Data: b.Bytes()}}, "part.stl", opt)
		if got := f.Estimate == nil && strings.Contains(f.Unestimated, "not closed: 3 open edges"); got != open {
			t.Errorf("open %v: estimate %+v, %q", open, f.Estimate, f.Unestimated)
		}
	}
}
