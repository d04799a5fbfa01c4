package desk

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"testing"

	"dropwright/bundle/mesh"
)

// decoded is a solid read back as a browser does: by the byte positions of the form alone.
type decoded struct {
	points [][3]float64
	faces  [][3]uint32
	lines  [][2]uint32
	whole  int
	sha    [32]byte
}

func decode(b []byte) (d decoded, err error) {
	if len(b) < 68 || string(b[:4]) != "dws1" {
		return d, fmt.Errorf("not a solid")
	}
	u32 := func(at int) int { return int(binary.LittleEndian.Uint32(b[at:])) }
	f32 := func(at int) float64 { return float64(math.Float32frombits(binary.LittleEndian.Uint32(b[at:]))) }
	np, nf, nl := u32(4), u32(8), u32(12)
	d.whole = u32(16)
	copy(d.sha[:], b[36:68])
	size := 2
	if np > 65536 {
		size = 4
	}
	round := func(n int) int { return (n + 3) / 4 * 4 }
	facesAt := round(68 + 6*np)
	linesAt := round(facesAt + 3*size*nf)
	if end := round(linesAt + 2*size*nl); len(b) != end {
		return d, fmt.Errorf("%d bytes, expected %d", len(b), end)
	}
	for i := range np {
		var p [3]float64
		for k := range 3 {
			p[k] = f32(20+4*k) + f32(32)*float64(binary.LittleEndian.Uint16(b[68+6*i+2*k:]))
		}
		d.points = append(d.points, p)
	}
	index := func(at, i int) (uint32, error) {
		n := uint32(0)
		if size == 2 {
			n = uint32(binary.LittleEndian.Uint16(b[at+2*i:]))
		} else {
			n = binary.LittleEndian.Uint32(b[at+4*i:])
		}
		if int(n) >= np {
			return 0, fmt.Errorf("index %d of %d points", n, np)
		}
		return n, nil
	}
	for i := range nf {
		var f [3]uint32
		for k := range 3 {
			if f[k], err = index(facesAt, 3*i+k); err != nil {
				return d, err
			}
		}
		d.faces = append(d.faces, f)
	}
	for i := range nl {
		var l [2]uint32
		for k := range 2 {
			if l[k], err = index(linesAt, 2*i+k); err != nil {
				return d, err
			}
		}
		d.lines = append(d.lines, l)
	}
	return d, nil
}

// volume is the signed volume, mm3: the divergence theorem over the facets.
func (d decoded) volume() float64 {
	v := 0.0
	for _, f := range d.faces {
		a, b, c := d.points[f[0]], d.points[f[1]], d.points[f[2]]
		v += a[0]*(b[1]*c[2]-b[2]*c[1]) + a[1]*(b[2]*c[0]-b[0]*c[2]) + a[2]*(b[0]*c[1]-b[1]*c[0])
	}
	return v / 6
}

func TestEncodeBox(t *testing.T) {
	sha := [32]byte{1, 2, 3, 31: 9}
	data, shown := Encode(mesh.Box(30, 20, 10), sha, MaxShown)
	d, err := decode(data)
	if err != nil {
		t.Fatal(err)
	}
	if len(d.points) != 8 || len(d.faces) != 12 || shown != 12 || len(d.lines) != 12 || d.whole != 12 || d.sha != sha {
		t.Errorf("%d points, %d faces, %d lines of %d", len(d.points), len(d.faces), len(d.lines), d.whole)
	}
	const tol = 6000 * 1e-3
	if v := d.volume(); math.Abs(v-6000) > tol {
		t.Errorf("volume %g mm³, expected 6000", v)
	}
	if _, err := decode(data[:len(data)-4]); err == nil {
		t.Error("the reader takes a solid that is cut short")
	}
}

// TestEncodeRound: a cylinder of 64 sides has its two rims as lines and nothing else; one of 8 sides its edges too.
func TestEncodeRound(t *testing.T) {
	for _, x := range []struct{ sides, lines int }{{64, 128}, {8, 24}} {
		data, _ := Encode(mesh.Prism(x.sides, 10, 20), [32]byte{}, MaxShown)
		d, err := decode(data)
		if err != nil {
			t.Fatal(err)
		}
		if len(d.lines) != x.lines {
			t.Errorf("%d sides: %d lines, expected %d", x.sides, len(d.lines), x.lines)
		}
	}
}

// TestEncodeLarge: indices of four bytes, a coarser mesh within the limit that still has the shape, and the same bytes
// twice.
func TestEncodeLarge(t *testing.T) {
	m := mesh.Sphere(50, 500, 400) // 400,000 facets
	fine, shown := Encode(m, [32]byte{}, len(m.Triangles))
	if d, err := decode(fine); err != nil || len(d.points) <= 65536 || shown < 390_000 {
		t.Fatalf("%d points, %d facets: %v", len(d.points), shown, err)
	}
	data, shown := Encode(m, [32]byte{}, MaxShown)
	again, _ := Encode(m, [32]byte{}, MaxShown)
	if !bytes.Equal(data, again) {
		t.Error("the same mesh gives other bytes the second time")
	}
	d, err := decode(data)
	if err != nil {
		t.Fatal(err)
	}
	if shown > MaxShown || shown < MaxShown/6 || d.whole != len(m.Triangles) {
		t.Errorf("%d of %d facets", shown, d.whole)
	}
	exact := 4.0 / 3 * math.Pi * 50 * 50 * 50
	if v := d.volume(); math.Abs(v/exact-1) > 0.01 {
		t.Errorf("volume %g mm³, expected %g within 1 %%", v, exact)
	}
}

// TestEncodeBroken: meshes that strangers make: no facets, all in one place, corners that are no numbers, indices that
// lead nowhere.
func TestEncodeBroken(t *testing.T) {
	nan := float32(math.NaN())
	for name, m := range map[string]*mesh.Mesh{
		"empty":    {},
		"one spot": {Vertices: [][3]float32{{1, 1, 1}, {1, 1, 1}, {1, 1, 1}}, Triangles: [][3]uint32{{0, 1, 2}}},
		"no number": {Vertices: [][3]float32{{nan, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
			Triangles: [][3]uint32{{0, 1, 2}, {1, 2, 3}}},
		"far index": {Vertices: [][3]float32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, Triangles: [][3]uint32{{0, 1, 7}, {0, 1, 2}}},
		"huge":      {Vertices: [][3]float32{{-3e38, 0, 0}, {3e38, 0, 0}, {0, 3e38, 0}}, Triangles: [][3]uint32{{0, 1, 2}}},
	} {
		data, shown := Encode(m, [32]byte{}, 10)
		d, err := decode(data)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if name == "no number" || name == "far index" {
			if shown != 1 || len(d.lines) != 3 {
				t.Errorf("%s: %d facets, %d lines", name, shown, len(d.lines))
			}
		}
	}
}

func BenchmarkEncode(b *testing.B) {
	m := mesh.Sphere(50, 500, 1000) // a million facets
	b.ReportAllocs()
	for b.Loop() {
		Encode(m, [32]byte{}, MaxShown)
	}
}
