package picture

import (
	"bytes"
	"cmp"
	"image"
	"image/color"
	"image/png"
	"slices"
)

// PNG encodes a picture with its transparency, quickly rather than small. The same picture gives the same bytes
// with one release of Go.
func PNG(img *image.NRGBA) ([]byte, error) {
	var out bytes.Buffer
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := e.Encode(&out, img); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// Paper encodes a picture for paper: transparent places white, at most 256 colours, small. Drawings have few
// tones, so that nothing is seen of it; JPEG of the same size blurs the lines.
func Paper(img *image.NRGBA) ([]byte, error) {
	var out bytes.Buffer
	e := png.Encoder{CompressionLevel: png.DefaultCompression}
	if err := e.Encode(&out, indexed(img)); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// tally is how often a colour occurs.
type tally struct {
	key     uint32
	n       uint32
	entries Colour
}

// indexed reduces a picture to 256 colours by cutting boxes of colours at their middle (after Heckbert 1982). White
// and ink stay what they are.
func indexed(img *image.NRGBA) *image.Paletted {
	b := img.Rect
	keys := make([]uint32, b.Dx()*b.Dy()) // first colours, then places in cells
	index := map[uint32]uint32{}
	var cells []tally
	last, at := uint32(1<<24), uint32(0) // no colour
	for y := range b.Dy() {
		row := img.Pix[y*img.Stride:][:4*b.Dx()]
		for x := range b.Dx() {
			p := row[4*x : 4*x+4 : 4*x+4]
			a := uint32(p[3])
			var c Colour
			for i := range c {
				c[i] = uint8((uint32(p[i])*a + 255*(255-a) + 127) / 255)
			}
			if k := uint32(c[0])<<16 | uint32(c[1])<<8 | uint32(c[2]); k != last {
				last = k
				i, ok := index[k]
				if !ok {
					i = uint32(len(cells))
					index[k] = i
					cells = append(cells, tally{key: i, entries: c})
				}
				at = i
			}
			cells[at].n++
			keys[y*b.Dx()+x] = at
		}
	}
	entry := make([]uint8, len(cells)) // of the palette, by the order in which colours occur
	pal := color.Palette{White.rgba(), Ink.rgba()}
	for _, x := range cut(cells, 254) {
		var sum [3]uint64
		total := uint64(0)
		for _, t := range x {
			for j := range 3 {
				sum[j] += uint64(t.entries[j]) * uint64(t.n)
			}
			total += uint64(t.n)
			switch t.entries {
			case White:
				entry[t.key] = 0
			case Ink:
				entry[t.key] = 1
			default:
				entry[t.key] = uint8(len(pal))
			}
		}
		c := Colour{}
		for j := range 3 {
			c[j] = uint8((sum[j] + total/2) / total)
		}
		pal = append(pal, c.rgba())
	}
	out := image.NewPaletted(b, pal)
	for i, k := range keys {
		out.Pix[i] = entry[k]
	}
	return out
}

// cut splits cells into at most most boxes, always the one with the largest spread weighted by its pixels.
func cut(cells []tally, most int) [][]tally {
	if len(cells) == 0 {
		return nil
	}
	type box struct {
		cells []tally
		axis  int
		score float64
	}
	measure := func(c []tally) box {
		b := box{cells: c}
		total := 0.0
		for _, t := range c {
			total += float64(t.n)
		}
		for j := range 3 {
			low, high := uint8(255), uint8(0)
			for _, t := range c {
				low, high = min(low, t.entries[j]), max(high, t.entries[j])
			}
			// The square of the spread: many pixels of nearly one colour need no second one.
			if s := float64(high-low) * float64(high-low) * (1 + total/1000); len(c) > 1 && s > b.score {
				b.axis, b.score = j, s
			}
		}
		return b
	}
	boxes := []box{measure(cells)}
	for len(boxes) < most {
		k := 0
		for i := range boxes {
			if boxes[i].score > boxes[k].score {
				k = i
			}
		}
		b := boxes[k]
		if b.score == 0 {
			break
		}
		slices.SortStableFunc(b.cells, func(x, y tally) int { return cmp.Compare(x.entries[b.axis], y.entries[b.axis]) })
		low, high := b.cells[0].entries[b.axis], b.cells[len(b.cells)-1].entries[b.axis]
		at := 1
		for at < len(b.cells)-1 && int(b.cells[at].entries[b.axis]) <= (int(low)+int(high))/2 {
			at++
		}
		boxes[k] = measure(b.cells[:at])
		boxes = append(boxes, measure(b.cells[at:]))
	}
	var out [][]tally
	for _, b := range boxes {
		out = append(out, b.cells)
	}
	return out
}
