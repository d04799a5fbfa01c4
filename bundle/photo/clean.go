package photo

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"

	"github.com/disintegration/imaging"
)

// Info is what is known of a picture. Width and Height are as it is looked at, that is, turned.
type Info struct {
	Format      Format `json:"format"`
	Width       int    `json:"width"`
	Height      int    `json:"height"`
	Orientation int    `json:"orientation"` // of the pixels in the file
	Profile     bool   `json:"profile"`     // an ICC profile says what its colours are
}

// Options say how Clean encodes.
type Options struct {
	// MaxSide is the longest side of the output in pixels, 0 for as it is. Nothing is enlarged.
	MaxSide int
	// Quality is that of a JPEG, 1 to 100, 0 for DefaultQuality.
	Quality int
}

// DefaultQuality is the JPEG quality of Clean: past it files grow faster than anyone sees. Common
// practice, no source.
const DefaultQuality = 88

// Inspect reads format, size and orientation without decoding the picture. A picture past the
// limits, of another format, or CMYK gives a *Refusal; so does Clean.
func Inspect(data []byte) (Info, error) {
	info, _, err := inspect(data)
	return info, err
}

func inspect(data []byte) (Info, metadata, error) {
	if len(data) > MaxBytes {
		return Info{}, metadata{}, refuse(TooLarge, "make it smaller", "the picture has %d bytes; at most %d are read", len(data), MaxBytes)
	}
	format, err := Sniff(data)
	if err != nil {
		return Info{}, metadata{}, err
	}
	var m metadata
	var config image.Config
	if format == JPEG {
		config, err = guard(func() (image.Config, error) { return jpeg.DecodeConfig(bytes.NewReader(data)) })
		m = readJPEG(data)
	} else {
		config, err = guard(func() (image.Config, error) { return png.DecodeConfig(bytes.NewReader(data)) })
		m = readPNG(data)
	}
	if err != nil {
		return Info{}, m, damaged(format, err)
	}
	if err := withinLimits(config); err != nil {
		return Info{}, m, err
	}
	info := Info{Format: format, Width: config.Width, Height: config.Height, Orientation: m.orientation}
	if m.orientation >= 5 { // turned by a quarter
		info.Width, info.Height = info.Height, info.Width
	}
	if !fits(m.icc, isGrey(config.ColorModel)) {
		m.icc = nil
	}
	info.Profile = m.icc != nil
	return info, m, nil
}

func withinLimits(c image.Config) error {
	most := int64(MaxPixels)
	switch c.ColorModel {
	case color.CMYKModel:
		return refuse(WrongColour, "save it as RGB: CMYK is for printing presses", "the picture is CMYK")
	case color.RGBA64Model, color.NRGBA64Model:
		most /= 2
	}
	const hint = "scale it down; a longest side of 4000 pixels is plenty"
	if c.Width > MaxSide || c.Height > MaxSide {
		return refuse(TooLarge, hint, "the picture is %d x %d pixels; at most %d a side are read", c.Width, c.Height, MaxSide)
	}
	if n := int64(c.Width) * int64(c.Height); n > most {
		return refuse(TooLarge, hint, "the picture is %d x %d pixels; at most %d million are read", c.Width, c.Height, most/1_000_000)
	}
	return nil
}

func isGrey(m color.Model) bool { return m == color.GrayModel || m == color.Gray16Model }

// guard turns a panic of a decoder, which has its bugs, into an error.
func guard[T any](decode func() (T, error)) (v T, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("decoder: %v", p)
		}
	}()
	return decode()
}

func damaged(format Format, err error) *Refusal {
	return refuse(Damaged, "open it in any picture program and export it anew", "the %s cannot be decoded: %v", format, err)
}

// Clean decodes a picture, scales it, turns it upright and encodes it in its own format, with
// nothing beside pixels and colours (see the package comment). Every error is a *Refusal and the
// picture's fault. data is not changed. The Info is that of the output.
func Clean(data []byte, opt Options) ([]byte, Info, error) {
	info, m, err := inspect(data)
	if err != nil {
		return nil, Info{}, err
	}
	img, err := guard(func() (image.Image, error) {
		if info.Format == JPEG {
			return jpeg.Decode(bytes.NewReader(data))
		}
		return png.Decode(bytes.NewReader(data))
	})
	if err != nil {
		return nil, Info{}, damaged(info.Format, err)
	}
	grey := isGrey(img.ColorModel())
	img = shrink(img, opt.MaxSide)
	img = turn(img, m.orientation)
	if grey && !isGrey(img.ColorModel()) {
		img = toGrey(img)
	}
	var b bytes.Buffer
	if info.Format == JPEG {
		quality := opt.Quality
		if quality == 0 {
			quality = DefaultQuality
		}
		err = jpeg.Encode(&b, img, &jpeg.Options{Quality: quality})
	} else {
		err = png.Encode(&b, img)
	}
	if err != nil {
		return nil, Info{}, damaged(info.Format, err)
	}
	out := b.Bytes()
	if info.Format == JPEG {
		out = m.withJPEG(out)
	} else {
		out = m.withPNG(out)
	}
	size := img.Bounds().Size()
	return out, Info{Format: info.Format, Width: size.X, Height: size.Y, Orientation: 1, Profile: m.icc != nil}, nil
}

// shrink scales a picture down to at most most pixels a side.
func shrink(img image.Image, most int) image.Image {
	size := img.Bounds().Size()
	if most <= 0 || max(size.X, size.Y) <= most {
		return img
	}
	// Rounded by hand and at least 1: imaging rounds a side of 0.4 pixels to 0, which means "any".
	scale := func(n, of int) int { return max(1, (2*n*most+of)/(2*of)) }
	long := max(size.X, size.Y)
	return imaging.Resize(img, scale(size.X, long), scale(size.Y, long), imaging.Lanczos)
}

// turn brings a picture of an EXIF orientation upright (CIPA DC-008, tag 274: which edges of the
// scene row 0 and column 0 are). imaging counts turns anticlockwise.
func turn(img image.Image, orientation int) image.Image {
	switch orientation {
	case 2:
		return imaging.FlipH(img)
	case 3:
		return imaging.Rotate180(img)
	case 4:
		return imaging.FlipV(img)
	case 5:
		return imaging.Transpose(img)
	case 6:
		return imaging.Rotate270(img)
	case 7:
		return imaging.Transverse(img)
	case 8:
		return imaging.Rotate90(img)
	}
	return img
}

// toGrey undoes imaging's habit of making every picture coloured, so that a grey picture stays one
// and its profile goes on fitting.
func toGrey(img image.Image) image.Image {
	b := img.Bounds()
	out := image.NewGray(b)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			out.Set(x, y, img.At(x, y))
		}
	}
	return out
}
