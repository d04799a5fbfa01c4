package check

import "fmt"

// printSettings: every part has the settings that a builder needs, from itself or from the series.
func printSettings(in *Input, r *report) {
	for _, p := range in.Design.Parts {
		if p.Role.V == "reference" {
			continue
		}
		s := p.Print.Over(in.House.Print)
		missing := func(set bool, key, example string) {
			if set {
				return
			}
			r.add("print-missing", p.At, "", fmt.Sprintf("%s: no %s is given, by the part or the series", p.Name.V, key), "add "+example+" to print in series.yaml")
		}
		missing(s.Layer.Set(), "layer height", "layer: 0.2")
		missing(s.Walls.Set(), "number of walls", "walls: 3")
		missing(s.Infill.Set(), "infill", "infill: 15 %")
		missing(s.Line.Set(), "line width", "line: 0.45")
	}
}
