package stl

import (
	"bytes"
	"encoding/binary"
	"errors"
	"flag"
	"fmt"
	"math"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"dropwright/bundle/mesh"
)

// FuzzDecode holds what a stranger's file may not do: no panic, no memory beyond three times the file, and
// whatever is read as a mesh is written and read back the same.
func FuzzDecode(f *testing.F) {
	// Which goroutine does what varies from run to run, and so does the coverage; the search for a
	// smaller input of the same coverage would take all of the time.
	if err := flag.Set("test.fuzzminimizetime", "10x"); err != nil {
		f.Fatal(err)
	}
	cube := binaryOf(f, mesh.Box(10, 10, 10))
	text := asciiOf(f, mesh.Box(10, 10, 10))
	for _, seed := range [][]byte{
		cube, text, nil, cube[:84], cube[:300], text[:300],
		append(bytes.Clone(cube), 0),
		changed(cube, 80, 255, 255, 255, 255),
		changed(cube, 84+12, float(float32(math.NaN()))...),
		changed(cube, 84+12, append(bytes.Repeat([]byte{255}, 4), make([]byte, 8)...)...), // once taken for an empty cache entry
		changed(cube, 0, []byte("solid cube")...),
		bytes.ReplaceAll(text, []byte("\n"), []byte("\r")),
		bytes.ToUpper(text),
		bytes.ReplaceAll(text, []byte("e+01"), []byte("e+99")),
		[]byte("solid a\nsolid b\nendsolid"),
		[]byte("ISO-10303-21;"), []byte("v 0 0 0\nv 1 0 0\nf 1 1 1"), []byte("PK\x03\x04"),
		[]byte("version x\noid sha256:0\nsize 1"),
		[]byte("solid " + strings.Repeat("endfacet ", 50) + "\n" + facetText + "endsolid"),
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		const constant = 4 << 20 // buffers of the weld and of the pieces, whatever the size
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		m, info, err := Decode(data)
		runtime.ReadMemStats(&after)
		if got := after.TotalAlloc - before.TotalAlloc; got > 3*uint64(len(data))+constant {
			t.Errorf("%d bytes allocated for a file of %d", got, len(data))
		}
		s, surveyed := Survey(data)
		if (err == nil) != (surveyed == nil) {
			t.Fatalf("Decode says %v, Survey %v", err, surveyed)
		}
		if err != nil {
			var e *Error
			if !errors.As(err, &e) {
				t.Errorf("not an *Error: %v", err)
			}
			return
		}
		if len(m.Triangles) == 0 || info.Format == Binary && len(m.Triangles) != int(binary.LittleEndian.Uint32(data[80:])) {
			t.Errorf("%d triangles", len(m.Triangles))
		}
		for _, tri := range m.Triangles {
			for _, id := range tri {
				if int(id) >= len(m.Vertices) {
					t.Fatalf("vertex %d of %d", id, len(m.Vertices))
				}
			}
		}
		if r := s.Report; r.Triangles != len(m.Triangles) || !(r.Area >= 0) {
			t.Errorf("report %+v", r)
		}
		back, _, err := Decode(binaryOf(t, m))
		if err != nil || !reflect.DeepEqual(back, m) {
			t.Errorf("written and read again: %v", err)
		}
	})
}

// The bound on memory where it counts: big files in the worst shapes.
func TestDecodeMemory(t *testing.T) {
	loose := &mesh.Mesh{}
	for i := range 50000 {
		n := uint32(3 * i)
		x := float32(i)
		loose.Vertices = append(loose.Vertices, [3]float32{x, 0, 0}, [3]float32{x, 1, 0}, [3]float32{x, 0, 1})
		loose.Triangles = append(loose.Triangles, [3]uint32{n, n + 1, n + 2})
	}
	var short strings.Builder
	short.WriteString("solid\n")
	for i := range 50000 {
		short.WriteString("facet normal 0 0 0 outer loop ")
		for k := range 3 {
			fmt.Fprintf(&short, "vertex 0 %d %d ", k, i)
		}
		short.WriteString("endloop endfacet\n")
	}
	short.WriteString("endsolid\n")
	for name, data := range map[string][]byte{"loose": binaryOf(t, loose), "loose text": []byte(short.String())} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		if _, _, err := Decode(data); err != nil {
			t.Fatal(name, err)
		}
		runtime.ReadMemStats(&after)
		const constant = 16 << 20 // the pieces being read, and the slack of large pages
		if got := after.TotalAlloc - before.TotalAlloc; got > 3*uint64(len(data))+constant {
			t.Errorf("%s: %d bytes allocated for a file of %d", name, got, len(data))
		} else {
			t.Logf("%s: %.2f times the file of %d", name, float64(got)/float64(len(data)), len(data))
		}
	}
}
