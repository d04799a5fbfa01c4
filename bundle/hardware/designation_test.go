package hardware

import (
	"strings"
	"testing"
)

func TestParseScrew(t *testing.T) {
	for text, want := range map[string]struct {
		size   Size
		length float64
	}{
		"M3x16": {"M3", 16}, "M3 x 16": {"M3", 16}, "M3×16": {"M3", 16}, "m2.5x5": {"M2.5", 5}, "M2,5x5": {"M2.5", 5},
		"M1.6x2.5": {"M1.6", 2.5}, "M3x16 mm": {"M3", 16}, " M4X20 ": {"M4", 20}, "M3x0.5x16": {"M3", 16}, "M8x20": {"M8", 20},
		"M3\u00a0×\u00a08": {"M3", 8},
	} {
		size, length, err := ParseScrew(text)
		if err != nil || size != want.size || length != want.length {
			t.Errorf("%q: %s x %v, %v", text, size, length, err)
		}
	}
	for text, want := range map[string]string{
		"M3": "has no length", "3x16": "not of the form", "M3x": "behind it", "M7x10": "not in the tables; they know M1.6",
		"M3x0": "not possible", "M3x900": "not possible", "M3x-5": "behind it", "M3x0.35x16": "only coarse", "M3x16-8.8": "behind it",
		"": "not of the form", "M3x1e9": "behind it", "MxM": "not of the form", strings.Repeat("M3x1", 100): "too long",
	} {
		if _, _, err := ParseScrew(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: error %v, want %q", text, err, want)
		}
	}
}

func TestParseDesignation(t *testing.T) {
	for text, want := range map[string]string{
		// The form of the standards themselves ("ISO 4762 - M6 x 35 - 10.9", AMES).
		"ISO 4762 - M6 x 35 - 10.9":                       "ISO 4762 - M6 x 35 - 10.9",
		"ISO 4762 - M3 x 16":                              "ISO 4762 - M3 x 16",
		"ISO 4762 M3x16":                                  "ISO 4762 - M3 x 16",
		"ISO 4762 M3x16 - 8.8":                            "ISO 4762 - M3 x 16 - 8.8",
		"iso4762-M3×16-a2-70":                             "ISO 4762 - M3 x 16 - A2-70",
		"DIN EN ISO 4762 — M3 × 16":                       "ISO 4762 - M3 x 16",
		"EN ISO 4762 M3x16":                               "ISO 4762 - M3 x 16",
		"ISO 4762:2004 M3x16":                             "ISO 4762 - M3 x 16",
		"Screw ISO 4762 - M3 x 16":                        "ISO 4762 - M3 x 16",
		"DIN 912 M3x16":                                   "DIN 912 - M3 x 16",
		"din7985 M2,5x6":                                  "DIN 7985 - M2.5 x 6",
		"ISO 7380 M4x10":                                  "ISO 7380-1 - M4 x 10",
		"ISO 7380-1 - M4 x 10":                            "ISO 7380-1 - M4 x 10",
		"ISO 7380-2 - M4 x 10":                            "ISO 7380-2 - M4 x 10",
		"ISO 7046-2 - M3 x 8":                             "ISO 7046 - M3 x 8",
		"ISO 4032 - M3":                                   "ISO 4032 - M3",
		"nut ISO 4032-M3-8":                               "ISO 4032 - M3 - 8",
		"ISO 10511 M3":                                    "ISO 10511 - M3",
		"DIN 125-A M3":                                    "DIN 125 - M3",
		"ISO 7089 - 3 - 200 HV":                           "ISO 7089 - M3 - 200 HV",
		"Washer ISO 7089-8-200 HV":                        "ISO 7089 - M8 - 200 HV",
		"ISO 7093 M4":                                     "ISO 7093-1 - M4",
		"insert M3":                                       "insert M3",
		"insert M3, outer 4.6, length 5.7":                "insert M3, outer 4.6, length 5.7",
		"heat-set insert M2.5, outer 4 mm":                "insert M2.5, outer 4",
		"standoff M2.5x10, female-male":                   "standoff M2.5 x 10, female-male",
		"Standoff M3 x 12, male-female, 5.5 across flats": "standoff M3 x 12, female-male, 5.5 across flats",
		"standoff M3x12":                                  "standoff M3 x 12",
	} {
		d, err := ParseDesignation(text)
		if err != nil || d.String() != want {
			t.Errorf("%q: %q, %v, want %q", text, d, err, want)
			continue
		}
		again, err := ParseDesignation(d.String())
		if err != nil || again != d {
			t.Errorf("%q does not read back: %+v, %v", d, again, err)
		}
	}
}

