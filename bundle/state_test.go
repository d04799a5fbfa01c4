package bundle

import (
	"bytes"
	"math/rand/v2"
	"testing"

	"dropwright/bundle/compare"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
)

// stateOf is a state of one part, its mesh in an STL file.
func stateOf(name string, file []byte) *State {
	s := &State{Side: compare.Side{Name: name, Variants: []compare.Variant{{Name: "plain", Parts: []compare.Part{{Name: "p", Mesh: "p"}}}}}}
	s.mesh = func(string) (*mesh.Mesh, error) { return decodeMesh(file) }
	return s
}

func fileOf(tb testing.TB, m *mesh.Mesh) []byte {
	var b bytes.Buffer
	if err := stl.Write(&b, m); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// mixed is a mesh with its facets in another order.
func mixed(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: m.Vertices}
	for _, i := range rand.New(rand.NewPCG(1, 2)).Perm(len(m.Triangles)) {
		out.Triangles = append(out.Triangles, m.Triangles[i])
	}
	return out
}

// BenchmarkCompareFiles1M compares two STL files of a million facets, reading included: less than 3 s on two quiet
// cores are wanted of each pair.
func BenchmarkCompareFiles1M(b *testing.B) {
	ring := func(minor float64) *mesh.Mesh { return mesh.Torus(60, minor, 1000, 500) }
	cup := func(bore float64) *mesh.Mesh {
		return mesh.Lathe([][2]float64{{0, 0}, {20, 0}, {20, 30}, {bore, 30}, {bore, 5}, {0, 5}}, 125_000)
	}
	dented := ring(20)
	dented.Vertices[77_777][2] += 0.5
	for _, c := range []struct {
		name string
		a, b *mesh.Mesh
	}{
		{"all over", ring(20), ring(20.2)},
		{"all over, other cut", ring(20), mesh.Torus(60, 20.2, 900, 555)},
		{"all over, other order", mixed(ring(20)), mixed(ring(20.2))},
		{"dent", ring(20), dented},
		{"slivers", cup(10), cup(10.5)},
	} {
		b.Run(c.name, func(b *testing.B) {
			x, y := stateOf("1", fileOf(b, c.a)), stateOf("2", fileOf(b, c.b))
			for b.Loop() {
				d, err := Changes(x, y)
				if err != nil || d.Parts[0].Change != compare.Changed {
					b.Fatal(d, err)
				}
			}
		})
	}
}
