package measure

import (
	"errors"
	"io/fs"
	"sync"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/fit"
	"dropwright/bundle/mesh"
)

// shapes keeps, while meshes are measured, what fit needs of them, so that the meshes themselves need not
// stay in memory.
type shapes struct {
	wanted bool
	lock   sync.Mutex
	byFile map[string]*fit.Shape
}

func shapesFor(d *design.Design) *shapes {
	return &shapes{wanted: fit.Wanted(d), byFile: map[string]*fit.Shape{}}
}

// keep takes the census of a mesh. One that is open or inside out has holes nobody can rely on: it is left
// out, and the joints that need it are not checked.
func (s *shapes) keep(f facts.Mesh, m *mesh.Mesh) {
	if !s.wanted || m == nil || f.Watertight == nil || !*f.Watertight || f.InsideOut != nil && *f.InsideOut {
		return
	}
	shape, err := fit.ShapeOf(m)
	if err != nil {
		return
	}
	s.lock.Lock()
	defer s.lock.Unlock()
	s.byFile[f.File] = shape
}

// joints works out the joints once all meshes are measured; nil for a design that has none and of one part.
func (s *shapes) joints(fsys fs.FS, d *design.Design, house *design.House) *facts.Fit {
	if !s.wanted {
		return nil
	}
	return fit.Work(fit.Input{Design: d, House: house, Shapes: s.byFile, Read: fit.FSReader(fsys, MaxText)})
}

// Piece cuts a box (mm, in the mesh's own frame) out of a mesh file as a test piece with closed sides.
func Piece(fsys fs.FS, name string, lo, hi [3]float64) (*mesh.Mesh, error) {
	f, m := meshAndSolid(fsys, name, Options{})
	switch {
	case f.Error != "":
		return nil, errors.New(f.Error)
	case m == nil || f.Watertight == nil || !*f.Watertight:
		return nil, errors.New("the mesh is not closed")
	}
	return fit.Piece(m, lo, hi)
}
