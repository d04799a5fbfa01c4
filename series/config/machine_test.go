package config

import (
	"strings"
	"testing"
)

// A machine's figures that no printer has, and kinds of line that nobody knows, are told where they stand: each
// part would else stay without an estimate, or be estimated with another speed.
func TestMachineMistakes(t *testing.T) {
	const old = "speeds: {wall: 50, infill: 80 mm/s}, acceleration: 1500"
	for _, c := range []struct{ new, code, text, hint string }{
		{"speeds: {wal: 50}", "key-unknown", `"wal"`, "wall"},
		{"speeds: {skirt: 50}", "key-unknown", `"skirt"`, "first-layer"},
		{"speeds: {wall: 0}", "value-wrong", "speed", ""},
		{"acceleration: 0", "value-wrong", "1 mm/s2 or more", "1500"},
		{"acceleration: -3", "value-wrong", "acceleration", ""},
		{"corner_deviation: 6", "value-wrong", "0 to 5 mm", ""},
		{"min_layer_time: 2h", "value-wrong", "up to 1h00m", ""},
		{"start_time: 25h", "value-wrong", "start_time", ""},
		{"change_over: 3000m", "value-wrong", "change_over", ""},
	} {
		_, _, found := Decode("series.yaml", []byte(strings.Replace(sample, old, c.new, 1)))
		if len(found) != 1 || found[0].Code != c.code || !strings.Contains(found[0].Text, c.text) || !strings.Contains(found[0].Hint, c.hint) || found[0].At.Line != 18 {
			t.Errorf("%s: %+v", c.new, found)
		}
	}
	all := "speeds: {outline: 40, wall: 60, solid: 60 mm/s, infill: 80, support: 60, first-layer: 20, travel: 150}, acceleration: 500, corner_deviation: 0.05, min_layer_time: 8s, start_time: 6m, change_over: 15m"
	if _, _, found := Decode("series.yaml", []byte(strings.Replace(sample, old, all, 1))); len(found) != 0 {
		t.Errorf("a whole machine: %+v", found)
	}
}

// Figures of another unit or with a lost decimal point, beside the like that is right.
func TestFiguresNoMachineHas(t *testing.T) {
	series := func(printer, filament string) string {
		return "series: x\ntitle: X\nmaker: {name: M}\ncalendar: {first: 2027-01-08, weeks: 2, at: \"17:00\", zone: Europe/Lisbon, public_after: 3 weeks}\n" +
			"printers: [{name: bench, bed: [220, 220, 250]" + printer + "}]\n" +
			"filaments: [{name: clay, material: PETG, colour: \"#8a5a44\"" + filament + "}]\nprint: {layer: 0.2, line: 0.45, walls: 3, solid: {top: 5, bottom: 4}, infill: 15 %}\nchannels: [{name: shelf, audience: public, to: \"file:../out\"}]\n"
	}
	for _, c := range []struct{ printer, filament, text string }{
		{", nozzle: 4", "", "0.1 mm to 2 mm, found 4 mm"}, {", nozzle: 0.04", "", "nozzle"},
		{", hours_per_week: 600", "", "168 hours"},
		{"", ", diameter: 17.5", "1 mm to 4 mm, found 17.5 mm"}, {"", ", diameter: 0.175", "diameter"},
		{"", ", density: 1270", "density"},
		{"", ", spool: 1000 kg", "10 g to 50 kg"}, {"", ", spool: 1", "10 g to 50 kg"},
		{"", ", tare: 240 kg", "tare"},
	} {
		if _, _, found := Decode("series.yaml", []byte(series(c.printer, c.filament))); len(found) != 1 || found[0].Code != "value-wrong" || !strings.Contains(found[0].Text, c.text) {
			t.Errorf("%s%s: %+v", c.printer, c.filament, found)
		}
	}
	if _, _, found := Decode("series.yaml", []byte(series(", nozzle: 0.25, hours_per_week: 168", ", diameter: 2.85, density: 1.04, spool: 2.3 kg, tare: 215"))); len(found) != 0 {
		t.Errorf("right figures: %+v", found)
	}
}
