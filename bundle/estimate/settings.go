package estimate

import (
	"fmt"
	"math"

	"dropwright/bundle/motion"
)

// Settings is how a part is printed. Zero stands for the default only where a field says so; start
// from Defaults and change what differs.
type Settings struct {
	Layer       float64 // height of a layer, mm
	FirstLayer  float64 // height of the first layer, mm; 0: as Layer
	Line        float64 // width of a line, mm
	Walls       int     // lines around each outline, 0 to 100
	SolidTop    int     // full layers under a surface, 0 to 200
	SolidBottom int     // full layers over a surface, 0 to 200
	Infill      float64 // share of the inside that is filled, 0 to 1

	Supports       bool    // print supports where overhangs need them
	SupportAngle   float64 // overhang from the vertical that needs none, degrees; 0: 45
	SupportDensity float64 // share of the supported space that is filled; 0: 0.15
	Brim           float64 // width of the brim, mm; 0: none

	Material string  // for the density; ""  : PLA
	Density  float64 // g/cm3; 0: the material's
	Diameter float64 // of the filament, mm; 0: 1.75
}

// Machine is how fast a printer is: speeds in mm/s, 0 for the default.
type Machine struct {
	motion.Limits // both zero: the default limits

	Outline, Wall, Solid, Infill, Support float64
	First                                 float64 // limit for everything on the first layer
	Travel                                float64
	MinLayer                              float64 // seconds a layer takes at least
	Start                                 float64 // seconds before the first layer: heating, levelling, purging
	ChangeOver                            float64 // seconds between two loads: cooling down, taking off
}

// Defaults is a print like those of most published functional parts: 0.2 mm layers, 0.45 mm lines (0.4
// nozzle times 1.1), two walls, four solid layers, 15 % infill. Common practice, no source.
func Defaults() Settings {
	return Settings{Layer: 0.2, Line: 0.45, Walls: 2, SolidTop: 4, SolidBottom: 4, Infill: 0.15}
}

// DefaultMachine is a middling desktop printer. Common practice, no source.
func DefaultMachine() Machine {
	return Machine{
		Limits:  motion.Limits{Acceleration: 1500, CornerDeviation: 0.02},
		Outline: 50, Wall: 80, Solid: 80, Infill: 80, Support: 60, First: 25, Travel: 150,
		MinLayer: 6, Start: 240, ChangeOver: 600,
	}
}

// The overhang that prints without support is 45 degrees from the vertical in four of four published
// guides (artistic and trade design rules); the density is common practice, no source.
const (
	defaultAngle          = 45
	defaultSupportDensity = 0.15
	defaultDiameter       = 1.75
	defaultMaterial       = "PLA"
)

func (s Settings) filled() Settings {
	or := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	or(&s.FirstLayer, s.Layer)
	or(&s.SupportAngle, defaultAngle)
	or(&s.SupportDensity, defaultSupportDensity)
	or(&s.Diameter, defaultDiameter)
	if s.Material == "" {
		s.Material = defaultMaterial
	}
	return s
}

func (m Machine) filled() Machine {
	d := DefaultMachine()
	if m.Limits == (motion.Limits{}) {
		m.Limits = d.Limits
	}
	for _, p := range []struct{ v, d *float64 }{
		{&m.Outline, &d.Outline}, {&m.Wall, &d.Wall}, {&m.Solid, &d.Solid}, {&m.Infill, &d.Infill},
		{&m.Support, &d.Support}, {&m.First, &d.First}, {&m.Travel, &d.Travel},
	} {
		if *p.v == 0 {
			*p.v = *p.d
		}
	}
	return m
}

// span is a number and the range it must lie in.
type span struct {
	name      string
	v, lo, hi float64
	unit      string
}

func inRange(list []span) error {
	for _, r := range list {
		if math.IsNaN(r.v) || r.v < r.lo || r.v > r.hi {
			return fmt.Errorf("%s %g is out of range: %g to %g%s", r.name, r.v, r.lo, r.hi, r.unit)
		}
	}
	return nil
}

// Check returns an error that names the first setting out of range and the range. The ranges keep out
// typing errors (20 for 0.2) and unbounded work; they are wider than any printer.
func (s Settings) Check() error {
	s = s.filled()
	err := inRange([]span{
		{"layer", s.Layer, 0.02, 3, " mm"},
		{"first layer", s.FirstLayer, 0.02, 3, " mm"},
		{"line", s.Line, 0.05, 5, " mm"},
		{"walls", float64(s.Walls), 0, 100, ""},
		{"solid top layers", float64(s.SolidTop), 0, 200, ""},
		{"solid bottom layers", float64(s.SolidBottom), 0, 200, ""},
		{"infill", s.Infill * 100, 0, 100, " %"},
		{"support angle", s.SupportAngle, 1, 89, " degrees"},
		{"support density", s.SupportDensity * 100, 1, 100, " %"},
		{"brim", s.Brim, 0, 50, " mm"},
		{"filament diameter", s.Diameter, 0.5, 10, " mm"},
	})
	if err != nil {
		return err
	}
	if s.Density != 0 {
		return inRange([]span{{"density", s.Density, 0.3, 10, " g/cm3"}})
	}
	_, err = s.density()
	return err
}

// Check returns an error that names the first figure out of range and the range.
func (m Machine) Check() error {
	m = m.filled()
	return inRange([]span{
		{"acceleration", m.Acceleration, 1, 1e6, " mm/s2"},
		{"corner deviation", m.CornerDeviation, 0, 5, " mm"},
		{"outline speed", m.Outline, 0.1, 5000, " mm/s"},
		{"wall speed", m.Wall, 0.1, 5000, " mm/s"},
		{"solid speed", m.Solid, 0.1, 5000, " mm/s"},
		{"infill speed", m.Infill, 0.1, 5000, " mm/s"},
		{"support speed", m.Support, 0.1, 5000, " mm/s"},
		{"first layer speed", m.First, 0.1, 5000, " mm/s"},
		{"travel speed", m.Travel, 0.1, 5000, " mm/s"},
		{"minimum layer time", m.MinLayer, 0, 3600, " s"},
		{"start time", m.Start, 0, 86400, " s"},
		{"change-over time", m.ChangeOver, 0, 86400, " s"},
	})
}

// Map returns the settings under their names in JSON, shares in percent, defaults filled in.
func (s Settings) Map() map[string]any {
	s = s.filled()
	density, _ := s.density()
	m := map[string]any{
		"layer": s.Layer, "first_layer": s.FirstLayer, "line": s.Line, "walls": s.Walls,
		"solid_top": s.SolidTop, "solid_bottom": s.SolidBottom, "infill": percent(s.Infill),
		"supports": "none", "brim": s.Brim,
		"material": s.Material, "density": density, "diameter": s.Diameter,
	}
	if s.Supports {
		m["supports"] = "needed"
		m["limit_angle"] = s.SupportAngle
		m["support_density"] = percent(s.SupportDensity)
	}
	return m
}

// percent drops the last digits that 0.15*100 has too many.
func percent(share float64) float64 { return math.Round(share*1e8) / 1e6 }

func (s Settings) filamentArea() float64 { return math.Pi / 4 * s.Diameter * s.Diameter }

// width is the width of all walls together, mm.
func (s Settings) width() float64 { return float64(s.Walls) * s.Line }
