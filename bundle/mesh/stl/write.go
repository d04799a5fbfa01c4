package stl

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"dropwright/bundle/mesh"
)

// writeHeader fills the 80 free bytes. It must not begin with "solid", which makes careless readers
// take the file for text, and names neither person, program nor day, so that the same mesh gives the
// same bytes anywhere.
const writeHeader = "binary STL, millimetres, z up"

// Write writes m as binary STL: facets in the order of m, normals computed from the corners (0 where a
// facet has no area), attribute bytes 0. The same mesh gives the same bytes on every machine.
func Write(w io.Writer, m *mesh.Mesh) error {
	if len(m.Triangles) > mesh.MaxTriangles {
		return fmt.Errorf("write STL: %d triangles are more than the %d that are worked on", len(m.Triangles), mesh.MaxTriangles)
	}
	b := bufio.NewWriterSize(w, 1<<16)
	var head [dataStart]byte
	copy(head[:headerSize], writeHeader)
	binary.LittleEndian.PutUint32(head[headerSize:], uint32(len(m.Triangles)))
	if _, err := b.Write(head[:]); err != nil {
		return fmt.Errorf("write STL: %w", err)
	}
	var f [facetSize]byte
	for _, t := range m.Triangles {
		p := [3][3]float32{m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]}
		for a, v := range normal(p) {
			binary.LittleEndian.PutUint32(f[4*a:], math.Float32bits(v))
		}
		for c, q := range p {
			for a, v := range q {
				binary.LittleEndian.PutUint32(f[cornersAt+12*c+4*a:], math.Float32bits(v))
			}
		}
		if _, err := b.Write(f[:]); err != nil {
			return fmt.Errorf("write STL: %w", err)
		}
	}
	if err := b.Flush(); err != nil {
		return fmt.Errorf("write STL: %w", err)
	}
	return nil
}

// normal is the unit normal of a facet by the right-hand rule. Products are rounded one by one (see
// the Go specification on fused operations), so that all processors agree.
func normal(p [3][3]float32) [3]float32 {
	var u, v [3]float64
	for a := range 3 {
		u[a] = float64(p[1][a]) - float64(p[0][a])
		v[a] = float64(p[2][a]) - float64(p[0][a])
	}
	x := float64(u[1]*v[2]) - float64(u[2]*v[1])
	y := float64(u[2]*v[0]) - float64(u[0]*v[2])
	z := float64(u[0]*v[1]) - float64(u[1]*v[0])
	length := math.Sqrt(float64(x*x) + float64(y*y) + float64(z*z))
	if length == 0 {
		return [3]float32{}
	}
	return [3]float32{float32(x/length) + 0, float32(y/length) + 0, float32(z/length) + 0}
}
