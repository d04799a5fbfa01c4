package threemf

import (
	"archive/zip"
	"bytes"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"dropwright/bundle/mesh"
)

var noon = time.Date(2027, 1, 20, 12, 0, 0, 0, time.UTC)

// plate has what Write can do: materials, names, copies, turned, moved and mirrored.
func plate() Package {
	return Package{
		Metadata:  []Metadata{{Name: "Title", Value: "Vent <Minder> & \"co\"\nÄ"}, {Name: "LicenseTerms", Value: "CC-BY-SA-4.0"}},
		Materials: []Material{{"clay", Color{0x8a, 0x5a, 0x44, 255}}, {"clear & bright", Color{0xdf, 0xe9, 0xea, 0x80}}},
		Objects: []Placed{
			{Name: "case", PartNumber: "P-1", Material: 0, Mesh: box(10, 20, 30)},
			{Name: "arm Ärmel <2>", Material: 1, Mesh: torus(20, 5, 24, 12), Places: []Transform{
				Translation(50, 50, 5), Translation(100, 50, 5), {0, 1, 0, -1, 0, 0, 0, 0, 1, 150, 50, 5.25}, {-1, 0, 0, 0, 1, 0, 0, 0, 1, 200, 50, 5}}},
			{Name: "window", Material: -1, Mesh: box(1, 2, 0.1)},
		},
		Date: noon,
	}
}

func written(t testing.TB, p Package) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := Write(&buf, p); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestRoundTrip(t *testing.T) {
	p := plate()
	m := mustDecode(t, written(t, p))
	if len(m.Warnings) != 0 || len(m.Foreign()) != 0 || len(m.Comments) != 0 {
		t.Errorf("warnings %q, foreign %q, comments %q", m.Warnings, m.Foreign(), m.Comments)
	}
	for i, want := range p.Metadata {
		if got := m.Metadata[i]; got.Name != want.Name || got.Value != want.Value {
			t.Errorf("metadata %q, want %q", got, want)
		}
	}
	if !reflect.DeepEqual(m.Materials[0].Materials, p.Materials) {
		t.Errorf("materials %v, want %v", m.Materials[0].Materials, p.Materials)
	}
	item := 0
	items := m.Items()
	for i, o := range p.Objects {
		if !reflect.DeepEqual(m.Objects[i].Mesh, o.Mesh) {
			t.Errorf("object %q: the mesh changed", o.Name)
		}
		places := o.Places
		if len(places) == 0 {
			places = []Transform{Identity()}
		}
		for _, place := range places {
			if m.Build[item].Transform != place {
				t.Errorf("item %d: transform %v, want %v", item, m.Build[item].Transform, place)
			}
			if items[item].Name != o.Name || items[item].PartNumber != o.PartNumber {
				t.Errorf("item %d is %q %q, want %q %q", item, items[item].Name, items[item].PartNumber, o.Name, o.PartNumber)
			}
			// Coordinates near 200 have steps of 1.5e-5 as float32.
			if got, want := volume(items[item].Mesh), volume(o.Mesh); !near(got, want, 1e-5*want) {
				t.Errorf("item %d: volume %v, want %v", item, got, want)
			}
			item++
		}
	}
	if item != len(items) {
		t.Errorf("%d items, want %d", len(items), item)
	}
}

// Every float32 comes back as the same bits, but for -0, which becomes 0.
func TestCoordinatesExact(t *testing.T) {
	m := box(1, 1, 1)
	values := []float32{0.1, 1.0 / 3, 1e-30, math.MaxFloat32, -16777217, math.SmallestNonzeroFloat32, 123.456, -1e20}
	for i, v := range values {
		m.Vertices[i] = [3]float32{v, -v, v / 3}
	}
	got := mustDecode(t, written(t, Package{Date: noon, Objects: []Placed{{Material: -1, Mesh: m}}})).Mesh()
	if !reflect.DeepEqual(got, positive(m)) {
		t.Errorf("got %v, want %v", got.Vertices, m.Vertices)
	}
	m.Vertices[0][0] = float32(math.Copysign(0, -1))
	got = mustDecode(t, written(t, Package{Date: noon, Objects: []Placed{{Material: -1, Mesh: m}}})).Mesh()
	if math.Signbit(float64(got.Vertices[0][0])) {
		t.Error("-0 was written as -0")
	}
}

