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

// colourBits is how many bits of each channel tell colours apart before they are counted.
const colourBits = 6

// tally is how often the colours of one cell occur, and their sum.
type tally struct {
	key     uint32
	n       uint32
	sum     [3]uint64
	entries [3]uint8 // mean
}

// indexed reduces a picture to 256 colours by cutting boxes of colours at their median (Heckbert 1982). White and
// ink stay what they are.
func indexed(img *image.NRGBA) *image.Paletted {
	const shift = 8 - colourBits
	b := img.Rect
	n := b.Dx() * b.Dy()
	keys := make([]uint32, n)
	index := make([]int32, 1<<(3*colourBits))
	var cells []tally
	for y := range b.Dy() {
		row := img.Pix[y*img.Stride:][:4*b.Dx()]
		for x := range b.Dx() {
			p := row[4*x : 4*x+4 : 4*x+4]
			a := uint32(p[3])
			var c [3]uint32
			for i := range c {
				c[i] = (uint32(p[i])*a + 255*(255-a) + 127) / 255
			}
			k := c[0]>>shift<<(2*colourBits) | c[1]>>shift<<colourBits | c[2]>>shift
			i := index[k]
			if i == 0 {
				cells = append(cells, tally{key: k})
				i = int32(len(cells))
				index[k] = i
			}
			t := &cells[i-1]
			t.n++
			for j := range c {
				t.sum[j] += uint64(c[j])
			}
			keys[y*b.Dx()+x] = k
		}
	}
	slices.SortFunc(cells, func(a, b tally) int { return cmp.Compare(a.key, b.key) })
	for i := range cells {
		t := &cells[i]
		for j := range 3 {
			t.entries[j] = uint8((t.sum[j] + uint64(t.n)/2) / uint64(t.n))
		}
	}
	boxes := cut(cells, 254)
	pal := color.Palette{White.rgba(), Ink.rgba()}
	for _, x := range boxes {
		var sum [3]uint64
		total := uint64(0)
		for _, t := range x {
			for j := range 3 {
				sum[j] += t.sum[j]
			}
			total += uint64(t.n)
		}
		c := Colour{}
		for j := range 3 {
			c[j] = uint8((sum[j] + total/2) / total)
		}
		for _, t := range x {
			index[t.key] = int32(len(pal))
			switch Colour(t.entries) {
			case White:
				index[t.key] = 0
			case Ink:
				index[t.key] = 1
			}
		}
		pal = append(pal, c.rgba())
	}
	out := image.NewPaletted(b, pal)
	for i, k := range keys {
		out.Pix[i] = uint8(index[k])
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
