package hardware

import (
	"fmt"
	"slices"
)

// Nut is the figures of one nut, mm. A zero means that the tables do not know the figure.
type Nut struct {
	Standard      Standard `json:"standard"`
	Size          Size     `json:"size"`
	Square        bool     `json:"square"`         // else a hexagon
	Lock          bool     `json:"lock"`           // with a polymer ring: the screw must come through it
	AcrossFlats   float64  `json:"across_flats"`   // largest
	AcrossCorners float64  `json:"across_corners"` // least the standard allows
	Height        float64  `json:"height"`         // largest, ring included
	ThreadHeight  float64  `json:"thread_height"`  // lock nuts: the part that holds
	Provenance
}

// NutOf returns the figures of a nut; ok is false for a standard or size the tables do not have.
func NutOf(standard string, size Size) (n Nut, ok bool) {
	std, ok := StandardOf(standard)
	if !ok || std.Kind != KindNut {
		return Nut{}, false
	}
	r, ok := table(std.figures).find("size", string(size))
	if !ok {
		return Nut{}, false
	}
	return Nut{
		Standard: std, Size: size,
		Square:      slices.Contains([]string{"DIN 562", "DIN 557"}, std.Number),
		Lock:        slices.Contains([]string{"ISO 7040", "ISO 10511", "DIN 985"}, std.Number),
		AcrossFlats: r.number("across flats"), AcrossCorners: r.number("across corners"),
		Height: r.number("height"), ThreadHeight: r.number("thread height"),
		Provenance: twinned(std, r.from()),
	}, true
}

// twinned lowers the confidence of figures that a DIN number without a table borrows of its twin.
func twinned(std Standard, p Provenance) Provenance {
	if !std.Withdrawn {
		return p
	}
	twin, ok := table("twin").find("DIN", std.Number)
	if !ok || twin.Text("figures") == "tables" {
		return p
	}
	p.Confidence = weaker(p.Confidence, twin.Confidence)
	p.Note = joinNotes(p.Note, fmt.Sprintf("figures of %s", twin.Text("ISO")))
	return p
}

// Washer is the figures of one plain washer, mm.
type Washer struct {
	Standard     Standard `json:"standard"`
	Size         Size     `json:"size"`
	Hole         float64  `json:"hole"`          // least
	Outer        float64  `json:"outer"`         // largest
	Thickness    float64  `json:"thickness"`     // nominal
	ThicknessMax float64  `json:"thickness_max"` // largest
	Provenance
}

// WasherOf returns the figures of a washer; ok is false for a standard or size the tables do not have.
func WasherOf(standard string, size Size) (w Washer, ok bool) {
	std, ok := StandardOf(standard)
	if !ok || std.Kind != KindWasher {
		return Washer{}, false
	}
	r, ok := table(std.figures).find("size", string(size))
	if !ok {
		return Washer{}, false
	}
	return Washer{
		Standard: std, Size: size, Hole: r.number("hole"), Outer: r.number("outer"),
		Thickness: r.number("thickness"), ThicknessMax: r.number("thickness max"),
		Provenance: twinned(std, r.from()),
	}, true
}

// Standoff is what the trade sells as hexagon standoffs of a thread, mm.
type Standoff struct {
	Size         Size      `json:"size"`
	AcrossFlats  []float64 `json:"across_flats"`
	ThreadLength float64   `json:"thread_length"` // of the male end
	Lengths      []float64 `json:"lengths"`       // of the body
	Provenance
}

// StandoffOf returns the standoffs of a thread; ok is false where the table has none.
func StandoffOf(size Size) (s Standoff, ok bool) {
	r, ok := table("standoff").find("size", string(size))
	if !ok {
		return Standoff{}, false
	}
	return Standoff{
		Size: size, AcrossFlats: r.Numbers("across flats"), ThreadLength: r.number("thread length"),
		Lengths: r.Numbers("lengths"), Provenance: r.from(),
	}, true
}

// CheckStandoff says whether a standoff of a body length (mm) is sold, and which neighbours are.
// ok is false where the table does not know the size.
func CheckStandoff(size Size, length float64) (c LengthCheck, ok bool) {
	s, ok := StandoffOf(size)
	if !ok {
		return LengthCheck{}, false
	}
	c = LengthCheck{Length: length, Provenance: s.Provenance}
	for _, l := range s.Lengths {
		switch {
		case l == length:
			return LengthCheck{Length: length, Made: true, Provenance: s.Provenance}, true
		case l < length:
			c.Shorter = l
		case c.Longer == 0:
			c.Longer = l
		}
	}
	c.Reason = fmt.Sprintf("standoffs %s are sold in %s mm", size, listNumbers(s.Lengths))
	return c, true
}
