package check

import (
	"fmt"
	"strings"
)

// toolpaths: a print file beside a part can be simulated and prints that part's mesh.
func toolpaths(in *Input, r *report) {
	for _, f := range in.Facts.Parts {
		t := f.Toolpath
		if t == nil {
			continue // none, or not there: said by files
		}
		p, ok := in.Design.Part(f.Part)
		if !ok {
			continue
		}
		at := p.Toolpath.At
		switch {
		case t.Problem != "":
			r.add("toolpath-unreadable", at, f.Variant, fmt.Sprintf("%s cannot be simulated: %s", t.File, t.Problem), "export it again as plain G-code, or remove the line: the figures are the model's")
			continue
		case len(t.Misfits) > 0:
			r.add("toolpath-other", at, f.Variant, fmt.Sprintf("%s does not print %s: %s", t.File, f.Mesh, strings.Join(t.Misfits, "; ")), "make it again from this mesh, one copy, with the part's print settings; or remove the line")
			continue
		}
		if t.OtherLayers != "" {
			r.add("toolpath-layers", at, f.Variant, fmt.Sprintf("%s prints %s in other layers: %s", t.File, f.Mesh, t.OtherLayers), "make it again with the part's print settings, or write the layer height it was made with under the part's print")
		}
		if t.CutOff > 0 {
			r.add("toolpath-cut", at, f.Variant, fmt.Sprintf("%s ends inside line %d, as if it was cut short", t.File, t.CutOff), "compare its size with the original, or export it again")
		}
	}
}
