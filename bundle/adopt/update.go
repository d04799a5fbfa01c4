package adopt

import (
	"cmp"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
	"dropwright/bundle/mesh/same"
)

// Change is one difference between a manifest and the meshes that lie beside it now.
type Change struct {
	Kind string        `json:"kind"` // "new", "gone", "renamed", "changed", "moved"
	Part string        `json:"part"`
	File string        `json:"file"`
	Was  string        `json:"was,omitempty"` // of a renamed mesh: the name in the manifest
	Text string        `json:"text"`          // what is to be known, in a sentence
	At   finding.Place `json:"-"`             // where the manifest names it
	// Entry is the line that a new part would have in the manifest, without its dash.
	Entry string `json:"entry,omitempty"`
}

// Update compares a manifest with the meshes of its folder after a new export. before gives a mesh as it was when
// the manifest's present state was kept; nil, or false for a file, means that nothing is known of it, and a mesh
// that is there is then not looked at. The changes come in the order of the manifest, new parts last.
func Update(fsys fs.FS, d *design.Design, before func(file string) ([]byte, bool), opt Options) ([]Change, error) {
	l, err := list(fsys)
	if err != nil {
		return nil, err
	}
	r := &reader{fsys: fsys, opt: opt, list: &l}
	r.solids = measureAll(fsys, r.list, opt)
	if opt.stopped() {
		return nil, ErrStopped
	}
	named := map[string]bool{}
	var gone []design.FileUse
	var out []Change
	for _, u := range d.Files() {
		f := string(u.Path)
		if u.Kind != "mesh" || named[f] {
			continue
		}
		named[f] = true
		s := r.solid(f)
		if s == nil {
			gone = append(gone, u)
			continue
		}
		if before == nil {
			continue
		}
		if old, ok := before(f); ok {
			if c, differs := r.changed(s, old); differs {
				c.Part, c.At = partOf(d, f), u.At
				out = append(out, c)
			}
		}
	}
	var fresh []*solid
	for _, s := range r.solids {
		if !named[s.file] && s.name.age >= 0 && !s.name.old && s.name.noise == 0 && s.facts.Error == "" && !r.known(s, named) {
			fresh = append(fresh, s)
		}
	}
	for _, u := range gone {
		f := string(u.Path)
		i := r.successor(f, fresh, before)
		if i < 0 {
			out = append(out, Change{Kind: "gone", Part: partOf(d, f), File: f, At: u.At, Text: "the manifest names it, and it is not there: export it again, or take its entry out"})
			continue
		}
		s := fresh[i]
		fresh = slices.Delete(fresh, i, i+1)
		out = append(out, Change{Kind: "renamed", Part: partOf(d, f), File: s.file, Was: f, At: u.At, Text: fmt.Sprintf("%s is not there any more; %s stands in its place", f, s.file)})
	}
	used := map[string]bool{design.Washer: true, design.Board: true}
	for _, p := range d.Parts {
		used[string(p.Name.V)] = true
	}
	for _, b := range d.Bought {
		used[string(b.Name.V)] = true
	}
	for _, f := range d.Fasteners {
		used[string(f.Name.V)] = true
	}
	slices.SortFunc(fresh, func(a, b *solid) int { return cmp.Compare(a.file, b.file) })
	for _, s := range fresh {
		name := unique(design.Kebab(s.name.stem()), used)
		entry := "{name: " + name
		if k := d.Colours.Keys(); len(k) > 0 {
			entry += ", colour: " + k[0]
		}
		entry += ", mesh: " + quotePath(s.file)
		if s.name.copies > 1 {
			entry += fmt.Sprintf(", copies: %d", s.name.copies)
		}
		if s.name.role != "" {
			entry += ", role: " + s.name.role
		}
		out = append(out, Change{Kind: "new", Part: name, File: s.file, Entry: entry + "}", Text: "no part of the manifest has it"})
	}
	return out, nil
}

func (r *reader) solid(file string) *solid {
	for _, s := range r.solids {
		if s.file == file {
			return s
		}
	}
	return nil
}

