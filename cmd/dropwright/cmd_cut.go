package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/fit"
	"dropwright/bundle/measure"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
	"dropwright/bundle/unit"
	"dropwright/series/catalogue"
)

func (a *app) cutCmd() *cobra.Command {
	var o cutOptions
	cmd := &cobra.Command{
		Use:   "cut [DESIGN] PART|FILE --around joint:NAME|port:NAME|X,Y,Z",
		Short: "cut a small test piece out of a part, to try one fit in minutes",
		Long: `Cuts a box out of a part's mesh around one hole of a joint, around a port's opening, or around a
place in the mesh's own coordinates, and closes the cuts: a watertight STL that prints in minutes.
joint:NAME is the first hole of that joint in the part, joint:NAME.2 the second. Print it as it
lies, try the screw, insert or plug, and log what you measured like any trial.`,
		Example: "  dropwright cut vent-minder case --around joint:hatch-screw --variant ce\n  dropwright cut case --around port:display --margin 6\n  dropwright cut designs/vent-minder/meshes/case-ce.stl --around 4,18.5,9.4",
		RunE:    func(cmd *cobra.Command, args []string) error { return a.cut(args, o) },
	}
	cmd.Flags().StringVar(&o.around, "around", "", "what to cut around: joint:NAME, port:NAME or X,Y,Z in mm")
	cmd.Flags().StringVar(&o.margin, "margin", "8", "how much to leave around it, mm")
	cmd.Flags().StringVar(&a.variant, "variant", "", "the variant whose part is cut")
	cmd.Flags().StringVar(&a.output, "output", "", "file to write (default: PART-NAME.stl here)")
	return cmd
}

type cutOptions struct{ around, margin string }

// cutTarget is the mesh to cut and where.
type cutTarget struct {
	fsys   fs.FS
	file   string // in fsys
	name   string // for the output's name and messages
	design string // "" for a bare file
	part   string
	one    string // the variant, where the part's mesh depends on it
	lo, hi [3]float64
	hole   float64 // drawn diameter of the hole cut around, 0: none
	close  func()
}

func (a *app) cut(words []string, o cutOptions) error {
	if o.around == "" {
		return usage("name a joint, a port or a place: --around joint:lid-screw, --around 10,20,5", "what should be cut around?")
	}
	var margin unit.Length
	if err := margin.SetText(o.margin, false); err != nil || margin <= 0 || margin > 200 {
		return usage("write millimetres: --margin 8", "--margin: expected a length from 0 to 200 mm, found %q", o.margin)
	}
	t, err := a.cutTarget(words, o.around, float64(margin))
	if err != nil {
		return err
	}
	defer t.close()
	m, err := measure.Piece(t.fsys, t.file, t.lo, t.hi)
	if err != nil {
		return unreadable("check the place and the margin; `dropwright measure` says whether the mesh is sound", "no test piece from %s: %w", t.file, err)
	}
	rep, m := mesh.Inspect(m)
	var buf bytes.Buffer
	if err := stl.Write(&buf, m); err != nil {
		return machine("", "writing the piece: %w", err)
	}
	name := a.output
	if name == "" {
		name = t.name + ".stl"
		if old, err := os.ReadFile(a.abs(name)); err == nil && !bytes.Equal(old, buf.Bytes()) {
			return refused("name another file with --output, or remove that one", "%s is there already and holds something else", a.shown(a.abs(name)))
		}
	}
	if err := a.writeFile(name, buf.Bytes()); err != nil {
		return err
	}
	s := rep.Size
	fmt.Fprintf(a.stdout, "%s: %.1f × %.1f × %.1f mm, %.2f cm³, watertight, %d triangles\n", a.shown(a.abs(name)), s[0], s[1], s[2], *rep.Volume/1000, rep.Triangles)
	if t.design != "" {
		hole := ""
		if t.hole > 0 {
			hole = fmt.Sprintf(" hole %s=…", unit.Number(float64(int(t.hole*100+0.5))/100))
		}
		fmt.Fprintf(a.stdout, "log what it measures: dropwright trial add %s/%s%s%s %q\n", t.design, t.part, t.one, hole, "test piece "+o.around)
	}
	return nil
}