func TestBadDesignations(t *testing.T) {
	for text, want := range map[string]string{
		"":                    "empty",
		"M3x16":               "does not begin with a standard",
		"ISO 9999 - M3 x 16":  `do not know the standard "ISO 9999"`,
		"ISO 4762":            "no size",
		"ISO 4762 - M3":       "has no length",
		"ISO 4762 - 3 x 16":   "no size",
		"ISO 4032 - M3 x 16":  "a nut has no length",
		"ISO 4762 M3x16 blue": "not a strength",
		"ISO 4762 M3x16 - 8":  "not a strength",
		"ISO 4762 - M7 x 16":  "not in the tables",
		"insert M3x5.7x4.6":   "which is the outer",
		"insert M3, width 4":  "not known",
		"insert M3, outer x":  "not a size",
		"insert":              "not a metric thread size",
		"standoff M3":         "no length",
		"standoff M3x5, glue": "not a pair of ends",
		"ISO\x00 4762":        "does not begin",
	} {
		if d, err := ParseDesignation(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, error %v, want %q", text, d, err, want)
		}
	}
}

func TestHeads(t *testing.T) {
	for name, want := range map[string]string{
		"": "ISO 4762", "socket": "ISO 4762", "cap": "ISO 4762", "button": "ISO 7380-1", "countersunk": "ISO 10642",
		"countersunk-cross": "ISO 7046", "pan": "ISO 7045", "pan hexalobular": "ISO 14583", "hex": "ISO 4017", "set": "ISO 4026", "Button": "ISO 7380-1",
	} {
		h, ok := ParseHead(name)
		s, ok2 := StandardFor(h)
		if !ok || !ok2 || s.Number != want {
			t.Errorf("head %q: %q %v, want %s", name, s.Number, ok, want)
		}
	}
	if _, ok := ParseHead("mushroom"); ok {
		t.Error("an unknown head was taken")
	}
}

// Twins as section 3 of the sources has them: which differ, and by which figures.
func TestTwins(t *testing.T) {
	for _, c := range []struct{ din, iso, size, want string }{
		{"DIN 965", "ISO 7046", "M4", "DIN 965 is not quite ISO 7046: for M4 it has head diameter 7.5 instead of 8.4, head height 2.2 instead of 2.7"},
		{"DIN 965", "ISO 7046", "M2", "DIN 965 is not quite ISO 7046: for M2 it has recess PH1 instead of PH0"},
		{"DIN 7985", "ISO 7045", "M5", "DIN 7985 is not quite ISO 7045: for M5 it has head diameter 10 instead of 9.5, head height 3.95 instead of 3.7"},
		{"DIN 934", "ISO 4032", "M5", "DIN 934 is not quite ISO 4032: for M5 it has height 4 instead of 4.7"},
		{"DIN 934", "ISO 4032", "M3", "DIN 934 is now ISO 4032, the same for M3"},
		{"DIN 985", "ISO 10511", "M3", "DIN 985 is not quite ISO 10511: for M3 it has height 4 instead of 3.9"},
		{"DIN 7991", "ISO 10642", "M3", "DIN 7991 is not quite ISO 10642: for M3 it has head height 1.7 instead of 1.86, socket depth 1.2 instead of 1.1"},
		{"DIN 912", "ISO 4762", "M3", "DIN 912 is now ISO 4762, the same for M3"},
		{"DIN 9021", "ISO 7093-1", "M5", "DIN 9021 is not quite ISO 7093-1: for M5 it has thickness (thicker) 1.2 instead of 1.0"},
		{"DIN 9021", "ISO 7093-1", "M3", "DIN 9021 is now ISO 7093-1, the same for M3"},
	} {
		twin, ok := TwinOf(c.din, Size(c.size))
		if !ok || twin.ISO != c.iso || twin.String() != c.want {
			t.Errorf("%s %s: %v %q", c.din, c.size, ok, twin.String())
		}
	}
	for _, number := range []string{"ISO 4762", "DIN 562", "DIN 1"} {
		if _, ok := TwinOf(number, "M3"); ok {
			t.Errorf("%s has a twin", number)
		}
	}
	if twin, _ := TwinOf("DIN 912", "M3"); !twin.Weak() {
		t.Error("that DIN 912 is the same as ISO 4762 is from memory and must say so")
	}
	if s, _ := ScrewOf("DIN 912", "M3"); s.Confidence != Memory || s.HeadDiameter != 5.68 {
		t.Errorf("DIN 912 M3: %+v", s)
	}
}

func FuzzParseDesignation(f *testing.F) {
	for _, seed := range []string{"ISO 4762 - M3 x 16 - 8.8", "DIN 912 M3×16", "ISO 7089-3", "insert M3, outer 4.6, length 5.7", "standoff M2.5x10, female-male", "M3x0.5x16", "M2,5", "ISO 7380-1-M3x6"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if d, err := ParseDesignation(text); err == nil {
			again, err := ParseDesignation(d.String())
			if err != nil || again != d {
				t.Errorf("%q -> %q -> %+v, %v", text, d, again, err)
			}
		}
		_, _, _ = ParseScrew(text)
		_, _ = ParseSize(text)
		Lookup(text)
	})
}
