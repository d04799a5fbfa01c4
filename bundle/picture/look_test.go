package picture

import (
	"os"
	"path/filepath"
	"testing"

	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
)

func demo(t testing.TB, name string) *mesh.Mesh {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "examples", "allotment-instruments", "designs", filepath.FromSlash(name)))
	if err != nil {
		t.Fatal(err)
	}
	r, err := stl.Survey(data)
	if err != nil {
		t.Fatal(err)
	}
	return r.Mesh
}

func TestLook(t *testing.T) {
	dir := os.Getenv("LOOK")
	if dir == "" {
		t.Skip()
	}
	clay, _ := ParseColour("#8a5a44")
	for _, n := range []string{"vent-minder/meshes/case-ce.stl", "rain-tipper/meshes/bucket.stl", "seed-dryer/meshes/rack.stl", "soil-stake/meshes/soil-stake.stl"} {
		b := Body{Mesh: demo(t, n), Colour: clay, Line: 1.6, Number: 12}
		img, err := Render([]Body{b}, View{}, Options{Width: 1200, Height: 900, Margin: 20})
		if err != nil {
			t.Fatal(err)
		}
		p, _ := Paper(img)
		os.WriteFile(filepath.Join(dir, filepath.Base(n)+".png"), p, 0o666)
		t.Log(n, len(b.Mesh.Triangles), len(p))
	}
}

func BenchmarkCase(b *testing.B) {
	m := demo(b, "vent-minder/meshes/case-ce.stl")
	for range b.N {
		img, _ := Render([]Body{{Mesh: m, Colour: Colour{0x8a, 0x5a, 0x44}, Line: 1.6}}, View{}, Options{Width: 1200, Height: 900, Margin: 20})
		PNG(img)
	}
}

func BenchmarkMillion(b *testing.B) {
	m := mesh.Torus(60, 20, 1000, 500)
	for range b.N {
		Render([]Body{{Mesh: m, Colour: Colour{0x8a, 0x5a, 0x44}, Line: 1.6}}, View{}, Options{Width: 1200, Height: 900, Margin: 20})
	}
}