// known tells whether a mesh is the same shape as one that the manifest names and that is there.
func (r *reader) known(s *solid, named map[string]bool) bool {
	for _, t := range r.solids {
		if t == s || !named[t.file] || t.facts.Error != "" {
			continue
		}
		if t.print == s.print || t.facts.SHA256 == s.facts.SHA256 {
			return true
		}
		if s.sig.Near(t.sig) && r.compare(t.file, s.file) != same.Changed {
			return true
		}
	}
	return false
}

// successor is the new mesh that stands in a gone one's place: of the same shape as it was, or of the same stem.
func (r *reader) successor(gone string, fresh []*solid, before func(string) ([]byte, bool)) int {
	if before != nil {
		if old, ok := before(gone); ok {
			if _, m := measure.Solid(held{gone: old}, gone); m != nil {
				sig := same.ShapeOf(m)
				for i, s := range fresh {
					if _, n := measure.Solid(r.fsys, s.file); n != nil && sig.Near(s.sig) {
						if k := same.Compare(m, n, same.Options{}).Kind; k != same.Changed && k != same.Mirrored {
							return i
						}
					}
				}
			}
		}
	}
	n := nameOf(gone, nil)
	for i, s := range fresh {
		if s.name.stem() == n.stem() && s.name.side == n.side {
			return i
		}
	}
	return -1
}

// changed compares a mesh with what it was.
func (r *reader) changed(s *solid, old []byte) (Change, bool) {
	c := Change{Kind: "changed", File: s.file}
	f, m := measure.Solid(held{s.file: old}, s.file)
	if f.SHA256 == s.facts.SHA256 {
		return c, false
	}
	_, n := measure.Solid(r.fsys, s.file)
	switch {
	case m == nil:
		c.Text = "it could not be read before"
		return c, true
	case n == nil:
		c.Text = "it cannot be read any more: " + s.facts.Error
		return c, true
	}
	res := same.Compare(m, n, same.Options{})
	switch res.Kind {
	case same.Same:
		return c, false // written anew, the surface is the one it was
	case same.Moved, same.Turned:
		c.Kind, c.Text = "moved", "the same shape, drawn in another place or turn"
	case same.Mirrored:
		c.Text = "it is the mirror image of what it was"
	default:
		c.Text = fmt.Sprintf("its surface is off by up to %s mm, near %s, %s, %s", figureText(res.Deviation), figureText(res.At[0]), figureText(res.At[1]), figureText(res.At[2]))
		if f.Watertight != nil && *f.Watertight && s.facts.Watertight != nil && *s.facts.Watertight {
			c.Text += fmt.Sprintf("; volume %s to %s cm³", figureText(res.Volumes[0]/1000), figureText(res.Volumes[1]/1000))
		}
	}
	return c, true
}

func partOf(d *design.Design, file string) string {
	for _, p := range d.Parts {
		for _, m := range p.Mesh.Values() {
			if string(m.V) == file {
				return string(p.Name.V)
			}
		}
	}
	return ""
}

// held is files in memory, by their paths.
type held map[string][]byte

// Open is fs.FS's.
func (h held) Open(name string) (fs.File, error) {
	data, ok := h[name]
	if !ok {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return &heldFile{name: name, size: int64(len(data)), r: strings.NewReader(string(data))}, nil
}

type heldFile struct {
	name string
	size int64
	r    io.Reader
}

func (f *heldFile) Stat() (fs.FileInfo, error) { return f, nil }
func (f *heldFile) Read(p []byte) (int, error) { return f.r.Read(p) }
func (f *heldFile) Close() error               { return nil }
func (f *heldFile) Name() string               { return path.Base(f.name) }
func (f *heldFile) Size() int64                { return f.size }
func (f *heldFile) Mode() fs.FileMode          { return 0o444 }
func (f *heldFile) ModTime() (t time.Time)     { return }
func (f *heldFile) IsDir() bool                { return false }
func (f *heldFile) Sys() any                   { return nil }
