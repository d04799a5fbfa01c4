package fit

import (
	"fmt"
	"io/fs"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/hardware"
)

// Input is one design with its measured meshes.
type Input struct {
	Design *design.Design
	House  *design.House
	Shapes map[string]*Shape                 // by mesh file; a mesh that could not be cut is absent
	Read   func(name string) ([]byte, error) // a file of the design's folder: board profiles
}

// Wanted tells whether a design has anything that fit works out, so that the census of its meshes is needed:
// fasteners, or several parts that may want some.
func Wanted(d *design.Design) bool { return len(d.Fasteners) > 0 || len(d.Parts) > 1 }

// Work works out every joint of every variant. The result depends on the input alone.
func Work(in Input) *facts.Fit {
	w := &worker{Input: in, profiles: map[string]*board.Profile{}}
	out := &facts.Fit{Joints: []facts.Joint{}}
	for _, v := range in.Design.VariantNames() {
		joints := w.variant(v)
		for _, j := range joints {
			out.Joints = append(out.Joints, j.fact)
		}
		out.Unlisted = append(out.Unlisted, w.unlisted(v, joints)...)
	}
	return out
}

type worker struct {
	Input
	profiles map[string]*board.Profile
}

// profile loads a board profile once; nil when it cannot be read, which is somebody else's finding.
func (w *worker) profile(id string) *board.Profile {
	if p, ok := w.profiles[id]; ok {
		return p
	}
	var p *board.Profile
	if design.IsFile(id) {
		if w.Read != nil {
			if data, err := w.Read(id); err == nil {
				q, found := board.Parse(id, data)
				if q != nil && finding.Count(found, finding.Error) == 0 {
					p = q
				}
			}
		}
	} else if q, err := board.Load(id); err == nil {
		p = q
	}
	w.profiles[id] = p
	return p
}

// allowance is by how much holes of a part print smaller than drawn.
func (w *worker) allowance(p design.Part) float64 {
	var house design.Print
	if w.House != nil {
		house = w.House.Print
	}
	if a := p.Print.Over(house).HoleAllowance; a.Set() {
		return float64(a.V)
	}
	a, _ := hardware.HoleAllowance()
	return round3(a)
}

// variant works out the joints of one variant.
func (w *worker) variant(v string) []*joint {
	var list []*joint
	for i := range w.Design.Fasteners {
		f := &w.Design.Fasteners[i]
		if f.Only.Has(v) && f.CountOf(v) > 0 {
			list = append(list, w.joint(f, v))
		}
	}
	allot(list)
	for _, j := range list {
		j.holes()
	}
	for _, j := range list {
		j.lengths(list)
	}
	for _, j := range list {
		for _, m := range j.parts {
			j.fact.Members = append(j.fact.Members, m.fact)
		}
	}
	return list
}

// FSReader reads files of a design's folder for Input.Read, up to a limit in bytes.
func FSReader(fsys fs.FS, limit int64) func(string) ([]byte, error) {
	return func(name string) ([]byte, error) {
		info, err := fs.Stat(fsys, name)
		if err != nil {
			return nil, err
		}
		if info.Size() > limit {
			return nil, fmt.Errorf("%q is larger than %d bytes", name, limit)
		}
		return fs.ReadFile(fsys, name)
	}
}
