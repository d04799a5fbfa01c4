package privacy

import (
	"encoding/binary"
	"fmt"
	"strings"
	"unicode/utf16"
)

// exifTag is what a tag of EXIF tells.
type exifTag struct {
	kind Kind
	what string
}

// mainTags are those of the first directories and of the EXIF directory (CIPA DC-008 tables 4 to 9;
// 0x9c9b to 0x9c9f are Windows', 0xc62f is DNG's).
var mainTags = map[uint16]exifTag{
	0x010e: {Comment, "description in EXIF"},
	0x010f: {Device, "camera maker in EXIF"},
	0x0110: {Device, "camera in EXIF"},
	0x0131: {Device, "software in EXIF"},
	0x0132: {Time, "time in EXIF"},
	0x013b: {Name, "artist in EXIF"},
	0x013c: {Device, "computer in EXIF"},
	0x8298: {Name, "copyright in EXIF"},
	0x9003: {Time, "time in EXIF"},
	0x9004: {Time, "time in EXIF"},
	0x927c: {MakerNote, "maker note in EXIF"},
	0x9286: {Comment, "comment in EXIF"},
	0x9c9b: {Comment, "title in EXIF"},
	0x9c9c: {Comment, "comment in EXIF"},
	0x9c9d: {Name, "author in EXIF"},
	0x9c9e: {Comment, "keywords in EXIF"},
	0x9c9f: {Comment, "subject in EXIF"},
	0xa420: {Serial, "unique number of the picture in EXIF"},
	0xa430: {Name, "owner of the camera in EXIF"},
	0xa431: {Serial, "serial number of the camera in EXIF"},
	0xa435: {Serial, "serial number of the lens in EXIF"},
	0xa436: {Comment, "title in EXIF"},
	0xa437: {Name, "photographer in EXIF"},
	0xa438: {Name, "editor of the picture in EXIF"},
	0xc62f: {Serial, "serial number of the camera in EXIF"},
}

// Tags that lead elsewhere.
const (
	tagXMP, tagIPTC, tagPhotoshop = 0x02bc, 0x83bb, 0x8649
	tagExif, tagGPS               = 0x8769, 0x8825
	tagThumbnail, tagThumbLength  = 0x0201, 0x0202
)

// tiffBlock reads the directories of a TIFF block as EXIF has it.
type tiffBlock struct {
	f     *finder
	where string
	b     []byte
	order binary.ByteOrder
	seen  map[uint32]bool
}

// field is one entry of a directory with its value's bytes.
type field struct {
	tag, typ uint16
	count    uint32
	value    []byte
}

// typeSize is the size of a value of each TIFF type, in bytes (TIFF 6.0, section 2).
var typeSize = [14]uint64{0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4}

func (f *finder) exif(where string, b []byte) {
	t := &tiffBlock{f: f, where: where, b: b, order: binary.LittleEndian, seen: map[uint32]bool{}}
	if len(b) >= 2 && string(b[:2]) == "MM" {
		t.order = binary.BigEndian
	}
	if len(b) < 8 || t.order.Uint16(b[2:]) != 42 || (string(b[:2]) != "II" && string(b[:2]) != "MM") {
		f.add(Unread, where, "an EXIF block that makes no sense", "")
		return
	}
	next := t.order.Uint32(b[4:])
	for n := 0; next != 0 && n < 8; n++ {
		next = t.main(next, n)
	}
}

