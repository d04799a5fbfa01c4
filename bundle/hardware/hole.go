package hardware

import (
	"fmt"
	"math"
)

// Band is a range of drawn diameters (or distances across flats), mm, that serve one purpose.
type Band struct {
	Min   float64 `json:"min"`
	Max   float64 `json:"max"`
	Usual float64 `json:"usual"` // what most would draw
	Basis string  `json:"basis"` // in words, how the limits came about
	Provenance
}

// bandSlack forgives rounding in a mesh's float32 vertices; not a tolerance of the trade.
const bandSlack = 1e-3 // mm

// Contains tells whether a drawn diameter lies in the band, ends included.
func (b Band) Contains(mm float64) bool { return mm >= b.Min-bandSlack && mm <= b.Max+bandSlack }

// HoleAllowance is by how much a printed hole is usually smaller than drawn, on the diameter:
// the middle of the published 0.1 to 0.2 mm. It is the default of `print.hole_allowance`.
func HoleAllowance() (mm float64, from Provenance) {
	r, _ := table("print-rule").find("rule", "hole undersize on diameter")
	return (r.number("low") + r.number("high")) / 2, r.from()
}

// ClearanceBand is the drawn holes that a screw passes freely, given by how much holes print too
// small (allowance, mm on the diameter). At the least the printed hole just passes the thickest
// screw of tolerance 6g; at the most it is printed as the coarse row of ISO 273. The circle that
// fits into a faceted hole counts, not its corners.
func ClearanceBand(size Size, allowance float64) (b Band, ok bool) {
	c, ok := ClearanceOf(size)
	if !ok {
		return Band{}, false
	}
	outside := size.Nominal()
	if t, ok := ThreadOf(size); ok {
		outside = t.OutsideMax
	}
	return Band{
		Min: outside + allowance, Max: c.Coarse + allowance, Usual: c.Medium, Provenance: c.Provenance,
		Basis: fmt.Sprintf("screw at most %s thick, ISO 273 coarse %s, holes print %s smaller", formatNumber(outside), formatNumber(c.Coarse), formatNumber(allowance)),
	}, true
}

// PilotBand is the drawn holes into which a machine screw cuts its own thread in a print. Below
// the minor diameter of the thread the core of the screw would split the boss; above the easy
// hole plus the allowance the flanks no longer hold. Common practice: no standard covers prints.
func PilotBand(size Size, allowance float64) (b Band, ok bool) {
	r, ok := table("pilot").find("size", string(size))
	if !ok {
		return Band{}, false
	}
	t, ok := ThreadOf(size)
	if !ok {
		return Band{}, false
	}
	return Band{
		Min: t.Minor, Max: r.number("easy") + allowance, Usual: (r.number("tight") + r.number("easy")) / 2, Provenance: r.from(),
		Basis: fmt.Sprintf("minor diameter %s, practice %s to %s, holes print %s smaller", formatNumber(t.Minor), formatNumber(r.number("tight")), formatNumber(r.number("easy")), formatNumber(allowance)),
	}, true
}

// InsertNeed is what a heat-set insert wants of the part around it.
type InsertNeed struct {
	Hole  Band       `json:"hole"`
	Depth float64    `json:"depth"` // least depth of a blind hole, mm; 0 when the insert's length is not known
	Wall  float64    `json:"wall"`  // least plastic around the hole, mm; 0 where no maker says
	Walls Provenance `json:"walls"` // where Wall is from
}

// outerMatch is how far an insert's outer diameter may be from a row's to count as the same
// family: the published outer diameters of one thread cluster this closely (4.55 and 4.6).
const outerMatch = 0.1 // mm

// InsertHole is what an insert wants, by thread, outer diameter and length (mm; 0 where not
// known). The hole goes with the outer diameter: rows of inserts as wide are used, of the same
// thread first, of any thread next, and the makers' rule "outer less 0.2 to 0.8" last. With no
// outer diameter the whole published spread of the thread is the band, and its Note says so.
// ok is false for a thread without any row and no outer diameter.
func InsertHole(size Size, outer, length, allowance float64) (need InsertNeed, ok bool) {
	if outer > 0 {
		need.Hole, ok = insertByOuter(size, outer, allowance)
	} else if r, found := table("insert-spread").find("size", string(size)); found {
		p := r.from()
		p.Note = "the outer diameter of the insert is not named, so this is the spread over all makers"
		need.Hole = Band{
			Min: r.number("hole min"), Max: r.number("hole max") + allowance, Usual: r.number("usual hole"), Provenance: p,
			Basis: fmt.Sprintf("%s to %s in published tables", r.Text("hole min"), r.Text("hole max")),
		}
		ok = true
	}
	if !ok {
		return InsertNeed{}, false
	}
	if length > 0 {
		// The least of the three published margins (C3DP 0.5, MAKELAB and SECAM 1, UWMS 2 to 3):
		// molten plastic must go somewhere.
		r, _ := table("insert-rule").find("rule", "extra hole depth beyond length")
		need.Depth = length + r.number("low")
	}
	need.Wall, need.Walls = insertWall(size, outer)
	return need, true
}

