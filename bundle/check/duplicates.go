package check

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
)

// meshUse is one place where the manifest names a mesh.
type meshUse struct {
	part    design.Part
	file    design.Val[design.Path]
	variant string // "" when all variants share it
}

func meshUses(d *design.Design) []meshUse {
	var out []meshUse
	for _, p := range d.Parts {
		if p.Mesh.All != nil {
			out = append(out, meshUse{p, *p.Mesh.All, ""})
		}
		for _, e := range p.Mesh.Each {
			out = append(out, meshUse{p, e.Value, string(e.Variant.V)})
		}
	}
	return out
}

// duplicates: no two parts are one shape, variants differ, and the two sides of a pair are mirror images.
func duplicates(in *Input, r *report) {
	uses := meshUses(in.Design)
	for j, b := range uses {
		for _, a := range uses[:j] {
			kind, symmetric := in.alike(string(a.file.V), string(b.file.V))
			judgePair(in.Design, a, b, kind, symmetric, in, r)
		}
	}
	sides(in, r)
	variants(in, r)
}

// alike tells what two mesh files are to each other: "" for different shapes, "file" for one file.
func (in *Input) alike(a, b string) (kind string, symmetric bool) {
	if a == b {
		return "file", false
	}
	for _, x := range in.Facts.Scan.Alike {
		if x.A == a && x.B == b || x.A == b && x.B == a {
			return x.Kind, x.Symmetric
		}
	}
	return "", false
}

func judgePair(d *design.Design, a, b meshUse, kind string, symmetric bool, in *Input, r *report) {
	onePart := a.part.Name.V == b.part.Name.V
	if onePart || apart(d, a.part.Only, b.part.Only) && kind != "file" {
		if kind == "file" || kind == "" || kind == "mirrored" {
			return
		}
		r.add("variant-same", b.file.At, "", fmt.Sprintf("%s is the same shape as %s, though they are for different variants", b.file.V, a.file.V),
			fmt.Sprintf("export the mesh that is meant; where both are meant to share one, name %s in both", a.file.V))
		return
	}
	if role := b.part.Role.V; role != a.part.Role.V || role == "reference" || apart(d, a.part.Only, b.part.Only) {
		return // a spare is the same as its part
	}
	pair := opposite(string(a.part.Name.V)) == string(b.part.Name.V)
	switch {
	case kind == "" && pair:
		unmirrored(in, a, b, r)
	case kind == "" || kind == "mirrored":
	case pair && !symmetric:
		r.add("side-twice", b.file.At, "", fmt.Sprintf("%s is the same shape as %s, and should be its mirror image", b.file.V, a.file.V),
			fmt.Sprintf("export the other side, or drop this part and add mirrored: 1 to %s", a.part.Name.V))
	default:
		r.add("mesh-twice", b.file.At, "", fmt.Sprintf("%s and %s are one shape (%s and %s)", a.part.Name.V, b.part.Name.V, a.file.V, b.file.V),
			"export the mesh that is meant; if both are the same part, list it once with copies: 2; or, drawn so on purpose, use_as_is: [{code: mesh-twice, because: …}]")
	}
}

// apart reports whether no variant has both.
func apart(d *design.Design, a, b design.Only) bool { return !overlap(d, a, b) }

// unmirrored: two sides of a pair with the same size and nearly the same volume were meant as mirror images.
// Sides that differ by more are taken for different on purpose. The bounds are our own.
func unmirrored(in *Input, a, b meshUse, r *report) {
	x, ok := in.Facts.Mesh(string(a.file.V))
	y, ok2 := in.Facts.Mesh(string(b.file.V))
	if !ok || !ok2 || x.Size == nil || y.Size == nil || x.Volume == nil || y.Volume == nil {
		return
	}
	s, t := sorted(*x.Size), sorted(*y.Size)
	for k := range 3 {
		if math.Abs(s[k]-t[k]) > 0.005*t[2] {
			return
		}
	}
	if math.Abs(*x.Volume-*y.Volume) > 0.02*math.Abs(*x.Volume) {
		return
	}
	r.add("side-unmirrored", b.file.At, "", fmt.Sprintf("%s is nearly, and not quite, the mirror image of %s: their volumes are %.0f and %.0f mm³", b.file.V, a.file.V, *y.Volume, *x.Volume),
		fmt.Sprintf("export both from the same state of the drawing; or drop this part and add mirrored: 1 to %s", a.part.Name.V))
}

