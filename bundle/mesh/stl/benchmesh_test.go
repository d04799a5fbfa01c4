package stl

import (
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"dropwright/bundle/mesh"
)

var benchMeshes = flag.String("bench-meshes", "", "folder to write the meshes of .ci/bench into")

// TestWriteBenchMeshes writes the big meshes that .ci/bench times; it is skipped otherwise.
func TestWriteBenchMeshes(t *testing.T) {
	if *benchMeshes == "" {
		t.Skip("no -bench-meshes folder")
	}
	for _, s := range []struct {
		name   string
		nu, nv int
	}{{"250k", 500, 250}, {"500k", 1000, 250}, {"1m", 1000, 500}, {"2m", 2000, 500}, {"4m", 2000, 1000}, {"5m", 2000, 1250}} {
		m := mesh.Torus(60, 20, s.nu, s.nv)
		writeMesh(t, "torus-"+s.name+".stl", m, Write)
		if s.name != "1m" {
			continue
		}
		writeMesh(t, "torus-1m-ascii.stl", m, writeASCII)
		mixed := &mesh.Mesh{Vertices: m.Vertices, Triangles: append([][3]uint32(nil), m.Triangles...)}
		rand.New(rand.NewPCG(1, 2)).Shuffle(len(mixed.Triangles), func(i, j int) {
			mixed.Triangles[i], mixed.Triangles[j] = mixed.Triangles[j], mixed.Triangles[i]
		})
		writeMesh(t, "torus-1m-shuffled.stl", mixed, Write)
	}
	for i := range 200 {
		writeMesh(t, fmt.Sprintf("small-%03d.stl", i), mesh.Torus(30, 10, 60+i%7, 40), Write)
	}
}

func writeMesh(t *testing.T, name string, m *mesh.Mesh, write func(w io.Writer, m *mesh.Mesh) error) {
	t.Helper()
	f, err := os.Create(filepath.Join(*benchMeshes, name))
	if err != nil {
		t.Fatal(err)
	}
	if err := write(f, m); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}
