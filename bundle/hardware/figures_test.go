package hardware

import (
	"math"
	"slices"
	"testing"
)

// Two published worked examples of a bolt's length.
func TestBoltLengthExamples(t *testing.T) {
	// codingace.net: grip 38, two washers of 2, nut 10, two threads of 1.75: 55.5, so 60 in steps of 5.
	need := LengthNeeded(38+2+2, 10, 1.75, 2)
	if need != 55.5 {
		t.Errorf("needed %v mm, published 55.5 mm", need)
	}
	if got, ok := NextLength(need, []float64{50, 65, 60, 55}); !ok || got != 60 {
		t.Errorf("picked %v mm, published 60 mm", got)
	}
	// Shigley, homework 12, fall 2010: grip 1.125 in, nut 7/16 in, 13 threads an inch: over 1.5625, so
	// 1.75 in, which leaves 2.44 threads past the nut.
	need = LengthNeeded(1.125, 0.4375, 1.0/13, 0)
	pick, ok := NextLength(need, []float64{1.25, 1.5, 1.75, 2})
	if need != 1.5625 || !ok || pick != 1.75 {
		t.Errorf("needed %v in, picked %v in", need, pick)
	}
	if past := (pick - need) * 13; math.Abs(past-2.44) > 0.005 {
		t.Errorf("%v threads past the nut, published 2.44", past)
	}
	if _, ok := NextLength(70, []float64{60, 50}); ok {
		t.Error("a length was picked that is too short")
	}
}

// Length and volume of filament, LEN3DC and FABB; tol is half of the last digit they print.
func TestFilamentExamples(t *testing.T) {
	for _, c := range []struct {
		name            string
		got, want, half float64
	}{
		{"1 kg PETG 1.75, LEN3DC", MetresPerKilogram(1.27, 1.75), 327.4, 0.05},
		{"1 kg PETG 2.85, LEN3DC", MetresPerKilogram(1.27, 2.85), 123.4, 0.05},
		{"1 kg ABS 2.85, LEN3DC", MetresPerKilogram(1.04, 2.85), 150.7, 0.05},
		{"cm3 of 1 m of 1.75, FABB", 1000 / MetresPerKilogram(1, 1.75), 2.405, 0.0005},
		{"cm of 11.4 cm3 of 2.85, FABB", MetresPerKilogram(1, 2.85) / 1000 * 11.4 * 100, 178.7, 0.05},
	} {
		if math.Abs(c.got-c.want) > c.half {
			t.Errorf("%s: %v, published %v", c.name, c.got, c.want)
		}
	}
	if MetresPerKilogram(0, 1.75) != 0 || MetresPerKilogram(1.24, -1) != 0 {
		t.Error("impossible figures must give 0")
	}
	if f, ok := FilamentOf("petg"); !ok || f.Density != 1.27 || f.DensityFrom.Confidence != Agreed || f.Confidence != OneSource {
		t.Errorf("PETG: %+v", f)
	}
	for material, want := range map[string]float64{"PLA": 55, "PETG": 70, "ABS": 90} {
		f, _ := FilamentOf(material)
		if got, ok := f.Softens(); !ok || got != want {
			t.Errorf("%s softens at %v, lower of the published ranges is %v", material, got, want)
		}
	}
	if f, _ := FilamentOf("TPU"); true {
		if _, ok := f.Softens(); ok {
			t.Error("a rubber has no softening temperature to warn of")
		}
	}
	if _, ok := FilamentOf("PLA+"); ok {
		t.Error("PLA+ is not in the tables")
	}
}

