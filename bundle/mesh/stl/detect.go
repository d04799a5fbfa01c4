package stl

import (
	"bytes"
	"fmt"
	"strings"
)

// detectWindow is how far a text file is looked into for its first facet; a name may stand before it.
const detectWindow = 4096

// detect tells binary from ASCII. The size decides first: a common CAD exporter writes binary files
// whose header begins with "solid", and text files whose bytes 80 to 84 state the right count do not
// exist below 25 GB.
func detect(data []byte) (format string, err error) {
	size := int64(len(data))
	switch {
	case size == 0:
		return "", refuse("the file is empty", exportAgain)
	case size > MaxBytes:
		return "", refuse(fmt.Sprintf("the file has %d bytes, more than the %d that are read", size, int64(MaxBytes)), "export a coarser mesh")
	case size >= dataStart && size == dataStart+facetSize*count(data):
		if count(data) == 0 {
			return "", &Error{Offset: headerSize, Text: "the file holds no facets", Hint: "check that the part is visible in CAD and " + exportAgain}
		}
		return Binary, nil
	}
	if looksASCII(data) {
		return ASCII, nil
	}
	if err := other(data); err != nil {
		return "", err
	}
	if size < dataStart {
		return "", &Error{Offset: size, Text: fmt.Sprintf("the file has %d bytes, too few for an STL header of %d", size, dataStart), Hint: exportAgain}
	}
	n := count(data)
	want := dataStart + facetSize*n
	e := &Error{Offset: headerSize, Hint: "download or " + exportAgain}
	switch {
	case n == 0:
		e.Text = fmt.Sprintf("the header states no facets but %d bytes follow", size-dataStart)
	case want > size:
		e.Text = fmt.Sprintf("the header states %d facets, that is %d bytes, but the file has %d: it is cut short or not STL", n, want, size)
	default:
		e.Text = fmt.Sprintf("the header states %d facets, that is %d bytes, but the file has %d: %d bytes too many", n, want, size, size-want)
	}
	return "", e
}

func refuse(text, hint string) error { return &Error{Offset: -1, Text: text, Hint: hint} }

// looksASCII reports whether data begins with "solid" and goes on with a facet or the end of a solid,
// or breaks off before it could.
func looksASCII(data []byte) bool {
	head := data[:min(len(data), detectWindow)]
	head = bytes.ToLower(bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")), " \t\r\n\v\f"))
	rest, ok := bytes.CutPrefix(head, []byte("solid"))
	if !ok {
		return false
	}
	if bytes.Contains(rest, []byte("facet")) || bytes.Contains(rest, []byte("endsolid")) {
		return true
	}
	return len(data) < dataStart && bytes.IndexByte(rest, 0) < 0
}

// other recognises files that people take for print files, and says why they are not.
func other(data []byte) error {
	head := data[:min(len(data), detectWindow)]
	text := strings.TrimLeft(strings.TrimPrefix(string(head), "\xef\xbb\xbf"), " \t\r\n")
	lower := strings.ToLower(text)
	has := func(prefixes ...string) bool {
		for _, p := range prefixes {
			if strings.HasPrefix(lower, p) {
				return true
			}
		}
		return false
	}
	switch {
	case has("version ") && strings.Contains(lower, "\noid sha256:") && strings.Contains(lower, "\nsize "):
		return refuse("the file is a large-file pointer, not the mesh that it stands for", "fetch the large files of the repository, then try again")
	case has("iso-10303-21"):
		return refuse("the file is STEP, exact surfaces without triangles: a source file, not a print file", "list it under `from` and "+exportAgain)
	case has("pk\x03\x04"):
		return refuse("the file is a zip archive, perhaps 3MF, but is named as STL", "rename it to .3mf, or unpack it")
	case has("gltf", "ply\n", "ply\r", "solid\x00"), has("<?xml", "<amf"):
		return refuse("the file is another mesh format, not STL", exportAgain)
	case has("<!doctype", "<html"):
		return refuse("the file is a web page: the download failed", "download the mesh itself")
	case isOBJ(lower):
		return refuse("the file is OBJ, a format for rendering: without a unit, often open, with its colours in a second file", exportAgain)
	}
	return nil
}

// isOBJ reports whether the first lines are those of a Wavefront OBJ file.
func isOBJ(head string) bool {
	seen := 0
	for line := range strings.Lines(head) {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		word, _, _ := strings.Cut(line, " ")
		switch word {
		case "v", "vn", "vt", "f", "o", "g", "s", "mtllib", "usemtl":
			if seen++; seen == 3 {
				return true
			}
		default:
			return false
		}
	}
	return seen > 0
}
