package hardware

import (
	"fmt"
	"math"
)

// Into is what a screw's thread goes into.
type Into string

// What a thread may go into.
const (
	IntoPlastic   Into = "plastic"   // a thread cut into the print by the screw
	IntoInsert    Into = "insert"    // a brass insert or a brass standoff
	IntoSteel     Into = "steel"     // a tapped steel part
	IntoAluminium Into = "aluminium" // a tapped aluminium part
)

// Engagement is how much thread must bite, mm.
type Engagement struct {
	Least  float64 `json:"least"`
	Better float64 `json:"better"` // where sources give a range; else equal to Least
	Basis  string  `json:"basis"`
	Provenance
}

// MinEngagement is the least length of thread that must bite for a size. ok is false for an Into
// that the table does not know. For nuts see NutEngagement.
func MinEngagement(into Into, size Size) (e Engagement, ok bool) {
	name := map[Into]string{IntoPlastic: "plastic", IntoInsert: "hard brass", IntoSteel: "steel", IntoAluminium: "aluminium"}[into]
	d := size.Nominal()
	for _, r := range table("engagement").Rows {
		if name == "" || r.Text("into") != name || r.Text("grade") != "any" {
			continue
		}
		low, high := r.number("low x d"), r.number("high x d")
		return Engagement{
			Least: low * d, Better: high * d, Provenance: r.from(),
			Basis: fmt.Sprintf("%s in %s", diameters(low, high), name),
		}, d > 0
	}
	return Engagement{}, false
}

// diameters is "1 diameter", "1.5 to 2 diameters".
func diameters(low, high float64) string {
	if low == 1 && high == 1 {
		return "1 diameter"
	}
	return span(low, high) + " diameters"
}

// NutEngagement is how far a screw must reach into a nut from its near face: the whole height, so
// that every thread of the nut (and the ring of a lock nut) is filled; better two pitches more,
// since the end of a screw is not fully formed (practice). ok is false for a size without thread.
func NutEngagement(n Nut) (e Engagement, ok bool) {
	t, ok := ThreadOf(n.Size)
	if !ok {
		return Engagement{}, false
	}
	r, _ := table("thread-end").find("rule", "pitches beyond the nut, at least")
	return Engagement{
		Least: n.Height, Better: n.Height + r.number("value")*t.Pitch, Provenance: n.Provenance,
		Basis: fmt.Sprintf("the whole nut, %s mm", formatNumber(n.Height)),
	}, true
}

// LengthNeeded is the length of a bolt, mm, that clamps a grip (all members, washers included)
// and passes a nut by some threads: grip + nut + threads x pitch.
func LengthNeeded(grip, nut, pitch float64, threads int) float64 {
	return grip + nut + float64(threads)*pitch
}

// NextLength is the smallest of the given lengths that is at least what is needed; ok is false
// when none is long enough. Lengths need no order.
func NextLength(needed float64, lengths []float64) (length float64, ok bool) {
	length = math.Inf(1)
	for _, l := range lengths {
		if l >= needed-1e-9 && l < length {
			length = l
		}
	}
	return length, !math.IsInf(length, 1)
}
