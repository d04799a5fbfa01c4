package privacy

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"io"
	"regexp"
	"strings"
)

const pngMagic = "\x89PNG\r\n\x1a\n"

// jpeg walks all segments (ITU-T T.81 B.1.1), those between the scans of a progressive picture too.
func (f *finder) jpeg(where string, data []byte) {
	at := 2
	for at+2 <= len(data) {
		if data[at] != 0xff { // picture data, after a scan's header
			i := bytes.IndexByte(data[at:], 0xff)
			if i < 0 {
				break
			}
			at += i
			continue
		}
		marker := data[at+1]
		switch {
		case marker == 0xff:
			at++
			continue
		case marker == 0x00, marker == 0x01, marker >= 0xd0 && marker <= 0xd8:
			at += 2
			continue
		case marker == 0xd9:
			if rest := data[at+2:]; len(rest) > 0 {
				f.trailing(where, rest)
			}
			return
		}
		if at+4 > len(data) {
			break
		}
		length := int(binary.BigEndian.Uint16(data[at+2:]))
		if length < 2 || at+2+length > len(data) {
			break
		}
		f.segment(where, marker, data[at+4:at+2+length])
		at += 2 + length
	}
	f.add(Unread, where, "the JPEG ends before its end", "")
}

func (f *finder) trailing(where string, rest []byte) {
	f.add(Trailing, where, "bytes behind the end of the picture", fmt.Sprintf("%d bytes", len(rest)))
	f.match(where, rest)
	// A second picture, or a film's own notes, may tell more; what is there must go in any case.
	if i := bytes.Index(rest, []byte("\xff\xd8\xff")); i >= 0 && len(rest)-i < maxPicture {
		if j := bytes.Index(rest[i:], []byte("Exif\x00\x00")); j >= 0 && j < 64 {
			f.exif(where+" (behind the end)", rest[i+j+6:])
		}
	}
}

// segment looks at one segment of a JPEG.
func (f *finder) segment(where string, marker byte, body []byte) {
	has := func(id string) ([]byte, bool) { return bytes.CutPrefix(body, []byte(id)) }
	switch {
	case marker == 0xfe:
		f.add(Comment, where, "comment in the JPEG", string(body))
		f.match(where, body)
	case marker == 0xe0, marker == 0xee: // JFIF, Adobe
		if rest, ok := has("JFXX\x00"); ok {
			f.add(Thumbnail, where, "small copy of the picture in JFXX", fmt.Sprintf("%d bytes", len(rest)))
		} else if marker == 0xe0 && len(body) >= 14 && int(body[12])*int(body[13]) > 0 {
			f.add(Thumbnail, where, "small copy of the picture in JFIF", "")
		}
	case marker == 0xe1:
		if tiff, ok := has("Exif\x00\x00"); ok {
			f.exif(where, tiff)
		} else if x, ok := has("http://ns.adobe.com/xap/1.0/\x00"); ok {
			f.xmp(where, x)
		} else if x, ok := has("http://ns.adobe.com/xmp/extension/\x00"); ok {
			f.xmp(where, x)
		} else {
			f.add(Vendor, where, "unknown block in the JPEG", string(body[:min(len(body), 20)]))
			f.match(where, body)
		}
	case marker == 0xe2:
		if icc, ok := has("ICC_PROFILE\x00"); ok {
			f.match(where, icc)
		} else if _, ok := has("MPF\x00"); ok {
			f.add(Thumbnail, where, "list of further pictures in the JPEG (MPF)", "")
		} else {
			f.add(Vendor, where, "unknown block in the JPEG", string(body[:min(len(body), 20)]))
			f.match(where, body)
		}
	case marker == 0xed:
		if rest, ok := has("Photoshop 3.0\x00"); ok {
			f.photoshop(where, rest)
		} else {
			f.add(Vendor, where, "unknown block in the JPEG", string(body[:min(len(body), 20)]))
		}
	case marker >= 0xe0 && marker <= 0xef:
		f.add(Vendor, where, fmt.Sprintf("block APP%d in the JPEG", marker-0xe0), string(body[:min(len(body), 20)]))
		f.match(where, body)
	}
}

// photoshop walks resource blocks: "8BIM", number, name padded to even, size, data padded to even.
func (f *finder) photoshop(where string, b []byte) {
	for len(b) >= 12 && string(b[:4]) == "8BIM" {
		id := binary.BigEndian.Uint16(b[4:])
		name := 1 + int(b[6])
		name += name & 1
		if len(b) < 6+name+4 {
			return
		}
		size := int(binary.BigEndian.Uint32(b[6+name:]))
		b = b[6+name+4:]
		if size < 0 || size > len(b) {
			return
		}
		switch data := b[:size]; id {
		case 0x0404:
			f.iptc(where, data)
		case 0x0409, 0x040c:
			f.add(Thumbnail, where, "small copy of the picture in a Photoshop block", "")
		case 0x0424:
			f.xmp(where, data)
		case 0x0422, 0x0423:
			f.exif(where, data)
		}
		b = b[min(len(b), size+size&1):]
	}
}

