package privacy

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"path"
	"regexp"
	"strings"
)

// zip looks into a 3MF or any other zip: comments, names, and each part by its own kind.
func (f *finder) zip(where string, r io.ReaderAt, size int64, depth int) error {
	if depth >= maxDepth {
		f.add(Unread, where, fmt.Sprintf("zips in zips are looked into %d deep", maxDepth), "")
		return nil
	}
	z, err := zip.NewReader(r, size)
	if err != nil {
		f.add(Unread, where, "a zip that cannot be read: "+err.Error(), "")
		return nil
	}
	if z.Comment != "" {
		f.add(Comment, where, "comment of the zip", z.Comment)
		f.match(where, []byte(z.Comment))
	}
	is3MF := false
	for _, part := range z.File {
		is3MF = is3MF || strings.EqualFold(part.Name, "[Content_Types].xml")
	}
	for _, part := range z.File {
		if f.parts++; f.parts > maxParts {
			f.add(Unread, where, fmt.Sprintf("more than %d parts", maxParts), "")
			return nil
		}
		inside := where + ": " + tidy(part.Name)
		f.match(inside, []byte(part.Name))
		if part.Comment != "" {
			f.add(Comment, inside, "comment in the zip", part.Comment)
			f.match(inside, []byte(part.Comment))
		}
		if is3MF && !standardPart(part.Name) {
			f.add(Vendor, inside, "part that the 3MF standard does not know", "")
		}
		if err := f.part(inside, part, depth); err != nil {
			return err
		}
	}
	return nil
}

// standardPart reports whether a part of a 3MF is of the core specification (1.4.0, chapter 2) or
// its texture extension. Others hold printer settings, as a rule, with names and addresses.
func standardPart(name string) bool {
	n := strings.ToLower(strings.TrimPrefix(name, "/"))
	switch ext := path.Ext(n); {
	case strings.HasSuffix(n, "/"), n == "[content_types].xml", ext == ".rels", ext == ".model":
		return true
	case ext == ".png", ext == ".jpg", ext == ".jpeg":
		return true
	}
	return false
}

// part looks at one part of a zip within the limits.
func (f *finder) part(where string, part *zip.File, depth int) error {
	if part.FileInfo().IsDir() {
		return nil
	}
	unread := func(format string, args ...any) error {
		f.add(Unread, where, fmt.Sprintf(format, args...), "")
		return nil
	}
	if part.UncompressedSize64 > 1<<20 && part.UncompressedSize64/maxRatio > part.CompressedSize64 {
		return unread("a part that grows more than %d times", maxRatio)
	}
	if f.bytes+int64(min(part.UncompressedSize64, maxZip)) > maxZip {
		return unread("more than %d bytes unpacked", maxZip)
	}
	r, err := part.Open()
	if err != nil {
		return unread("a part that cannot be read: %v", err)
	}
	defer r.Close()
	head := make([]byte, 512)
	n, err := io.ReadFull(r, head)
	head = head[:n]
	f.bytes += int64(n)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return unread("a part that cannot be read: %v", err)
	}
	if isBinarySTL(head, int64(part.UncompressedSize64)) {
		f.stlHeader(where, "header of the STL", head[:80])
		return nil
	}
	rest := io.MultiReader(bytes.NewReader(head), &metered{r, f})
	if strings.EqualFold(path.Ext(part.Name), ".model") || bytes.Contains(head, []byte("<?xml")) {
		rest = &metadataReader{f: f, where: where, r: rest}
	} else if !looksLikeText(head) {
		// Pictures, meshes and inner zips are looked at as files, which need them whole.
		if part.UncompressedSize64 > maxPicture {
			return unread("a part of %d bytes; at most %d are looked into", part.UncompressedSize64, maxPicture)
		}
		data, err := io.ReadAll(rest)
		if err != nil {
			return unread("a part that cannot be read: %v", err)
		}
		return f.scan(where, part.Name, bytes.NewReader(data), int64(len(data)), depth+1)
	}
	if err := f.text(where, rest); err != nil {
		return unread("a part that cannot be read: %v", err)
	}
	return nil
}

func looksLikeText(head []byte) bool {
	for _, c := range head {
		if c < ' ' && c != '\t' && c != '\n' && c != '\r' {
			return false
		}
	}
	return !bytes.HasPrefix(head, []byte("ISO-10303")) && !bytes.HasPrefix(head, []byte("%PDF")) && !bytes.HasPrefix(head, []byte("solid"))
}

// metered counts what is unpacked in all and stops at maxZip, whatever the headers claimed.
type metered struct {
	r io.Reader
	f *finder
}

func (m *metered) Read(p []byte) (int, error) {
	if m.f.bytes > maxZip {
		return 0, fmt.Errorf("more than %d bytes unpacked", maxZip)
	}
	n, err := m.r.Read(p)
	m.f.bytes += int64(n)
	return n, err
}

// metadataReader looks for <metadata> elements in the XML that runs through it.
type metadataReader struct {
	f     *finder
	where string
	r     io.Reader
	tail  []byte // end of what was read, where an element may have begun
}

var metadataElement = regexp.MustCompile(`<metadata\b[^>]*\bname\s*=\s*["']([^"']*)["'][^>]*>([^<]*)<`)

func (m *metadataReader) Read(p []byte) (int, error) {
	n, err := m.r.Read(p)
	buf := append(m.tail, p[:n]...)
	const begin = "<metadata"
	done := max(0, len(buf)-len(begin)+1) // half a begin may stand behind this
	if i := bytes.LastIndex(buf, []byte(begin)); i >= 0 {
		end := 0
		for _, e := range metadataElement.FindAllSubmatchIndex(buf, 100) {
			m.f.metadata(m.where, string(buf[e[2]:e[3]]), string(buf[e[4]:e[5]]))
			end = e[1]
		}
		if i >= end && len(buf)-i < 64<<10 {
			done = i
		}
	}
	m.tail = bytes.Clone(buf[done:])
	return n, err
}

