package main

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A tetrahedron as OpenSCAD prints one, and the same with its facets in another order and turned.
const (
	tetrahedron = `solid OpenSCAD_Model
  facet normal 0 0 -1
    outer loop
      vertex 0 0 0
      vertex 0 10 0
      vertex 10 0 0
    endloop
  endfacet
  facet normal 0 -1 0
    outer loop
      vertex 0 0 0
      vertex 10 0 0
      vertex 0 0 10
    endloop
  endfacet
  facet normal -1 -0 0
    outer loop
      vertex 0 0 0
      vertex 0 0 10
      vertex 0 10 0
    endloop
  endfacet
  facet normal 0.57735 0.57735 0.57735
    outer loop
      vertex 10 0 0
      vertex 0 10 0
      vertex 0 0 10
    endloop
  endfacet
endsolid OpenSCAD_Model
`
	shuffled = `solid x
vertex 0 10 0
vertex 0 0 10
vertex 10 0 0
vertex -0 0 10
vertex 0 10 0
vertex 0 0 0
vertex 10 0 0
vertex 0 0 10
vertex 0 0 0
vertex 10 0 0
vertex 0 0 0
vertex 0 10 0
endsolid x
`
)

func convertSTL(t *testing.T, text string) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := binarySTL(strings.NewReader(text), &out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestSameMeshSameBytes(t *testing.T) {
	a, b := convertSTL(t, tetrahedron), convertSTL(t, shuffled)
	if len(a) != 84+4*50 || binary.LittleEndian.Uint32(a[80:]) != 4 {
		t.Errorf("%d bytes, %d facets; want 284 and 4", len(a), binary.LittleEndian.Uint32(a[80:]))
	}
	if !bytes.Equal(a, b) {
		t.Error("another order of facets and corners gives other bytes")
	}
}

func TestNearCornersAreJoined(t *testing.T) {
	// One corner is drawn twice, 1e-5 apart, with the sliver between the two: the sliver goes.
	text := strings.Replace(tetrahedron, "vertex 10 0 0\n      vertex 0 10 0\n      vertex 0 0 10", "vertex 10 0 0\n      vertex 0 10.00001 0\n      vertex 0 0 10", 1) +
		"vertex 0 10 0\nvertex 0 10.00001 0\nvertex 10 0 0\n"
	if got := convertSTL(t, text); !bytes.Equal(got, convertSTL(t, tetrahedron)) {
		t.Errorf("%d facets, want the 4 of the tetrahedron", binary.LittleEndian.Uint32(got[80:]))
	}
}

func TestRefusals(t *testing.T) {
	for name, text := range map[string]string{
		"empty":     "",
		"cut short": tetrahedron[:len(tetrahedron)/2],
		"no number": strings.Replace(tetrahedron, "10", "ten", 1),
		"in line":   tetrahedron + "vertex 0 0 0\nvertex 1 0 0\nvertex 2 0 0\n",
	} {
		var out bytes.Buffer
		if err := binarySTL(strings.NewReader(text), &out); err == nil || out.Len() != 0 {
			t.Errorf("%s: error %v, %d bytes written; want an error and none", name, err, out.Len())
		}
	}
	out := filepath.Join(t.TempDir(), "out.stl")
	for _, args := range [][]string{{}, {"stl", "in"}, {"step", "in", out}, {"stl", "no-such-file", out}} {
		if err := run(args); err == nil {
			t.Errorf("%q: no error", args)
		}
	}
	if _, err := os.Stat(out); err == nil {
		t.Error("a refused run left a file")
	}
}

func TestPhotoHalvesAndDrawsEdges(t *testing.T) {
	src := image.NewNRGBA(image.Rect(0, 0, 80, 60))
	for y := range 60 {
		for x := range 80 {
			c := color.NRGBA{200, 200, 200, 255}
			if x >= 40 {
				c = color.NRGBA{90, 60, 50, 255}
			}
			src.SetNRGBA(x, y, c)
		}
	}
	var in, out bytes.Buffer
	if err := png.Encode(&in, src); err != nil {
		t.Fatal(err)
	}
	if err := photo(&in, &out); err != nil {
		t.Fatal(err)
	}
	got, err := jpeg.Decode(&out)
	if err != nil || got.Bounds().Dx() != 40 || got.Bounds().Dy() != 30 {
		t.Fatalf("%v, %v; want 40 x 30", err, got.Bounds())
	}
	grey := func(x int) uint8 { return color.GrayModel.Convert(got.At(x, 15)).(color.Gray).Y }
	if !(grey(19) < grey(5)-30) {
		t.Errorf("brightness %d at the edge, %d beside it: no edge drawn", grey(19), grey(5))
	}
}
