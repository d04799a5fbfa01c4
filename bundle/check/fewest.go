package check

import (
	"fmt"
	"strings"

	"dropwright/bundle/facts"
	"dropwright/bundle/fit"
	"dropwright/bundle/hardware"
)

// fewest: fewer lengths of screw would serve the joints of a variant.
func fewest(in *Input, r *report) {
	if in.Facts.Fit == nil {
		return
	}
	for _, v := range in.Design.VariantNames() {
		var own []facts.Joint
		for _, j := range in.Facts.Fit.Joints {
			// A length that does not fit is a finding of its own.
			if l := j.Fits; j.Variant == v && l != nil && j.Length >= l.Min-lengthSlack && j.Length <= l.Max+lengthSlack {
				own = append(own, j)
			}
		}
		for _, s := range hardware.FewestSizes(fit.Demands(own, "")) {
			if s.Fewer() <= 0 {
				continue
			}
			f, _ := in.Design.Fastener(s.Changes[0].Where)
			at := f.Name.At
			if d, ok := f.Designation(v); ok && d.At.Known() {
				at = d.At
			}
			var changes []string
			for _, c := range s.Changes {
				changes = append(changes, fmt.Sprintf("%s: %sx%s", c.Where, s.Size, mm(c.To)))
			}
			r.add("lengths-many", at, v, fmt.Sprintf("%s %s comes in %d lengths (%s mm); %d would do (%s mm)", s.Standard, s.Size, len(s.Before), list(s.Before), len(s.After), list(s.After)),
				"write "+strings.Join(changes, ", "))
		}
	}
}

func list(l []float64) string {
	var out []string
	for _, x := range l {
		out = append(out, mm(x))
	}
	return strings.Join(out, ", ")
}
