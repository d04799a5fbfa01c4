package mesh

import (
	"reflect"
	"slices"
	"testing"
)

func TestOrdered(t *testing.T) {
	// Negative, zero and positive coordinates; one facet without area, one twice.
	m := Merge(Transform(Join(Torus(30, 10, 30, 20), Box(3, 4, 5), Sphere(2, 12, 6)), Shift(-7, 0, 1)))
	m.Triangles = append(m.Triangles, m.Triangles[5], [3]uint32{3, 3, 4})
	want := Ordered(m)
	if !slices.IsSortedFunc(want.Vertices, func(a, b [3]float32) int { return slices.Compare(a[:], b[:]) }) {
		t.Error("vertices are not in order of their places")
	}
	for seed := range uint64(4) {
		if got := Ordered(Merge(turnedFacets(shuffled(m, seed)))); !reflect.DeepEqual(got, want) {
			t.Fatal("the order of facets shows")
		}
	}
	a, _ := Inspect(m)
	b, _ := Inspect(want)
	if !reflect.DeepEqual(a, b) {
		t.Errorf("the surface changed: %+v, was %+v", b, a)
	}
	unused := &Mesh{Vertices: append([][3]float32{{9, 9, 9}}, Box(1, 1, 1).Vertices...)}
	for _, f := range Box(1, 1, 1).Triangles {
		unused.Triangles = append(unused.Triangles, [3]uint32{f[0] + 1, f[1] + 1, f[2] + 1})
	}
	if got := Ordered(unused); len(got.Vertices) != 8 {
		t.Errorf("%d vertices, 8 are used", len(got.Vertices))
	}
	if got := Ordered(&Mesh{}); len(got.Triangles) != 0 {
		t.Error("nothing became something")
	}
}

// turnedFacets lets facets begin with another of their corners.
func turnedFacets(m *Mesh) *Mesh {
	out := &Mesh{Vertices: m.Vertices, Triangles: slices.Clone(m.Triangles)}
	for i := range out.Triangles {
		for range i % 3 {
			t := &out.Triangles[i]
			t[0], t[1], t[2] = t[1], t[2], t[0]
		}
	}
	return out
}

func BenchmarkOrdered(b *testing.B) {
	m := shuffled(Torus(60, 20, 1000, 500), 1)
	for b.Loop() {
		Ordered(m)
	}
}
