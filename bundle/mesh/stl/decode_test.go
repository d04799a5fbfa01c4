package stl

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"dropwright/bundle/mesh"
)

// changed is a copy of data with bytes written over it at an offset.
func changed(data []byte, at int, with ...byte) []byte {
	out := bytes.Clone(data)
	copy(out[at:], with)
	return out
}

func float(v float32) []byte {
	return binary.LittleEndian.AppendUint32(nil, math.Float32bits(v))
}

const facetText = `facet normal 0 0 1
  outer loop
    vertex 0 0 0
    vertex 10 0 0
    vertex 0 10 0
  endloop
endfacet
`

// Each refusal names the place and what to do.
func TestRefusals(t *testing.T) {
	cube := binaryOf(t, mesh.Box(10, 10, 10))
	text := asciiOf(t, mesh.Box(10, 10, 10))
	for _, c := range []struct {
		name string
		data []byte
		want []string // parts of the message
	}{
		{"empty", nil, []string{"empty", "export again"}},
		{"no facets", make([]byte, 84), []string{"byte 80", "no facets"}},
		{"count too large", changed(cube, 80, 13), []string{"byte 80", "13 facets", "734 bytes", "has 684", "cut short"}},
		{"count of four thousand million", changed(cube, 80, 255, 255, 255, 255), []string{"byte 80", "4294967295 facets"}},
		{"count too small", changed(cube, 80, 11), []string{"byte 80", "50 bytes too many"}},
		{"count 0 and data", changed(cube, 80, 0), []string{"byte 80", "no facets but 600 bytes follow"}},
		{"a byte too many", append(bytes.Clone(cube), 0), []string{"1 bytes too many", "export again as binary STL"}},
		{"not a number", changed(cube, 84+50*3+12+4, float(float32(math.NaN()))...), []string{"byte 250:", "triangle 4, corner 1: y is NaN"}},
		{"infinite", changed(cube, 84+50*11+12+32, float(float32(math.Inf(1)))...), []string{"byte 678:", "triangle 12, corner 3: z is +Inf"}},
		{"large-file pointer", []byte("version https://large.example/spec/v1\noid sha256:00ff\nsize 123456\n"), []string{"large-file pointer", "fetch"}},
		{"STEP", []byte("ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION(('part'),'2;1');\n" + strings.Repeat("#1=DIRECTION();\n", 20)), []string{"STEP", "source file"}},
		{"OBJ", []byte("# exported\nmtllib a.mtl\no Part\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"), []string{"OBJ"}},
		{"3MF by the wrong name", append([]byte("PK\x03\x04"), make([]byte, 200)...), []string{"zip", "3mf"}},
		{"PLY", []byte("ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nend_header\n"), []string{"another mesh format"}},
		{"web page", []byte("<!DOCTYPE html><html><body>404</body></html>"), []string{"web page"}},
		{"noise", bytes.Repeat([]byte{0xa5}, 300), []string{"byte 80"}},
		{"word missing", []byte("solid a\n" + strings.Replace(facetText, "endloop", "", 1) + "endsolid a\n"), []string{"line 8", `"endfacet" where endloop is due`}},
		{"fourth corner", []byte("solid a\n" + strings.Replace(facetText, "  endloop", "  vertex 1 1 1\n  endloop", 1) + "endsolid a\n"), []string{"line 7", `"vertex"`}},
		{"decimal comma", []byte("solid a\n" + strings.Replace(facetText, "10 0 0", "10,5 0 0", 1) + "endsolid a\n"), []string{"line 5", `"10,5"`, "comma"}},
		{"nan in a corner", []byte("solid a\n" + strings.Replace(facetText, "10 0 0", "nan 0 0", 1) + "endsolid a\n"), []string{"line 5", `"nan"`}},
		{"too large", []byte("solid a\n" + strings.Replace(facetText, "10 0 0", "1e39 0 0", 1) + "endsolid a\n"), []string{"line 5", `"1e39"`}},
		{"nothing in the solid", []byte("solid a\nendsolid a\n"), []string{"no facets"}},
		{"outside of a solid", []byte("solid a\n" + facetText + "endsolid a\n" + facetText), []string{"line 10", "outside of any solid"}},
		{"solid in a solid", []byte("solid a\n" + facetText + "solid b\n" + facetText + "endsolid b\n"), []string{"line 9", "endsolid is missing"}},
		{"text behind the end", append(bytes.Clone(text), "bye\n"...), []string{`"bye"`}},
	} {
		_, _, err := Decode(c.data)
		_, surveyed := Survey(c.data)
		if err == nil || surveyed == nil {
			t.Errorf("%s: was read", c.name)
			continue
		}
		if err.Error() != surveyed.Error() {
			t.Errorf("%s: Decode says %q, Survey %q", c.name, err, surveyed)
		}
		var e *Error
		if !errors.As(err, &e) || e.Hint == "" {
			t.Errorf("%s: no hint in %q", c.name, err)
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %q does not say %q", c.name, err, w)
			}
		}
	}
}

