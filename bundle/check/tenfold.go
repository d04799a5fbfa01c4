package check

import (
	"fmt"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/hardware"
	"dropwright/bundle/unit"
)

// tenfold: a figure that is ten times too large, or too small, is a decimal point that was lost. Asking for a hole of
// 45.5 mm because an insert is "46" wide would send the maker to the wrong place.
func tenfold(in *Input, r *report) {
	for i := range in.Design.Fasteners {
		for _, x := range insertSlips(&in.Design.Fasteners[i]) {
			r.add("value-tenfold", x.at, "", x.text, x.hint)
		}
	}
	for _, b := range in.Design.Bought {
		if x, ok := thicknessSlip(b); ok {
			r.add("value-tenfold", x.at, "", x.text, x.hint)
		}
		if x, ok := fanSlip(b); ok {
			r.add("value-tenfold", x.at, "", x.text, x.hint)
		}
	}
}

// slip is one value with its decimal point in the wrong place.
type slip struct {
	at         finding.Place
	text, hint string
}

// meant is the tenth of v or ten times v, whichever lies between low and high; ok is false where v itself is within
// half of low and double of high, or neither does.
func meant(v, low, high float64) (float64, bool) {
	if v >= low/2 && v <= high*2 {
		return 0, false
	}
	const hair = 1e-9
	for _, w := range []float64{v / 10, v * 10} {
		if w >= low-hair && w <= high+hair {
			return w, true
		}
	}
	return 0, false
}

// insertLengths is how long heat-set inserts are, in diameters of their thread: the published ones have 2 to 10 mm
// from M2 to M6, trade sizes 1 to 4 diameters (notes of the table of inserts).
var insertLengths = [2]float64{0.8, 4}

func insertSlips(f *design.Fastener) (out []slip) {
	if f.Into.Held == nil || f.Into.Held.Insert == nil {
		return nil
	}
	x := f.Into.Held.Insert
	size, err := hardware.ParseSize(string(x.Thread.V))
	if err != nil {
		return nil
	}
	ask := func(key, what string, v design.Val[unit.Length], low, high float64, basis string) {
		if w, ok := meant(float64(v.V), low, high); v.Set() && ok {
			out = append(out, slip{v.At, fmt.Sprintf("%s: no insert %s is %s mm %s; they are %s mm to %s mm (%s). Is it %s?", f.Name.V, size, mm(float64(v.V)), what, mm(low), mm(high), basis, mm(w)),
				fmt.Sprintf("write %s: %s", key, mm(w))})
		}
	}
	if r, _, ok := hardware.InsertOuters(size); ok {
		ask("outer", "wide", x.Outer, r.Low, r.High, "published tables")
	}
	d := size.Nominal()
	ask("length", "long", x.Length, insertLengths[0]*d, insertLengths[1]*d, "0.8 to 4 diameters")
	return out
}

// thicknessSlip: what a screw passes cannot be thicker than the whole thing is large.
func thicknessSlip(b design.Bought) (slip, bool) {
	sizes := typedSizes(b.Size)
	if len(sizes) == 0 || !b.Thickness.Set() {
		return slip{}, false
	}
	largest, t := 0.0, float64(b.Thickness.V)
	for _, s := range sizes {
		largest = max(largest, s)
	}
	if t <= largest || t/10 > largest || len(sizes) < 2 {
		return slip{}, false
	}
	return slip{b.Thickness.At, fmt.Sprintf("%s: screws would pass %s mm of a thing whose largest side is %s mm. Is it %s?", b.Name.V, mm(t), mm(largest), mm(t/10)), "write thickness: " + mm(t/10)}, true
}

// fanSlip: a square fan of a frame that is not made, where a tenth or ten times it is.
func fanSlip(b design.Bought) (slip, bool) {
	s := b.Size
	if !strings.Contains(strings.ToLower(string(b.Name.V)+" "+string(b.What.V)), "fan") || !s.Length.Set() || s.Length.V != s.Width.V {
		return slip{}, false
	}
	v := float64(s.Length.V)
	if _, ok := hardware.FanOf(v); ok {
		return slip{}, false
	}
	for _, w := range []float64{v / 10, v * 10} {
		if f, ok := hardware.FanOf(w); ok && f.Frame == w {
			return slip{s.Length.At, fmt.Sprintf("%s: no fan has a frame of %s mm; there is one of %s mm. Is it that?", b.Name.V, mm(v), mm(w)), fmt.Sprintf("write size: {length: %s, width: %s, …}", mm(w), mm(w))}, true
		}
	}
	return slip{}, false
}

// slipped says why a joint is not judged: one of its figures has its decimal point in the wrong place.
func slipped(d *design.Design, f *design.Fastener) string {
	for _, x := range insertSlips(f) {
		return "a figure of its insert cannot be right (line " + fmt.Sprint(x.at.Line) + ")"
	}
	for _, t := range f.Through {
		if b, ok := d.BoughtPart(string(t.V)); ok {
			if x, ok := thicknessSlip(b); ok {
				return "the thickness of " + string(t.V) + " cannot be right (line " + fmt.Sprint(x.at.Line) + ")"
			}
		}
	}
	return ""
}
