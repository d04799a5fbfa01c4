package design

import (
	"fmt"
	"strings"

	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// House is what every design of a series inherits: who makes it, under which licence, with which printers,
// filaments and print settings.
type House struct {
	Maker        Maker           `yaml:"maker" need:"yes" eg:"{name: Hollow Lane Workshop}" doc:"Who makes it."`
	Licence      Val[Text]       `yaml:"licence" doc:"SPDX id; a design may set its own."`
	EarlyLicence Val[Text]       `yaml:"early_licence" doc:"What the early bundle carries until the public day."`
	Currency     Val[Currency]   `yaml:"currency" eg:"EUR" doc:"Three letters of ISO 4217."`
	Printers     []Printer       `yaml:"printers" need:"yes" eg:"[{name: bench, bed: [220, 220, 250], nozzle: 0.4, hours_per_week: 60}]" doc:"The printers."`
	Filaments    []Filament      `yaml:"filaments" need:"yes" eg:"[{name: clay, material: PETG, colour: \"#8a5a44\"}]" doc:"The filaments."`
	Print        Print           `yaml:"print" need:"yes" eg:"{layer: 0.2, line: 0.45, walls: 3, solid: {top: 5, bottom: 4}, infill: 15 %}" doc:"Print settings of all parts that set none of their own."`
	PricePerKWh  Val[unit.Money] `yaml:"price_per_kwh" doc:"Price of electricity."`
	Accent       Val[Hex]        `yaml:"accent" doc:"Accent colour of pages and sheets."`
	Logo         Val[Path]       `yaml:"logo" doc:"Picture at the head of pages and sheets."`
	Language     Val[Language]   `yaml:"language" doc:"Language of sheets and pages."`
}

// Filament returns a filament by name.
func (h *House) Filament(name string) (Filament, bool) {
	for _, f := range h.Filaments {
		if string(f.Name.V) == name {
			return f, true
		}
	}
	return Filament{}, false
}

// FilamentNames returns the names in order; not nil, so that an empty list is judged too.
func (h *House) FilamentNames() []string {
	out := []string{}
	for _, f := range h.Filaments {
		out = append(out, string(f.Name.V))
	}
	return out
}

// Maker is who makes the series.
type Maker struct {
	Name Val[Text] `yaml:"name" need:"yes" doc:"Name of the person or workshop."`
	URL  Val[URL]  `yaml:"url" doc:"Where they are found."`
}

// Printer is one printer.
type Printer struct {
	At              finding.Place
	Name            Val[Name]          `yaml:"name" need:"yes" eg:"bench" doc:"Its name."`
	Bed             []Val[unit.Length] `yaml:"bed" need:"yes" eg:"[220, 220, 250]" doc:"What it can print: [x, y, z]."`
	Nozzle          Val[unit.Length]   `yaml:"nozzle" eg:"0.4" doc:"Nozzle diameter."`
	HoursPerWeek    Val[Quantity]      `yaml:"hours_per_week" doc:"How long it can run in a week."`
	Speeds          Dict[Val[Speed]]   `yaml:"speeds" doc:"Speeds by kind of line: outline, wall, solid, infill, support, travel, first-layer; mm/s."`
	Acceleration    Val[Quantity]      `yaml:"acceleration" doc:"Acceleration, mm/s2."`
	CornerDeviation Val[unit.Length]   `yaml:"corner_deviation" doc:"How far a corner may be cut, for the speed through corners."`
	MinLayerTime    Val[unit.Duration] `yaml:"min_layer_time" doc:"Shortest time for a layer."`
	StartTime       Val[unit.Duration] `yaml:"start_time" doc:"Heating and levelling before a print."`
	ChangeOver      Val[unit.Duration] `yaml:"change_over" doc:"From one print to the next."`
	Watts           Val[Quantity]      `yaml:"watts" doc:"Mean power while printing."`
}

// SetPlace keeps the place.
func (p *Printer) SetPlace(at finding.Place) { p.At = at }

// Filament is one filament on the shelf.
type Filament struct {
	At         finding.Place
	Name       Val[Name]        `yaml:"name" need:"yes" eg:"clay" doc:"Its name."`
	Material   Val[Text]        `yaml:"material" need:"yes" eg:"PETG" doc:"Its material: PLA, PETG, ABS, ASA, TPU."`
	Colour     Val[Hex]         `yaml:"colour" need:"yes" eg:"\"#8a5a44\"" doc:"Its colour."`
	PricePerKg Val[unit.Money]  `yaml:"price_per_kg" doc:"Its price."`
	Density    Val[Quantity]    `yaml:"density" doc:"Density in g/cm3; default by material."`
	Diameter   Val[unit.Length] `yaml:"diameter" doc:"Diameter; 1.75 mm when left out."`
	Spool      Val[unit.Mass]   `yaml:"spool" doc:"Filament on a full spool; 1 kg when left out."`
	Tare       Val[unit.Mass]   `yaml:"tare" doc:"Mass of the empty spool."`
}

// SetPlace keeps the place.
func (f *Filament) SetPlace(at finding.Place) { f.At = at }

// Currency is three capital letters of ISO 4217.
type Currency string

// SetText reads "EUR".
func (c *Currency) SetText(s string, quoted bool) error {
	if len(s) != 3 || strings.Trim(s, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != "" {
		return fmt.Errorf("expected three capital letters such as EUR, found %q", s)
	}
	*c = Currency(s)
	return nil
}

// Speed is mm/s.
type Speed float64

// SetText reads "50" or "50 mm/s".
func (v *Speed) SetText(s string, quoted bool) error {
	f, err := unit.ParseNumber(strings.TrimSpace(strings.TrimSuffix(s, "mm/s")))
	if err != nil || f <= 0 || f > 2000 {
		return fmt.Errorf("expected a speed such as 50 mm/s, found %q", s)
	}
	*v = Speed(f)
	return nil
}

// Language is a language of sheets and pages.
type Language string

// Words lists them; the first is the default.
func (Language) Words() []string { return []string{"en", "de"} }
