// Command make finishes what OpenSCAD writes for this season: it turns an ASCII STL into a binary one and a
// rendered PNG into a small JPEG. It uses Go's standard library only, so that it also runs from a copy of the
// season outside any module: go run tools/make.go stl IN OUT, go run tools/make.go photo IN OUT.
//
// Same input, same bytes: facets are sorted, headers hold no name, date or program, pictures no metadata.
// It is not a general converter: it reads just the plain ASCII STL that OpenSCAD 2021.01 writes.
package main

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
)

const usage = "usage: make stl IN.stl OUT.stl | make photo IN.png OUT.jpg"

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "make:", err)
		os.Exit(1)
	}
}

// run reads the file args[1], converts it as args[0] says, and writes args[2] only when all went well.
func run(args []string) error {
	if len(args) != 3 {
		return errors.New(usage)
	}
	convert := map[string]func(io.Reader, io.Writer) error{"stl": binarySTL, "photo": photo}[args[0]]
	if convert == nil {
		return errors.New(usage)
	}
	in, err := os.Open(args[1])
	if err != nil {
		return err
	}
	defer in.Close()
	var out bytes.Buffer
	if err := convert(in, &out); err != nil {
		return fmt.Errorf("%q: %w", args[1], err)
	}
	return os.WriteFile(args[2], out.Bytes(), 0o644)
}

type (
	point [3]float32
	facet [3]point
)

// binarySTL writes the facets of an ASCII STL as a binary STL. Corners that lie within joinWithin are joined. Each
// facet is turned so that its smallest corner comes first, and facets are sorted, so that the order in which
// OpenSCAD met them does not show. Normals are computed anew (right-hand rule). A facet without area is refused:
// three corners fell in line when OpenSCAD rounded to six digits, and the CAD source should be changed instead.
func binarySTL(in io.Reader, out io.Writer) error {
	facets, err := readASCII(in)
	if err != nil {
		return err
	}
	facets = joinCorners(facets)
	for i, f := range facets {
		for range 2 {
			if turned := (facet{f[1], f[2], f[0]}); comparePoints(turned[0], facets[i][0]) < 0 {
				facets[i] = turned
			}
			f = facet{f[1], f[2], f[0]}
		}
	}
	slices.SortFunc(facets, func(a, b facet) int {
		return cmp.Or(comparePoints(a[0], b[0]), comparePoints(a[1], b[1]), comparePoints(a[2], b[2]))
	})
	header := make([]byte, 80)
	copy(header, "binary STL, millimetres")
	var buf bytes.Buffer
	buf.Write(header)
	put := func(v any) { _ = binary.Write(&buf, binary.LittleEndian, v) } // a bytes.Buffer does not fail
	put(uint32(len(facets)))
	for _, f := range facets {
		n, ok := normal(f)
		if !ok {
			return fmt.Errorf("facet without area at %v: change the CAD source so that its corners lie apart", f)
		}
		put(n)
		put(f)
		put(uint16(0))
	}
	_, err = buf.WriteTo(out)
	return err
}

// joinWithin is how near two corners must lie to be one, in millimetres: OpenSCAD's exact kernel leaves pairs about
// 1e-5 apart where turned solids meet, a thousandth of what any printer can place.
const joinWithin = 1e-4

// joinCorners gives corners that lie within joinWithin along every axis the same place, and leaves out the facets that
// collapse with them: both sides of a joined edge go, so a closed mesh stays closed.
func joinCorners(facets []facet) []facet {
	var corners []point
	for _, f := range facets {
		corners = append(corners, f[:]...)
	}
	slices.SortFunc(corners, comparePoints)
	corners = slices.Compact(corners)
	place := make(map[point]point, len(corners))
	for i, c := range corners {
		place[c] = c
		// Sorted by x: only the few corners just before this one can be near.
		for j := i - 1; j >= 0 && c[0]-corners[j][0] <= joinWithin; j-- {
			d := corners[j]
			if max(c[1]-d[1], d[1]-c[1], c[2]-d[2], d[2]-c[2]) <= joinWithin {
				place[c] = place[d]
				break
			}
		}
	}
	kept := facets[:0]
	for _, f := range facets {
		f = facet{place[f[0]], place[f[1]], place[f[2]]}
		if f[0] != f[1] && f[1] != f[2] && f[2] != f[0] {
			kept = append(kept, f)
		}
	}
	return kept
}