// iptcTags are datasets of record 2 (IPTC IIM 4.2).
var iptcTags = map[byte]exifTag{
	5: {Comment, "title in IPTC"}, 25: {Comment, "keyword in IPTC"}, 55: {Time, "date in IPTC"},
	80: {Name, "author in IPTC"}, 90: {Position, "city in IPTC"}, 92: {Position, "place in IPTC"}, 95: {Position, "state in IPTC"},
	101: {Position, "country in IPTC"}, 110: {Name, "credit in IPTC"}, 115: {Name, "source in IPTC"}, 116: {Name, "copyright in IPTC"},
	118: {Name, "contact in IPTC"}, 120: {Comment, "caption in IPTC"}, 122: {Name, "author of the caption in IPTC"},
}

// iptc walks datasets: 0x1c, record, number, length of two bytes.
func (f *finder) iptc(where string, b []byte) {
	for len(b) >= 5 && b[0] == 0x1c {
		size := int(binary.BigEndian.Uint16(b[3:]))
		if size > len(b)-5 {
			break
		}
		if tag, ok := iptcTags[b[2]]; ok && b[1] == 2 && size > 0 {
			f.add(tag.kind, where, tag.what, string(b[5:5+size]))
		}
		b = b[5+size:]
	}
	f.match(where, b)
}

// xmpNames are properties, as attributes or elements, whatever prefix they carry.
var xmpNames = []struct {
	re   *regexp.Regexp
	kind Kind
	what string
}{
	{regexp.MustCompile(`(?i)\b[\w-]+:GPS(?:Latitude|Longitude|Coordinates)(?:\s*=\s*["']\s*|\s*>\s*)[+-]?[0-9]()`), Position, "position in XMP"},
	{regexp.MustCompile(`\b[\w-]+:(?:City|Location|Sublocation|State|CountryName|Country)(?:\s*=\s*["']|\s*>)([^"'<]*[^"'<\s][^"'<]*)`), Position, "name of a place in XMP"},
	{regexp.MustCompile(`\b[\w-]+:(?:SerialNumber|BodySerialNumber|LensSerialNumber|CameraSerialNumber)(?:\s*=\s*["']|\s*>)([^"'<]*[^"'<\s][^"'<]*)`), Serial, "serial number in XMP"},
	{regexp.MustCompile(`\b[\w-]+:(?:OwnerName|CameraOwnerName|Artist|Credit|Source|AuthorsPosition|CaptionWriter|PersonInImage|PersonDisplayName)(?:\s*=\s*["']|\s*>)([^"'<]*[^"'<\s][^"'<]*)`), Name, "name in XMP"},
	{regexp.MustCompile(`(?s)<[\w-]+:(?:creator|contributor|rights|PersonInImage)\b[^>]*>\s*<rdf:(?:Seq|Bag|Alt)>\s*<rdf:li[^>]*>([^<]*)`), Name, "name in XMP"},
	{regexp.MustCompile(`\bmwg-rs:Name(?:\s*=\s*["']|\s*>)([^"'<]+)`), Name, "name of a face in XMP"},
	{regexp.MustCompile(`\b[\w-]+:(?:CreateDate|ModifyDate|DateCreated|MetadataDate)(?:\s*=\s*["']|\s*>)([^"'<]+)`), Time, "time in XMP"},
	{regexp.MustCompile(`\b[\w-]+:(?:CreatorTool|Make|Model|HostComputer)(?:\s*=\s*["']|\s*>)([^"'<]+)`), Device, "device or program in XMP"},
	{regexp.MustCompile(`(?s)<[\w-]+:(?:description|title|subject)\b[^>]*>\s*<rdf:(?:Seq|Bag|Alt)>\s*<rdf:li[^>]*>([^<]*)`), Comment, "text in XMP"},
	{regexp.MustCompile(`\b(?:xmpGImg:image|xapGImg:image|GImage:Data|GDepth:Data|Device:Data)\b()`), Thumbnail, "second picture in XMP"},
}

