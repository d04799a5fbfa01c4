package design

import (
	"math"
	"testing"
)

// The ratios are those that the definition in WCAG 2.2 gives for the ends of the scale, and the published border
// case: #767676 is the lightest grey that reaches 4.5 to 1 on white.
func TestContrast(t *testing.T) {
	for _, x := range []struct {
		a, b Hex
		want float64
	}{{"#ffffff", "#000000", 21}, {"#ffffff", "#ffffff", 1}, {"#767676", "#ffffff", 4.54}, {"#777777", "#ffffff", 4.48}, {"#ff0000", "#ffffff", 4.00}, {"#ffffff", "#ff0000", 4.00}} {
		if got := Contrast(x.a, x.b); math.Abs(got-x.want) > 0.005 {
			t.Errorf("%s on %s: %.3f, want %.2f", x.a, x.b, got, x.want)
		}
	}
}

func TestDarker(t *testing.T) {
	for _, c := range []Hex{"#ffd000", "#ffffff", "#1f4e79", "#00ff00"} {
		d := Darker(c, 4.5)
		if got := Contrast(d, "#ffffff"); got < 4.5 || Contrast(c, "#ffffff") >= 4.5 && d != c {
			t.Errorf("%s becomes %s, contrast %.2f", c, d, got)
		}
	}
}
