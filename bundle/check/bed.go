package check

import (
	"fmt"
	"strings"

	"dropwright/bundle/unit"
)

// bed: every printed part fits the bed of at least one printer of the series as it stands.
func bed(in *Input, r *report) {
	if len(in.House.Printers) == 0 {
		return // a series without printers does not decode; said there
	}
	var beds []string
	for _, p := range in.House.Printers {
		if len(p.Bed) == 3 {
			beds = append(beds, fmt.Sprintf("%s %s × %s × %s mm", p.Name.V, unit.Number(float64(p.Bed[0].V)), unit.Number(float64(p.Bed[1].V)), unit.Number(float64(p.Bed[2].V))))
		}
	}
	for _, f := range in.Facts.Parts {
		if f.Stands == nil || len(f.FitsOn) > 0 {
			continue
		}
		p, ok := in.Design.Part(f.Part)
		if !ok || p.Role.V == "reference" {
			continue
		}
		at := p.Name.At
		if m, ok := p.Mesh.For(f.Variant); ok {
			at = m.At
		}
		s := f.Stands
		r.add("bed-small", at, f.Variant, fmt.Sprintf("%s stands %s × %s × %s mm and fits no bed (%s)", f.Part, unit.Number(round(s[0])), unit.Number(round(s[1])), unit.Number(round(s[2])), strings.Join(beds, "; ")),
			"split the part, let it stand on another face (stand_on), or add the printer that takes it")
	}
}

func round(x float64) float64 { return float64(int64(x*100+0.5)) / 100 }
