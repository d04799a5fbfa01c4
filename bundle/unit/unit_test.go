package unit

import (
	"math"
	"strings"
	"testing"
)

func TestLength(t *testing.T) {
	// 25.4 mm to the inch: ISO 80000-3, the international inch of 1959.
	for in, want := range map[string]Length{"0.2": 0.2, "0.2 mm": 0.2, "3 cm": 30, "1 in": 25.4, "-4": -4, "200 um": 0.2} {
		var got Length
		if err := got.SetText(in, false); err != nil || math.Abs(float64(got-want)) > 1e-12 {
			t.Errorf("%q: got %v, %v; want %v", in, got, err, want)
		}
	}
	for _, in := range []string{"", "mm", "3,5", "0x10", "012", "1_000", ".inf", "nan", "3 furlong", "--3", "1.2.3", "1e9999"} {
		var got Length
		if err := got.SetText(in, false); err == nil {
			t.Errorf("%q was read as %v", in, got)
		}
	}
	var l Length
	if err := l.SetText("3,5", false); err == nil || !strings.Contains(err.Error(), "3.5") {
		t.Errorf("a decimal comma should be answered with the point: %v", err)
	}
}

func TestDuration(t *testing.T) {
	for in, want := range map[string]Duration{"4h20m": 15600, "2h35": 9300, "35m": 2100, "90s": 90, "1d4h": 100800, "1d 4h": 100800, "0.5h": 1800} {
		if got, err := ParseDuration(in); err != nil || got != want {
			t.Errorf("%q: got %v, %v; want %v", in, float64(got), err, float64(want))
		}
	}
	for _, in := range []string{"", "90", "h", "20m4h", "4h4h", "-1h", "4x"} {
		if got, err := ParseDuration(in); err == nil {
			t.Errorf("%q was read as %v", in, got)
		}
	}
}

func TestPrinting(t *testing.T) {
	for got, want := range map[string]string{
		Length(0.2).String(): "0.2 mm", Length(-0.00001).String(): "0 mm", Mass(41.26).String(): "41.3 g", Mass(412.6).String(): "413 g",
		Share(0.15).String(): "15 %", Duration(15600).String(): "4h20m", Duration(59).String(): "59s", Duration(3599).String(): "1h00m",
		Money(4.2).String(): "4.20", Voltage(4.8).String(): "4.8 V",
	} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestShareNeedsSign(t *testing.T) {
	var s Share
	if err := s.SetText("15 %", false); err != nil || s != 0.15 {
		t.Errorf("15 %%: %v %v", s, err)
	}
	for _, in := range []string{"15", "0.15", "101 %", "-1 %", "%"} {
		if err := s.SetText(in, false); err == nil {
			t.Errorf("%q was read as %v", in, s)
		}
	}
}

func TestCount(t *testing.T) {
	for n, want := range map[int]string{0: "0 errors", 1: "1 error", 2: "2 errors", -1: "-1 errors"} {
		if got := Count(n, "error"); got != want {
			t.Errorf("%d: %q, want %q", n, got, want)
		}
	}
}