// The drawing of a 92 mm fan (SA92) and of an 80 mm one (SUNON80).
func TestFanDrawings(t *testing.T) {
	f, ok := FanOf(92)
	if !ok || math.Abs(f.Pitch-82.5) > 0.3 || math.Abs(f.Hole-4.3) > 0.3 || f.HoleFrom.Weak() {
		t.Errorf("92 mm fan: %+v", f)
	}
	if f, _ := FanOf(80); f.Hole != 4.3 || f.Pitch != 71.5 {
		t.Errorf("80 mm fan: %+v", f)
	}
	if f, _ := FanOf(40.4); f.Pitch != 32 || !f.HoleFrom.Weak() || f.Weak() {
		t.Errorf("40 mm fan: the hole is from memory, the pitch is not: %+v", f)
	}
	if f, ok := FanOf(70); !ok || f.Pitch != 0 {
		t.Errorf("70 mm fan: sources disagree, so no pitch: %+v", f)
	}
	if _, ok := FanOf(45); ok {
		t.Error("there is no 45 mm fan")
	}
	if r, from, ok := FanCurrent(40); !ok || r.Low != 0.1 || r.High != 0.35 || !slices.Contains(from.Sources, "SA40") {
		t.Errorf("current of 40 mm fans: %+v %+v", r, from)
	}
}

func TestGeneralTolerance(t *testing.T) {
	// ISO 2768-1 class m at 25 mm is 0.2 (KB2768, RFT).
	for _, r := range table("iso2768-linear").Rows {
		if 25 > r.number("over") && 25 <= r.number("up to") && r.number("m") != 0.2 {
			t.Errorf("class m at 25 mm: %v", r.number("m"))
		}
	}
	for length, want := range map[float64]float64{3: 0.2, 5: 0.24, 8: 0.29, 12: 0.35, 20: 0.42, 40: 0.5} {
		if got, _, ok := LengthTolerance(length); !ok || got != want {
			t.Errorf("length %v: +-%v, want %v", length, got, want)
		}
	}
	for _, length := range []float64{1, 100} {
		if _, _, ok := LengthTolerance(length); ok {
			t.Errorf("the table ends before %v", length)
		}
	}
}

func TestMadeLengths(t *testing.T) {
	for _, c := range []struct {
		standard        string
		size            Size
		length          float64
		made            bool
		shorter, longer float64
	}{
		{"ISO 4762", "M3", 16, true, 0, 0},
		{"ISO 4762", "M3", 18, false, 16, 20}, // lengths nobody sells, from published parts lists
		{"ISO 4762", "M2", 22, false, 20, 0},
		{"ISO 7045", "M2", 18, false, 16, 20},
		{"ISO 7045", "M3", 14, false, 12, 16}, // in brackets
		{"ISO 4762", "M3", 4, false, 0, 5},
		{"DIN 912", "M3", 16, true, 0, 0},
		{"ISO 10642", "M3", 6, false, 0, 8},
		{"ISO 10642", "M2.5", 6, true, 0, 0},
		{"ISO 14583", "M5", 50, true, 0, 0},
		{"ISO 7045", "M5", 50, false, 45, 0},
		{"ISO 4017", "M4", 16, true, 0, 0},
	} {
		got, ok := CheckLength(c.standard, c.size, c.length)
		if !ok || got.Made != c.made || got.Shorter != c.shorter && !c.made || got.Longer != c.longer && !c.made {
			t.Errorf("%s %sx%v: %+v", c.standard, c.size, c.length, got)
		}
		if got.Made != (got.Reason == "") {
			t.Errorf("%s %sx%v: reason %q", c.standard, c.size, c.length, got.Reason)
		}
	}
	c, _ := CheckLength("ISO 4762", "M3", 18)
	if got := c.Neighbours("M3"); got != "M3x16 or M3x20" {
		t.Errorf("neighbours: %q", got)
	}
	if _, ok := CheckLength("ISO 7380-1", "M2.5", 6); ok {
		t.Error("no table knows the lengths of small button heads")
	}
	if c, ok := CheckStandoff("M2.5", 11); !ok || c.Made || c.Shorter != 10 || c.Longer != 12 {
		t.Errorf("standoff: %+v", c)
	}
}

