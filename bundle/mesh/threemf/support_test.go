package threemf

import (
	"archive/zip"
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"dropwright/bundle/mesh"
)

// entry is one part of a package that a test makes.
type entry struct{ name, body string }

const (
	goodTypes = `<?xml version="1.0" encoding="UTF-8"?><Types xmlns="` + uriContentTypes + `"><Default Extension="rels" ContentType="` + typeRelations +
		`"/><Default Extension="model" ContentType="` + typeModel + `"/><Default Extension="png" ContentType="image/png"/></Types>`
	goodRels = `<?xml version="1.0" encoding="UTF-8"?><Relationships xmlns="` + uriRelations + `"><Relationship Target="/3D/3dmodel.model" Id="rel0" Type="` + relModel + `"/></Relationships>`
	// modelHead opens a model; the standard's namespaces are all bound.
	modelHead = `<?xml version="1.0" encoding="UTF-8"?>` + "\n" + `<model unit="millimeter" xml:lang="en-US" xmlns="` + uriCore + `" xmlns:m="` + uriMaterial + `" xmlns:p="` + uriProduction + `">`
)

// zipped makes a zip archive of the entries in their order.
func zipped(t testing.TB, entries ...entry) []byte {
	t.Helper()
	var buf bytes.Buffer
	w := zip.NewWriter(&buf)
	for _, e := range entries {
		f, err := w.Create(e.name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write([]byte(e.body)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// pack makes a package of one model part, and more parts behind it.
func pack(t testing.TB, model string, more ...entry) []byte {
	t.Helper()
	return zipped(t, append([]entry{{nameContentTypes, goodTypes}, {nameRootRels, goodRels}, {"3D/3dmodel.model", model}}, more...)...)
}

// simple is a model of the given resources and build.
func simple(resources, build string) string {
	return modelHead + "<resources>" + resources + "</resources><build>" + build + "</build></model>"
}

func decode(data []byte) (*Model, error) { return Decode(bytes.NewReader(data), int64(len(data))) }

func mustDecode(t testing.TB, data []byte) *Model {
	t.Helper()
	m, err := decode(data)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// box is a closed box of 12 triangles with one corner at the origin.
func box(x, y, z float32) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		m.Vertices = append(m.Vertices, [3]float32{x * float32(i&1), y * float32(i>>1&1), z * float32(i>>2)})
	}
	m.Triangles = [][3]uint32{{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4}, {2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}}
	return m
}

// torus has 2 nu nv triangles; its volume is in a closed form.
func torus(R, r float64, nu, nv int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range nu {
		a := 2 * math.Pi * float64(i) / float64(nu)
		for j := range nv {
			b := 2 * math.Pi * float64(j) / float64(nv)
			d := R + r*math.Cos(b)
			m.Vertices = append(m.Vertices, [3]float32{float32(d * math.Cos(a)), float32(d * math.Sin(a)), float32(r * math.Sin(b))})
		}
	}
	at := func(i, j int) uint32 { return uint32((i%nu)*nv + j%nv) }
	for i := range nu {
		for j := range nv {
			m.Triangles = append(m.Triangles, [3]uint32{at(i, j), at(i+1, j), at(i+1, j+1)}, [3]uint32{at(i, j), at(i+1, j+1), at(i, j+1)})
		}
	}
	return m
}

// volume is the signed volume about the first vertex.
func volume(m *mesh.Mesh) float64 {
	if len(m.Vertices) == 0 {
		return 0
	}
	o := m.Vertices[0]
	at := func(i uint32) (x, y, z float64) {
		v := m.Vertices[i]
		return float64(v[0]) - float64(o[0]), float64(v[1]) - float64(o[1]), float64(v[2]) - float64(o[2])
	}
	sum := 0.0
	for _, t := range m.Triangles {
		ax, ay, az := at(t[0])
		bx, by, bz := at(t[1])
		cx, cy, cz := at(t[2])
		sum += ax*(by*cz-bz*cy) + ay*(bz*cx-bx*cz) + az*(bx*cy-by*cx)
	}
	return sum / 6
}

func bounds(m *mesh.Mesh) (lo, hi [3]float32) {
	lo, hi = m.Vertices[0], m.Vertices[0]
	for _, v := range m.Vertices {
		for c := range 3 {
			lo[c], hi[c] = min(lo[c], v[c]), max(hi[c], v[c])
		}
	}
	return lo, hi
}

// meshXML writes a mesh element as most programs do.
func meshXML(m *mesh.Mesh) string {
	var b strings.Builder
	b.WriteString("<mesh><vertices>")
	for _, v := range m.Vertices {
		fmt.Fprintf(&b, `<vertex x="%v" y="%v" z="%v"/>`, v[0], v[1], v[2])
	}
	b.WriteString("</vertices><triangles>")
	for _, t := range m.Triangles {
		fmt.Fprintf(&b, `<triangle v1="%d" v2="%d" v3="%d"/>`, t[0], t[1], t[2])
	}
	b.WriteString("</triangles></mesh>")
	return b.String()
}

// cubeObject is an object resource: a cube of 10 mm.
func cubeObject(id int) string {
	return fmt.Sprintf(`<object id="%d" type="model">%s</object>`, id, meshXML(box(10, 10, 10)))
}

func near(a, b, tol float64) bool { return math.Abs(a-b) <= tol }
