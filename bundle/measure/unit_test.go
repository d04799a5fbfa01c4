package measure

import (
	"bytes"
	"testing"
	"testing/fstest"

	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
)

// A tube 20 long with a bore of 0.34: 3.4 mm, the medium clearance hole of M3 (ISO 273), in centimetres. Size alone
// says nothing, two such bores do; one bore, or one of 3.4, is no reason to doubt.
func TestUnitSuspectedFromHoles(t *testing.T) {
	bore := func(diameter, at float64) *mesh.Mesh {
		return mesh.Join(
			mesh.Transform(mesh.Prism(24, 2, 20), mesh.Shift(at, 0, 0)),
			mesh.Transform(mesh.Reverse(mesh.Prism(24, diameter/2, 20)), mesh.Shift(at, 0, 0)),
		)
	}
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		want string
	}{
		{"two of 0.34", mesh.Join(bore(0.34, 0), bore(0.34, 8)), "centimetre"},
		{"one of 0.34", bore(0.34, 0), ""},
		{"two of 3.4", mesh.Join(bore(3.4, 0), bore(3.4, 8)), ""},
	} {
		var b bytes.Buffer
		if err := stl.Write(&b, c.m); err != nil {
			t.Fatal(err)
		}
		f := Mesh(fstest.MapFS{"part.stl": {Data: b.Bytes()}}, "part.stl", Options{Topics: Topics{Holes: true}})
		got := ""
		if f.UnitSuspect != nil {
			got = *f.UnitSuspect
		}
		if got != c.want {
			t.Errorf("%s: suspected %q, want %q (holes %+v)", c.name, got, c.want, f.Holes)
		}
	}
}