// asciiOf is the text file of m.
func asciiOf(t testing.TB, m *mesh.Mesh) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := writeASCII(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A text file in any dress gives the mesh of the binary one.
func TestASCIIForms(t *testing.T) {
	m := mesh.Torus(30, 10, 12, 6)
	want, _, err := Decode(binaryOf(t, m))
	if err != nil {
		t.Fatal(err)
	}
	// Seven digits are too few to get the same float32 back, so the text has nine.
	plain := string(asciiDigits(t, m, 9))
	for name, text := range map[string]string{
		"plain":              plain,
		"CR LF":              strings.ReplaceAll(plain, "\n", "\r\n"),
		"CR":                 strings.ReplaceAll(plain, "\n", "\r"),
		"tabs":               strings.ReplaceAll(plain, " ", "\t"),
		"one line":           strings.Replace(strings.ReplaceAll(plain, "\n", " "), "torus ", "torus\n", 1),
		"blank lines":        strings.ReplaceAll(plain, "\n", "\n\n"),
		"capitals":           strings.ToUpper(plain),
		"BOM and space":      "\xef\xbb\xbf \n" + plain,
		"no name":            strings.ReplaceAll(plain, "solid torus", "solid"),
		"name not UTF-8":     strings.ReplaceAll(plain, "torus", "k\xf6rper"),
		"name of facets":     strings.ReplaceAll(plain, "torus", "an endfacet and a facet"),
		"long name":          strings.ReplaceAll(plain, "torus", strings.Repeat("t", 2000)),
		"no last line end":   strings.TrimRight(plain, "\n"),
		"normals nan":        strings.ReplaceAll(plain, "facet normal", "facet normal nan -nan 1.#IND\n outer loop vertex 0 0 0 vertex 0 0 0 vertex 0 0 0 endloop endfacet facet normal"),
		"several solids":     strings.Replace(plain, "  endfacet\n", "  endfacet\nendsolid torus\nsolid second\n", 3),
		"many solids":        strings.ReplaceAll(plain, "  endfacet\n", "  endfacet\nendsolid\nsolid x\n"),
		"exponents in capit": strings.ReplaceAll(plain, "e-", "E-"),
	} {
		got, info, err := Decode([]byte(text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if name == "normals nan" { // holds degenerate facets besides
			continue
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: another mesh than the binary file's", name)
		}
		if info.Format != ASCII || info.Attributes != 0 || info.Header != nil {
			t.Errorf("%s: info %+v", name, info)
		}
		if n := len(info.Solids); name == "several solids" && n != 4 || name == "many solids" && n != 100 || name == "plain" && n != 1 {
			t.Errorf("%s: %d solids", name, n)
		}
	}
	_, info, err := Decode([]byte(strings.ReplaceAll(plain, "torus", "k\xf6rper")))
	if err != nil || len(info.Solids) != 1 || info.Solids[0] != "k\ufffdrper" {
		t.Errorf("name %q, %v", info.Solids, err)
	}
}

// asciiDigits writes m with so many significant digits.
func asciiDigits(t testing.TB, m *mesh.Mesh, digits int) []byte {
	t.Helper()
	var b bytes.Buffer
	b.WriteString("solid torus\n")
	for _, tri := range m.Triangles {
		b.WriteString("  facet normal 0 0 0\n    outer loop\n")
		for _, id := range tri {
			p := m.Vertices[id]
			fmt.Fprintf(&b, "      vertex %.*g %.*e %.*g\n", digits, p[0], digits, p[1], digits, p[2])
		}
		b.WriteString("    endloop\n  endfacet\n")
	}
	b.WriteString("endsolid torus\n")
	return b.Bytes()
}

// However the text is cut into pieces, the mesh is that of the whole.
func TestPiecesAgreeWithWhole(t *testing.T) {
	m := mesh.Torus(30, 10, 16, 8)
	plain := string(asciiOf(t, m))
	for name, text := range map[string]string{
		"plain":  plain,
		"solids": strings.ReplaceAll(plain, "  endfacet\n", "  endfacet\nendsolid\nsolid x\n"),
		"spaced": strings.ReplaceAll(plain, " vertex", "  \n\t vertex"),
	} {
		data := []byte(text)
		want, names, err := decodeWhole(data)
		if err != nil {
			t.Fatal(name, err)
		}
		for _, size := range []int{1, 7, 100, 1000, 12345, len(data), 10 * len(data)} {
			got, gotNames, ok, err := decodePieces(data, size)
			if err != nil || !ok {
				t.Errorf("%s in pieces of %d: %v %v", name, size, ok, err)
				continue
			}
			if !reflect.DeepEqual(got, want) || !reflect.DeepEqual(gotNames, names) {
				t.Errorf("%s in pieces of %d: another mesh", name, size)
			}
		}
		// Broken text is never taken for sound by way of the pieces.
		for at := 0; at < len(data); at += 1499 {
			broken := changed(data, at, '?')
			_, _, err := decodeWhole(broken)
			_, _, ok, _ := decodePieces(broken, 500)
			if ok && err != nil {
				t.Errorf("%s with byte %d broken: pieces accept it, the whole says %v", name, at, err)
			}
		}
	}
}

// A file cut anywhere is refused: never a wrong number.
func TestTruncated(t *testing.T) {
	m := mesh.Box(10, 10, 10)
	for _, c := range []struct {
		name string
		data []byte
		sum  int // bytes at the end without which nothing is lost
	}{
		{"binary", binaryOf(t, m), 0},
		{"ASCII", asciiOf(t, m), len(" torus\n")}, // the name behind endsolid need not be there
	} {
		if _, _, err := Decode(c.data); err != nil {
			t.Fatal(c.name, err)
		}
		for n := range len(c.data) {
			got, _, err := Decode(c.data[:n])
			_, surveyed := Survey(c.data[:n])
			if (err == nil) != (surveyed == nil) {
				t.Fatalf("%s cut at %d: Decode %v, Survey %v", c.name, n, err, surveyed)
			}
			if err != nil {
				continue
			}
			whole := n == len(c.data)-c.sum || n == len(c.data)-c.sum+1 || n == len(c.data)-1
			if c.name == "binary" || !whole || len(got.Triangles) != 12 {
				t.Errorf("%s cut at %d of %d was read: %d triangles", c.name, n, len(c.data), len(got.Triangles))
			}
		}
	}
}

func TestInfoOfBinary(t *testing.T) {
	data := binaryOf(t, mesh.Box(10, 10, 10))
	data = changed(data, 0, []byte("solid part from C:\\Users\\someone")...)
	data = changed(data, 84+48, 1, 0)
	data = changed(data, 84+50*7+48, 0, 0x80)
	s, err := Survey(data)
	if err != nil {
		t.Fatal(err)
	}
	_, info, err := Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(s.Info, info) || info.Format != Binary || info.Attributes != 2 || !strings.HasPrefix(string(info.Header), "solid part from C:") {
		t.Errorf("Survey %+v, Decode %+v", s.Info, info)
	}
}

// What is written is the layout of the format, byte by byte.
func TestWrite(t *testing.T) {
	m := &mesh.Mesh{Vertices: [][3]float32{{0, 0, 0}, {2, 0, 0}, {0, 3, 0}}, Triangles: [][3]uint32{{0, 1, 2}, {0, 0, 1}}}
	data := binaryOf(t, m)
	if len(data) != 84+2*50 || bytes.HasPrefix(data, []byte("solid")) || binary.LittleEndian.Uint32(data[80:]) != 2 {
		t.Fatalf("%d bytes, header %q", len(data), data[:84])
	}
	var want []byte
	for _, v := range []float32{0, 0, 1, 0, 0, 0, 2, 0, 0, 0, 3, 0} {
		want = append(want, float(v)...)
	}
	want = append(want, 0, 0)
	for _, v := range []float32{0, 0, 0, 0, 0, 0, 0, 0, 0, 2, 0, 0} {
		want = append(want, float(v)...)
	}
	want = append(want, 0, 0)
	if !bytes.Equal(data[84:], want) {
		t.Errorf("facets % x\nwant   % x", data[84:], want)
	}
}