// cutTarget finds the mesh and the box.
func (a *app) cutTarget(words []string, around string, margin float64) (*cutTarget, error) {
	if len(words) == 0 || len(words) > 2 {
		return nil, usage("`dropwright cut DESIGN PART --around joint:NAME`", "which part? name one")
	}
	place, isPlace, err := placeOf(around)
	if err != nil {
		return nil, err
	}
	if len(words) == 1 {
		if st, err := os.Stat(a.abs(words[0])); err == nil && st.Mode().IsRegular() {
			if !isPlace {
				return nil, usage("cut a bare file around a place, or name its design and part", "%s is a bare file: joints and ports belong to a design", words[0])
			}
			full := a.abs(words[0])
			base := strings.TrimSuffix(filepath.Base(full), filepath.Ext(full))
			t := &cutTarget{fsys: os.DirFS(filepath.Dir(full)), file: filepath.Base(full), name: base + "-cut", close: func() {}}
			t.lo, t.hi = fit.BoxAround([][3]float64{place}, margin)
			return t, nil
		}
	}
	s, err := a.sound()
	if err != nil {
		return nil, err
	}
	t, err := a.cutPart(s, words, around, place, isPlace, margin)
	if err != nil {
		s.close()
		return nil, err
	}
	t.close = s.close
	return t, nil
}

// placeOf reads "x,y,z"; ok is false when the text names a joint or port instead.
func placeOf(text string) (p [3]float64, ok bool, err error) {
	if strings.HasPrefix(text, "joint:") || strings.HasPrefix(text, "port:") {
		return p, false, nil
	}
	f := strings.Split(text, ",")
	if len(f) != 3 {
		return p, false, usage("write joint:NAME, port:NAME or three millimetres: 10,20,5", "--around: expected joint:NAME, port:NAME or X,Y,Z, found %q", text)
	}
	for k := range 3 {
		if p[k], err = unit.ParseNumber(strings.TrimSpace(f[k])); err != nil {
			return p, false, usage("write three millimetres: 10,20,5", "--around %s: %v", text, err)
		}
	}
	return p, true, nil
}

// cutPart finds a part of a design: named with its design, in the design's folder, or the only one so called.
func (a *app) cutPart(s *season, words []string, around string, place [3]float64, isPlace bool, margin float64) (*cutTarget, error) {
	part := words[len(words)-1]
	if d, p, ok := strings.Cut(part, "/"); ok && len(words) == 1 {
		words, part = []string{d, p}, p
	}
	names := s.Names
	if len(words) == 2 {
		n, err := a.oneDesign(s, words[:1])
		if err != nil {
			return nil, err
		}
		names = []string{n}
	} else if here, err := a.oneDesign(s, nil); err == nil {
		names = []string{here}
	}
	var entries []*catalogue.Entry
	for _, n := range names {
		e, err := s.Load(n)
		if err != nil {
			return nil, machine("check that you may read the folder", "%w", err)
		}
		if e.Design == nil {
			continue
		}
		if _, ok := e.Design.Part(part); ok {
			entries = append(entries, e)
		}
	}
	switch len(entries) {
	case 0:
		return nil, usage("name the design too: `dropwright cut DESIGN PART`; `dropwright bom DESIGN` lists its parts", "no part is called %q in %s", part, strings.Join(names, ", "))
	case 1:
	default:
		var in []string
		for _, e := range entries {
			in = append(in, e.Name)
		}
		return nil, usage("name the design too: `dropwright cut "+in[0]+" "+part+"`", "%s is a part of %s", part, strings.Join(in, " and "))
	}
	return a.cutBox(s, entries[0], part, around, place, isPlace, margin)
}

// cutBox works out the box in the part's own frame.
func (a *app) cutBox(s *season, e *catalogue.Entry, part, around string, place [3]float64, isPlace bool, margin float64) (*cutTarget, error) {
	variants, err := a.variants(e.Design)
	if err != nil {
		return nil, err
	}
	t := &cutTarget{fsys: e.FS, design: e.Name, part: part, close: func() {}}
	p, _ := e.Design.Part(part)
	if isPlace {
		for _, v := range variants {
			if f, ok := p.Mesh.For(v); ok && p.Only.Has(v) {
				t.file, t.name = string(f.V), part+"-cut"
				t.in(e.Design, p, v)
				t.lo, t.hi = fit.BoxAround([][3]float64{place}, margin)
				return t, nil
			}
		}
		return nil, unreadable("`dropwright check "+e.Name+"` says what is wrong", "%s names no mesh", part)
	}
	_, w, err := a.examine(s, e.Name, "", measure.Topics{})
	if err != nil {
		return nil, err
	}
	if w == nil {
		return nil, unreadable("`dropwright check "+e.Name+"` says where", "the manifest of %s cannot be read as meant", e.Name)
	}
	kind, name, _ := strings.Cut(around, ":")
	if kind == "port" {
		err = t.aroundPort(e.Design, w.Facts, variants, part, name, margin)
	} else {
		err = t.aroundJoint(e.Design, w.Facts, variants, part, name, margin)
	}
	return t, err
}

