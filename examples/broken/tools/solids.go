// Command solids makes the small meshes and pictures of the broken designs that need no CAD: one flaw each.
// It uses Go's standard library only. From the repository's top: go run ./examples/broken/tools
//
// Same input, same bytes: headers hold no name, date or program. What it writes beyond that is the flaw.
package main

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
)

func main() {
	root := "examples/broken/designs"
	if len(os.Args) > 1 {
		root = os.Args[1]
	}
	for name, data := range files() {
		path := filepath.Join(root, filepath.FromSlash(name))
		err := os.MkdirAll(filepath.Dir(path), 0o777)
		if err == nil {
			err = os.WriteFile(path, data, 0o666)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, "solids:", err)
			os.Exit(1)
		}
	}
}

type (
	point [3]float64
	facet [3]point
	solid []facet
)

// files is everything the command writes, by its path below the folder of the designs.
func files() map[string][]byte {
	block := box(point{0, 0, 0}, point{40, 30, 20})
	chiral := wedge(20, 16, 12, 8)
	meshes := map[string]solid{
		"file-unlisted/meshes/old-hook.stl": box(point{0, 0, 0}, point{30, 20, 10}),

		"mesh-twice/meshes/hook.stl": chiral,
		"mesh-twice/meshes/peg.stl":  chiral.turned().moved(5, 0, 0).reordered(),

		"side-twice/meshes/left.stl":  chiral,
		"side-twice/meshes/right.stl": chiral.turned().moved(50, 0, 0),

		"side-unmirrored/meshes/left.stl":  chiral,
		"side-unmirrored/meshes/right.stl": wedge(20, 16, 12.2, 8).mirrored(),

		"sides-right/meshes/left.stl":  chiral,
		"sides-right/meshes/right.stl": chiral.mirrored().moved(100, 0, 0),

		"variant-same/meshes/small.stl": block,
		"variant-same/meshes/tall.stl":  block.reordered(),

		"mesh-inside-out/meshes/hook.stl": block.reversed(),
		"mesh-flipped/meshes/hook.stl":    append(block[:11:11], block[11:].reversed()...),
		"mesh-doubled/meshes/hook.stl":    append(block[:12:12], block...),
		"mesh-overshared/meshes/hook.stl": append(block[:12:12], box(point{40, 30, 0}, point{60, 50, 20})...),
		"mesh-degenerate/meshes/hook.stl": append(block[:12:12], facet{block[0][0], block[0][0], block[0][1]}),

		"shell-inside/meshes/hook.stl":   append(block[:12:12], box(point{10, 10, 5}, point{20, 20, 15})...),
		"shell-floating/meshes/hook.stl": append(block[:12:12], box(point{10, 10, 25}, point{20, 20, 30})...),
		"shell-scrap/meshes/hook.stl":    append(tray(), box(point{15, 10, 5}, point{20, 15, 8})...),
		"shell-touching/meshes/hook.stl": append(tray(), box(point{15, 10, 2}, point{20, 15, 8})...),
		"shell-overlap/meshes/hook.stl":  append(block[:12:12], box(point{30, 10, 0}, point{60, 20, 10})...),
		"shell-extra/meshes/hook.stl":    append(block[:12:12], box(point{50, 0, 0}, point{60, 30, 20})...),
		"shell-void/meshes/hook.stl":     append(block[:12:12], box(point{10, 10, 5}, point{20, 20, 15}).reversed()...),

		"gap-narrow/meshes/tray.stl":     tray(),
		"gap-narrow/meshes/slide.stl":    box(point{0, 0, 0}, point{35.95, 26, 4}),
		"parts-overlap/meshes/tray.stl":  tray(),
		"parts-overlap/meshes/slide.stl": box(point{0, 0, 0}, point{36.4, 26, 4}),

		"unit-wrong/meshes/hook.stl":        box(point{0, 0, 0}, point{50 / 25.4, 30 / 25.4, 20 / 25.4}),
		"unit-suspect/meshes/hook.stl":      box(point{0, 0, 0}, point{2.5, 1.5, 1}),
		"part-size-differs/meshes/hook.stl": box(point{0, 0, 0}, point{60, 30, 20}),
		"small-on-purpose/meshes/hook.stl":  box(point{0, 0, 0}, point{2.5, 1.5, 1}),

		"wall-thin/meshes/hook.stl":    fin(0.3),
		"wall-slender/meshes/hook.stl": fin(0.6),

		"stand-poor/meshes/hook.stl":    prism([][2]float64{{-0.1, 0}, {0.1, 0}, {15, 20}, {-15, 20}}, 40),
		"stand-better/meshes/hook.stl":  prism([][2]float64{{25, 0}, {35, 0}, {35, 30}, {60, 30}, {60, 40}, {0, 40}, {0, 30}, {25, 30}}, 40),
		"bottom-uneven/meshes/hook.stl": prism([][2]float64{{0, 0}, {36, 0}, {36, 0.1}, {40, 0.1}, {40, 10}, {0, 10}}, 30),
		"mesh-off-bed/meshes/hook.stl":  block.moved(0, 0, 2),
		"bed-common/meshes/hook.stl":    box(point{0, 0, 0}, point{280, 10, 10}),
	}
	out := map[string][]byte{}
	for name, s := range meshes {
		out[name] = s.stl()
	}
	out["mesh-private/meshes/hook.3mf"] = block.threemf("", "", `saved = C:\Users\somebody\Desktop\hook.cad`)
	out["settings-3mf/meshes/hook.3mf"] = block.threemf("", "PLA", "")
	out["licence-3mf/meshes/hook.3mf"] = block.threemf("CC-BY-NC-4.0", "", "")
	out["clean-3mf/meshes/hook.3mf"] = block.threemf("CC-BY-SA-4.0", "PETG", "")
	out["photo-located/photos/front.jpg"] = photo(true)
	out["photo-unlocated/photos/front.jpg"] = photo(false)
	out["photo-unlocated/photos/side.jpg"] = photo(false)
	out["photo-private/photos/front.png"] = labelled("Comment", "/home/somebody/pictures/hook.png")
	return out
}

