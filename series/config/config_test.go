package config

import (
	"strings"
	"testing"
)

const sample = `series: allotment-instruments
title: Allotment Instruments
maker: {name: Hollow Lane Workshop, url: "https://hollow-lane.example"}
licence: CC-BY-SA-4.0
early_licence: LicenseRef-Early-Access
currency: EUR
calendar:
  first: 2027-01-08
  weeks: 12
  at: "17:00"
  zone: Europe/Lisbon
  public_after: 3 weeks
  skip: [2027-02-12]
  designs: {1: soil-stake, 2: twine-hook, 3: vent-minder, 5: seed-dryer}
  overrides: {vent-minder: {public_after: 4 weeks}}
  leave: [{from: 2027-02-01, to: 2027-02-05, why: fair}]
printers:
  - {name: bench, bed: [220, 220, 250], nozzle: 0.4, hours_per_week: 60, speeds: {wall: 50, infill: 80 mm/s}, acceleration: 1500}
filaments:
  - {name: clay, material: PETG, colour: "#8A5a44", price_per_kg: 24.00}
print: {layer: 0.2, line: 0.45, walls: 3, solid: {top: 5, bottom: 4}, infill: 15 %, hole_allowance: 0.15}
channels:
  - {name: supporters, audience: early, to: "hand:../outbox/supporters", max_file: 100 MB, max_files: 8}
  - {name: open-shelf, audience: public, to: "s3://drops?region=eu-west-1"}
`

func TestSeriesDecodes(t *testing.T) {
	s, _, found := Decode("series.yaml", []byte(sample))
	for _, f := range found {
		t.Errorf("%s: %s", f.At, f.Text)
	}
	if s.Calendar.PublicAfter.V != 21 || s.Calendar.Clock.V != 17*60 || len(s.Calendar.Designs) != 4 || s.WeekOf("vent-minder") != 3 || s.WeekOf("x") != 0 {
		t.Errorf("calendar: %+v", s.Calendar)
	}
	if f, ok := s.Filament("clay"); !ok || f.Colour.V != "#8a5a44" || f.PricePerKg.V != 24 {
		t.Errorf("filament: %+v", f)
	}
	if s.Channels[0].MaxBytes.V != 100e6 || s.Print.Infill.V != 0.15 || s.Maker.Name.V != "Hollow Lane Workshop" {
		t.Errorf("channel: %+v", s.Channels[0])
	}
	if o, ok := s.Calendar.Overrides.Get("vent-minder"); !ok || o.PublicAfter.V.String() != "4 weeks" {
		t.Errorf("override: %+v", o)
	}
}

func TestSeriesMistakes(t *testing.T) {
	for _, c := range []struct{ old, new, code, text string }{
		{"zone: Europe/Lisbon", "zone: CET", "value-wrong", `found "CET"`},
		{"3 weeks", "3 months", "value-wrong", "months have no fixed length"},
		{`at: "17:00"`, `at: "25:00"`, "value-wrong", "time of day"},
		{"5: seed-dryer", "15: seed-dryer", "value-wrong", "past the 12 weeks"},
		{"5: seed-dryer", "5: soil-stake", "name-twice", "soil-stake"},
		{"{vent-minder:", "{vent-mindr:", "name-unknown", "vent-mindr"},
		{"audience: early", "audience: erly", "name-unknown", "erly"},
		{"hand:../outbox", "ftp:../outbox", "value-wrong", "ftp:"},
		{"currency: EUR", "currency: euro", "value-wrong", "capital letters"},
		{"layer: 0.2,", "layer: 200,", "value-wrong", "0.04 mm to 1.2 mm"},
		{"bed: [220, 220, 250]", "bed: [220, 220]", "value-wrong", "three lengths"},
		{"calendar:\n", "calender:\n", "key-unknown", "calender"},
		{"to: 2027-02-05", "to: 2027-01-05", "value-wrong", "before it begins"},
		{"print: {", "plan: {trials: 51}\nprint: {", "value-wrong", "0 to 50 test prints"},
		{"print: {", "plan: {builds: 2000}\nprint: {", "value-wrong", "0 to 1000 builds"},
		{"print: {", "plan: {buffer: 9 weeks}\nprint: {", "value-wrong", "up to 60 days"},
		{"print: {", "plan: {delivery: 90 days}\nprint: {", "value-wrong", "delivery: expected up to 60"},
		{"print: {", "plan: {days_per_design: [3, 5]}\nprint: {", "value-wrong", "three numbers"},
		{"print: {", "plan: {days_per_design: [3, 2, 9]}\nprint: {", "value-wrong", "less than 3 before it"},
		{"print: {", "plan: {days_per_design: [0, 2, 9]}\nprint: {", "value-wrong", "more than 0"},
	} {
		_, _, found := Decode("series.yaml", []byte(strings.Replace(sample, c.old, c.new, 1)))
		ok := false
		for _, f := range found {
			ok = ok || f.Code == c.code && strings.Contains(f.Text, c.text) && f.At.Line > 1 && f.Hint != ""
		}
		if !ok || len(found) != 1 {
			t.Errorf("%q: want one %s with %q, got %v", c.new, c.code, c.text, found)
		}
	}
}

func TestPlan(t *testing.T) {
	s, _, _ := Decode("series.yaml", []byte(sample))
	if p := s.Plan; p.TrialsPlanned() != 2 || p.BuildsPlanned() != 1 || p.BufferDays() != 1 || p.DeliveryDays() != 5 || p.DaysPlanned() != [3]float64{3, 5, 12} || p.At.Known() {
		t.Errorf("left out: %+v", p)
	}
	s, _, found := Decode("series.yaml", []byte(sample+"plan: {trials: 0, builds: 3, buffer: 1 week, delivery: 3 days, days_per_design: [1, 2.5, 2.5]}\n"))
	if p := s.Plan; len(found) != 0 || p.TrialsPlanned() != 0 || p.BuildsPlanned() != 3 || p.BufferDays() != 7 || p.DeliveryDays() != 3 || p.DaysPlanned() != [3]float64{1, 2.5, 2.5} || !p.At.Known() {
		t.Errorf("%v, %+v", found, p)
	}
}
