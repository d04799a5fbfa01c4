package hardware

import (
	"math"
	"strings"
)

// Fan is a square axial fan's frame, mm. A zero means that sources give no figure or disagree.
type Fan struct {
	Frame     float64    `json:"frame"`
	Pitch     float64    `json:"pitch"`     // between holes along a side
	Hole      float64    `json:"hole"`      // mounting hole; see HoleFrom
	Thickness []float64  `json:"thickness"` // those that are sold
	HoleFrom  Provenance `json:"hole_from"`
	Provenance
}

// frameTolerance is how far a fan's frame may be from its nominal size (SA92 and the catalogues
// behind table "fan": +-0.5).
const frameTolerance = 0.5 // mm

// FanOf returns the fan whose frame is nearest, within the tolerance of frames; ok is false where
// the table has none.
func FanOf(frame float64) (f Fan, ok bool) {
	for _, r := range table("fan").Rows {
		if math.Abs(r.number("frame")-frame) > frameTolerance {
			continue
		}
		return Fan{
			Frame: r.number("frame"), Pitch: r.number("pitch"), Hole: r.number("hole"), Thickness: r.Numbers("thickness"),
			HoleFrom: r.from("hole"), Provenance: r.from("pitch"),
		}, true
	}
	return Fan{}, false
}

// Range is a pair of published limits. Known is false where the table gives none.
type Range struct {
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Known bool    `json:"known"`
}

// Filament is what is known of a filament material. Density in g/cm3, temperatures degrees
// Celsius. Shrinkage is of moulding, in percent, and not a figure for prints.
type Filament struct {
	Material        string     `json:"material"`
	Density         float64    `json:"density"`
	DensityRange    Range      `json:"density_range"` // tenth and ninetieth of a hundred makers
	Nozzle          Range      `json:"nozzle"`
	Bed             Range      `json:"bed"`
	GlassTransition Range      `json:"glass_transition"`
	HeatDeflection  Range      `json:"heat_deflection"` // at 0.45 MPa
	Shrinkage       Range      `json:"shrinkage"`
	DensityFrom     Provenance `json:"density_from"`
	Provenance
}

// FilamentOf returns a material by name, in any case: "PLA", "petg". Names with additions
// ("PLA+", "PETG-CF") are not guessed at: ok is false, since fillers change the density.
func FilamentOf(material string) (f Filament, ok bool) {
	r, ok := table("filament").find("material", strings.ToUpper(strings.TrimSpace(material)))
	if !ok {
		return Filament{}, false
	}
	pair := func(column string) Range {
		if list := r.Numbers(column); len(list) == 2 {
			return Range{Low: list[0], High: list[1], Known: true}
		}
		return Range{}
	}
	return Filament{
		Material: r.Text("material"), Density: r.number("density"),
		DensityRange: Range{Low: r.number("density low"), High: r.number("density high"), Known: true},
		Nozzle:       pair("nozzle"), Bed: pair("bed"), GlassTransition: pair("glass transition"),
		HeatDeflection: pair("heat deflection"), Shrinkage: pair("moulding shrinkage"),
		DensityFrom: r.from("density"), Provenance: r.from(),
	}, true
}

// Materials lists the filament materials of the table, in its order.
func Materials() []string {
	var list []string
	for _, r := range table("filament").Rows {
		list = append(list, r.Text("material"))
	}
	return list
}

// Softens is the temperature, in degrees Celsius, above which a printed part of the material must
// be expected to give way: the lower end of the glass transition or of the heat deflection,
// whichever is lower. Below zero for rubber-like materials, where it means nothing: ok is then
// false, as it is for a material without figures.
func (f Filament) Softens() (celsius float64, ok bool) {
	celsius = math.Inf(1)
	for _, r := range []Range{f.GlassTransition, f.HeatDeflection} {
		if r.Known {
			celsius = min(celsius, r.Low)
		}
	}
	return celsius, !math.IsInf(celsius, 1) && celsius > 0
}

// MetresPerKilogram is the length of filament in a kilogram:
//
//	1000 / (density x pi/4 x diameter^2)
//
// with the density in g/cm3 and the diameter in mm. It is 0 for figures that are not positive.
func MetresPerKilogram(density, diameter float64) float64 {
	if density <= 0 || diameter <= 0 {
		return 0
	}
	return 1000 / (density * math.Pi / 4 * diameter * diameter)
}

// Wire is a copper wire by American gauge.
type Wire struct {
	AWG       int     `json:"awg"`
	Diameter  float64 `json:"diameter"`   // mm, of the copper
	Area      float64 `json:"area"`       // mm2
	OhmsPerKm float64 `json:"ohm_per_km"` // ohm
	Provenance
}

// WireOf returns a wire by gauge; ok is false where the table has none.
func WireOf(awg int) (w Wire, ok bool) {
	for _, r := range table("wire").Rows {
		if int(r.number("awg")) == awg {
			return Wire{AWG: awg, Diameter: r.number("diameter"), Area: r.number("area"), OhmsPerKm: r.number("ohm per km"), Provenance: r.from()}, true
		}
	}
	return Wire{}, false
}

// Drop is the voltage lost in a pair of wires, there and back: volts, for a length in mm and a
// current in ampere. Tables of how much a wire "may carry" are folklore, so this is reckoned
// instead.
func (w Wire) Drop(length, ampere float64) float64 {
	return 2 * length / 1e6 * w.OhmsPerKm * ampere
}

// FanCurrent is the published spread of the largest current, in ampere, of a 5 V fan with the
// given frame (mm); ok is false where no table row has it.
func FanCurrent(frame float64) (r Range, from Provenance, ok bool) {
	for _, row := range table("fan-current").Rows {
		if math.Abs(row.number("frame")-frame) > frameTolerance {
			continue
		}
		if !r.Known {
			r, from = Range{Low: row.number("low"), High: row.number("high"), Known: true}, row.from()
			continue
		}
		r.Low, r.High = min(r.Low, row.number("low")), max(r.High, row.number("high"))
		from.Sources = addNew(from.Sources, row.Sources...)
		from.Note = joinNotes(from.Note, row.Note)
	}
	return r, from, r.Known
}
