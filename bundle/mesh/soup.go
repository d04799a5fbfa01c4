package mesh

import (
	"encoding/binary"
	"fmt"
	"math"
)

// MaxTriangles is the largest mesh that is worked on: 2^27 facets are 6.7 GB of binary STL, a
// hundred times the largest part that printers of this size take. (Our own limit; the code would hold
// up to 2^30.)
const MaxTriangles = 1 << 27

// Soup is a run of loose triangles as a file holds them: at Offset in each record of Stride bytes stand
// nine little-endian float32, the corners of one facet. Binary STL is Stride 50, Offset 12 (behind the
// normal).
type Soup struct {
	Data   []byte // whole records only
	Stride int
	Offset int
}

// corners is the size of a facet's nine float32.
const corners = 36

// Len returns the number of triangles.
func (s Soup) Len() int { return len(s.Data) / s.Stride }

// At returns the corners of triangle i.
func (s Soup) At(i int) [3][3]float32 {
	b := s.Data[i*s.Stride+s.Offset:]
	b = b[:corners:corners]
	var t [3][3]float32
	for k := range 9 {
		t[k/3][k%3] = math.Float32frombits(binary.LittleEndian.Uint32(b[4*k:]))
	}
	return t
}

// gather writes the triangles of m into dst as a dense soup: the sums have one kernel for both forms.
func gather(dst []byte, m *Mesh, from, to int) []byte {
	dst = dst[:(to-from)*corners]
	for i, t := range m.Triangles[from:to] {
		b := dst[i*corners:]
		b = b[:corners:corners]
		for k, v := range t {
			p := &m.Vertices[v]
			binary.LittleEndian.PutUint32(b[12*k:], math.Float32bits(p[0]))
			binary.LittleEndian.PutUint32(b[12*k+4:], math.Float32bits(p[1]))
			binary.LittleEndian.PutUint32(b[12*k+8:], math.Float32bits(p[2]))
		}
	}
	return dst
}

// NotFiniteError reports a coordinate that is infinite or not a number.
type NotFiniteError struct {
	Triangle int // index of the first such facet, from 0
	Corner   int // 0, 1 or 2
	Axis     int // 0 x, 1 y, 2 z
	Value    float32
}

func (e *NotFiniteError) Error() string {
	return fmt.Sprintf("triangle %d, corner %d: %c is %v, not a length", e.Triangle+1, e.Corner+1, "xyz"[e.Axis], e.Value)
}

// notFinite looks through triangle i of s for the bad coordinate.
func notFinite(s Soup, i, number int) *NotFiniteError {
	for c, p := range s.At(i) {
		for a, v := range p {
			if v-v != 0 {
				return &NotFiniteError{Triangle: number, Corner: c, Axis: a, Value: v}
			}
		}
	}
	return nil
}
