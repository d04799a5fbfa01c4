package adopt_test

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"testing"
)

// The meshes of the test folders are made and written here with the standard library alone, so that a mistake in
// our own readers and writers cannot hide behind itself.
type (
	point [3]float64
	facet [3]point
	solid []facet
)

// slab is a plate of square cells, each with or without a round hole in its middle. Neighbours share whole edges, so
// that the surface is closed.
type slab struct {
	Cells  [2]int   `yaml:"cells"`
	Cell   float64  `yaml:"cell"` // mm
	Height float64  `yaml:"height"`
	Hole   float64  `yaml:"hole"`    // diameter of the circle through the corners of the drawn hole
	Deep   float64  `yaml:"deep"`    // from above; 0: through
	At     [][2]int `yaml:"at"`      // cells with a hole
	AllBut [][2]int `yaml:"all_but"` // or: every cell but these
	Gone   [][2]int `yaml:"gone"`    // cells cut away
}

const slabSides = 64 // of a hole; a multiple of four. So many that the hole passes what it is drawn for within 0.01 mm

func (s *slab) there(x, y int) bool {
	return x >= 0 && y >= 0 && x < s.Cells[0] && y < s.Cells[1] && !slices.Contains(s.Gone, [2]int{x, y})
}

func (s *slab) holed(x, y int) bool {
	if len(s.AllBut) > 0 {
		return !slices.Contains(s.AllBut, [2]int{x, y})
	}
	return slices.Contains(s.At, [2]int{x, y})
}

func (s *slab) solid() solid {
	var out solid
	for y := range s.Cells[1] {
		for x := range s.Cells[0] {
			if s.there(x, y) {
				out = append(out, s.cell(x, y)...)
			}
		}
	}
	return out
}

// cell is the surface of one cell: top, bottom, hole, and the sides towards no neighbour. Counter-clockwise from
// outside.
func (s *slab) cell(x, y int) solid {
	c, h := s.Cell, s.Height
	x0, y0, x1, y1 := float64(x)*c, float64(y)*c, float64(x+1)*c, float64(y+1)*c
	corner := [4][2]float64{{x1, y1}, {x0, y1}, {x0, y0}, {x1, y0}} // each in the middle of a quarter of the circle
	up := func(p [2]float64, z float64) point { return point{p[0], p[1], z} }
	var out solid
	if !s.holed(x, y) {
		out = append(out, facet{up(corner[2], h), up(corner[3], h), up(corner[0], h)}, facet{up(corner[2], h), up(corner[0], h), up(corner[1], h)})
		out = append(out, facet{up(corner[0], 0), up(corner[3], 0), up(corner[2], 0)}, facet{up(corner[1], 0), up(corner[0], 0), up(corner[2], 0)})
	} else {
		low := 0.0
		if s.Deep > 0 {
			low = h - s.Deep
		}
		ring := func(k int) [2]float64 {
			a := 2 * math.Pi * float64(k%slabSides) / slabSides
			return [2]float64{(x0+x1)/2 + s.Hole/2*math.Cos(a), (y0+y1)/2 + s.Hole/2*math.Sin(a)}
		}
		face := func(z float64) (f solid) { // as seen from above
			for k := range slabSides {
				q := k / (slabSides / 4)
				if k%(slabSides/4) == 0 {
					f = append(f, facet{up(ring(k), z), up(corner[(q+3)%4], z), up(corner[q], z)})
				}
				f = append(f, facet{up(ring(k), z), up(corner[q], z), up(ring(k+1), z)})
			}
			return f
		}
		out = append(out, face(h)...)
		for k := range slabSides { // the wall of the hole looks inwards
			a, b := ring(k), ring(k+1)
			out = append(out, facet{up(a, low), up(a, h), up(b, h)}, facet{up(a, low), up(b, h), up(b, low)})
			if low > 0 {
				out = append(out, facet{up([2]float64{(x0 + x1) / 2, (y0 + y1) / 2}, low), up(a, low), up(b, low)})
			}
		}
		if low > 0 {
			out = append(out, facet{up(corner[0], 0), up(corner[3], 0), up(corner[2], 0)}, facet{up(corner[1], 0), up(corner[0], 0), up(corner[2], 0)})
		} else {
			out = append(out, face(0).reversed()...)
		}
	}
	side := func(a, b [2]float64) {
		out = append(out, facet{up(a, 0), up(b, 0), up(b, h)}, facet{up(a, 0), up(b, h), up(a, h)})
	}
	if !s.there(x+1, y) {
		side(corner[3], corner[0])
	}
	if !s.there(x, y+1) {
		side(corner[0], corner[1])
	}
	if !s.there(x-1, y) {
		side(corner[1], corner[2])
	}
	if !s.there(x, y-1) {
		side(corner[2], corner[3])
	}
	return out
}

