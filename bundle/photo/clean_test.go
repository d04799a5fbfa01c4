package photo

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func tool(t testing.TB, name string) string {
	t.Helper()
	p, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatalf("%s is not installed, and DROPWRIGHT_CI is set", name)
		}
		t.Skipf("SKIPPED, NOTHING CHECKED: %s is not installed", name)
	}
	return p
}

// corners is a picture of w x h whose four quarters are, from the top left in reading order, red,
// green, blue and white: every turn and flip of it is a different picture.
func corners(w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := [4]color.NRGBA{{R: 255, A: 255}, {G: 255, A: 255}, {B: 255, A: 255}, {255, 255, 255, 255}}
			img.SetNRGBA(x, y, c[2*(2*y/h)+2*x/w])
		}
	}
	return img
}

// look names the colours of the quarters: "rgbw" for corners upright.
func look(img image.Image) string {
	b := img.Bounds()
	s := ""
	for _, p := range [][2]int{{1, 1}, {3, 1}, {1, 3}, {3, 3}} {
		r, g, bl, _ := img.At(b.Min.X+b.Dx()*p[0]/4, b.Min.Y+b.Dy()*p[1]/4).RGBA()
		switch {
		case r > 0x8000 && g > 0x8000 && bl > 0x8000:
			s += "w"
		case r > 0x8000:
			s += "r"
		case g > 0x8000:
			s += "g"
		case bl > 0x8000:
			s += "b"
		default:
			s += "?"
		}
	}
	return s
}

func asJPEG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asPNG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// tiff is a TIFF block whose one directory holds the orientation v.
func tiff(order binary.AppendByteOrder, v int) []byte {
	b := []byte("II")
	if order == binary.AppendByteOrder(binary.BigEndian) {
		b = []byte("MM")
	}
	b = order.AppendUint16(b, 42)
	b = order.AppendUint32(b, 8)
	b = order.AppendUint16(b, 1)
	b = order.AppendUint16(b, 274)
	b = order.AppendUint16(b, 3)
	b = order.AppendUint32(b, 1)
	b = order.AppendUint16(b, uint16(v))
	b = order.AppendUint16(b, 0)
	return order.AppendUint32(b, 0)
}

func segment(marker byte, body []byte) []byte {
	b := []byte{0xff, marker}
	b = binary.BigEndian.AppendUint16(b, uint16(len(body)+2))
	return append(b, body...)
}

func withSegments(jpg []byte, segments ...[]byte) []byte {
	return slices.Concat(append(append([][]byte{jpg[:2]}, segments...), jpg[2:])...)
}