// metadata judges one metadata entry of a 3MF (core 1.4.0, 3.4.1, and names with a prefix).
func (f *finder) metadata(where, name, value string) {
	if strings.TrimSpace(value) == "" {
		return
	}
	what := fmt.Sprintf("metadata %q", name)
	switch name {
	case "Title", "LicenseTerms", "Rating":
	case "Designer", "Copyright":
		f.add(Name, where, what, value)
	case "Description":
		f.add(Comment, where, what, value)
	case "CreationDate", "ModificationDate":
		f.add(Time, where, what, value)
	case "Application":
		f.add(Device, where, what, value)
	default:
		f.add(Vendor, where, what, value)
	}
}

// isBinarySTL reports whether a file is one by its size, which the count of facets at byte 80 gives:
// its numbers hold no texts.
func isBinarySTL(head []byte, size int64) bool {
	return len(head) >= 84 && size == 84+50*int64(binary.LittleEndian.Uint32(head[80:]))
}

// stlHeader looks at the 80 bytes in which programs leave names and paths.
func (f *finder) stlHeader(where, what string, b []byte) {
	f.match(where, b)
	if text := strings.Trim(string(b), " \x00"); text != "" {
		f.add(Header, where, what, text)
	}
}

// asciiSTL looks at what is not numbers in an STL that is not binary.
func (f *finder) asciiSTL(where string, r io.ReaderAt, size int64) error {
	head := make([]byte, min(size, 512))
	if n, err := r.ReadAt(head, 0); n < len(head) {
		return err
	}
	if name, ok := bytes.CutPrefix(bytes.TrimLeft(head, " \t\r\n"), []byte("solid")); ok {
		name, _, _ = bytes.Cut(name, []byte("\n"))
		f.stlHeader(where, "name in the STL", bytes.TrimSpace(name))
	}
	return f.text(where, io.NewSectionReader(r, 0, size))
}

// step reads the header section of a STEP file (ISO 10303-21, 8.2) and the persons in its data.
func (f *finder) step(where string, r io.ReaderAt, size int64) error {
	head := make([]byte, min(size, 256<<10))
	if n, err := r.ReadAt(head, 0); n < len(head) {
		return err
	}
	if i := bytes.Index(head, []byte("FILE_NAME")); i >= 0 {
		for n, list := range stepArguments(head[i+len("FILE_NAME"):]) {
			for _, text := range list {
				if tag, ok := fileName[n]; ok && said(text) {
					f.add(tag.kind, where, tag.what, text)
				}
			}
		}
	}
	for _, entity := range []string{"PERSON", "ORGANIZATION"} {
		for rest := head; ; {
			_, after, found := bytes.Cut(rest, []byte(entity+"("))
			if !found {
				break
			}
			rest = after
			for n, list := range stepArguments(append([]byte("("), after[:min(len(after), 1000)]...)) {
				// 0 is the number of the person or organisation.
				if text := strings.Join(list, " "); n > 0 && n < 3 && said(text) {
					f.add(Name, where, strings.ToLower(entity)+" in the data", text)
				}
			}
		}
	}
	return f.text(where, io.NewSectionReader(r, 0, size))
}

// fileName are the arguments of FILE_NAME by their place.
var fileName = map[int]exifTag{
	1: {Time, "time in FILE_NAME"},
	2: {Name, "author in FILE_NAME"},
	3: {Name, "organisation in FILE_NAME"},
	5: {Device, "program in FILE_NAME"},
	6: {Name, "authorisation in FILE_NAME"},
}

// said reports whether a text says something.
func said(text string) bool {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "", "none", "unknown", "unspecified", "not specified", "-":
		return false
	}
	return true
}

// stepArguments reads "(a, (b, c), …)" and returns the strings of each argument, by place.
func stepArguments(b []byte) [][]string {
	var out [][]string
	depth := 0
	for i := 0; i < len(b) && i < 64<<10; i++ {
		switch c := b[i]; {
		case c == '(':
			if depth++; depth == 1 {
				out = append(out, nil)
			}
		case c == ')':
			if depth--; depth <= 0 {
				return out
			}
		case depth == 0 && c > ' ':
			return out
		case c == ',' && depth == 1:
			out = append(out, nil)
		case c == '\'' && depth > 0:
			var text []byte
			for i++; i < len(b); i++ {
				if b[i] == '\'' {
					if i+1 >= len(b) || b[i+1] != '\'' {
						break
					}
					i++ // doubled: an apostrophe
				}
				text = append(text, b[i])
			}
			out[len(out)-1] = append(out[len(out)-1], string(text))
		}
	}
	return out
}

var pdfInfo = regexp.MustCompile(`/(Author|Creator|Producer|Company|Manager)\s*\(((?:[^()\\]|\\.){1,200})\)`)

// pdf looks at the open parts of a PDF: its information dictionary and XMP.
func (f *finder) pdf(where string, r io.ReaderAt, size int64) error {
	return f.whole(where, r, size, func(where string, data []byte) {
		for _, m := range pdfInfo.FindAllSubmatch(data, 20) {
			kind := Name
			if k := string(m[1]); k == "Creator" || k == "Producer" {
				kind = Device
			}
			f.add(kind, where, fmt.Sprintf("%s in the PDF", m[1]), string(m[2]))
		}
		if i := bytes.Index(data, []byte("<x:xmpmeta")); i >= 0 {
			f.xmp(where, data[i:])
		}
		f.match(where, data)
	})
}