// Same input, same bytes; the headers hold nothing of the machine or the moment.
func TestDeterministicAndPlain(t *testing.T) {
	first := written(t, plate())
	for range 3 {
		if !bytes.Equal(written(t, plate()), first) {
			t.Fatal("two runs give different bytes")
		}
	}
	zone := plate()
	zone.Date = noon.In(time.FixedZone("x", 5*3600))
	if !bytes.Equal(written(t, zone), first) {
		t.Error("the zone of the date changes the bytes")
	}
	zr, err := zip.NewReader(bytes.NewReader(first), int64(len(first)))
	if err != nil {
		t.Fatal(err)
	}
	names := ""
	for _, f := range zr.File {
		names += f.Name + " "
		if len(f.Extra) != 0 || f.Comment != "" || f.Flags != 0 || f.CreatorVersion != 0x0314 || f.ExternalAttrs != 0o100644<<16 || f.Method != zip.Deflate || !f.Modified.Equal(noon) {
			t.Errorf("%s: header %+v", f.Name, f.FileHeader)
		}
	}
	if names != "[Content_Types].xml _rels/.rels 3D/3dmodel.model " {
		t.Errorf("entries %s", names)
	}
}

func TestWriteRefuses(t *testing.T) {
	one := func(change func(*Package)) Package {
		p := Package{Date: noon, Objects: []Placed{{Name: "x", Material: -1, Mesh: box(1, 1, 1)}}}
		change(&p)
		return p
	}
	nan := float32(math.NaN())
	for name, c := range map[string]struct {
		p    Package
		want string
	}{
		"no object":          {Package{Date: noon}, "no object"},
		"no date":            {one(func(p *Package) { p.Date = time.Time{} }), "does not fit a zip"},
		"late date":          {one(func(p *Package) { p.Date = p.Date.AddDate(100, 0, 0) }), "does not fit a zip"},
		"no mesh":            {one(func(p *Package) { p.Objects[0].Mesh = nil }), "no triangles"},
		"empty mesh":         {one(func(p *Package) { p.Objects[0].Mesh = &mesh.Mesh{} }), "no triangles"},
		"material":           {one(func(p *Package) { p.Objects[0].Material = 0 }), "material 0 of 0"},
		"vertex":             {one(func(p *Package) { p.Objects[0].Mesh.Vertices[3][1] = nan }), "vertex 3 is not finite"},
		"index":              {one(func(p *Package) { p.Objects[0].Mesh.Triangles[2][1] = 8 }), "does not exist"},
		"degenerate":         {one(func(p *Package) { p.Objects[0].Mesh.Triangles[2] = [3]uint32{1, 1, 2} }), "uses one vertex twice"},
		"flat placement":     {one(func(p *Package) { p.Objects[0].Places = []Transform{{}} }), "flattens"},
		"infinite placement": {one(func(p *Package) { p.Objects[0].Places = []Transform{Translation(math.Inf(1), 0, 0)} }), "not finite"},
		"name":               {one(func(p *Package) { p.Objects[0].Name = "a\x00b" }), "U+0000"},
		"name not UTF-8":     {one(func(p *Package) { p.Objects[0].Name = "a\xff" }), "not UTF-8"},
		"metadata name":      {one(func(p *Package) { p.Metadata = []Metadata{{Name: "Author"}} }), `metadata "Author"`},
		"metadata twice":     {one(func(p *Package) { p.Metadata = []Metadata{{Name: "Title"}, {Name: "Title"}} }), "twice"},
		"metadata value":     {one(func(p *Package) { p.Metadata = []Metadata{{Name: "Title", Value: "\x1b"}} }), "U+001B"},
		"material name":      {one(func(p *Package) { p.Materials = []Material{{Name: "\x01"}} }), "U+0001"},
	} {
		var buf bytes.Buffer
		err := Write(&buf, c.p)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
		if buf.Len() != 0 {
			t.Errorf("%s: %d bytes were written", name, buf.Len())
		}
	}
}