// aroundJoint takes one hole of a joint in the part.
func (t *cutTarget) aroundJoint(d *design.Design, f *facts.Design, variants []string, part, name string, margin float64) error {
	p, _ := d.Part(part)
	n := 1
	if base, k, ok := strings.Cut(name, "."); ok {
		i, err := strconv.Atoi(k)
		if err != nil || i < 1 {
			return usage("write joint:"+base+".2 for the second hole", "--around joint:%s: expected a number behind the point", name)
		}
		name, n = base, i
	}
	var names []string
	if f.Fit == nil {
		return usage("cut around a place instead: --around X,Y,Z", "the design has no joints")
	}
	for _, j := range f.Fit.Joints {
		if !slices.Contains(variants, j.Variant) {
			continue
		}
		for _, m := range j.Members {
			if m.Name != part || m.Kind != "part" {
				continue
			}
			names = append(names, "joint:"+j.Fastener)
			if j.Fastener != name {
				continue
			}
			k := 0
			for _, h := range m.Holes {
				if h.Missing || !h.Placed {
					continue
				}
				if k++; k < n {
					continue
				}
				t.file, t.name, t.hole = m.File, part+"-"+name, h.Diameter
				if n > 1 {
					t.name += fmt.Sprintf("-%d", n)
				}
				t.in(d, p, j.Variant)
				t.lo, t.hi = fit.BoxAround(ends(h, m.Role), h.Diameter/2+margin)
				return nil
			}
			return usage("`dropwright check "+t.design+"` says what of it was found", "%s has %d holes of the joint %s, not %d", part, k, name, n)
		}
	}
	return usage("it has: "+strings.Join(distinct(names), ", "), "%s has no hole of a joint %q", part, name)
}

// in says which variant's mesh is cut, where each has its own: a trial of it must name the variant.
func (t *cutTarget) in(d *design.Design, p design.Part, variant string) {
	if !sameMesh(d, p) {
		t.one = " " + variant
	}
}

// ends are both ends of a hole: what lies around a pocket and the hole that leads to it belongs to the piece.
func ends(h facts.FitHole, role string) [][3]float64 {
	at := [][3]float64{h.At}
	far := h.At
	for k := range 3 {
		d := h.Out[k] * h.Depth
		if role == "clearance" || role == "nut" { // At is the middle
			at[0][k], far[k] = h.At[k]-d/2, h.At[k]+d/2
		} else {
			far[k] -= d
		}
	}
	at = append(at, far)
	if h.Round != nil {
		at = append(at, h.Round.At)
	}
	return at
}

// aroundPort takes the plug's path of a port in the part that its board sits in.
func (t *cutTarget) aroundPort(d *design.Design, f *facts.Design, variants []string, part, name string, margin float64) error {
	p, _ := d.Part(part)
	var names []string
	if f.Boards == nil {
		return usage("cut around a place instead: --around X,Y,Z", "the design has no board")
	}
	for _, s := range f.Boards.Seats {
		if s.Part != part || !slices.Contains(variants, s.Variant) || s.Pose == nil {
			continue
		}
		for _, x := range s.Ports {
			names = append(names, "port:"+x.ID)
			if x.ID != name {
				continue
			}
			t.file, t.name = s.Mesh, part+"-"+name
			t.in(d, p, s.Variant)
			t.lo, t.hi = fit.BoxAround([][3]float64{x.Axis}, max(x.Plug[0], x.Plug[1])/2+margin)
			return nil
		}
	}
	if len(names) == 0 {
		return usage("`dropwright check "+t.design+"` says why", "no board is known to sit in %s", part)
	}
	return usage("it has: "+strings.Join(distinct(names), ", "), "%s has no port %q", part, name)
}

func distinct(list []string) []string {
	var out []string
	for _, x := range list {
		if !slices.Contains(out, x) {
			out = append(out, x)
		}
	}
	return out
}
