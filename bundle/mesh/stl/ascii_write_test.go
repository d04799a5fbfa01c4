package stl

import (
	"bufio"
	"io"
	"strconv"

	"dropwright/bundle/mesh"
)

// writeASCII writes m as text, the numbers as C's "%e" does, which most CAD programs use. Tests only:
// nothing should publish ASCII STL.
func writeASCII(w io.Writer, m *mesh.Mesh) error {
	b := bufio.NewWriterSize(w, 1<<16)
	var buf []byte
	point := func(p [3]float32) {
		for _, v := range p {
			buf = append(buf, ' ')
			buf = strconv.AppendFloat(buf, float64(v), 'e', 6, 32)
		}
		buf = append(buf, '\n')
	}
	buf = append(buf, "solid torus\n"...)
	for _, t := range m.Triangles {
		p := [3][3]float32{m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]}
		buf = append(buf, "  facet normal"...)
		point(normal(p))
		buf = append(buf, "    outer loop\n"...)
		for _, q := range p {
			buf = append(buf, "      vertex"...)
			point(q)
		}
		buf = append(buf, "    endloop\n  endfacet\n"...)
		if _, err := b.Write(buf); err != nil {
			return err
		}
		buf = buf[:0]
	}
	buf = append(buf, "endsolid torus\n"...)
	if _, err := b.Write(buf); err != nil {
		return err
	}
	return b.Flush()
}
