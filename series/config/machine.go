package config

import (
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// speedKinds are the kinds of line that a printer may have a speed for.
var speedKinds = []string{"outline", "wall", "solid", "infill", "support", "first-layer", "travel"}

// machine checks a printer's speeds and times: a kind that nobody knows would be passed over, and a figure that
// no printer has would leave every part without an estimate.
func machine(p design.Printer) []finding.Finding {
	var out []finding.Finding
	for _, e := range p.Speeds.Entries {
		if slices.Contains(speedKinds, e.Key) {
			continue
		}
		hint := "known: " + strings.Join(speedKinds, ", ")
		if near := finding.Nearest(e.Key, speedKinds); near != "" {
			hint = "did you mean " + near + "?"
		}
		out = append(out, finding.New("key-unknown", e.KeyAt, fmt.Sprintf("no kind of line is called %q", e.Key), hint))
	}
	wrong := func(at finding.Place, text, hint string) {
		out = append(out, finding.New("value-wrong", at, text, hint))
	}
	if a := p.Acceleration; a.Set() && a.V < 1 {
		wrong(a.At, fmt.Sprintf("acceleration: expected 1 mm/s2 or more, found %v", a.V), "write it in mm/s2, such as 1500, or leave it out")
	}
	if c := p.CornerDeviation; c.Set() && (c.V < 0 || c.V > 5) {
		wrong(c.At, fmt.Sprintf("corner_deviation: expected 0 to 5 mm, found %s", c.V), "write it in mm, such as 0.02, or leave it out")
	}
	for _, t := range []struct {
		name  string
		value design.Val[unit.Duration]
		most  unit.Duration
	}{{"min_layer_time", p.MinLayerTime, 3600}, {"start_time", p.StartTime, 86400}, {"change_over", p.ChangeOver, 86400}} {
		if t.value.Set() && t.value.V > t.most {
			wrong(t.value.At, fmt.Sprintf("%s: expected up to %s, found %s", t.name, t.most, t.value.V), "check the unit: 90s, 4m, 1h")
		}
	}
	return out
}
