package check

import (
	"fmt"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

const (
	// A nozzle prints layers up to four fifths of its diameter, and lines from its own width to twice it.
	// Common practice, no source; the bounds here are a little wider.
	mostLayer = 0.81
	leastLine = 0.85
	mostLine  = 2.0
)

// settingsClash: the settings of a part do not contradict one another, the printers, or what its own 3MF says.
func settingsClash(in *Input, r *report) {
	for _, p := range in.Design.Parts {
		if p.Role.V == "reference" {
			continue
		}
		if p.Supports.Set() && p.Print.Supports.Set() && p.Supports.V != p.Print.Supports.V {
			r.add("settings-clash", p.Supports.At, "", fmt.Sprintf("%s: supports is %s here, and %s under print", p.Name.V, p.Supports.V, p.Print.Supports.V), "keep one of the two")
		}
		judgeNozzle(in, p, r)
	}
	for _, x := range in.Facts.Scan.Packages {
		for _, u := range meshUses(in.Design) {
			if string(u.file.V) == x.File {
				judgePackage(in, u, x.Materials, r)
				break
			}
		}
	}
}

// judgeNozzle compares layer and line with the nozzles of the series; one that takes both is enough.
func judgeNozzle(in *Input, p design.Part, r *report) {
	s := p.Print.Over(in.House.Print)
	var nozzles []string
	fits := false
	for _, pr := range in.House.Printers {
		if !pr.Nozzle.Set() {
			return // any will do
		}
		n := float64(pr.Nozzle.V)
		nozzles = append(nozzles, unit.Number(n))
		okLayer := !s.Layer.Set() || float64(s.Layer.V) <= mostLayer*n
		okLine := !s.Line.Set() || float64(s.Line.V) >= leastLine*n && float64(s.Line.V) <= mostLine*n
		fits = fits || okLayer && okLine
	}
	if fits || len(nozzles) == 0 {
		return
	}
	at := p.Name.At
	for _, v := range []finding.Place{p.Print.Layer.At, p.Print.Line.At} {
		if v.Known() {
			at = v
		}
	}
	r.add("settings-clash", at, "", fmt.Sprintf("%s: layers of %s and lines of %s are for no nozzle of the series (%s mm)", p.Name.V, s.Layer.V, s.Line.V, strings.Join(nozzles, ", ")), "layers up to four fifths of the nozzle, lines from once to twice its width; or add the printer that has the nozzle")
}

// judgePackage compares the base materials that a 3MF names with the filament of the part.
func judgePackage(in *Input, u meshUse, materials []string, r *report) {
	pal, ok := in.Design.Colours.Get(string(u.part.Colour.V))
	if !ok {
		return
	}
	f, ok := in.House.Filament(string(pal.First().V))
	if !ok || !f.Material.Set() {
		return
	}
	for _, m := range materials {
		for _, w := range strings.FieldsFunc(strings.ToUpper(m), func(c rune) bool { return !(c >= 'A' && c <= 'Z') }) {
			if plastics[w] && !strings.HasPrefix(strings.ToUpper(string(f.Material.V)), w) {
				r.add("settings-clash", u.file.At, "", fmt.Sprintf("%s is marked as %s inside; %s is printed in %s (%s)", u.file.V, m, u.part.Name.V, f.Name.V, f.Material.V), "export it with the right material or with none, or give the part another colour role")
				return
			}
		}
	}
}

// plastics are the words that name a printing material.
var plastics = map[string]bool{"PLA": true, "PETG": true, "PET": true, "ABS": true, "ASA": true, "TPU": true, "TPE": true, "PC": true, "PA": true, "NYLON": true, "PVA": true, "HIPS": true, "PP": true}
