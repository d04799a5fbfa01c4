package check

import (
	"fmt"
	"math"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/unit"
)

// units: a mesh is as large as it should be, and drawn in millimetres.
func units(in *Input, r *report) {
	done := map[design.Path]bool{}
	for _, u := range meshUses(in.Design) {
		f, ok := in.Facts.Mesh(string(u.file.V))
		if !ok || f.Size == nil || done[u.file.V] || u.part.Role.V == "reference" {
			continue
		}
		done[u.file.V] = true
		if wrong, why := wrongUnit(in, u, f); wrong != "" {
			r.add("unit-wrong", u.file.At, "", fmt.Sprintf("%s is %s: %s", u.file.V, size(*f.Size), why), "export it in millimetres: it was drawn, or written, in "+plural(wrong))
			continue
		}
		if len(u.part.Size) == 3 {
			judgeSize(u, *f.Size, r)
			continue // the size that was stated says more than a guess
		}
		if f.UnitSuspect != nil {
			r.add("unit-suspect", u.file.At, "", fmt.Sprintf("%s is %s: drawn in %s?", u.file.V, size(*f.Size), plural(*f.UnitSuspect)),
				fmt.Sprintf("export it in millimetres; if it is that small, say so: size: [%s, %s, %s]", unit.Number(round(f.Size[0])), unit.Number(round(f.Size[1])), unit.Number(round(f.Size[2]))))
		}
	}
}

// wrongUnit names the unit that explains a mesh whose size, holes or board do not fit, and says why.
func wrongUnit(in *Input, u meshUse, f *facts.Mesh) (name, why string) {
	s, ok := in.Facts.Solid(string(u.file.V))
	if ok && s.UnitBySize != "" {
		return s.UnitBySize, fmt.Sprintf("it should be %s, which it is in %s", size([3]float64{float64(u.part.Size[0].V), float64(u.part.Size[1].V), float64(u.part.Size[2].V)}), plural(s.UnitBySize))
	}
	if name, board := unitByBoard(in.Design, u, *f.Size); name != "" {
		return name, fmt.Sprintf("the board %s does not fit in it, but would if it were in %s", board, plural(name))
	}
	if ok && s.UnitByHoles != "" && screwed(in.Design, u.part.Name.V) {
		return s.UnitByHoles, "all its round holes are too small for any screw"
	}
	if f.UnitSuspect != nil && holeless(in, string(u.file.V)) {
		return *f.UnitSuspect, "that small, and it has none of the holes that its fasteners need"
	}
	return "", ""
}

// holeless tells that joints ask for holes in a mesh and not one of them was found.
func holeless(in *Input, file string) bool {
	if in.Facts.Fit == nil {
		return false
	}
	asked := false
	for _, j := range in.Facts.Fit.Joints {
		for _, m := range j.Members {
			if m.Kind != "part" || m.File != file || m.Allowed == nil || len(m.Holes) == 0 {
				continue
			}
			if m.Found > 0 {
				return false
			}
			asked = true
		}
	}
	return asked
}

// doubtful says of each mesh that cannot be believed why: it cannot be read, or is in another unit. What the
// other parts would need to suit it is no advice.
func doubtful(in *Input) map[string]string {
	out := map[string]string{}
	for _, u := range meshUses(in.Design) {
		name := string(u.file.V)
		f, ok := in.Facts.Mesh(name)
		switch {
		case !ok:
		case f.Error != "":
			out[name] = name + " cannot be read"
		case f.Size == nil || u.part.Role.V == "reference":
		default:
			wrong, _ := wrongUnit(in, u, f)
			if wrong == "" && len(u.part.Size) != 3 && f.UnitSuspect != nil {
				wrong = *f.UnitSuspect
			}
			if wrong != "" {
				out[name] = name + " seems to be in " + plural(wrong)
			}
		}
	}
	return out
}

// scales are the units that meshes were wrongly exported in, as factors to millimetres.
var scales = []struct {
	name   string
	factor float64
}{{"inch", 25.4}, {"centimetre", 10}, {"metre", 1000}}

func plural(unit string) string {
	if unit == "inch" {
		return "inches"
	}
	return unit + "s"
}

// unitByBoard compares a part with the board that sits in it: the board's outline must fit into the part's two
// longer sides; where it does not, the unit whose factor makes it fit, with at most twice the board's length, is
// the likely one. Profiles of the design's own are judged where the seat is.
func unitByBoard(d *design.Design, u meshUse, size [3]float64) (name, id string) {
	for _, v := range d.Variants {
		if u.variant != "" && u.variant != string(v.Name.V) {
			continue
		}
		for _, b := range v.BoardList() {
			if b.SitsIn.V != u.part.Name.V || design.IsFile(string(b.Profile.V)) {
				continue
			}
			p, err := board.Load(string(b.Profile.V))
			if err != nil {
				continue
			}
			long, short := p.Outline.Length.MM, p.Outline.Width.MM
			long, short = max(long, short), min(long, short)
			s := sorted(size)
			if s[2] >= long/2 { // a tray may be shorter than its board
				continue
			}
			for _, x := range scales {
				if s[2]*x.factor >= long && s[1]*x.factor >= short && s[2]*x.factor <= 4*long {
					return x.name, string(b.Profile.V)
				}
			}
		}
	}
	return "", ""
}

// screwed reports whether a fastener passes through or goes into a part.
func screwed(d *design.Design, part design.Name) bool {
	for _, f := range d.Fasteners {
		if f.Into.Part().V == part {
			return true
		}
		for _, t := range f.Through {
			if t.V == part {
				return true
			}
		}
	}
	return false
}

// judgeSize compares a mesh with the size that the manifest states, in any order of the axes. It may differ by
// half a millimetre or one part in a hundred: sizes are typed rounded. Our own bounds.
func judgeSize(u meshUse, got [3]float64, r *report) {
	want := [3]float64{float64(u.part.Size[0].V), float64(u.part.Size[1].V), float64(u.part.Size[2].V)}
	g, w := sorted(got), sorted(want)
	near := func(w, g [3]float64) bool {
		for k := range 3 {
			if math.Abs(g[k]-w[k]) > max(0.5, 0.01*w[k]) {
				return false
			}
		}
		return true
	}
	if near(w, g) {
		return
	}
	hint := "export the mesh of this part, or mend its size"
	for i := range 3 { // the axes as they were typed: one decimal point lost, the rest right
		t := want
		for _, f := range []float64{0.1, 10} {
			t[i] = want[i] * f
			if s := sorted(t); near(s, g) {
				hint = fmt.Sprintf("is it %s instead of %s? write size: [%s, %s, %s]", unit.Number(t[i]), unit.Number(want[i]), unit.Number(t[0]), unit.Number(t[1]), unit.Number(t[2]))
			}
		}
	}
	r.add("part-size-differs", u.file.At, "", fmt.Sprintf("%s is %s; %s should be %s", u.file.V, size(got), u.part.Name.V, size(want)), hint)
}

func size(s [3]float64) string {
	return fmt.Sprintf("%s × %s × %s mm", unit.Number(round(s[0])), unit.Number(round(s[1])), unit.Number(round(s[2])))
}
