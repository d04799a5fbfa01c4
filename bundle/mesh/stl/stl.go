// Package stl reads and writes STL, binary and ASCII, and measures what it reads in the same pass.
//
// STL has no published standard; the layout is that of Paul Bourke's description of the format and of the
// Kaitai format gallery (media/stl): 80 free bytes, a little-endian facet count, then 50 bytes a facet.
// What real files do beyond it is met as follows: the size of the file, not the word "solid", tells binary
// from ASCII; normals are ignored, the order of the corners counts; attribute bytes are noted, never
// taken for a colour. A file that does not add up (cut short, bytes behind the end, a coordinate that is
// no number) is refused with the place, since a wrong number is worse than none.
//
// The package is not for other mesh formats: OBJ, STEP and the like are recognised only to say why they
// are refused. STL has no unit; coordinates are taken as millimetres.
package stl

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"

	"dropwright/bundle/mesh"
)

const (
	headerSize = 80
	dataStart  = 84 // header and count
	facetSize  = 50 // normal, three corners, two attribute bytes
	cornersAt  = 12 // of the corners in a facet
)

// MaxBytes is the largest file that is read, as many bytes as mesh.MaxTriangles facets take in binary.
const MaxBytes = dataStart + facetSize*mesh.MaxTriangles

// Formats, as they stand in Info.Format and in machine-readable output.
const (
	Binary = "stl-binary"
	ASCII  = "stl-ascii"
)

// Info is what a file says besides its triangles.
type Info struct {
	Format     string   // Binary or ASCII
	Header     []byte   // binary: the 80 bytes without trailing zeros and spaces; may name people or paths
	Solids     []string // ASCII: the names of its solids, as written, at most 100
	Attributes int      // binary: facets whose attribute bytes are not zero
}

// Error says what is wrong with a file, where, and what to do. Exactly one of Offset and Line is
// meaningful.
type Error struct {
	Offset int64  // byte, from 0; -1 where a line is given or no place
	Line   int    // from 1; 0 where an offset is given or no place
	Text   string // lower case, no full stop
	Hint   string // what to do next
}

func (e *Error) Error() string {
	where := ""
	switch {
	case e.Line > 0:
		where = fmt.Sprintf("line %d: ", e.Line)
	case e.Offset >= 0:
		where = fmt.Sprintf("byte %d: ", e.Offset)
	}
	return where + e.Text + "; " + e.Hint
}

const exportAgain = "export again as binary STL"

// Decode reads a whole STL file. Equal corners become one vertex, numbered in order of first
// appearance. The error is an *Error. data is not kept.
func Decode(data []byte) (*mesh.Mesh, Info, error) {
	format, err := detect(data)
	if err != nil {
		return nil, Info{}, err
	}
	if format == Binary {
		soup := facets(data)
		m, err := mesh.Weld(soup)
		if err != nil {
			return nil, Info{}, binaryError(err)
		}
		info := binaryInfo(data)
		info.Attributes = attributes(data, 0, soup.Len())
		return m, info, nil
	}
	return decodeASCII(data)
}

// facets is the body of a binary file.
func facets(data []byte) mesh.Soup {
	return mesh.Soup{Data: data[dataStart:], Stride: facetSize, Offset: cornersAt}
}

func binaryInfo(data []byte) Info {
	return Info{Format: Binary, Header: bytes.Clone(bytes.TrimRight(data[:headerSize], "\x00 "))}
}

// attributes counts the facets in [from, to) whose attribute bytes are not zero.
func attributes(data []byte, from, to int) int {
	n := 0
	body := data[dataStart:]
	for i := from; i < to; i++ {
		if f := body[i*facetSize : i*facetSize+facetSize]; f[48]|f[49] != 0 {
			n++
		}
	}
	return n
}

// binaryError gives the place of a bad coordinate in the file.
func binaryError(err error) error {
	var bad *mesh.NotFiniteError
	if !errors.As(err, &bad) {
		return err
	}
	return &Error{
		Offset: dataStart + int64(bad.Triangle)*facetSize + cornersAt + int64(bad.Corner)*12 + int64(bad.Axis)*4,
		Text:   bad.Error(),
		Hint:   "repair the part in CAD and " + exportAgain,
	}
}

// count is the facet count that a binary file states.
func count(data []byte) int64 { return int64(binary.LittleEndian.Uint32(data[headerSize:])) }