// xmp looks at a packet of XMP by its words: a packet is often cut up or broken, so that an XML
// reader would see less than a reader of a leak does.
func (f *finder) xmp(where string, b []byte) {
	b = b[:min(len(b), maxPacked)]
	n := len(f.leaks)
	for _, x := range xmpNames {
		for _, m := range x.re.FindAllSubmatch(b, 20) {
			f.add(x.kind, where, x.what, string(m[1]))
		}
	}
	f.match(where, b)
	if len(f.leaks) == n && len(bytes.TrimSpace(b)) > 0 {
		f.add(Vendor, where, "block of XMP", fmt.Sprintf("%d bytes", len(b)))
	}
}

// publicChunks are those of PNG (third edition, 11) that hold nothing but picture and colour, and
// the extensions for size and unit of physical pixels.
const publicChunks = " IHDR PLTE IDAT IEND tRNS cHRM gAMA sBIT sRGB cICP mDCV cLLI bKGD hIST pHYs sPLT acTL fcTL fdAT oFFs pCAL sCAL sTER "

func (f *finder) png(where string, data []byte) {
	at := len(pngMagic)
	for at+12 <= len(data) {
		size := int(binary.BigEndian.Uint32(data[at:]))
		if size < 0 || size > len(data)-at-12 {
			break
		}
		kind, body := string(data[at+4:at+8]), data[at+8:at+8+size]
		at += 12 + size
		switch kind {
		case "IEND":
			if rest := data[at:]; len(rest) > 0 {
				f.trailing(where, rest)
			}
			return
		case "eXIf":
			f.exif(where, bytes.TrimPrefix(body, []byte("Exif\x00\x00")))
		case "tIME":
			f.add(Time, where, "time in the PNG", "")
		case "tEXt", "zTXt", "iTXt":
			f.pngText(where, kind, body)
		case "iCCP":
			if _, rest, ok := bytes.Cut(body, []byte{0}); ok && len(rest) > 1 {
				f.match(where, inflate(rest[1:]))
			}
			f.match(where, body[:max(0, bytes.IndexByte(body, 0))])
		default:
			if !strings.Contains(publicChunks, " "+kind+" ") {
				f.add(Vendor, where, fmt.Sprintf("chunk %q in the PNG", kind), fmt.Sprintf("%d bytes", size))
				f.match(where, body)
			}
		}
	}
	f.add(Unread, where, "the PNG ends before its end", "")
}

// pngText reads the three text chunks (PNG third edition 11.3.3): keyword, zero, and in iTXt packed
// flag, method, language, zero, translated keyword, zero.
func (f *finder) pngText(where, kind string, body []byte) {
	key, text, _ := bytes.Cut(body, []byte{0})
	switch {
	case kind == "zTXt" && len(text) > 0:
		text = inflate(text[1:])
	case kind == "iTXt" && len(text) > 2:
		packed := text[0] == 1
		_, text, _ = bytes.Cut(text[2:], []byte{0})
		_, text, _ = bytes.Cut(text, []byte{0})
		if packed {
			text = inflate(text)
		}
	}
	keyword := string(key)
	switch strings.ToLower(keyword) {
	case "xml:com.adobe.xmp":
		f.xmp(where, text)
		return
	case "author", "artist", "copyright":
		f.add(Name, where, fmt.Sprintf("text %q in the PNG", keyword), string(text))
	case "creation time", "date:create", "date:modify", "date:timestamp":
		f.add(Time, where, fmt.Sprintf("text %q in the PNG", keyword), string(text))
	case "software", "source":
		f.add(Device, where, fmt.Sprintf("text %q in the PNG", keyword), string(text))
	default:
		f.add(Comment, where, fmt.Sprintf("text %q in the PNG", keyword), string(text))
	}
	f.match(where, text)
}

// inflate unpacks a zlib stream up to maxPacked, as far as it goes.
func inflate(b []byte) []byte {
	r, err := zlib.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil
	}
	out, _ := io.ReadAll(io.LimitReader(r, maxPacked)) // what could be read counts
	return out
}

// webp walks RIFF chunks.
func (f *finder) webp(where string, data []byte) {
	at := 12
	for at+8 <= len(data) {
		kind, size := string(data[at:at+4]), int(binary.LittleEndian.Uint32(data[at+4:]))
		if size < 0 || size > len(data)-at-8 {
			f.add(Unread, where, "the WebP ends before its end", "")
			return
		}
		body := data[at+8 : at+8+size]
		at += 8 + size + size&1
		switch kind {
		case "EXIF":
			f.exif(where, bytes.TrimPrefix(body, []byte("Exif\x00\x00")))
		case "XMP ":
			f.xmp(where, body)
		case "ICCP":
			f.match(where, body)
		case "VP8 ", "VP8L", "VP8X", "ALPH", "ANIM", "ANMF":
		default:
			f.add(Vendor, where, fmt.Sprintf("chunk %q in the WebP", kind), fmt.Sprintf("%d bytes", size))
			f.match(where, body)
		}
	}
}
