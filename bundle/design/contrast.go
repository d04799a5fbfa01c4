package design

import (
	"fmt"
	"math"
)

// Contrast is the contrast ratio of two colours, 1 to 21: WCAG 2.2, "contrast ratio" and "relative luminance". The
// order does not matter; a colour that was not written counts as mid grey.
func Contrast(a, b Hex) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func luminance(c Hex) float64 {
	r, g, b := c.RGB()
	linear := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
}

// Darker is the lightest shade of a colour, its channels scaled alike, that has the contrast with white.
func Darker(c Hex, contrast float64) Hex {
	r, g, b := c.RGB()
	for k := 100; k >= 0; k-- {
		scale := func(v uint8) int { return int(v) * k / 100 }
		x := Hex(fmt.Sprintf("#%02x%02x%02x", scale(r), scale(g), scale(b)))
		if Contrast(x, "#ffffff") >= contrast {
			return x
		}
	}
	return "#000000"
}