// A countersunk head is known by its sharp cone and by its real size, which one source gives.
func TestCountersunkHead(t *testing.T) {
	s, ok := ScrewOf("ISO 10642", "M3")
	if !ok || s.HeadDiameter != 6 || s.SharpCone != 6.72 || s.Confidence != OneSource || !s.Standard.IncludesHead {
		t.Errorf("%+v", s)
	}
	if fit, ok := TableOf("fit"); !ok || len(fit.Rows) < 20 {
		t.Error("no table of fits")
	}
	if _, ok := TableOf("soup"); ok {
		t.Error("there is no table of soup")
	}
}

// A button head below M3 is sold by two figures; the larger counts, and it says so.
func TestTradeButton(t *testing.T) {
	s, ok := ScrewOf("ISO 7380-1", "M2.5")
	if !ok || s.HeadDiameter != 5.35 || s.Driver.Size != "1.5 or 2 mm" || s.Note == "" || s.Longest != 0 {
		t.Errorf("%+v", s)
	}
	if _, ok := ScrewOf("ISO 7380-1", "M1.6"); ok {
		t.Error("no source has an M1.6 button head")
	}
	if _, ok := ScrewOf("ISO 4032", "M3"); ok {
		t.Error("a nut is no screw")
	}
}

// Holes of published designs that went wrong, by their rows in the list of faults, and holes that
// did not.
func TestHoleBands(t *testing.T) {
	allowance, from := HoleAllowance()
	if math.Abs(allowance-0.15) > 1e-12 || !from.Weak() {
		t.Fatalf("allowance %v %+v", allowance, from)
	}
	pilot, _ := PilotBand("M3", allowance)
	for _, c := range []struct {
		drawn float64
		good  bool
	}{
		{2.40, false},                                          // row 59: below the minor diameter of 2.459
		{2.50, true}, {2.48, true}, {2.80, true}, {3.0, false}, // row 61: screws drop in
	} {
		if pilot.Contains(c.drawn) != c.good {
			t.Errorf("pilot M3 %v: band %v to %v", c.drawn, pilot.Min, pilot.Max)
		}
	}
	clear, _ := ClearanceBand("M3", allowance)
	for drawn, good := range map[float64]bool{2.99: false /* row 60 */, 3.2: true, 3.4: true, 3.6: true, 4.2: false} {
		if clear.Contains(drawn) != good {
			t.Errorf("clearance M3 %v: band %v to %v", drawn, clear.Min, clear.Max)
		}
	}
	nut, _ := NutOf("ISO 4032", "M3")
	pocket := PocketBand(nut, allowance)
	for flats, good := range map[float64]bool{4.97: false, 5.8: false /* row 63 */, 5.5: false, 5.6: true, 5.7: true} {
		if pocket.Contains(flats) != good {
			t.Errorf("pocket M3 %v: band %v to %v", flats, pocket.Min, pocket.Max)
		}
	}
	for _, c := range []struct {
		size               Size
		outer, length      float64
		good, narrow, wide float64
		depth, wall        float64
		note               bool
	}{
		{"M3", 4.6, 5.7, 4.0, 3.7, 4.6, 6.2, 1.6, false}, // row 57: as wide as the insert
		{"M3", 5.0, 4.0, 4.4, 4.0, 5.0, 4.5, 1.6, false},
		{"M2", 3.0, 3.0, 2.7, 2.4, 3.0, 3.5, 0.8, false},
		{"M2.5", 4.0, 0, 3.56, 3.2, 4.0, 0, 1.0, false},
		{"M3", 7.0, 0, 6.3, 6.0, 7.0, 0, 1.6, true},   // as wide as an M5
		{"M3", 12.0, 0, 11.5, 11, 12, 0, 1.6, true},   // nobody makes it: rule of thumb
		{"M3", 0, 5.7, 4.0, 3.7, 4.7, 6.2, 1.6, true}, // row 28: outer diameter not named
	} {
		need, ok := InsertHole(c.size, c.outer, c.length, allowance)
		if !ok || !need.Hole.Contains(c.good) || need.Hole.Contains(c.narrow) || need.Hole.Contains(c.wide) {
			t.Errorf("insert %s outer %v: %v to %v", c.size, c.outer, need.Hole.Min, need.Hole.Max)
		}
		if math.Abs(need.Depth-c.depth) > 1e-9 || need.Wall != c.wall || (need.Hole.Note != "") != c.note {
			t.Errorf("insert %s outer %v: depth %v wall %v note %q", c.size, c.outer, need.Depth, need.Wall, need.Hole.Note)
		}
	}
	if _, ok := InsertHole("M8", 0, 0, 0.15); ok {
		t.Error("no source has an M8 insert")
	}
	// A larger allowance moves the bands of passing holes outwards, never inwards.
	wide, _ := ClearanceBand("M3", 0.3)
	if wide.Min <= clear.Min || wide.Max <= clear.Max {
		t.Error("the allowance does not move the band")
	}
}

