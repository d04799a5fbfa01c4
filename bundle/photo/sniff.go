package photo

import (
	"bytes"
	"fmt"
	"strings"
)

// Limits of a picture that is read.
const (
	// MaxBytes is the longest file, in bytes. Common practice, no source: a 100-megapixel JPEG at
	// the best quality has some 60 MB.
	MaxBytes = 128 << 20
	// MaxPixels is the largest picture, in pixels; decoded it takes 4 bytes for each, 8 with 16 bits
	// a channel, for which half the pixels are allowed. A PNG of 1 MB can claim more than ten times
	// that.
	MaxPixels = 100_000_000
	// MaxSide is the longest side, in pixels.
	MaxSide = 20_000
)

// Refusal says why a picture is not taken. Kind is a stable word, Hint what to do.
type Refusal struct {
	Kind, Text, Hint string
}

// Error is the text and the hint.
func (r *Refusal) Error() string {
	if r.Hint == "" {
		return r.Text
	}
	return r.Text + "; " + r.Hint
}

// Kinds of refusals.
const (
	WrongFormat = "format"  // no JPEG, no PNG
	TooLarge    = "large"   // past MaxBytes, MaxPixels or MaxSide
	Damaged     = "damaged" // cannot be decoded
	WrongColour = "colour"  // CMYK
)

func refuse(kind, hint, format string, args ...any) *Refusal {
	return &Refusal{Kind: kind, Hint: hint, Text: fmt.Sprintf(format, args...)}
}

// Format is a picture's file format.
type Format string

// The formats that are read.
const (
	JPEG Format = "jpeg"
	PNG  Format = "png"
)

const pngMagic = "\x89PNG\r\n\x1a\n"

// Sniff tells the format by the first bytes; the name of a file says nothing. What is neither JPEG
// nor PNG gives a *Refusal that names it.
func Sniff(data []byte) (Format, error) {
	has := func(at int, magic string) bool {
		return len(data) >= at+len(magic) && string(data[at:at+len(magic)]) == magic
	}
	const convert = "export it as JPEG (photos) or PNG (drawings)"
	switch {
	case has(0, "\xff\xd8\xff"):
		return JPEG, nil
	case has(0, pngMagic):
		return PNG, nil
	case len(data) == 0:
		return "", refuse(Damaged, "export it again", "the picture is empty")
	case has(4, "ftyp"):
		switch brand := string(data[8:min(len(data), 12)]); brand {
		case "heic", "heix", "hevc", "heim", "heis", "mif1", "msf1":
			return "", refuse(WrongFormat, "set the phone to \"most compatible\" or export it as JPEG", "a HEIC picture is not read")
		case "avif", "avis":
			return "", refuse(WrongFormat, convert, "an AVIF picture is not read")
		default:
			return "", refuse(WrongFormat, "take a still from it as JPEG", "this is a film (%q), not a picture", brand)
		}
	case has(0, "RIFF") && has(8, "WEBP"):
		return "", refuse(WrongFormat, convert, "a WebP picture is not read")
	case has(0, "GIF8"):
		return "", refuse(WrongFormat, convert, "a GIF picture is not read")
	case has(0, "II*\x00"), has(0, "MM\x00*"), has(0, "II+\x00"), has(0, "MM\x00+"):
		return "", refuse(WrongFormat, convert, "a TIFF or camera-raw picture is not read")
	case has(0, "BM"):
		return "", refuse(WrongFormat, convert, "a BMP picture is not read")
	case has(0, "\x00\x00\x00\x0cJXL "), has(0, "\xff\x0a"):
		return "", refuse(WrongFormat, convert, "a JPEG XL picture is not read")
	case has(0, "\x00\x00\x00\x0cjP  "):
		return "", refuse(WrongFormat, convert, "a JPEG 2000 picture is not read")
	case has(0, "%PDF-"):
		return "", refuse(WrongFormat, convert, "a PDF is not a picture")
	case looksLikeSVG(data):
		return "", refuse(WrongFormat, "export it as PNG: an SVG can carry scripts", "an SVG picture is not read")
	}
	return "", refuse(WrongFormat, convert, "this is no picture that is read here (it begins with %q)", data[:min(len(data), 8)])
}

func looksLikeSVG(data []byte) bool {
	head := bytes.TrimPrefix(data[:min(len(data), 1024)], []byte("\xef\xbb\xbf"))
	return strings.Contains(strings.ToLower(string(head)), "<svg")
}
