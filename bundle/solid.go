package bundle

import "dropwright/bundle/mesh"

// Solid reads one mesh file of the design, as the pictures and the packing do. The mesh is the caller's.
func (k *Work) Solid(file string) (*mesh.Mesh, error) { return k.solid(file) }
