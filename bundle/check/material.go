package check

import (
	"fmt"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/hardware"
)

// places are how hot a printed part may get where it is used, degrees Celsius.
//
//	car                    dashboard of a parked car, 165 °F (science360.gov, via the board notes)
//	attic                  upper end of 50 to 65 (from memory)
//	window, outdoors, …    60: a closed car on a day of 95 °F (table, us.ok.com) stands for a dark part behind
//	                       glass or in the sun; assumed
//	hot                    next to a heater, oven, engine: no figure is safe to assume; 90, a warm heater's (assumed)
var places = map[string]float64{
	"car": 74, "vehicle": 74, "attic": 65, "window": 60, "windowsill": 60, "greenhouse": 60, "outdoors": 60, "outside": 60,
	"garden": 60, "sun": 60, "balcony": 60, "roof": 65, "heater": 90, "radiator": 90, "oven": 90, "engine": 90, "kiln": 90, "sauna": 90,
}

// material: what the parts are printed in does not soften where the thing is used.
func material(in *Input, r *report) {
	hot, where := 0.0, ""
	for _, u := range in.Design.UsedIn {
		for _, w := range strings.FieldsFunc(strings.ToLower(string(u.V)), func(c rune) bool { return c < 'a' || c > 'z' }) {
			if t := places[w]; t > hot {
				hot, where = t, string(u.V)
			}
		}
	}
	if hot == 0 {
		return
	}
	printed := map[design.Name]bool{}
	for _, p := range in.Design.Parts {
		if p.Role.V != "reference" && p.Role.V != "jig" {
			printed[p.Colour.V] = true
		}
	}
	for _, e := range in.Design.Colours.Entries {
		if !printed[design.Name(e.Key)] {
			continue
		}
		for _, n := range e.Value.Items {
			f, ok := in.House.Filament(string(n.V))
			if !ok {
				continue
			}
			judgeMaterial(string(f.Material.V), string(n.V), where, hot, n.At, r)
		}
	}
}

func judgeMaterial(mat, filament, where string, hot float64, at finding.Place, r *report) {
	m, ok := hardware.FilamentOf(mat)
	if !ok {
		r.unknown(at, "", fmt.Sprintf("whether %s softens (%s): no figure for %s", filament, where, mat))
		return
	}
	soft, ok := m.Softens()
	if !ok || soft >= hot {
		return
	}
	r.add("material-soft", at, "", fmt.Sprintf("%s is %s, which gives way from %.0f °C; used in: %s, where %.0f °C can be reached", filament, m.Material, soft, where, hot), "choose a filament of "+firmer(hot)+", or say in the story where it must not be put")
}

// firmer lists the materials that hold at a temperature.
func firmer(hot float64) string {
	var out []string
	for _, m := range hardware.Materials() {
		if f, ok := hardware.FilamentOf(m); ok {
			if t, ok := f.Softens(); ok && t >= hot {
				out = append(out, m)
			}
		}
	}
	if len(out) > 4 {
		out = out[:4]
	}
	return strings.Join(out, ", ")
}