// quad is two facets, counter-clockwise from outside.
func quad(a, b, c, d point) solid { return solid{{a, b, c}, {a, c, d}} }

// hexahedron is eight corners, four below and four above, each counter-clockwise from above.
func hexahedron(p [8]point) solid {
	var s solid
	s = append(s, quad(p[3], p[2], p[1], p[0])...)
	s = append(s, quad(p[4], p[5], p[6], p[7])...)
	for i := range 4 {
		k := (i + 1) % 4
		s = append(s, quad(p[i], p[k], p[k+4], p[i+4])...)
	}
	return s
}

func box(lo, hi point) solid {
	var p [8]point
	for i := range p {
		at := [4][2]float64{{lo[0], lo[1]}, {hi[0], lo[1]}, {hi[0], hi[1]}, {lo[0], hi[1]}}[i%4]
		p[i] = point{at[0], at[1], lo[2]}
		if i > 3 {
			p[i][2] = hi[2]
		}
	}
	return hexahedron(p)
}

// wedge is a block of 40 x 30 whose four upper corners have heights of their own: no motion takes it onto its
// mirror image.
func wedge(a, b, c, d float64) solid {
	return hexahedron([8]point{{0, 0, 0}, {40, 0, 0}, {40, 30, 0}, {0, 30, 0}, {0, 0, a}, {40, 0, b}, {40, 30, c}, {0, 30, d}})
}

// fin is a plate with a thin upright wall.
func fin(t float64) solid {
	return prism([][2]float64{{0, 0}, {40, 0}, {40, 4}, {20 + t, 4}, {20 + t, 24}, {20, 24}, {20, 4}, {0, 4}}, 30)
}

// tray is a trough, open at the top and both ends.
func tray() solid {
	return prism([][2]float64{{0, 0}, {40, 0}, {40, 20}, {38, 20}, {38, 2}, {2, 2}, {2, 20}, {0, 20}}, 30)
}

