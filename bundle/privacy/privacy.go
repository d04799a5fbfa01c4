// Package privacy says what a finished file would give away about the person who made it: where a
// photo was taken, names, serial numbers, paths of a home folder, e-mail and network addresses,
// small uncropped copies of a picture, bytes behind its end.
//
// It states facts and judges nothing: the maker's own name in a licence is a leak of kind Name just
// like a stranger's in a photo. What is meant to be public, the caller knows. It cleans nothing
// either; package photo does that for pictures, with a reader of its own, so that one looks over
// the other's shoulder.
//
// It reads JPEG, PNG, WebP, 3MF and other zips (and what lies in them), STL, STEP, PDF, and takes
// everything else for text. What it cannot look into is a leak of kind Unread rather than nothing.
// Compressed streams of a PDF, and text drawn as pixels, are not looked at.
//
// Sources: CIPA DC-008 (EXIF), IPTC IIM 4.2, XMP part 1 and 2, PNG third edition, 3MF core 1.4.0,
// ISO 10303-21.
package privacy

import (
	"bytes"
	"fmt"
	"io"
	"path"
	"strings"
	"unicode"
)

// Kind is what a leak tells about.
type Kind string

// The kinds. The first group names a person or place; the second tells about the machine or the
// moment; the last is what could not be judged.
const (
	Position Kind = "position" // latitude and longitude, or the name of a place
	Name     Kind = "name"     // a person or an organisation
	Serial   Kind = "serial"   // serial number of a camera, lens or device
	Path     Kind = "path"     // path on somebody's machine
	Email    Kind = "email"
	Address  Kind = "address" // private network address or host name

	Thumbnail Kind = "thumbnail"  // a second, often uncropped, copy of the picture
	Trailing  Kind = "trailing"   // bytes behind the end of the picture
	MakerNote Kind = "maker-note" // a block that only the camera's maker can read
	Comment   Kind = "comment"    // free text: comments, descriptions
	Time      Kind = "time"       // when it was made
	Device    Kind = "device"     // camera, computer or program
	Vendor    Kind = "vendor"     // a part or block that no standard describes
	Header    Kind = "header"     // name or header of an STL: free text, as a rule a program's

	Unread Kind = "unread"
)

// Leak is one thing that a file gives away.
type Leak struct {
	Kind  Kind   `json:"kind"`
	What  string `json:"what"`           // what it is: "position in EXIF", "author in FILE_NAME"
	Where string `json:"where"`          // file, and the part of it
	Text  string `json:"text,omitempty"` // the text itself, cut to 80 characters; never a position
}

// Limits of what is looked into.
const (
	maxPicture = 128 << 20 // bytes of a picture held in memory
	maxParts   = 1000      // parts of a zip
	maxZip     = 1 << 30   // bytes of all parts of a zip together, unpacked
	maxRatio   = 200       // times a part may grow
	maxDepth   = 3         // zips in zips
	maxLeaks   = 200       // leaks of a kind told of one file
	maxPacked  = 1 << 20   // bytes of one packed text in a PNG
)

// Scan looks at a file in memory. name is used for Where and, where the bytes do not tell, for the
// format. The result is in the order of the file.
func Scan(name string, data []byte) []Leak {
	leaks, err := ScanReader(name, bytes.NewReader(data), int64(len(data)))
	if err != nil { // a bytes.Reader does not fail
		return append(leaks, Leak{Unread, err.Error(), name, ""})
	}
	return leaks
}

// ScanReader is Scan for a file of size bytes of which only what is needed is held in memory. The
// error is r's.
func ScanReader(name string, r io.ReaderAt, size int64) ([]Leak, error) {
	f := &finder{seen: map[Leak]bool{}, count: map[Kind]int{}}
	err := f.scan(name, name, r, size, 0)
	return f.leaks, err
}

// finder collects leaks, each once.
type finder struct {
	leaks []Leak
	seen  map[Leak]bool
	count map[Kind]int
	bytes int64 // unpacked so far
	parts int
}

func (f *finder) add(kind Kind, where, what, text string) {
	text = tidy(text)
	l := Leak{kind, what, where, text}
	if f.seen[l] || f.count[kind] > maxLeaks {
		return
	}
	f.seen[l] = true
	if f.count[kind]++; f.count[kind] > maxLeaks {
		l = Leak{Unread, fmt.Sprintf("more than %d leaks of the kind %q", maxLeaks, kind), where, ""}
	}
	f.leaks = append(f.leaks, l)
}

// tidy makes a text printable on one line of at most 80 characters.
func tidy(s string) string {
	n := 0
	s = strings.Map(func(r rune) rune {
		n++
		switch {
		case n > 80:
			return -1
		case r == '\n' || r == '\r' || r == '\t':
			return ' '
		case r == unicode.ReplacementChar || !unicode.IsPrint(r):
			return -1
		}
		return r
	}, s)
	s = strings.TrimSpace(s)
	if n > 80 {
		s += "…"
	}
	return s
}

// scan looks at one file or part; where is what its leaks are told under.
func (f *finder) scan(where, name string, r io.ReaderAt, size int64, depth int) error {
	head := make([]byte, min(size, 512))
	if n, err := r.ReadAt(head, 0); n < len(head) {
		return err
	}
	switch ext := strings.ToLower(path.Ext(name)); {
	case bytes.HasPrefix(head, []byte("\xff\xd8\xff")):
		return f.whole(where, r, size, f.jpeg)
	case bytes.HasPrefix(head, []byte(pngMagic)):
		return f.whole(where, r, size, f.png)
	case len(head) >= 12 && string(head[:4]) == "RIFF" && string(head[8:12]) == "WEBP":
		return f.whole(where, r, size, f.webp)
	case bytes.HasPrefix(head, []byte("PK\x03\x04")), bytes.HasPrefix(head, []byte("PK\x05\x06")):
		return f.zip(where, r, size, depth)
	case isBinarySTL(head, size):
		f.stlHeader(where, "header of the STL", head[:80])
		return nil
	case ext == ".stl":
		return f.asciiSTL(where, r, size)
	case bytes.HasPrefix(bytes.TrimLeft(head, " \r\n\xef\xbb\xbf"), []byte("ISO-10303-21;")):
		return f.step(where, r, size)
	case bytes.HasPrefix(head, []byte("%PDF-")):
		return f.pdf(where, r, size)
	case bytes.HasPrefix(head, []byte("II*\x00")), bytes.HasPrefix(head, []byte("MM\x00*")),
		bytes.HasPrefix(head, []byte("GIF8")), len(head) > 12 && string(head[4:8]) == "ftyp":
		f.add(Unread, where, "a picture or film of a format that is not looked into", "")
	}
	return f.text(where, io.NewSectionReader(r, 0, size))
}

// whole gives look all of a picture.
func (f *finder) whole(where string, r io.ReaderAt, size int64, look func(where string, data []byte)) error {
	if size > maxPicture {
		f.add(Unread, where, fmt.Sprintf("a picture of %d bytes; at most %d are looked into", size, maxPicture), "")
		return nil
	}
	data := make([]byte, size)
	if n, err := r.ReadAt(data, 0); n < len(data) {
		return err
	}
	look(where, data)
	return nil
}
