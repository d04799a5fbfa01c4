package measure

import (
	"io/fs"

	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
)

// Solid reads one mesh file: its facts (size, faults, volume, hash) and the welded mesh, in an order that does
// not depend on that of the file. The mesh is nil for a file that cannot be read; its facts say why.
func Solid(fsys fs.FS, name string) (facts.Mesh, *mesh.Mesh) {
	return meshAndSolid(fsys, name, Options{})
}