// prism draws an outline in x and z, counter-clockwise, out along y. Its ends are cut into facets by clipping
// ears.
func prism(outline [][2]float64, depth float64) solid {
	at := func(i int, y float64) point { return point{outline[i][0], y, outline[i][1]} }
	var s solid
	for i := range outline {
		k := (i + 1) % len(outline)
		s = append(s, quad(at(i, 0), at(k, 0), at(k, depth), at(i, depth))...)
	}
	left := make([]int, len(outline))
	for i := range left {
		left[i] = i
	}
	turn := func(a, b, c int) float64 {
		p, q, r := outline[a], outline[b], outline[c]
		return (q[0]-p[0])*(r[1]-p[1]) - (q[1]-p[1])*(r[0]-p[0])
	}
	for len(left) > 2 {
		for i := range left {
			a, b, c := left[(i+len(left)-1)%len(left)], left[i], left[(i+1)%len(left)]
			ear := turn(a, b, c) > 0
			for _, o := range left {
				if o != a && o != b && o != c && turn(a, b, o) >= 0 && turn(b, c, o) >= 0 && turn(c, a, o) >= 0 {
					ear = false
				}
			}
			if ear {
				s = append(s, facet{at(c, 0), at(b, 0), at(a, 0)}, facet{at(a, depth), at(b, depth), at(c, depth)})
				left = append(left[:i:i], left[i+1:]...)
				break
			}
		}
	}
	// Outlines are drawn with z up and y away: that is a left-handed view, so that all facets look inwards.
	return s.outwards()
}

// outwards turns a closed solid's facets so that its volume is positive.
func (s solid) outwards() solid {
	v := 0.0
	for _, f := range s {
		a, b, c := f[0], f[1], f[2]
		v += a[0]*(b[1]*c[2]-b[2]*c[1]) - a[1]*(b[0]*c[2]-b[2]*c[0]) + a[2]*(b[0]*c[1]-b[1]*c[0])
	}
	if v < 0 {
		return s.reversed()
	}
	return s
}

func (s solid) each(f func(point) point) solid {
	out := make(solid, len(s))
	for i, t := range s {
		out[i] = facet{f(t[0]), f(t[1]), f(t[2])}
	}
	return out
}

func (s solid) moved(x, y, z float64) solid {
	return s.each(func(p point) point { return point{p[0] + x, p[1] + y, p[2] + z} })
}

// turned is a quarter turn about z.
func (s solid) turned() solid { return s.each(func(p point) point { return point{-p[1], p[0], p[2]} }) }

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

// reordered is the same surface with its facets in another order.
func (s solid) reordered() solid {
	out := solid{}
	for i := len(s) - 1; i >= 0; i-- {
		out = append(out, facet{s[i][1], s[i][2], s[i][0]})
	}
	return out
}

// stl writes binary STL: 80 bytes, the count, then 50 bytes a facet, normals left zero.
func (s solid) stl() []byte {
	var b bytes.Buffer
	b.Write(make([]byte, 80))
	put := func(v any) { _ = binary.Write(&b, binary.LittleEndian, v) }
	put(uint32(len(s)))
	for _, f := range s {
		put([3]float32{})
		for _, p := range f {
			put([3]float32{float32(p[0]), float32(p[1]), float32(p[2])})
		}
		put(uint16(0))
	}
	return b.Bytes()
}

// threemf writes a 3MF package with, if wanted, a licence, a base material, and a file of a program's own.
func (s solid) threemf(licence, material, notes string) []byte {
	var model bytes.Buffer
	model.WriteString(`<?xml version="1.0" encoding="UTF-8"?><model unit="millimeter" xml:lang="en-US" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">`)
	if licence != "" {
		fmt.Fprintf(&model, `<metadata name="LicenseTerms">%s</metadata>`, licence)
	}
	model.WriteString("<resources>")
	pid := ""
	if material != "" {
		fmt.Fprintf(&model, `<basematerials id="5"><base name="%s" displaycolor="#8A5A44"/></basematerials>`, material)
		pid = ` pid="5" pindex="0"`
	}
	fmt.Fprintf(&model, `<object id="1" type="model"%s><mesh><vertices>`, pid)
	index := map[point]int{}
	for _, f := range s {
		for _, p := range f {
			if _, ok := index[p]; !ok {
				index[p] = len(index)
				fmt.Fprintf(&model, `<vertex x="%g" y="%g" z="%g"/>`, p[0], p[1], p[2])
			}
		}
	}
	model.WriteString("</vertices><triangles>")
	for _, f := range s {
		fmt.Fprintf(&model, `<triangle v1="%d" v2="%d" v3="%d"/>`, index[f[0]], index[f[1]], index[f[2]])
	}
	model.WriteString(`</triangles></mesh></object></resources><build><item objectid="1"/></build></model>`)
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	add := func(name, body string) {
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
		if err == nil {
			_, err = w.Write([]byte(body))
		}
		if err != nil {
			panic(err) // a buffer takes everything
		}
	}
	types := `<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>`
	if notes != "" {
		types += `<Default Extension="txt" ContentType="text/plain"/>`
	}
	add("[Content_Types].xml", `<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">`+types+`</Types>`)
	add("_rels/.rels", `<?xml version="1.0" encoding="UTF-8"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r1" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel" Target="/3D/3dmodel.model"/></Relationships>`)
	add("3D/3dmodel.model", model.String())
	if notes != "" {
		add("Metadata/notes.txt", notes)
	}
	if err := z.Close(); err != nil {
		panic(err)
	}
	return out.Bytes()
}

