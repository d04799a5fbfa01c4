package check

import (
	"fmt"

	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/hardware"
)

// playRounding forgives the rounding of meshes and places: a hundredth of a millimetre.
const playRounding = 0.01

// plays: parts whose places are known go into one another, and do not take up the same space.
func plays(in *Input, r *report) {
	if in.Facts.Fit == nil {
		return
	}
	least, from, ok := hardware.SnugGap()
	if !ok {
		return
	}
	doubt := doubtful(in)
	for _, p := range in.Facts.Fit.Plays {
		if doubt[meshOf(in, p.A, p.Variant)] != "" || doubt[meshOf(in, p.B, p.Variant)] != "" {
			continue
		}
		where := fmt.Sprintf("at x %s, y %s, z %s mm of the assembly", mm(p.At[0]), mm(p.At[1]), mm(p.At[2]))
		switch {
		case p.Overlap > 0:
			r.add("parts-overlap", placeOf(in, p), p.Variant, fmt.Sprintf("%s and %s take up the same %s mm³, %s mm deep along %s, %s", p.A, p.B, mm(p.Overlap), mm(p.Deep), p.Axis, where),
				"mend place: if it is not where they stand; else give one of them room in CAD")
		case p.Total < least-playRounding:
			r.add("gap-narrow", placeOf(in, p), p.Variant, fmt.Sprintf("%s and %s stand with %s mm of room along %s, both sides together, %s; a part that goes in by hand wants %s mm or more%s", p.A, p.B, mm(max(0, p.Total)), p.Axis, where, mm(least), weak(from.Caveat())),
				"draw one of them smaller by 0.1 to 0.2 mm in all, 0.3 to 0.4 if it must slide; or take it as it is where it is a press fit")
		}
	}
	if why := in.Facts.Fit.PlaysUnknown; why != "" {
		r.unknown(in.Design.Title.At, "", why)
	}
}

func meshOf(in *Input, part, variant string) string {
	p, _ := in.Design.Part(part)
	f, _ := p.Mesh.For(variant)
	return string(f.V)
}

// placeOf is where the manifest says where the second of the two stands, or names it.
func placeOf(in *Input, p facts.Play) finding.Place {
	b, _ := in.Design.Part(p.B)
	for _, l := range b.Place {
		for _, v := range l.At {
			return v.At
		}
	}
	return b.Name.At
}
