package hardware

import (
	"strings"
	"testing"
)

func TestScrewDesignation(t *testing.T) {
	for _, c := range []struct{ screw, head, drive, want string }{
		{"M3x16", "", "", "ISO 4762 - M3 x 16"},
		{"M3x8", "socket", "hex socket", "ISO 4762 - M3 x 8"},
		{"M2.5x8", "pan", "", "ISO 7045 - M2.5 x 8"},
		{"M3x8", "pan", "hexalobular", "ISO 14583 - M3 x 8"},
		{"M3x8", "pan", "slot", "ISO 1580 - M3 x 8"},
		{"M3x12", "countersunk", "", "ISO 10642 - M3 x 12"},
		{"M3x12", "countersunk", "cross", "ISO 7046 - M3 x 12"},
		{"M3x12", "countersunk-cross", "cross", "ISO 7046 - M3 x 12"},
		{"ISO 4762 - M3 x 16 - 8.8", "", "", "ISO 4762 - M3 x 16 - 8.8"},
		{"DIN 7985 M3x8", "pan", "", "DIN 7985 - M3 x 8"},
		{"ISO 14583 M3x8", "pan", "", "ISO 14583 - M3 x 8"},
		{"ISO 7046 M3x8", "countersunk", "", "ISO 7046 - M3 x 8"},
	} {
		d, err := ScrewDesignation(c.screw, c.head, c.drive)
		if err != nil || d.String() != c.want {
			t.Errorf("%q %q %q: %v, %v", c.screw, c.head, c.drive, d, err)
		}
	}
	for _, c := range []struct{ screw, head, drive, want string }{
		{"M3", "", "", "has no length"}, {"M3x8", "mushroom", "", "not known"}, {"M3x8", "pan", "laser", "drive"},
		{"M3x8", "socket", "cross", "is turned by a hexagon socket"}, {"ISO 4762 M3x8", "pan", "", "has a socket head"},
		{"ISO 4032 - M3", "", "", "not a screw"}, {"", "", "", "empty"},
	} {
		if d, err := ScrewDesignation(c.screw, c.head, c.drive); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q %q %q: %v, %v", c.screw, c.head, c.drive, d, err)
		}
	}
}

func TestNutDesignation(t *testing.T) {
	for text, want := range map[string]string{"": "ISO 4032 - M3", "nut": "ISO 4032 - M3", "ISO 7040": "ISO 7040 - M3", "din985": "DIN 985 - M3", "DIN 562 - M3": "DIN 562 - M3"} {
		if d, err := NutDesignation(text, "M3"); err != nil || d.String() != want {
			t.Errorf("%q: %v, %v", text, d, err)
		}
	}
	for _, text := range []string{"ISO 4762", "wing", "ISO 4032 - M4", "ISO 7089"} {
		if d, err := NutDesignation(text, "M3"); err == nil {
			t.Errorf("%q: %v", text, d)
		}
	}
	if got := WasherDesignation("M4").String(); got != "ISO 7089 - M4" {
		t.Error(got)
	}
}

// The basis of an engagement reads as a sentence would: one diameter, one and a half to two diameters.
func TestEngagementBasis(t *testing.T) {
	for _, x := range [][2]float64{{1, 1}, {1.5, 2}, {2, 2}} {
		want := map[[2]float64]string{{1, 1}: "1 diameter", {1.5, 2}: "1.5 to 2 diameters", {2, 2}: "2 diameters"}[x]
		if got := diameters(x[0], x[1]); got != want {
			t.Errorf("%v: %q, want %q", x, got, want)
		}
	}
}
