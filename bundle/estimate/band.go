package estimate

import (
	"fmt"
	"math"
)

// What makes a print's mass differ from the model's, as shares of the mass. They are independent, so
// their squares add.
const (
	// diameterShare: filament of 1.75 +- 0.02 mm, which 1679 of 2049 makers' entries claim (the same
	// database as the densities), has a cross-section +- 2.3 %.
	diameterTolerance = 0.02
	// flowShare is how well a printer's feed is set: assumed, no source.
	flowShare = 0.04
	// infillShare is how much the patterns of infill differ from lines of the stated density, support
	// too: assumed, no source.
	infillShare = 0.10
	// outsideGrams is what is printed but not part of the model: skirt, purge line. Assumed: a line of
	// 0.3 m of 0.45 x 0.2 mm to 1.5 m.
	outsideGrams = 0.3
)

// What makes a print's time differ. Over the whole print, published prints reach 35 to 43 % of line width
// x layer height x 50 mm/s (author-stated times, rounded). For cases like theirs the model with every speed at
// 50 mm/s reaches 79 to 83 %; with the outlines at 25 mm/s and an acceleration of 500 mm/s2, as the printers of
// those years had, 55 to 60 %, and 34 to 37 % at the end of the band (published_test.go). So it errs toward too
// short, by up to 0.6 on a printer whose class is known: it knows no retractions, no slowed small outlines, no
// waiting for the controller.
const (
	secondsBelow = 0.10
	secondsAbove = 0.60
)

// spread fills in low and high.
func (e *Estimate) spread(s Settings) {
	below, above := 0.0, 0.0
	if s.Density == 0 {
		f, _ := FilamentOf(s.Material)
		below, above = 1-f.P10/f.Density, f.P90/f.Density-1
	}
	d := diameterTolerance / s.Diameter
	thick := (1+d)*(1+d) - 1
	others := square(thick)
	if e.Basis == Toolpath {
		e.Band = "print file simulated; band from the filament's density and diameter, time from the printer's firmware"
		e.SecondsLow, e.SecondsHigh = e.Seconds*0.9, e.Seconds*1.2
	} else {
		loose := 0.0
		if e.Plastic > 0 {
			loose = (e.Kinds.Infill + e.Kinds.Support) / e.Plastic
		}
		others += square(flowShare) + square(infillShare*loose)
		e.Band = "model only; band from the filament's density and diameter, the printer's flow and the infill's pattern"
		e.SecondsLow, e.SecondsHigh = e.Seconds*(1-secondsBelow), e.Seconds*(1+secondsAbove)
	}
	e.GramsLow = e.Grams * (1 - math.Sqrt(others+square(below)))
	e.GramsHigh = e.Grams * (1 + math.Sqrt(others+square(above)))
	if e.Basis == Model {
		e.GramsHigh += outsideGrams
	}
}

// Scaled is the estimate after calibration: mass, length and plastic times grams, time times seconds,
// each with its spread as a share (0.03 is +- 3 %). The kinds stay in proportion. From says what the
// factors rest on, for Band: "5 prints on bench in PETG".
func (e Estimate) Scaled(grams, gramsSpread, seconds, secondsSpread float64, from string) Estimate {
	k := &e.Kinds
	for _, v := range []*float64{&k.Outline, &k.Wall, &k.Solid, &k.Infill, &k.Support, &k.Brim, &e.Plastic, &e.Grams, &e.Metres} {
		*v *= grams
	}
	e.Seconds *= seconds
	e.GramsLow, e.GramsHigh = e.Grams*math.Max(0, 1-gramsSpread), e.Grams*(1+gramsSpread)
	e.SecondsLow, e.SecondsHigh = e.Seconds*math.Max(0, 1-secondsSpread), e.Seconds*(1+secondsSpread)
	e.Basis = Calibrated
	e.Band = fmt.Sprintf("calibrated from %s; band is their spread", from)
	return e
}

func square(v float64) float64 { return v * v }
