package photo

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"io"
)

// metadata is what is taken over from the file around the pixels: how they are turned, and what
// their numbers mean as colours.
type metadata struct {
	orientation int
	icc         []byte   // ICC profile, nil for none
	chunks      [][]byte // PNG only: whole chunks sRGB, gAMA, cHRM, cICP
}

// iccMax is the longest ICC profile taken over, in bytes. Display profiles have some 500 to 4,000,
// table-based ones up to 1 MB. Common practice, no source.
const iccMax = 1 << 20

// readJPEG walks the segments before the picture data (ITU-T T.81 B.1.1). It never fails: what it
// does not understand the decoder judges.
func readJPEG(data []byte) metadata {
	m := metadata{orientation: 1}
	parts := map[byte][]byte{}
	var count byte
	exif := false
	for at := 2; at+4 <= len(data) && data[at] == 0xff; {
		marker := data[at+1]
		switch {
		case marker == 0xff: // fill byte
			at++
			continue
		case marker == 0x01, marker >= 0xd0 && marker <= 0xd7: // no length follows
			at += 2
			continue
		case marker == 0xda, marker == 0xd9: // picture data, end
			at = len(data)
			continue
		}
		length := int(binary.BigEndian.Uint16(data[at+2:]))
		if length < 2 || at+2+length > len(data) {
			break
		}
		body := data[at+4 : at+2+length]
		at += 2 + length
		if tiff, ok := bytes.CutPrefix(body, []byte("Exif\x00\x00")); ok && marker == 0xe1 && !exif {
			exif = true
			m.orientation = orientation(tiff)
		}
		// ICC.1:2022 annex B.4: 14 bytes, number and count of parts from 1.
		if icc, ok := bytes.CutPrefix(body, []byte("ICC_PROFILE\x00")); ok && marker == 0xe2 && len(icc) > 2 {
			count = icc[1]
			parts[icc[0]] = icc[2:]
		}
	}
	for n := byte(1); n <= count && n > 0; n++ {
		part, ok := parts[n]
		if !ok {
			m.icc = nil
			break
		}
		m.icc = append(m.icc, part...)
	}
	return m
}

// readPNG walks the chunks up to the picture data; eXIf may also stand behind it (PNG, third
// edition, 11.3.3.4 and 5.6).
func readPNG(data []byte) metadata {
	m := metadata{orientation: 1}
	seen := map[string]bool{}
	for at := len(pngMagic); at+12 <= len(data); {
		length := int(binary.BigEndian.Uint32(data[at:]))
		if length > len(data)-at-12 {
			break
		}
		chunk := data[at : at+12+length]
		kind, body := string(chunk[4:8]), chunk[8:8+length]
		at += len(chunk)
		if crc32.ChecksumIEEE(chunk[4:8+length]) != binary.BigEndian.Uint32(chunk[8+length:]) || seen[kind] {
			continue
		}
		seen[kind] = true
		switch kind {
		case "eXIf":
			m.orientation = orientation(body)
		case "iCCP":
			m.icc = readICCP(body)
		case "sRGB", "gAMA", "cHRM", "cICP":
			if length == map[string]int{"sRGB": 1, "gAMA": 4, "cHRM": 32, "cICP": 4}[kind] {
				m.chunks = append(m.chunks, chunk)
			}
		}
	}
	return m
}

// readICCP unpacks an iCCP chunk: a name, a zero, the method 0, a zlib stream.
func readICCP(body []byte) []byte {
	_, rest, ok := bytes.Cut(body, []byte{0})
	if !ok || len(rest) < 1 || rest[0] != 0 {
		return nil
	}
	r, err := zlib.NewReader(bytes.NewReader(rest[1:]))
	if err != nil {
		return nil
	}
	icc, err := io.ReadAll(io.LimitReader(r, iccMax+1))
	if err != nil {
		return nil
	}
	return icc
}

// fits reports whether a profile is whole and describes colours of the kind the picture has
// (ICC.1:2022 7.2: size at 0, colour space at 16, "acsp" at 36).
func fits(icc []byte, grey bool) bool {
	if len(icc) < 128 || len(icc) > iccMax || int(binary.BigEndian.Uint32(icc)) != len(icc) || string(icc[36:40]) != "acsp" {
		return false
	}
	if grey {
		return string(icc[16:20]) == "GRAY"
	}
	return string(icc[16:20]) == "RGB "
}

// orientation reads tag 274 of the first directory of a TIFF block as EXIF has it, 1 when it is not
// there or makes no sense. Whether the block holds anything else is no matter here: nothing of it
// is taken over.
func orientation(tiff []byte) int {
	if len(tiff) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.LittleEndian
	if string(tiff[:2]) == "MM" {
		order = binary.BigEndian
	} else if string(tiff[:2]) != "II" {
		return 1
	}
	at := uint64(order.Uint32(tiff[4:]))
	if order.Uint16(tiff[2:]) != 42 || at+2 > uint64(len(tiff)) {
		return 1
	}
	n := int(order.Uint16(tiff[at:]))
	dir := tiff[at+2:]
	for ; n > 0 && len(dir) >= 12; n, dir = n-1, dir[12:] {
		if order.Uint16(dir) != 274 {
			continue
		}
		// A SHORT, count 1, stands at the front of the value field; some write a LONG.
		v := int(order.Uint16(dir[8:]))
		if order.Uint16(dir[2:]) == 4 {
			v = int(order.Uint32(dir[8:]))
		}
		if v < 1 || v > 8 {
			return 1
		}
		return v
	}
	return 1
}

// withJPEG puts the profile behind the first marker of an encoded JPEG.
func (m metadata) withJPEG(out []byte) []byte {
	if m.icc == nil {
		return out
	}
	const room = 65535 - 2 - 14 // most that one segment holds of a profile
	count := (len(m.icc) + room - 1) / room
	if count > 255 {
		return out
	}
	head := append([]byte(nil), out[:2]...)
	for n := range count {
		part := m.icc[n*room : min((n+1)*room, len(m.icc))]
		head = append(head, 0xff, 0xe2)
		head = binary.BigEndian.AppendUint16(head, uint16(2+14+len(part)))
		head = append(head, "ICC_PROFILE\x00"...)
		head = append(head, byte(n+1), byte(count))
		head = append(head, part...)
	}
	return append(head, out[2:]...)
}

// withPNG puts profile and colour chunks behind IHDR of an encoded PNG. The profile is packed anew
// under a name of ours: the name and the stream's slack could hold anything.
func (m metadata) withPNG(out []byte) []byte {
	const ihdrEnd = len(pngMagic) + 12 + 13
	head := append([]byte(nil), out[:ihdrEnd]...)
	if m.icc != nil {
		var b bytes.Buffer
		b.WriteString("ICC profile\x00\x00")
		z := zlib.NewWriter(&b)
		z.Write(m.icc) // a bytes.Buffer does not fail
		z.Close()
		head = binary.BigEndian.AppendUint32(head, uint32(b.Len()))
		body := append([]byte("iCCP"), b.Bytes()...)
		head = append(head, body...)
		head = binary.BigEndian.AppendUint32(head, crc32.ChecksumIEEE(body))
	}
	for _, c := range m.chunks {
		if m.icc != nil && string(c[4:8]) == "sRGB" {
			continue // not both (PNG, third edition, 5.6)
		}
		head = append(head, c...)
	}
	return append(head, out[ihdrEnd:]...)
}