func sorted(v [3]float64) [3]float64 {
	slices.Sort(v[:])
	return v
}

// opposites are the words for the two sides of a pair.
var opposites = map[string]string{"left": "right", "right": "left", "l": "r", "r": "l", "lh": "rh", "rh": "lh", "port": "starboard", "starboard": "port"}

// opposite is the name with its side changed: "cheek-left" gives "cheek-right"; "" when it names no side.
func opposite(name string) string {
	words := strings.Split(name, "-")
	for i, w := range words {
		if o := opposites[w]; o != "" && len(words) > 1 {
			words[i] = o
			return strings.Join(words, "-")
		}
	}
	return ""
}

// sides: the other side of a pair is there.
func sides(in *Input, r *report) {
	for _, p := range in.Design.Parts {
		other := opposite(string(p.Name.V))
		if other == "" || p.Mirrored.Set() || p.Role.V == "reference" {
			continue
		}
		if _, ok := in.Design.Part(other); !ok {
			r.add("side-missing", p.Name.At, "", fmt.Sprintf("%s has no %s", p.Name.V, other), "add mirrored: 1 if the other side is its mirror image, list the other part, or rename this one")
		}
	}
}

// variants: two variants differ in something that is printed, bought, fastened or wired.
func variants(in *Input, r *report) {
	d := in.Design
	names := d.VariantNames()
	for j, b := range names {
		for _, a := range names[:j] {
			if signature(d, in.Facts, a) == signature(d, in.Facts, b) {
				v, _ := d.Variant(b)
				r.add("variant-same", v.Name.At, "", fmt.Sprintf("the variants %s and %s have the same meshes, counts, boards and wires", a, b), "say what differs (mesh, count, only: …), or drop one of the two")
			}
		}
	}
}

// signature is all that makes a variant what it is, as one text.
func signature(d *design.Design, f *facts.Design, v string) string {
	var b strings.Builder
	for _, p := range d.PartsOf(v) {
		m, _ := p.Mesh.For(v)
		drawn, mirrored := p.CopiesOf(v)
		hash := ""
		if x, ok := f.Mesh(string(m.V)); ok {
			hash = x.SHA256
		}
		fmt.Fprintln(&b, "part", p.Name.V, m.V, hash, drawn, mirrored)
	}
	if x, ok := d.Variant(v); ok {
		for _, u := range x.BoardList() {
			fmt.Fprintln(&b, "board", u.Name.V, u.Profile.V, u.SitsIn.V, u.Seat.Turn.V, u.Seat.Face.V)
		}
		for _, rev := range x.BoardRevisions {
			fmt.Fprintln(&b, "revision", rev.V)
		}
	}
	for _, x := range d.Bought {
		if x.Only.Has(v) {
			fmt.Fprintln(&b, "bought", x.Name.V, x.CountOf(v))
		}
	}
	for _, x := range d.Fasteners {
		if x.Only.Has(v) {
			t, _ := x.Designation(v)
			fmt.Fprintln(&b, "fastener", x.Name.V, t.V, x.CountOf(v))
		}
	}
	for i, w := range d.Wiring.Rows {
		if w.Only.Has(v) {
			fmt.Fprintln(&b, "wire", i)
		}
	}
	for i, s := range d.Assembly {
		if s.Only.Has(v) {
			fmt.Fprintln(&b, "step", i)
		}
	}
	return b.String()
}
