package check

import (
	"fmt"

	"dropwright/bundle/design"
)

// steps: a design of more than one printed piece, or with anything bought, has assembly steps, and each
// step says how.
func steps(in *Input, r *report) {
	d := in.Design
	if len(d.Assembly) == 0 {
		why, at := "", firstPart(d)
		switch {
		case len(d.Fasteners) > 0:
			why, at = "fasteners", d.Fasteners[0].Name.At
		case hasBoard(d):
			why, at = "a board", d.Variants[0].Name.At
		case len(d.Bought) > 0:
			why, at = "bought parts", d.Bought[0].Name.At
		case pieces(d) > 1:
			why = "several printed parts"
		default:
			return
		}
		r.add("steps-missing", at, "", fmt.Sprintf("the design has %s and no assembly steps", why), "add assembly: with a title, a text and uses: {name: count} for each step")
		return
	}
	for i, s := range d.Assembly {
		if !s.Text.Set() && !s.Picture.File.Set() {
			r.add("step-bare", s.At, "", fmt.Sprintf("step %d, %q, has neither a text nor a picture", i+1, s.Title.V), "add text: with one or two short sentences, or a picture")
		}
	}
}

func hasBoard(d *design.Design) bool {
	for _, v := range d.Variants {
		if len(v.BoardList()) > 0 {
			return true
		}
	}
	return false
}

// pieces counts the printed pieces of the first variant that are not jigs or spares.
func pieces(d *design.Design) int {
	n := 0
	v := d.VariantNames()[0]
	for _, p := range d.PartsOf(v) {
		if p.Role.V == "" || p.Role.V == "part" {
			a, b := p.CopiesOf(v)
			n += a + b
		}
	}
	return n
}