func chunk(kind string, body []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	b = append(append(b, kind...), body...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

func withChunks(p []byte, chunks ...[]byte) []byte {
	const at = 8 + 12 + 13
	return slices.Concat(append(append([][]byte{p[:at]}, chunks...), p[at:])...)
}

// profile is an ICC profile without tags: enough for everything that looks at headers.
func profile(space string, size int) []byte {
	b := make([]byte, size)
	binary.BigEndian.PutUint32(b, uint32(size))
	copy(b[8:], []byte{2, 0x10, 0, 0})
	copy(b[12:], "mntr")
	copy(b[16:], space)
	copy(b[20:], "XYZ ")
	copy(b[36:], "acsp")
	for i := 132; i < size; i++ {
		b[i] = byte(i * 7)
	}
	return b
}

func clean(t testing.TB, data []byte, opt Options) (image.Image, []byte, Info) {
	t.Helper()
	out, info, err := Clean(data, opt)
	if err != nil {
		t.Fatal(err)
	}
	again, _, err := Clean(data, opt)
	if err != nil || !bytes.Equal(out, again) {
		t.Errorf("the second time it gives other bytes (%v)", err)
	}
	var img image.Image
	if info.Format == JPEG {
		img, err = jpeg.Decode(bytes.NewReader(out))
	} else {
		img, err = png.Decode(bytes.NewReader(out))
	}
	if err != nil {
		t.Fatal(err)
	}
	if size := img.Bounds().Size(); size.X != info.Width || size.Y != info.Height {
		t.Errorf("says %d x %d, is %v", info.Width, info.Height, size)
	}
	return img, out, info
}

// TestTurn checks all eight orientations against the table of CIPA DC-008, tag 274: which side of
// the scene the 0th row and the 0th column of the file are. stored is what corners (40 x 20 upright)
// looks like in the file by that table.
func TestTurn(t *testing.T) {
	for _, c := range []struct {
		orientation int
		stored      string // 0th row, 0th column
	}{
		{1, "rgbw"},                             // top, left
		{2, "grwb"},                             // top, right
		{3, "wbgr"},                             // bottom, right
		{4, "bwrg"},                             // bottom, left
		{5, "rbgw"},                             // left, top
		{6, "gwrb"},                             // right, top
		{7, "wgbr"},                             // right, bottom
		{8, "brwg"},                             // left, bottom
		{0, "rgbw"}, {9, "rgbw"}, {300, "rgbw"}, // no orientations: upright
	} {
		w, h := 40, 20
		if c.orientation >= 5 && c.orientation <= 8 {
			w, h = h, w
		}
		img := corners(w, h)
		colours := map[byte]color.NRGBA{'r': {R: 255, A: 255}, 'g': {G: 255, A: 255}, 'b': {B: 255, A: 255}, 'w': {255, 255, 255, 255}}
		for y := range h {
			for x := range w {
				img.SetNRGBA(x, y, colours[c.stored[2*(2*y/h)+2*x/w]])
			}
		}
		for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
			block := tiff(order, c.orientation)
			for _, data := range [][]byte{
				withSegments(asJPEG(t, img), segment(0xe1, append([]byte("Exif\x00\x00"), block...))),
				withChunks(asPNG(t, img), chunk("eXIf", block)),
				append(asPNG(t, img)[:len(asPNG(t, img))-12], append(chunk("eXIf", block), chunk("IEND", nil)...)...),
			} {
				got, _, info := clean(t, data, Options{})
				if look(got) != "rgbw" || info.Width != 40 || info.Height != 20 {
					t.Errorf("orientation %d, %s: looks %s, %d x %d", c.orientation, info.Format, look(got), info.Width, info.Height)
				}
				before, err := Inspect(data)
				if err != nil || before.Width != 40 || before.Height != 20 {
					t.Errorf("orientation %d: %+v %v", c.orientation, before, err)
				}
				got, _, info = clean(t, data, Options{MaxSide: 10})
				if look(got) != "rgbw" || info.Width != 10 || info.Height != 5 {
					t.Errorf("orientation %d, scaled: looks %s, %d x %d", c.orientation, look(got), info.Width, info.Height)
				}
			}
		}
	}
}

// TestOutsideOrientations turns the nine sample pictures of the imaging module: all show the same.
func TestOutsideOrientations(t *testing.T) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/disintegration/imaging").Output()
	if err != nil {
		t.Skipf("SKIPPED, NOTHING CHECKED: %v", err)
	}
	dir := filepath.Join(strings.TrimSpace(string(out)), "testdata")
	var want image.Image
	for n := range 9 {
		data, err := os.ReadFile(filepath.Join(dir, fmt.Sprintf("orientation_%d.jpg", n)))
		if err != nil {
			t.Skipf("SKIPPED, NOTHING CHECKED: %v", err)
		}
		got, _, info := clean(t, data, Options{Quality: 100})
		if want == nil {
			want = got
			continue
		}
		if got.Bounds() != want.Bounds() {
			t.Fatalf("orientation_%d.jpg: %v, others %v", n, got.Bounds(), want.Bounds())
		}
		// The files were compressed each by itself, so the pixels agree on the whole only.
		if d := difference(got, want); d > 3 {
			t.Errorf("orientation_%d.jpg (%d): differs by %.1f of 255 on average", n, info.Orientation, d)
		}
	}
}

func difference(a, b image.Image) float64 {
	sum, n := 0.0, 0
	r := a.Bounds()
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			r1, g1, b1, _ := a.At(x, y).RGBA()
			r2, g2, b2, _ := b.At(x, y).RGBA()
			for _, d := range []float64{float64(r1) - float64(r2), float64(g1) - float64(g2), float64(b1) - float64(b2)} {
				sum += max(d, -d) / 257
				n++
			}
		}
	}
	return sum / float64(n)
}