func (s solid) each(f func(point) point) solid {
	out := make(solid, len(s))
	for i, t := range s {
		out[i] = facet{f(t[0]), f(t[1]), f(t[2])}
	}
	return out
}

func (s solid) moved(d point) solid {
	return s.each(func(p point) point { return point{p[0] + d[0], p[1] + d[1], p[2] + d[2]} })
}

func (s solid) mirrored() solid {
	return s.each(func(p point) point { return point{-p[0], p[1], p[2]} }).reversed()
}

func (s solid) reversed() solid {
	out := make(solid, len(s))
	for i, t := range s {
		out[i] = facet{t[0], t[2], t[1]}
	}
	return out
}

// readSTL reads the binary STL of the demo season: 80 bytes, the count, 50 bytes a facet.
func readSTL(t testing.TB, data []byte) solid {
	t.Helper()
	if len(data) < 84 || len(data) != 84+50*int(binary.LittleEndian.Uint32(data[80:])) {
		t.Fatal("not a binary STL")
	}
	var s solid
	for at := 84; at < len(data); at += 50 {
		var f facet
		for i := range f {
			for k := range f[i] {
				f[i][k] = float64(math.Float32frombits(binary.LittleEndian.Uint32(data[at+12+12*i+4*k:])))
			}
		}
		s = append(s, f)
	}
	return s
}

func (s solid) stl() []byte {
	b := binary.LittleEndian.AppendUint32(make([]byte, 80), uint32(len(s)))
	for _, f := range s {
		b = append(b, make([]byte, 12)...)
		for _, p := range f {
			for _, v := range p {
				b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(v)))
			}
		}
		b = append(b, 0, 0)
	}
	return b
}

func (s solid) ascii() []byte {
	var b bytes.Buffer
	b.WriteString("solid part\n")
	for _, f := range s {
		b.WriteString("  facet normal 0 0 0\n    outer loop\n")
		for _, p := range f {
			fmt.Fprintf(&b, "      vertex %g %g %g\n", float32(p[0]), float32(p[1]), float32(p[2]))
		}
		b.WriteString("    endloop\n  endfacet\n")
	}
	b.WriteString("endsolid part\n")
	return b.Bytes()
}

// threemf writes the smallest package of the 3MF core specification with one named object of one base material.
func (s solid) threemf(t testing.TB, object, material, colour string) []byte {
	t.Helper()
	var vertices, triangles bytes.Buffer
	index := map[point]int{}
	for _, f := range s {
		for _, p := range f {
			if _, ok := index[p]; !ok {
				index[p] = len(index)
				fmt.Fprintf(&vertices, `<vertex x="%g" y="%g" z="%g"/>`, p[0], p[1], p[2])
			}
		}
		fmt.Fprintf(&triangles, `<triangle v1="%d" v2="%d" v3="%d"/>`, index[f[0]], index[f[1]], index[f[2]])
	}
	model := fmt.Sprintf(`<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xml:lang="en-US" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources><basematerials id="2"><base name=%q displaycolor=%q/></basematerials><object id="1" name=%q type="model" pid="2" pindex="0"><mesh><vertices>%s</vertices><triangles>%s</triangles></mesh></object></resources><build><item objectid="1"/></build></model>`,
		material, colour, object, vertices.String(), triangles.String())
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, e := range [][2]string{
		{"[Content_Types].xml", `<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>`},
		{"_rels/.rels", `<?xml version="1.0" encoding="UTF-8"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r1" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel" Target="/3D/3dmodel.model"/></Relationships>`},
		{"3D/3dmodel.model", model},
	} {
		w, err := z.Create(e[0])
		if err == nil {
			_, err = w.Write([]byte(e[1]))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}