// main reads a directory of the main chain, n-th from 0, or the EXIF one, and returns where the next
// one is.
func (t *tiffBlock) main(at uint32, n int) uint32 {
	fields, next := t.directory(at)
	for _, e := range fields {
		switch e.tag {
		case tagExif:
			t.main(t.long(e), n)
		case tagGPS:
			t.gps(t.long(e))
		case tagXMP:
			t.f.xmp(t.where, e.value)
		case tagIPTC:
			t.f.iptc(t.where, e.value)
		case tagPhotoshop:
			t.f.photoshop(t.where, e.value)
		case tagThumbnail, tagThumbLength:
			t.f.add(Thumbnail, t.where, "small copy of the picture in EXIF", "")
		}
		known, ok := mainTags[e.tag]
		if !ok {
			continue
		}
		text := t.str(e)
		if known.kind != MakerNote && strings.Trim(text, " 0:") == "" {
			continue // cameras leave blanks and zeros where nothing was set
		}
		if known.kind == MakerNote {
			text = fmt.Sprintf("%d bytes", len(e.value))
			t.f.match(t.where, e.value)
		}
		t.f.add(known.kind, t.where, known.what, text)
	}
	if n > 0 && len(fields) > 0 {
		t.f.add(Thumbnail, t.where, "second picture in EXIF", "")
	}
	return next
}

// directory reads the fields of a directory, each directory once, and where the next one is.
func (t *tiffBlock) directory(at uint32) ([]field, uint32) {
	if t.seen[at] || uint64(at)+2 > uint64(len(t.b)) {
		return nil, 0
	}
	t.seen[at] = true
	n := int(t.order.Uint16(t.b[at:]))
	rest := t.b[at+2:]
	var out []field
	for ; n > 0 && len(rest) >= 12; n, rest = n-1, rest[12:] {
		e := field{tag: t.order.Uint16(rest), typ: t.order.Uint16(rest[2:]), count: t.order.Uint32(rest[4:])}
		if int(e.typ) >= len(typeSize) {
			continue
		}
		size := typeSize[e.typ] * uint64(e.count)
		if size <= 4 {
			e.value = rest[8 : 8+size]
		} else if off := uint64(t.order.Uint32(rest[8:])); off+size <= uint64(len(t.b)) {
			e.value = t.b[off : off+size]
		} else if off < uint64(len(t.b)) {
			e.value = t.b[off:] // cut short, and still readable for who wants to
		}
		out = append(out, e)
	}
	if n > 0 || len(rest) < 4 {
		return out, 0
	}
	return out, t.order.Uint32(rest)
}

func (t *tiffBlock) long(e field) uint32 {
	if len(e.value) < 4 {
		return 0
	}
	return t.order.Uint32(e.value)
}

// str is a value as text: ASCII, UTF-16 in Windows' tags, and comments without their code name.
func (t *tiffBlock) str(e field) string {
	switch {
	case e.tag >= 0x9c9b && e.tag <= 0x9c9f:
		var units []uint16
		for b := e.value; len(b) >= 2; b = b[2:] {
			units = append(units, binary.LittleEndian.Uint16(b))
		}
		return strings.Trim(string(utf16.Decode(units)), "\x00")
	case e.tag == 0x9286 && len(e.value) >= 8:
		return strings.Trim(string(e.value[8:]), "\x00")
	}
	return strings.Trim(string(e.value), "\x00")
}

// gps reads the position directory (CIPA DC-008 table 15). A block without a latitude and longitude
// that are numbers is what a phone writes when it may not know where it is: no leak.
func (t *tiffBlock) gps(at uint32) {
	fields, _ := t.directory(at)
	angle := map[uint16]bool{}
	for _, e := range fields {
		switch e.tag {
		case 2, 4, 20, 22: // latitude, longitude; those of the destination
			angle[e.tag] = t.isAngle(e)
		case 28: // name of the area, behind 8 bytes that name its coding
			if text := strings.Trim(string(e.value[min(len(e.value), 8):]), "\x00 "); text != "" {
				t.f.add(Position, t.where, "name of a place in EXIF", text)
			}
		}
	}
	if angle[2] && angle[4] || angle[20] && angle[22] {
		t.f.add(Position, t.where, "position in EXIF", "")
	}
}

// isAngle reports whether a field holds degrees as a fraction with a denominator.
func (t *tiffBlock) isAngle(e field) bool {
	if e.typ != 5 || len(e.value) < 8 {
		return false
	}
	return t.order.Uint32(e.value[4:]) != 0
}
