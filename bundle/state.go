package bundle

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"sync"

	"dropwright/bundle/compare"
	"dropwright/bundle/design"
	"dropwright/bundle/measure"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/same"
)

// State is one state of a design, ready to be compared: a design as it lies there or as history keeps it, or a
// bundle.
type State struct {
	compare.Side
	one  bool // a bundle: one variant of perhaps several
	mesh func(key string) (*mesh.Mesh, error)
}

// CompareTopics is what must be measured of a design before its State tells which holes changed. Walls and estimates
// take longer than all the rest and say nothing about that.
var CompareTopics = measure.Topics{Holes: true}

// State makes a design comparable. name is how people call this state.
func (k *Work) State(name string) *State {
	s := &State{Side: compare.Side{Name: name, Design: k.Design.Folder, Revision: k.Design.Revision().String()}}
	file := map[string]copyOf{}
	reader := &packer{k: k, mesh: map[string]*solid{}}
	for _, v := range k.Design.VariantNames() {
		p := &packer{k: k, o: PackOptions{Variant: v, Audience: "", BoardTitle: func(string) string { return "" }}}
		for _, c := range p.printed() {
			file[v+"/"+c.stl] = c
		}
		s.Variants = append(s.Variants, variantOf(p.cardOf(), v))
	}
	s.mesh = func(key string) (*mesh.Mesh, error) {
		c, ok := file[key]
		if !ok {
			return nil, fmt.Errorf("%q: %w", key, fs.ErrNotExist)
		}
		m, err := reader.solidOf(c.file)
		if err == nil && c.mirrored {
			m = mesh.Mirror(m)
		}
		return m, err
	}
	return s
}

// maxCardBytes is the largest bundle.json that is read; that of a design of a hundred parts has some two million
// bytes.
const maxCardBytes = 64 << 20

// maxMeshBytes is the largest mesh of a bundle that is read: five million triangles.
const maxMeshBytes = 256 << 20

// ReadState makes a bundle comparable. fsys is what lies below its top folder; every file of it has been verified
// by the caller, who also knows that they are not links.
func ReadState(fsys fs.FS, name string) (*State, error) {
	data, err := readUpTo(fsys, "bundle.json", maxCardBytes)
	if err != nil {
		return nil, err
	}
	var c card
	if err := json.Unmarshal(data, &c); err != nil {
		return nil, fmt.Errorf("bundle.json: %w", err)
	}
	if c.Form != CardForm {
		return nil, fmt.Errorf("bundle.json is of the form %q; this program reads %q", c.Form, CardForm)
	}
	s := &State{one: true, Side: compare.Side{Name: name, Design: c.Design, Revision: c.Revision, Variants: []compare.Variant{variantOf(c, c.Variant)}}}
	s.mesh = func(key string) (*mesh.Mesh, error) {
		file := strings.TrimPrefix(key, c.Variant+"/")
		if !fs.ValidPath(file) {
			return nil, fmt.Errorf("bundle.json names %q, which is no file of a bundle", file)
		}
		data, err := readUpTo(fsys, file, maxMeshBytes)
		if err != nil {
			return nil, err
		}
		return decodeMesh(data)
	}
	return s, nil
}

// Join makes one state of the bundles of one revision, each of another variant, so that what changed in all of them
// is told once.
func Join(name string, bundles []*State) *State {
	if len(bundles) == 1 {
		return bundles[0]
	}
	out := &State{Side: compare.Side{Name: name}}
	of := map[string]*State{}
	for _, b := range bundles {
		out.Design, out.Revision = b.Design, b.Revision
		for _, v := range b.Variants {
			if of[v.Name] == nil {
				of[v.Name] = b
				out.Variants = append(out.Variants, v)
			}
		}
	}
	out.mesh = func(key string) (*mesh.Mesh, error) {
		variant, _, _ := strings.Cut(key, "/")
		if b := of[variant]; b != nil {
			return b.mesh(key)
		}
		return nil, fmt.Errorf("%q: %w", key, fs.ErrNotExist)
	}
	return out
}

func readUpTo(fsys fs.FS, name string, limit int64) ([]byte, error) {
	st, err := fs.Stat(fsys, name)
	if err != nil {
		return nil, err
	}
	if st.Size() > limit {
		return nil, fmt.Errorf("%q has %d bytes; at most %d are read", name, st.Size(), limit)
	}
	return fs.ReadFile(fsys, name)
}

// Changes compares two states. Where one is a bundle, only its variant is compared.
func Changes(a, b *State) (compare.Diff, error) {
	x, y := a.Side, b.Side
	if b.one {
		x.Variants = only(x.Variants, y.Variants)
	}
	if a.one {
		y.Variants = only(y.Variants, x.Variants)
	}
	if len(x.Variants) == 0 || len(y.Variants) == 0 {
		return compare.Diff{}, fmt.Errorf("%s and %s have no variant in common", a.Name, b.Name)
	}
	var lock sync.Mutex
	known := map[string]*mesh.Mesh{}
	get := func(s *State, side, key string) (*mesh.Mesh, error) {
		lock.Lock()
		defer lock.Unlock()
		if m, ok := known[side+key]; ok {
			return m, nil
		}
		m, err := s.mesh(key)
		if err == nil {
			known[side+key] = m
		}
		return m, err
	}
	return compare.Compare(x, y, func(p, q string) (same.Result, error) {
		m, err := get(a, "a", p)
		if err != nil {
			return same.Result{}, fmt.Errorf("%s: %s: %w", a.Name, p, err)
		}
		n, err := get(b, "b", q)
		if err != nil {
			return same.Result{}, fmt.Errorf("%s: %s: %w", b.Name, q, err)
		}
		return same.Compare(m, n, same.Options{}), nil
	})
}

