package section

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"dropwright/bundle/mesh"
)

// Areas by hand: a bridge 40 long on two feet of 10 x 8, a ring with a post in it, a part on its own.
func TestIslands(t *testing.T) {
	at := func(m *mesh.Mesh, x, y, z float64) *mesh.Mesh { return mesh.Transform(m, mesh.Shift(x, y, z)) }
	bridge := mesh.Join(at(mesh.Box(10, 8, 5), 0, 0, 0), at(mesh.Box(10, 8, 5), 30, 0, 0), at(mesh.Box(40, 8, 3), 0, 0, 5))
	// A square ring of 20 x 20 with an opening of 16 x 16, and a post of 2 x 2 in the middle.
	ring := mesh.Join(mesh.Box(20, 20, 4), at(mesh.Reverse(mesh.Box(16, 16, 4)), 2, 2, 0), at(mesh.Box(2, 2, 4), 9, 9, 0))
	for _, c := range []struct {
		name  string
		m     *mesh.Mesh
		areas []float64
	}{
		{"box", mesh.Box(20, 30, 10), []float64{600}},
		{"bridge", bridge, []float64{80, 80}},
		{"ring with a post", ring, []float64{144, 4}},
		{"two that overlap", mesh.Join(mesh.Box(10, 10, 5), at(mesh.Box(10, 10, 5), 5, 3, 0)), []float64{200}},
		{"one inside the other", mesh.Join(mesh.Box(10, 10, 5), at(mesh.Box(2, 2, 5), 4, 4, 0)), []float64{104}},
		{"one in the air", mesh.Join(mesh.Box(10, 10, 5), at(mesh.Box(10, 10, 5), 20, 0, 1)), []float64{100}},
		{"thinner than the layer", mesh.Box(10, 10, 0.05), []float64{100}},
		{"cylinder of 64 sides", mesh.Prism(64, 10, 20), []float64{math.Round(6273.09698/20*1000) / 1000}}, // 32 r² sin(2π/64)
	} {
		got, err := Islands(c.m, 0.2)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		var areas []float64
		for _, i := range got {
			areas = append(areas, i.Area)
		}
		if len(areas) != len(c.areas) {
			t.Errorf("%s: areas %v, want %v", c.name, areas, c.areas)
			continue
		}
		for i := range areas {
			if math.Abs(areas[i]-c.areas[i]) > 2e-3 {
				t.Errorf("%s: areas %v, want %v", c.name, areas, c.areas)
			}
		}
		mixed := &mesh.Mesh{Vertices: c.m.Vertices, Triangles: append([][3]uint32(nil), c.m.Triangles...)}
		rand.New(rand.NewPCG(3, 4)).Shuffle(len(mixed.Triangles), func(i, j int) {
			mixed.Triangles[i], mixed.Triangles[j] = mixed.Triangles[j], mixed.Triangles[i]
		})
		if again, err := Islands(mixed, 0.2); err != nil || !reflect.DeepEqual(again, got) {
			t.Errorf("%s: the order of triangles shows: %v and %v (%v)", c.name, again, got, err)
		}
	}
	if i, err := Islands(bridge, 0.2); err != nil || i[1].Min != [2]float64{30, 0} || i[1].Max != [2]float64{40, 8} || i[1].Length != 36 {
		t.Errorf("second foot %+v, %v", i, err)
	}
	if i, err := Islands(&mesh.Mesh{}, 0.2); len(i) != 0 || err != nil {
		t.Errorf("nothing: %v, %v", i, err)
	}
	for _, bad := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := Islands(mesh.Box(1, 1, 1), bad); err == nil {
			t.Errorf("a layer of %v was taken", bad)
		}
	}
}
