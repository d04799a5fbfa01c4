package measure

import (
	"dropwright/bundle/design"
	"dropwright/bundle/estimate"
	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
)

// SettingsFor turns print settings (a part's over the series') and a filament into what estimate takes.
// Where neither says anything, estimate's own defaults stand.
func SettingsFor(p design.Print, f design.Filament) estimate.Settings {
	s := estimate.Defaults()
	set(&s.Layer, p.Layer)
	set(&s.FirstLayer, p.FirstLayer)
	set(&s.Line, p.Line)
	set(&s.Brim, p.Brim)
	set(&s.Infill, p.Infill)
	set(&s.SupportDensity, p.SupportDensity)
	set(&s.SupportAngle, p.LimitAngle)
	if p.Walls.Set() {
		s.Walls = int(p.Walls.V)
	}
	if p.Solid.Top.Set() {
		s.SolidTop = int(p.Solid.Top.V)
	}
	if p.Solid.Bottom.Set() {
		s.SolidBottom = int(p.Solid.Bottom.V)
	}
	s.Supports = p.Supports.V == "needed"
	if f.Material.Set() {
		s.Material = string(f.Material.V)
	}
	set(&s.Density, f.Density)
	set(&s.Diameter, f.Diameter)
	return s
}

func set[T ~float64](to *float64, v design.Val[T]) {
	if v.Set() {
		*to = float64(v.V)
	}
}

// MachineFor turns a printer of the series into what estimate takes.
func MachineFor(p design.Printer) estimate.Machine {
	m := estimate.DefaultMachine()
	set(&m.Acceleration, p.Acceleration)
	set(&m.CornerDeviation, p.CornerDeviation)
	for _, e := range p.Speeds.Entries {
		v := float64(e.Value.V)
		switch e.Key {
		case "outline":
			m.Outline = v
		case "wall":
			m.Wall = v
		case "solid":
			m.Solid = v
		case "infill":
			m.Infill = v
		case "support":
			m.Support = v
		case "first-layer":
			m.First = v
		case "travel":
			m.Travel = v
		}
	}
	set(&m.MinLayer, p.MinLayerTime)
	set(&m.Start, p.StartTime)
	set(&m.ChangeOver, p.ChangeOver)
	return m
}

// standing turns a mesh so that the named face lies on the bed.
func standing(m *mesh.Mesh, face design.Face) *mesh.Mesh {
	var t mesh.Matrix
	switch face {
	case "+z":
		t = mesh.Matrix{{1, 0, 0, 0}, {0, -1, 0, 0}, {0, 0, -1, 0}}
	case "+x":
		t = mesh.Matrix{{0, 0, 1, 0}, {0, 1, 0, 0}, {-1, 0, 0, 0}}
	case "-x":
		t = mesh.Matrix{{0, 0, -1, 0}, {0, 1, 0, 0}, {1, 0, 0, 0}}
	case "+y":
		t = mesh.Matrix{{1, 0, 0, 0}, {0, 0, 1, 0}, {0, -1, 0, 0}}
	case "-y":
		t = mesh.Matrix{{1, 0, 0, 0}, {0, 0, -1, 0}, {0, 1, 0, 0}}
	default:
		return m
	}
	return mesh.Transform(m, t)
}

// take turns an estimate into facts.
func take(e estimate.Estimate, s estimate.Settings, notes []string) *facts.Estimate {
	return &facts.Estimate{Grams: e.Grams, GramsLow: e.GramsLow, GramsHigh: e.GramsHigh, Metres: e.Metres,
		Seconds: e.Seconds, SecondsLow: e.SecondsLow, SecondsHigh: e.SecondsHigh, Layers: e.Layers, Plastic: e.Plastic,
		Kinds: e.Kinds.Map(), Basis: e.Basis, Band: e.Band, Notes: notes, Settings: s.Map()}
}