func TestEngagement(t *testing.T) {
	for _, c := range []struct {
		into          Into
		size          Size
		least, better float64
	}{
		{IntoPlastic, "M3", 6, 9}, {IntoInsert, "M3", 3, 3}, {IntoSteel, "M4", 4, 4}, {IntoAluminium, "M2", 3, 4},
	} {
		e, ok := MinEngagement(c.into, c.size)
		if !ok || e.Least != c.least || e.Better != c.better {
			t.Errorf("%s %s: %+v", c.into, c.size, e)
		}
	}
	if _, ok := MinEngagement("cheese", "M3"); ok {
		t.Error("the tables know no cheese")
	}
	nut, _ := NutOf("ISO 4032", "M3")
	if e, ok := NutEngagement(nut); !ok || e.Least != 2.4 || math.Abs(e.Better-3.4) > 1e-12 {
		t.Errorf("nut: %+v", e)
	}
}

func TestTools(t *testing.T) {
	for text, want := range map[string]string{
		"ISO 4762 - M3 x 16": "2.5 mm hex key", "ISO 7380-1 - M3 x 8": "2 mm hex key", "ISO 7045 - M2.5 x 5": "PH1 screwdriver",
		"ISO 7046 - M4 x 10": "PH2 screwdriver", "ISO 14583 - M3 x 8": "T10 screwdriver", "ISO 1580 - M3 x 8": "slot screwdriver",
		"ISO 4017 - M4 x 16": "7 mm spanner", "ISO 4032 - M3": "5.5 mm spanner", "insert M3": "soldering iron",
		"standoff M2.5 x 10": "5 mm spanner", "standoff M3 x 10": "", "standoff M3 x 10, 5.5 across flats": "5.5 mm spanner",
		"ISO 7089 - M3": "", "DIN 7985 - M2 x 6": "PH1 screwdriver", "ISO 4026 - M3 x 5": "1.5 mm hex key",
	} {
		d, err := ParseDesignation(text)
		if err != nil {
			t.Fatal(err)
		}
		tool, _, ok := Tool(d)
		if got := tool.String(); got != want || ok != (want != "") {
			t.Errorf("%s: %q %v, want %q", text, got, ok, want)
		}
	}
}

func TestWire(t *testing.T) {
	w, ok := WireOf(24)
	if !ok || w.Area != 0.205 {
		t.Fatalf("AWG 24: %+v", w)
	}
	// Resistance follows from the area: copper 1.724e-8 ohm m (IEC 60028) over 0.205 mm2 is 84.1 ohm/km.
	if math.Abs(1.724e-8/0.205e-6*1000-w.OhmsPerKm) > 0.2 {
		t.Errorf("AWG 24: %v ohm/km", w.OhmsPerKm)
	}
	if got := w.Drop(500, 1); math.Abs(got-0.0842) > 1e-9 {
		t.Errorf("half a metre of AWG 24 loses %v V at 1 A", got)
	}
	if _, ok := WireOf(7); ok {
		t.Error("AWG 7 is not in the table")
	}
}
