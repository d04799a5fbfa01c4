package sheet

import (
	"bytes"
	"encoding/gob"
	"fmt"
	"math"

	"codeberg.org/go-pdf/fpdf"
)

// picture reads a picture once; nil after a failure, which is kept.
func (p *pdfPrinter) picture(file string) *fpdf.ImageInfoType {
	if info, ok := p.images[file]; ok {
		return info
	}
	data, mime, err := p.image(file)
	if err != nil {
		p.fail(fmt.Errorf("picture %q: %w", file, err))
		return nil
	}
	kind := map[string]string{"image/jpeg": "JPG", "image/png": "PNG"}[mime]
	if kind == "" {
		p.fail(fmt.Errorf("picture %q: expected image/jpeg or image/png, found %q", file, mime))
		return nil
	}
	info := p.f.RegisterImageOptionsReader(file, fpdf.ImageOptions{ImageType: kind}, bytes.NewReader(data))
	if err := p.f.Error(); err != nil {
		p.fail(fmt.Errorf("picture %q: %w", file, err))
		return nil
	}
	if err := distinct(info, len(p.images)); err != nil {
		p.fail(fmt.Errorf("picture %q: %w", file, err))
		return nil
	}
	p.images[file] = info
	return info
}

// distinct makes the widths of pictures differ by less than a millionth of a pixel each. The PDF writer sorts
// pictures by width and leaves those of one width in the order of a map, so that two prints of one sheet would
// differ; it writes widths as whole numbers, so that nothing else changes. Its gob form is the only way in: the
// fields stand in a fixed order, the width fourth.
func distinct(info *fpdf.ImageInfoType, n int) error {
	data, err := info.GobEncode()
	if err != nil {
		return err
	}
	var (
		pixels, mask, palette []byte
		object, bits          int
		width, height         float64
		space, filter, parms  string
		transparent           []int
		scale, dpi            float64
	)
	fields := []any{&pixels, &mask, &object, &width, &height, &space, &palette, &bits, &filter, &parms, &transparent, &scale, &dpi}
	in := gob.NewDecoder(bytes.NewReader(data))
	for _, f := range fields {
		if err := in.Decode(f); err != nil {
			return err
		}
	}
	width += float64(n) * 1e-7
	var b bytes.Buffer
	out := gob.NewEncoder(&b)
	for _, f := range fields {
		if err := out.Encode(f); err != nil {
			return err
		}
	}
	return info.GobDecode(b.Bytes())
}

// imageStrip is one picture in a box of at most this size.
func (p *pdfPrinter) imageStrip(file string, info *fpdf.ImageInfoType, width, height, gap float64) strip {
	w, h := info.Width(), info.Height()
	k := math.Min(width/w, height/h)
	w, h = w*k, h*k
	return strip{height: h, gap: gap, draw: func(x, y float64) {
		p.f.ImageOptions(file, x, y, w, h, false, fpdf.ImageOptions{}, 0, "")
	}}
}

// pictures sets one picture alone, several in rows of two or three; small ones in rows of four or five.
func (p *pdfPrinter) pictures(b Block, width float64) []strip {
	const gutter = 5.0
	list, tallest := b.Pictures, 86.0
	columns := 1
	if len(list) > 1 {
		columns = 2
	}
	if len(list) > 4 {
		columns = 3
	}
	widest := 122.0 // a drawn scene at 200 dpi
	switch {
	case b.Small:
		columns, tallest = max(4, min(5, len(list))), 36
	case b.Large:
		widest, tallest = width, 112
	}
	w := (width - gutter*float64(columns-1)) / float64(columns)
	var out []strip
	for i := 0; i < len(list); i += columns {
		var cells [][]strip
		h := 0.0
		for _, x := range list[i:min(i+columns, len(list))] {
			info := p.picture(x.File)
			if info == nil {
				continue
			}
			one := []strip{p.imageStrip(x.File, info, math.Min(w, widest), tallest, 0)}
			if x.Caption != "" {
				one = append(one, p.para([]Span{{Text: x.Caption}}, ptSmall, w, 0, 1, false, soft)...)
			}
			cells = append(cells, one)
			h = math.Max(h, sum(one))
		}
		out = append(out, strip{height: h, gap: 3, draw: func(x, y float64) {
			for k, c := range cells {
				paint(c, x+float64(k)*(w+gutter), y)
			}
		}})
	}
	return out
}
