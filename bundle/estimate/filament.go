package estimate

import (
	"fmt"
	"strings"
)

// Filament is the density of a material in g/cm3: the median, and the 10th and 90th percentile over
// what the makers of filament state.
type Filament struct {
	Material string
	Density  float64
	P10, P90 float64
	Entries  int // products counted
}

// filaments: medians and nearest-rank percentiles of the OpenFilamentCollective/open-filament-database
// (data/**/filament.json at ff9f8437), grades whose name shows a filler or effect dropped. Filled
// grades are denser (a data sheet of one PLA has 1.31): set `density` for those.
var filaments = []Filament{
	{Material: "ABS", Density: 1.04, P10: 1.04, P90: 1.09, Entries: 114},
	{Material: "ASA", Density: 1.07, P10: 1.07, P90: 1.13, Entries: 80},
	{Material: "PA12", Density: 1.01, P10: 1.01, P90: 1.18, Entries: 17},
	{Material: "PA6", Density: 1.14, P10: 1.08, P90: 1.20, Entries: 32},
	{Material: "PC", Density: 1.20, P10: 1.10, P90: 1.20, Entries: 33},
	{Material: "PETG", Density: 1.27, P10: 1.24, P90: 1.28, Entries: 185},
	{Material: "PLA", Density: 1.24, P10: 1.22, P90: 1.25, Entries: 468},
	{Material: "TPU", Density: 1.21, P10: 1.18, P90: 1.22, Entries: 140},
}

// Filaments returns the table of densities, sorted by name.
func Filaments() []Filament { return append([]Filament(nil), filaments...) }

// FilamentOf finds a material by name; case and hyphens do not matter.
func FilamentOf(material string) (Filament, bool) {
	name := strings.ReplaceAll(material, "-", "")
	for _, f := range filaments {
		if strings.EqualFold(f.Material, name) {
			return f, true
		}
	}
	return Filament{}, false
}

// MetresPerKilo is the length of one kilogram of filament of the given density (g/cm3) and diameter
// (mm): 1000/(density*pi/4*d*d).
func MetresPerKilo(density, diameter float64) float64 {
	return 1000 / (density * Settings{Diameter: diameter}.filamentArea())
}

// density is the given or the material's density.
func (s Settings) density() (float64, error) {
	if s.Density > 0 {
		return s.Density, nil
	}
	f, ok := FilamentOf(s.Material)
	if !ok {
		var names []string
		for _, f := range filaments {
			names = append(names, f.Material)
		}
		return 0, fmt.Errorf("no density known for material %q; give the filament a density in g/cm3, or one of %s", s.Material, strings.Join(names, ", "))
	}
	return f.Density, nil
}
