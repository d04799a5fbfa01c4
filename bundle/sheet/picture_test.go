package sheet

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"

	"dropwright/bundle/design"
)

// TestPDFTakesEveryPicture feeds the PDF the kinds of picture that come out of cleaning: grey, with an alpha
// channel, 16 bits a channel, a palette, JPEG in grey and colour.
func TestPDFTakesEveryPicture(t *testing.T) {
	box := image.Rect(0, 0, 12, 8)
	palette := image.NewPaletted(box, color.Palette{color.Black, color.White, color.NRGBA{200, 0, 0, 120}})
	pictures := map[string]image.Image{
		"grey": image.NewGray(box), "alpha": image.NewNRGBA(box), "grey 16": image.NewGray16(box), "alpha 16": image.NewNRGBA64(box), "opaque 16": image.NewRGBA64(box),
		"palette": palette, "colour": image.NewYCbCr(box, image.YCbCrSubsampleRatio420),
	}
	for name, img := range pictures {
		for _, mime := range []string{"image/png", "image/jpeg"} {
			var b bytes.Buffer
			var err error
			if mime == "image/png" {
				err = png.Encode(&b, img)
			} else {
				err = jpeg.Encode(&b, img, nil)
			}
			if err != nil {
				t.Fatal(err)
			}
			in := hook()
			in.Design.Photos = []design.Photo{{File: val(design.Path("photos/x")), Alt: val(design.Text("x"))}}
			var out bytes.Buffer
			if err := Compose(in).PDF(&out, func(string) ([]byte, string, error) { return b.Bytes(), mime, nil }, "a4"); err != nil {
				t.Errorf("%s as %s: %v", name, mime, err)
			}
		}
	}
}
