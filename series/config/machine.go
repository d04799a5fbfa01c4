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
	// Bounds that catch a lost decimal point or another unit, not taste: nozzles are sold from 0.1 to 2 mm (common
	// practice, no source), and a week has 168 hours.
	if n := p.Nozzle; n.Set() && (n.V < 0.1 || n.V > 2) {
		wrong(n.At, fmt.Sprintf("nozzle: expected 0.1 mm to 2 mm, found %s", n.V), "check the unit and the decimal point: nozzle: 0.4")
	}
	if h := p.HoursPerWeek; h.Set() && (h.V < 0 || h.V > 168) {
		wrong(h.At, fmt.Sprintf("hours_per_week: expected up to the 168 hours of a week, found %v", h.V), "write how long it can run in a week, such as 60")
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

// reel checks a filament's figures. Filament is made 1.75 and 2.85 mm thick (sold as 3 mm, too), on spools from a
// sample to some ten kilograms: bounds that catch a lost decimal point or another unit.
func reel(f design.Filament) []finding.Finding {
	var out []finding.Finding
	wrong := func(at finding.Place, text, hint string) {
		out = append(out, finding.New("value-wrong", at, text, hint))
	}
	if f.Density.Set() && (f.Density.V < 0.5 || f.Density.V > 5) {
		wrong(f.Density.At, fmt.Sprintf("density: expected 0.5 to 5 g/cm3, found %v", f.Density.V), "check the unit: g/cm3")
	}
	if d := f.Diameter; d.Set() && (d.V < 1 || d.V > 4) {
		wrong(d.At, fmt.Sprintf("diameter: expected 1 mm to 4 mm, found %s", d.V), "check the unit and the decimal point: diameter: 1.75")
	}
	if m := f.Spool; m.Set() && (m.V < 10 || m.V > 50_000) {
		wrong(m.At, fmt.Sprintf("spool: expected 10 g to 50 kg, found %s", m.V), "check the unit: spool: 1 kg")
	}
	if m := f.Tare; m.Set() && (m.V < 0 || m.V > 10_000) {
		wrong(m.At, fmt.Sprintf("tare: expected up to 10 kg, found %s", m.V), "check the unit: tare: 240 g")
	}
	return out
}
