package measure

import (
	"slices"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/unit"
)

// withAllowances is the design with the hole allowances that were learnt from measured holes written into its
// parts, for the checks of holes. A part's own allowance stands: it was written for that part. The series' one
// gives way, for it is a guess about all printers and materials.
func withAllowances(d *design.Design, parts []facts.Part) *design.Design {
	out := d
	for _, f := range parts {
		if f.HoleAllowance == nil {
			continue
		}
		i := slices.IndexFunc(out.Parts, func(p design.Part) bool { return string(p.Name.V) == f.Part })
		if i < 0 || out.Parts[i].Print.HoleAllowance.Set() {
			continue
		}
		if out == d {
			c := *d
			c.Parts = slices.Clone(d.Parts)
			out = &c
		}
		out.Parts[i].Print.HoleAllowance = design.Val[unit.Length]{V: unit.Length(*f.HoleAllowance), At: d.Parts[i].At}
	}
	return out
}