func only(list, names []compare.Variant) []compare.Variant {
	var out []compare.Variant
	for _, v := range list {
		if slices.ContainsFunc(names, func(w compare.Variant) bool { return w.Name == v.Name }) {
			out = append(out, v)
		}
	}
	return out
}

// variantOf takes from a card what is compared.
func variantOf(c card, variant string) compare.Variant {
	v := compare.Variant{Name: variant}
	for _, x := range c.Parts {
		p := compare.Part{Name: x.Name, Mesh: variant + "/" + x.Meshes[0], SHA256: x.Drawn, Copies: x.Copies, Mirrored: x.Mirrored, Filament: x.Filament,
			Optional: x.Optional || x.Kind != "part", Print: x.Print}
		if x.Measured != nil {
			p.Holes = x.Measured.Holes
		}
		for _, f := range c.Fasteners {
			if slices.Contains(f.Through, x.Name) || f.Into == x.Name || strings.HasSuffix(f.Into, " in "+x.Name) {
				p.Joined = true
			}
		}
		v.Parts = append(v.Parts, p)
		v.Settings = append(v.Settings, compare.Line{Key: x.Name, Text: strings.TrimSuffix(x.Print+", stands on "+x.StandOn, ", stands on ")})
	}
	for _, f := range c.Fasteners {
		text := fmt.Sprintf("%d x %s", f.Count, f.What)
		if len(f.Through) > 0 {
			text += " through " + strings.Join(f.Through, ", ")
		}
		if f.Into != "" {
			text += " into " + f.Into
		}
		v.Fasteners = append(v.Fasteners, compare.Line{Key: f.Name, Text: text})
	}
	for _, o := range c.BOM.Variants {
		for _, b := range o.Bought {
			v.Bought = append(v.Bought, compare.Line{Key: b.Name, Text: strings.TrimSpace(fmt.Sprintf("%g %s", b.Count, b.Unit)) + " x " + b.What})
		}
	}
	for _, w := range c.Wiring {
		line := compare.Line{Key: w.From, Text: w.To}
		if w.Length > 0 {
			line.Text += fmt.Sprintf(", %g mm", w.Length)
		}
		v.Wiring = unique(v.Wiring, line)
	}
	for _, s := range c.Steps {
		v.Steps = unique(v.Steps, compare.Line{Key: s.Title, Text: stepText(s)})
	}
	return v
}

// unique adds a line; where its key is taken, under the key and a number.
func unique(list []compare.Line, l compare.Line) []compare.Line {
	key := l.Key
	for n := 2; slices.ContainsFunc(list, func(x compare.Line) bool { return x.Key == l.Key }); n++ {
		l.Key = fmt.Sprintf("%s (%d)", key, n)
	}
	return append(list, l)
}

func stepText(s cardStep) string {
	var out []string
	for _, u := range s.Uses {
		out = append(out, fmt.Sprintf("%g %s", u.Count, u.Name))
	}
	text := strings.Join(out, ", ")
	for _, more := range []string{strings.Join(s.Tools, ", "), strings.Join(s.Cautions, ", "), strings.Join(strings.Fields(s.Text), " ")} {
		if more != "" {
			text += "; " + more
		}
	}
	return strings.TrimPrefix(text, "; ")
}

// Candidate is one printed mesh of a design, for finding out what a mesh is.
type Candidate struct {
	Part     string
	Variants []string
	File     string // path in the design's folder
}

// Candidates lists the mesh files that a design's parts are printed from, each once for each part.
func Candidates(d *design.Design) []Candidate {
	var out []Candidate
	for _, x := range d.Parts {
		for _, v := range d.VariantNames() {
			file, ok := x.Mesh.For(v)
			if !ok || !x.Only.Has(v) {
				continue
			}
			i := slices.IndexFunc(out, func(c Candidate) bool { return c.Part == string(x.Name.V) && c.File == string(file.V) })
			if i < 0 {
				out = append(out, Candidate{Part: string(x.Name.V), File: string(file.V)})
				i = len(out) - 1
			}
			out[i].Variants = append(out[i].Variants, v)
		}
	}
	return out
}

// Mesh is a mesh read for comparing, with the two figures by which another one is found.
type Mesh struct {
	Print string // same.Fingerprint
	Shape same.Shape
	m     *mesh.Mesh
}

// ReadMesh reads a mesh file of any format that is read here.
func ReadMesh(name string, data []byte) (*Mesh, error) {
	m, err := decodeMesh(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path.Base(name), err)
	}
	if len(bytes.TrimSpace(data)) == 0 || len(m.Triangles) == 0 {
		return nil, fmt.Errorf("%s: it holds no triangles", path.Base(name))
	}
	return &Mesh{Print: same.Fingerprint(m), Shape: same.ShapeOf(m), m: m}, nil
}

// Is tells what a mesh is to another one: cheap where they are alike facet by facet or plainly different.
func (m *Mesh) Is(o *Mesh) same.Kind {
	switch {
	case m.Print == o.Print:
		return same.Same
	case !m.Shape.Near(o.Shape):
		return same.Changed
	}
	return same.Compare(o.m, m.m, same.Options{}).Kind
}