func grey() image.Image {
	m := image.NewGray(image.Rect(0, 0, 16, 12))
	for i := range m.Pix {
		m.Pix[i] = color.Gray{Y: uint8(100 + i%16)}.Y
	}
	return m
}

// photo is a JPEG with a block of position fields as cameras write it (CIPA DC-008, GPS IFD): with a position,
// or with nothing in it but its version, as when the receiver was off.
func photo(located bool) []byte {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, grey(), nil); err != nil {
		panic(err)
	}
	type field struct {
		tag, kind uint16
		count     uint32
		value     []byte
	}
	be := binary.BigEndian
	degrees := func(v float64) []byte { // three rationals: degrees, minutes, seconds
		d, m := math.Modf(v)
		m, s := math.Modf(m * 60)
		var out []byte
		for _, r := range [3][2]uint32{{uint32(d), 1}, {uint32(m), 1}, {uint32(math.Round(s * 6000)), 100}} {
			out = be.AppendUint32(be.AppendUint32(out, r[0]), r[1])
		}
		return out
	}
	gps := []field{{0, 1, 4, []byte{2, 3, 0, 0}}} // GPSVersionID
	if located {                                  // a place in the sea off the Azores, nobody's home
		gps = append(gps, field{1, 2, 2, []byte("N\x00\x00\x00")}, field{2, 5, 3, degrees(38.125)}, field{3, 2, 2, []byte("W\x00\x00\x00")}, field{4, 5, 3, degrees(31.75)})
	}
	tiff := []byte("MM\x00*\x00\x00\x00\x08")
	tiff = append(tiff, 0, 1, 0x88, 0x25, 0, 4, 0, 0, 0, 1, 0, 0, 0, 26, 0, 0, 0, 0) // IFD0: only the pointer to the GPS IFD at byte 26
	tiff = be.AppendUint16(tiff, uint16(len(gps)))
	data := uint32(26 + 2 + 12*len(gps) + 4)
	var long []byte
	for _, f := range gps {
		tiff = be.AppendUint32(be.AppendUint16(be.AppendUint16(tiff, f.tag), f.kind), f.count)
		if len(f.value) == 4 {
			tiff = append(tiff, f.value...)
			continue
		}
		tiff = be.AppendUint32(tiff, data+uint32(len(long)))
		long = append(long, f.value...)
	}
	tiff = append(append(tiff, 0, 0, 0, 0), long...)
	app1 := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte{0xff, 0xd8, 0xff, 0xe1}, be.AppendUint16(nil, uint16(len(app1)+2))...)
	return append(append(out, app1...), b.Bytes()[2:]...)
}

// labelled is a PNG with a tEXt chunk behind its header.
func labelled(key, text string) []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, grey()); err != nil {
		panic(err)
	}
	body := append([]byte("tEXt"), key+"\x00"+text...)
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len(body)-4))
	chunk = binary.BigEndian.AppendUint32(append(chunk, body...), crc32.ChecksumIEEE(body))
	const header = 8 + 25 // signature and IHDR
	data := b.Bytes()
	return append(append(bytes.Clone(data[:header]), chunk...), data[header:]...)
}