func comparePoints(a, b point) int {
	return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1]), cmp.Compare(a[2], b[2]))
}

// normal returns the unit normal of f, and false when f has no area.
func normal(f facet) (point, bool) {
	var u, v [3]float64
	for k := range 3 {
		u[k], v[k] = float64(f[1][k])-float64(f[0][k]), float64(f[2][k])-float64(f[0][k])
	}
	n := [3]float64{u[1]*v[2] - u[2]*v[1], u[2]*v[0] - u[0]*v[2], u[0]*v[1] - u[1]*v[0]}
	size := math.Sqrt(n[0]*n[0] + n[1]*n[1] + n[2]*n[2])
	if size == 0 {
		return point{}, false
	}
	// Adding zero turns -0 into 0.
	return point{float32(n[0]/size) + 0, float32(n[1]/size) + 0, float32(n[2]/size) + 0}, true
}

// readASCII returns the facets of an ASCII STL. Anything but a whole number of facets is an error.
func readASCII(in io.Reader) ([]facet, error) {
	var facets []facet
	var f facet
	corners, line, ended := 0, 0, false
	lines := bufio.NewScanner(in)
	for lines.Scan() {
		line++
		words := strings.Fields(lines.Text())
		ended = ended || len(words) > 0 && words[0] == "endsolid"
		if len(words) == 0 || words[0] != "vertex" {
			continue
		}
		if len(words) != 4 {
			return nil, fmt.Errorf("line %d: a vertex needs three numbers", line)
		}
		for k, w := range words[1:] {
			v, err := strconv.ParseFloat(w, 32)
			if err != nil {
				return nil, fmt.Errorf("line %d: %w", line, err)
			}
			f[corners%3][k] = float32(v) + 0
		}
		if corners++; corners%3 == 0 {
			facets = append(facets, f)
		}
	}
	if err := lines.Err(); err != nil {
		return nil, err
	}
	if !ended {
		return nil, fmt.Errorf("no endsolid after line %d: the file was cut short; export again", line)
	}
	if corners == 0 || corners%3 != 0 {
		return nil, fmt.Errorf("%d corners are no whole number of facets: export again as ASCII STL", corners)
	}
	return facets, nil
}

// Chosen by eye on this season's pictures: how far two neighbours must differ to count as an edge (sum of three
// 8-bit channels), how dark an edge is drawn, and the exponent that lifts OpenSCAD's dark shading.
const (
	edgeStep  = 34
	edgeShade = 0.42
	lift      = 0.72
	scale     = 2 // pixels of the input a side per pixel of the output
)

// photo halves a rendered picture and writes it as a JPEG. OpenSCAD shades every face in one tone and draws no
// edges, so a jump in tone is an edge: it is drawn darker, as in a workshop drawing.
func photo(in io.Reader, out io.Writer) error {
	src, err := png.Decode(in)
	if err != nil {
		return err
	}
	b := src.Bounds()
	w, h := b.Dx(), b.Dy()
	var tone [256]float64
	for i := range tone {
		tone[i] = 255 * math.Pow(float64(i)/255, lift)
	}
	px := make([][3]int, w*h)
	for y := range h {
		for x := range w {
			c := color.NRGBAModel.Convert(src.At(b.Min.X+x, b.Min.Y+y)).(color.NRGBA)
			px[y*w+x] = [3]int{int(c.R), int(c.G), int(c.B)}
		}
	}
	edge := func(a, b [3]int) bool {
		sum := 0
		for k := range 3 {
			sum += max(a[k]-b[k], b[k]-a[k])
		}
		return sum > edgeStep
	}
	dst := image.NewNRGBA(image.Rect(0, 0, w/scale, h/scale))
	for y := range h / scale {
		for x := range w / scale {
			var sum [3]float64
			for i := range scale * scale {
				sx, sy := x*scale+i%scale, y*scale+i/scale
				at := sy*w + sx
				shade := 1.0
				if sx+1 < w && edge(px[at], px[at+1]) || sy+1 < h && edge(px[at], px[at+w]) {
					shade = edgeShade
				}
				for k := range 3 {
					sum[k] += shade * tone[px[at][k]] / (scale * scale)
				}
			}
			dst.SetNRGBA(x, y, color.NRGBA{uint8(sum[0] + 0.5), uint8(sum[1] + 0.5), uint8(sum[2] + 0.5), 255})
		}
	}
	return jpeg.Encode(out, dst, &jpeg.Options{Quality: 86})
}