// private puts into a picture, by exiftool, what may not come out.
func private(t *testing.T, exiftool string, data []byte, ext string) []byte {
	name := filepath.Join(t.TempDir(), "in"+ext)
	if err := os.WriteFile(name, data, 0o644); err != nil {
		t.Fatal(err)
	}
	args := []string{"-overwrite_original", "-q", "-n",
		"-EXIF:GPSLatitude=38.7", "-EXIF:GPSLatitudeRef=N", "-EXIF:GPSLongitude=9.1", "-EXIF:GPSLongitudeRef=W",
		"-EXIF:Artist=Canary Name", "-EXIF:SerialNumber=CANARY1", "-EXIF:OwnerName=Canary Owner", "-EXIF:DateTimeOriginal=2026:01:02 03:04:05",
		"-XMP:Creator=Canary Creator", "-XMP:GPSLatitude=38.7", "-EXIF:Orientation=6"}
	if ext == ".jpg" {
		args = append(args, "-IPTC:By-line=Canary Byline", "-Comment=canary comment", "-ThumbnailImage<="+name)
	} else {
		args = append(args, "-PNG:Author=Canary Author", "-PNG:Comment=canary comment", "-PNG:ModifyDate=2026:01:02 03:04:05")
	}
	if out, err := exec.Command(exiftool, append(args, name)...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// tags are the tags that exiftool finds beside those of the file, its coding and its colours.
func tags(t *testing.T, exiftool string, data []byte) []string {
	name := filepath.Join(t.TempDir(), "picture")
	if err := os.WriteFile(name, data, 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(exiftool, "-j", "-a", "-u", "-ee", "-G1", name).Output()
	if err != nil {
		t.Fatal(err)
	}
	var list []map[string]any
	if err := json.Unmarshal(out, &list); err != nil || len(list) != 1 {
		t.Fatalf("%v: %s", err, out)
	}
	var found []string
	for tag := range list[0] {
		group, name, _ := strings.Cut(tag, ":")
		switch {
		case slices.Contains([]string{"SourceFile", "ExifTool", "System", "File", "Composite"}, group) && tag != "File:Comment" && !strings.HasPrefix(name, "GPS"):
		case strings.HasPrefix(group, "ICC"):
		case group == "PNG" && slices.Contains([]string{"ImageWidth", "ImageHeight", "BitDepth", "ColorType", "Compression", "Filter", "Interlace", "SRGBRendering", "Gamma", "ProfileName"}, name):
		default:
			found = append(found, tag)
		}
	}
	slices.Sort(found)
	return found
}

// TestNothingPrivate lets exiftool look at pictures before, where it must find all that was put
// in, and after, where it must find nothing.
func TestNothingPrivate(t *testing.T) {
	exiftool := tool(t, "exiftool")
	for ext, data := range map[string][]byte{".jpg": asJPEG(t, corners(64, 32)), ".png": asPNG(t, corners(64, 32))} {
		data = private(t, exiftool, data, ext)
		// What a phone leaves behind the end: a film, and a second picture with a place of its own.
		data = append(append(data, "\x00\x00\x00\x18ftypmp42canary trailer"...), data...)
		if before := tags(t, exiftool, data); len(before) < 9 || !bytes.Contains(bytes.ToLower(data), []byte("canary")) {
			t.Errorf("%s: the picture holds only %v to begin with", ext, before)
		}
		img, out, _ := clean(t, data, Options{})
		if after := tags(t, exiftool, out); len(after) > 0 {
			t.Errorf("%s: still there: %v", ext, after)
		}
		if bytes.Contains(bytes.ToLower(out), []byte("canary")) {
			t.Errorf("%s: a name came through", ext)
		}
		if look(img) != "brwg" { // corners, turned by orientation 6
			t.Errorf("%s: looks %s", ext, look(img))
		}
	}
}

func TestProfileStays(t *testing.T) {
	grey := image.NewGray(image.Rect(0, 0, 20, 10))
	for i := range grey.Pix {
		grey.Pix[i] = byte(i)
	}
	inJPEG := func(icc []byte) [][]byte {
		half := len(icc) / 2
		return [][]byte{ // second part first: the numbers count
			segment(0xe2, append([]byte("ICC_PROFILE\x00\x02\x02"), icc[half:]...)),
			segment(0xe2, append([]byte("ICC_PROFILE\x00\x01\x02"), icc[:half]...)),
		}
	}
	inPNG := func(icc []byte) []byte {
		out := metadata{icc: icc}.withPNG(asPNG(t, grey))
		at := bytes.Index(out, []byte("iCCP")) - 4
		return out[at : at+12+int(binary.BigEndian.Uint32(out[at:]))]
	}
	rgb, gray, long := profile("RGB ", 600), profile("GRAY", 600), profile("RGB ", 100_000)
	short := slices.Clone(rgb[:500])
	for _, c := range []struct {
		name string
		data []byte
		want []byte
	}{
		{"jpeg", withSegments(asJPEG(t, corners(20, 10)), inJPEG(rgb)...), rgb},
		{"jpeg, long", withSegments(asJPEG(t, corners(20, 10)), inJPEG(long)...), long},
		{"jpeg, grey", withSegments(asJPEG(t, grey), inJPEG(gray)...), gray},
		{"jpeg, grey with a profile for colours", withSegments(asJPEG(t, grey), inJPEG(rgb)...), nil},
		{"jpeg, a part missing", withSegments(asJPEG(t, corners(20, 10)), inJPEG(rgb)[0]), nil},
		{"jpeg, cut short", withSegments(asJPEG(t, corners(20, 10)), inJPEG(short)...), nil},
		{"png", withChunks(asPNG(t, corners(20, 10)), inPNG(rgb)), rgb},
		{"png, grey", withChunks(asPNG(t, grey), inPNG(gray)), gray},
		{"png with a profile for grey", withChunks(asPNG(t, corners(20, 10)), inPNG(gray)), nil},
	} {
		for _, opt := range []Options{{}, {MaxSide: 8}} {
			img, out, info := clean(t, c.data, opt)
			var m metadata
			if info.Format == JPEG {
				m = readJPEG(out)
			} else {
				m = readPNG(out)
			}
			if !bytes.Equal(m.icc, c.want) || info.Profile != (c.want != nil) {
				t.Errorf("%s: a profile of %d bytes, wanted %d", c.name, len(m.icc), len(c.want))
			}
			if strings.Contains(c.name, "grey") && c.name[:4] == "jpeg" && !isGrey(img.ColorModel()) {
				t.Errorf("%s: is coloured now", c.name)
			}
		}
	}
	srgb, gamma := chunk("sRGB", []byte{0}), chunk("gAMA", []byte{0, 0, 0xb1, 0x8f})
	_, out, _ := clean(t, withChunks(asPNG(t, corners(20, 10)), srgb, gamma, chunk("tEXt", []byte("Author\x00Canary"))), Options{MaxSide: 9})
	if !bytes.Contains(out, srgb) || !bytes.Contains(out, gamma) || bytes.Contains(out, []byte("Canary")) {
		t.Error("sRGB or gAMA is gone, or a text stayed")
	}
}

// TestRefused feeds what must not get in; each is refused by kind, with something to do.
func TestRefused(t *testing.T) {
	good := asJPEG(t, corners(64, 32))
	goodPNG := asPNG(t, corners(64, 32))
	claim := func(w, h uint32, depth byte) []byte {
		body := binary.BigEndian.AppendUint32(nil, w)
		body = binary.BigEndian.AppendUint32(body, h)
		body = append(body, depth, 2, 0, 0, 0)
		return slices.Concat([]byte(pngMagic), chunk("IHDR", body), chunk("IDAT", nil), chunk("IEND", nil))
	}
	for _, c := range []struct {
		name, kind, word string
		data             []byte
	}{
		{"nothing", Damaged, "empty", nil},
		{"heic", WrongFormat, "HEIC", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00")},
		{"avif", WrongFormat, "AVIF", []byte("\x00\x00\x00\x18ftypavif\x00\x00\x00\x00")},
		{"film", WrongFormat, "film", []byte("\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00")},
		{"webp", WrongFormat, "WebP", []byte("RIFF\x00\x00\x00\x00WEBPVP8 ")},
		{"gif", WrongFormat, "GIF", []byte("GIF89a")},
		{"tiff", WrongFormat, "TIFF", []byte("II*\x00\x08\x00\x00\x00")},
		{"bmp", WrongFormat, "BMP", []byte("BM\x00\x00")},
		{"svg", WrongFormat, "SVG", []byte("<?xml version='1.0'?><svg xmlns='http://www.w3.org/2000/svg'/>")},
		{"text", WrongFormat, "no picture", []byte("hello")},
		{"half of it", Damaged, "", good[:len(good)/2]},
		{"head only", Damaged, "", good[:4]},
		{"without its end", Damaged, "", good[:len(good)-2]},
		{"half a png", Damaged, "", goodPNG[:len(goodPNG)/2]},
		{"wide", TooLarge, "a side", claim(20_001, 10, 8)},
		{"bomb", TooLarge, "30000", claim(30_000, 30_000, 8)},
		{"past 100 megapixels", TooLarge, "100 million", claim(15_000, 15_000, 8)},
		{"16 bits", TooLarge, "50 million", claim(9_000, 9_000, 16)},
		{"cmyk", WrongColour, "CMYK", slices.Concat([]byte("\xff\xd8"), segment(0xc0, []byte{8, 0, 9, 0, 9, 4, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0, 4, 0x11, 0}), segment(0xda, []byte{1, 1, 0, 0, 63, 0}))},
		{"long", TooLarge, "bytes", append(good, make([]byte, MaxBytes)...)},
	} {
		_, _, err := Clean(c.data, Options{})
		var r *Refusal
		if !errors.As(err, &r) || r.Kind != c.kind || !strings.Contains(r.Text, c.word) || r.Hint == "" {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	if _, err := guard(func() (int, error) { panic("decoder bug") }); err == nil {
		t.Error("a panic of a decoder came through")
	}
}

func TestShrink(t *testing.T) {
	for _, c := range []struct{ w, h, most, wantW, wantH int }{
		{100, 50, 0, 100, 50}, {100, 50, 100, 100, 50}, {100, 50, 200, 100, 50}, // never enlarged
		{100, 50, 10, 10, 5}, {50, 100, 10, 5, 10}, {1000, 1, 10, 10, 1}, {3, 2, 2, 2, 1},
	} {
		got := shrink(image.NewNRGBA(image.Rect(0, 0, c.w, c.h)), c.most).Bounds().Size()
		if got != image.Pt(c.wantW, c.wantH) {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

// FuzzClean feeds bytes bent from good pictures: no panic, every error a refusal, and what comes
// out is upright and reads again.
func FuzzClean(f *testing.F) {
	img := corners(8, 6)
	f.Add(withSegments(asJPEG(f, img), segment(0xe1, append([]byte("Exif\x00\x00"), tiff(binary.BigEndian, 6)...))))
	f.Add(withSegments(asJPEG(f, img), segment(0xe2, append([]byte("ICC_PROFILE\x00\x01\x01"), profile("RGB ", 200)...))))
	f.Add(metadata{icc: profile("RGB ", 200), chunks: [][]byte{chunk("gAMA", []byte{0, 0, 0xb1, 0x8f})}}.withPNG(asPNG(f, img)))
	f.Add(withChunks(asPNG(f, img), chunk("eXIf", tiff(binary.LittleEndian, 8))))
	f.Fuzz(func(t *testing.T, data []byte) {
		if info, err := Inspect(data); err != nil || info.Width*info.Height > 1_000_000 {
			return // decoding large pictures is for the decoder's own fuzzing
		}
		out, _, err := Clean(data, Options{MaxSide: 5})
		if err != nil {
			var r *Refusal
			if !errors.As(err, &r) {
				t.Errorf("%T: %v", err, err)
			}
			return
		}
		info, err := Inspect(out)
		if err != nil || info.Orientation != 1 || max(info.Width, info.Height) > 5 {
			t.Errorf("%+v %v", info, err)
		}
	})
}

func BenchmarkClean(b *testing.B) {
	data := asJPEG(b, corners(4000, 3000))
	for b.Loop() {
		if _, _, err := Clean(data, Options{MaxSide: 1600}); err != nil {
			b.Fatal(err)
		}
	}
}

// TestGoSamples cleans the sample pictures of Go's own image packages, of every coding there is:
// what comes out looks the same, CMYK is refused, and so are the invalid ones. (The truncated
// progressive one lacks its later scans but ends as it should, which is allowed; the one with an
// invalid palette is shown with black for the colours it lacks.)
func TestGoSamples(t *testing.T) {
	out, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Skipf("SKIPPED, NOTHING CHECKED: %v", err)
	}
	root := filepath.Join(strings.TrimSpace(string(out)), "src", "image")
	var names []string
	for _, pattern := range []string{"testdata/*.jpeg", "testdata/*.png", "png/testdata/*.png", "png/testdata/pngsuite/*.png"} {
		list, err := filepath.Glob(filepath.Join(root, pattern))
		if err != nil {
			t.Fatal(err)
		}
		names = append(names, list...)
	}
	if len(names) == 0 {
		t.Skip("SKIPPED, NOTHING CHECKED: no sources of Go here")
	}
	cleaned := 0
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		base := filepath.Base(name)
		want := map[bool]string{strings.Contains(base, "cmyk.jpeg"): WrongColour, strings.HasPrefix(base, "invalid-") && base != "invalid-palette.png": Damaged}[true]
		if want != "" {
			var r *Refusal
			if _, _, err := Clean(data, Options{}); !errors.As(err, &r) || r.Kind != want {
				t.Errorf("%s: %v, want %s", base, err, want)
			}
			continue
		}
		cleaned++
		got, _, info := clean(t, data, Options{Quality: 100})
		var before image.Image
		if info.Format == JPEG {
			before, err = jpeg.Decode(bytes.NewReader(data))
		} else {
			before, err = png.Decode(bytes.NewReader(data))
		}
		if err != nil {
			t.Fatal(err)
		}
		most := 0.0 // a PNG loses nothing
		if info.Format == JPEG {
			most = 5 // colours at half the resolution, of pictures of 150 x 103 pixels
		}
		if d := difference(got, before); d > most {
			t.Errorf("%s: differs by %.2f of 255 on average", base, d)
		}
	}
	if cleaned < 40 {
		t.Errorf("only %d samples", cleaned)
	}
}