// insertByOuter makes the band of drawn holes for an insert's outer diameter.
func insertByOuter(size Size, outer, allowance float64) (Band, bool) {
	rule, _ := table("insert-rule").find("rule", "outer minus hole") // 0.2 to 0.8, MAKELAB
	least, most := outer-rule.number("high"), outer-rule.number("low")
	for _, sameThread := range []bool{true, false} {
		low, high := math.Inf(1), 0.0
		p := Provenance{Table: "insert"}
		for _, r := range table("insert").Rows {
			o, known := r.Number("outer")
			if !known || math.Abs(o-outer) > outerMatch+1e-9 || sameThread && r.Text("size") != string(size) {
				continue
			}
			low, high = min(low, r.number("hole")), max(high, r.number("hole"))
			p.Confidence = weaker(p.Confidence, r.Confidence)
			p.Sources = addNew(p.Sources, r.Sources...)
		}
		if high == 0 {
			continue
		}
		if !sameThread {
			p.Note = fmt.Sprintf("taken from inserts of another thread that are as wide as this one of %s", size)
		}
		// Down: 0.1 for facets and for the spread between makers, never past the makers' rule.
		// Up: PENC_LSZS tolerates +0.10 on the hole, and the printed hole is smaller than drawn.
		return Band{
			Min: max(low-0.1, least), Max: min(high+0.1+allowance, most), Usual: low, Provenance: p,
			Basis: fmt.Sprintf("%s for outer %s in published tables, +0.1, holes print %s smaller", span(low, high), formatNumber(outer), formatNumber(allowance)),
		}, true
	}
	p := rule.from()
	p.Note = "no published insert is this wide: the makers' rule of thumb"
	return Band{Min: least, Max: most, Usual: (least + most) / 2, Provenance: p, Basis: "outer diameter less 0.2 to 0.8"}, most > 0 && least > 0
}

// insertWall is the least wall around an insert's hole that a maker of such inserts states.
func insertWall(size Size, outer float64) (wall float64, from Provenance) {
	for _, near := range []bool{true, false} {
		for _, r := range table("insert").Rows {
			w, stated := r.Number("wall")
			o, known := r.Number("outer")
			if !stated || r.Text("size") != string(size) {
				continue
			}
			if near && (outer == 0 || !known || math.Abs(o-outer) > outerMatch+1e-9) {
				continue
			}
			if wall == 0 || w < wall {
				wall, from = w, r.from()
			}
		}
		if wall > 0 {
			return wall, from
		}
	}
	return 0, Provenance{}
}

// The printed gap across flats that holds a nut: from a light press (KAPYC press, -0.05 total) to
// the middle of a snug fit (KAPYC and MAKELAB snug, 0.1 to 0.2). With the usual allowance of 0.15
// that is 0.10 to 0.29 more than the nut as drawn. At 0.30 a nut in a published design turned, so
// the end lies just below.
const (
	pocketTight = -0.05 // mm
	pocketLoose = 0.14  // mm
)

// PocketBand is the drawn distance across flats of a pocket that takes a nut and keeps it from
// turning. Common practice.
func PocketBand(n Nut, allowance float64) Band {
	r, _ := table("fit").find("fit", "snug")
	p := r.from()
	p.Note = joinNotes(p.Note, "nut of "+n.Standard.Number)
	return Band{
		Min: n.AcrossFlats + allowance + pocketTight, Max: n.AcrossFlats + allowance + pocketLoose, Usual: n.AcrossFlats + allowance + 0.05, Provenance: p,
		Basis: fmt.Sprintf("nut %s across flats, pockets print %s smaller", formatNumber(n.AcrossFlats), formatNumber(allowance)),
	}
}

// PlasticBoss is the least outer diameter, mm, of a post that a screw cuts its thread into: twice
// the screw (moulded plastics; makers of thread-forming screws say 2 to 2.5).
func PlasticBoss(size Size) (outer float64, from Provenance) {
	r, _ := table("thread-forming-rule").find("rule", "boss outer diameter / d")
	return r.number("low") * size.Nominal(), r.from()
}

// span prints "4 to 4.1", or one number where both ends are equal.
func span(low, high float64) string {
	if low == high {
		return formatNumber(low)
	}
	return formatNumber(low) + " to " + formatNumber(high)
}

// addNew appends those of more that list does not hold yet.
func addNew(list []string, more ...string) []string {
next:
	for _, m := range more {
		for _, l := range list {
			if l == m {
				continue next
			}
		}
		list = append(list, m)
	}
	return list
}
