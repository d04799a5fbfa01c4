package check

import (
	"fmt"
	"math"

	"dropwright/bundle/design"
)

const (
	// usualNozzle stands in for printers that name none: the diameter that most have. Common practice, no source.
	usualNozzle = 0.4 // mm
	// serviceWall is the thinnest wall that most print services take (0.8; some ask for 1.0 or 1.2): rows
	// "minimum wall" of the fits in bundle/hardware's sources.
	serviceWall = 0.8 // mm
	// Below these areas a thin place is an edge, a chamfer, the tip of an embossed letter. Assumed.
	thinArea, slenderArea = 5.0, 40.0 // mm2, both sides of a wall counted
)

// walls: no wall is too thin to be printed.
func walls(in *Input, r *report) {
	nozzle := math.Inf(1)
	for _, p := range in.House.Printers {
		if p.Nozzle.Set() {
			nozzle = min(nozzle, float64(p.Nozzle.V))
		}
	}
	if math.IsInf(nozzle, 1) {
		nozzle = usualNozzle
	}
	done := map[design.Path]bool{}
	for _, u := range meshUses(in.Design) {
		s, ok := in.Facts.Solid(string(u.file.V))
		if !ok || done[u.file.V] || !in.sound(s.File) || u.part.Role.V == "reference" {
			continue
		}
		done[u.file.V] = true
		below := func(t float64) float64 { // area over material thinner than t, rounded down to tenths of a millimetre
			if i := int(t*10+1e-9) - 1; i >= 0 && len(s.Thin) > 0 {
				return s.Thin[min(i, len(s.Thin)-1)]
			}
			return 0
		}
		at := fmt.Sprintf("the thinnest near x %.1f, y %.1f, z %.1f mm", s.ThinAt[0], s.ThinAt[1], s.ThinAt[2])
		if a := below(nozzle); a >= thinArea {
			r.add("wall-thin", u.file.At, "", fmt.Sprintf("%s has %.0f mm² of surface over material thinner than the nozzle of %g mm, %s", s.File, a, nozzle, at), "make it at least one line wide, better two; programs that slice leave out what is thinner")
		} else if a := below(serviceWall); a >= slenderArea {
			r.add("wall-slender", u.file.At, "", fmt.Sprintf("%s has %.0f mm² of surface over material thinner than %g mm, %s", s.File, a, serviceWall, at), "it prints here; most print services ask for 0.8 mm or more")
		}
	}
}
