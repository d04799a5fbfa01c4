// Package mesh holds the indexed triangle mesh and everything that can be said of it alone:
// size, volume, area, shells, and the faults that keep it from being a closed solid.
//
// Inspect does it for a mesh in memory, Survey in one pass over the bytes of a file. It is not a reader of
// files (mesh/stl, mesh/threemf), though what these share is here: Map, Guard, Soup, Builder. It does
// not cut meshes (section).
//
// Conventions: millimetres, right-handed axes, Z up; the corners of a triangle run counter-clockwise
// seen from outside, so a closed solid has positive volume. Vertices are float32, as STL stores them;
// sums are float64.
package mesh

// Mesh is an indexed triangle mesh. Triangles hold indices into Vertices, three each,
// counter-clockwise seen from outside. A Mesh is not changed after it is built, so several
// goroutines may read it.
type Mesh struct {
	Vertices  [][3]float32 // millimetres
	Triangles [][3]uint32  // indices into Vertices
}
