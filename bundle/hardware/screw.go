package hardware

import (
	"fmt"
	"slices"
	"strings"
)

// Screw is the figures of one screw of a standard, all sizes in mm. A zero means that the tables
// do not know the figure.
type Screw struct {
	Standard     Standard `json:"standard"`
	Size         Size     `json:"size"`
	HeadDiameter float64  `json:"head_diameter"` // largest, knurled where that is larger; for a countersunk head the largest real one, or the sharp cone if only that is known
	HeadHeight   float64  `json:"head_height"`   // largest; 0 for a set screw
	SharpCone    float64  `json:"sharp_cone"`    // countersunk heads: where the flanks would meet the top face
	SocketDepth  float64  `json:"socket_depth"`  // least
	ThreadLength float64  `json:"thread_length"` // for screws longer than about this the shank has no thread below the head
	Shortest     float64  `json:"shortest"`      // of the standard's range of lengths; 0 where unknown
	Longest      float64  `json:"longest"`
	Driver       Driver   `json:"driver"`
	Provenance
}

// ScrewOf returns the figures of a screw of a standard ("ISO 4762", "DIN 912"); ok is false for
// a standard or a size that the tables do not have. A button head below M3 is a trade item: its
// figures are the largest of those that sources give, and its Note says so.
func ScrewOf(standard string, size Size) (s Screw, ok bool) {
	std, ok := StandardOf(standard)
	if !ok || std.Kind != KindScrew {
		return Screw{}, false
	}
	r, ok := table(std.figures).find("size", string(size))
	if !ok {
		if std.Number == "ISO 7380-1" {
			return tradeButton(std, size)
		}
		return Screw{}, false
	}
	s = Screw{
		Standard: std, Size: size, HeadHeight: r.number("head height"), SharpCone: r.number("sharp cone diameter"),
		HeadDiameter: max(r.number("head diameter"), r.number("head diameter knurled")),
		SocketDepth:  r.number("socket depth"), ThreadLength: r.number("thread length"), Provenance: r.from("head diameter", "head height"),
	}
	if s.HeadDiameter == 0 {
		s.HeadDiameter = s.SharpCone
	}
	if lengths, ok := table(std.ranges).find("size", string(size)); ok {
		s.Shortest, s.Longest = lengths.number("shortest"), lengths.number("longest")
	}
	if std.Withdrawn && std.figures == std.ranges { // no figures of its own: those of its twin
		twin, _ := table("twin").find("DIN", std.Number)
		s.Confidence = weaker(s.Confidence, twin.Confidence)
		s.Note = joinNotes(s.Note, "figures of "+twin.Text("ISO"))
	}
	switch std.Number {
	case "ISO 7380-2":
		c, ok := table("iso7380-2").find("size", string(size))
		if !ok {
			return Screw{}, false
		}
		s.HeadDiameter, s.Provenance = c.number("collar diameter"), c.from()
		s.Note = joinNotes(s.Note, "head height of ISO 7380-1")
	case "ISO 14583", "ISO 14579":
		if _, ok := table("hexalobular").find("size", string(size)); !ok {
			return Screw{}, false
		}
		if std.Number == "ISO 14583" && size == "M5" {
			s.Longest = 50 // ISO 7045 ends at 45; the difference is noted in its table
		}
		// The hexalobular standards repeat the heads of their twins (FCF lists the drive only).
		s.Confidence = weaker(s.Confidence, OneSource)
		s.Note = joinNotes(s.Note, "head figures of the twin with another drive")
	}
	s.Driver, _ = driverOfScrew(std, size, r)
	return s, true
}

// tradeButton gives the figures of a button head smaller than ISO 7380-1 knows.
func tradeButton(std Standard, size Size) (Screw, bool) {
	s := Screw{Standard: std, Size: size}
	var keys []float64
	for _, r := range table("button-trade").Rows {
		if r.Text("size") != string(size) {
			continue
		}
		s.HeadDiameter = max(s.HeadDiameter, r.number("head diameter"))
		s.HeadHeight = max(s.HeadHeight, r.number("head height"))
		if k := r.number("hex key"); !slices.Contains(keys, k) {
			keys = append(keys, k)
		}
		s.Table, s.Confidence = r.Table, weaker(s.Confidence, r.Confidence)
		s.Sources = append(s.Sources, r.Sources...)
	}
	if len(keys) == 0 {
		return Screw{}, false
	}
	s.Note = "outside ISO 7380-1, which begins at M3: measure those you buy"
	if len(keys) == 1 {
		s.Driver = Driver{Kind: "hex key", Size: formatNumber(keys[0]) + " mm"}
	} else {
		s.Driver = Driver{Kind: "hex key", Size: strings.ReplaceAll(listNumbers(keys), " and ", " or ") + " mm"}
	}
	return s, true
}

// joinNotes joins two notes with a semicolon.
func joinNotes(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// Driver is the tool that turns a fastener: Kind "hex key", "screwdriver" or "spanner", and its
// size ("2.5 mm", "PH1", "T10", "slot").
type Driver struct {
	Kind string `json:"kind"`
	Size string `json:"size"`
}

// String is the tool as a step lists it: "2.5 mm hex key", "PH1 screwdriver".
func (d Driver) String() string {
	if d == (Driver{}) {
		return ""
	}
	return strings.TrimSpace(d.Size + " " + d.Kind)
}

// driverOfScrew reads the tool from the row of the standard's figures.
func driverOfScrew(std Standard, size Size, r Row) (Driver, bool) {
	switch std.Drive {
	case DriveHexSocket:
		if key := r.Text("hex key"); key != "" {
			return Driver{Kind: "hex key", Size: key + " mm"}, true
		}
	case DriveCross:
		if recess := r.Text("recess"); recess != "" {
			return Driver{Kind: "screwdriver", Size: recess}, true
		}
	case DriveHexalobular:
		column := "pan"
		if std.Head == HeadSocketHexalobular {
			column = "cap"
		}
		if t, ok := table("hexalobular").find("size", string(size)); ok && t.Text(column) != "" {
			return Driver{Kind: "screwdriver", Size: t.Text(column)}, true
		}
	case DriveSlot:
		return Driver{Kind: "screwdriver", Size: "slot"}, true
	case DriveHex:
		if s := r.Text("across flats"); s != "" {
			return Driver{Kind: "spanner", Size: s + " mm"}, true
		}
	}
	return Driver{}, false
}

// Tool returns the tool that turns the thing a designation names, and where the figure is from.
// A washer has none, and an insert is set with a soldering iron. ok is false where nothing turns
// it or its size is not known.
func Tool(d Designation) (tool Driver, from Provenance, ok bool) {
	switch d.Kind {
	case KindScrew:
		s, ok := ScrewOf(d.Standard, d.Size)
		return s.Driver, s.Provenance, ok && s.Driver != Driver{}
	case KindNut:
		n, ok := NutOf(d.Standard, d.Size)
		return Driver{Kind: "spanner", Size: formatNumber(n.AcrossFlats) + " mm"}, n.Provenance, ok
	case KindStandoff:
		s, ok := StandoffOf(d.Size)
		if !ok {
			return Driver{}, Provenance{}, false
		}
		flats := d.AcrossFlats
		if flats == 0 {
			if len(s.AcrossFlats) != 1 {
				return Driver{}, s.Provenance, false // several are sold: which one is not said
			}
			flats = s.AcrossFlats[0]
		}
		return Driver{Kind: "spanner", Size: formatNumber(flats) + " mm"}, s.Provenance, true
	case KindInsert:
		return Driver{Kind: "soldering iron"}, Provenance{}, true
	}
	return Driver{}, Provenance{}, false
}

// LengthCheck says whether a length is one that is made.
type LengthCheck struct {
	Length  float64 `json:"length"`
	Made    bool    `json:"made"`
	Reason  string  `json:"reason,omitempty"` // why not, ready for a finding
	Shorter float64 `json:"shorter"`          // the next that is made; 0 for none
	Longer  float64 `json:"longer"`
	Provenance
}

// Neighbours puts the lengths next to it in words: "M3x16 or M3x20" for 18, "" where there are none.
func (c LengthCheck) Neighbours(size Size) string {
	var words []string
	for _, l := range []float64{c.Shorter, c.Longer} {
		if l > 0 {
			words = append(words, fmt.Sprintf("%sx%s", size, formatNumber(l)))
		}
	}
	return strings.Join(words, " or ")
}

// MadeLengths returns the lengths in mm, shortest first, in which a screw of a standard and size
// is made: the series of the standard within its range, without those printed in brackets. from
// tells where the series is from. It is nil where the tables do not know.
func MadeLengths(standard string, size Size) (lengths []float64, from Provenance) {
	s, ok := ScrewOf(standard, size)
	if !ok {
		return nil, Provenance{}
	}
	r, ok := table("length-series").find("series", s.Standard.series)
	if !ok || s.Longest == 0 {
		return nil, Provenance{}
	}
	bracketed := r.Numbers("bracketed")
	for _, l := range r.Numbers("lengths") {
		if l >= s.Shortest && l <= s.Longest && !slices.Contains(bracketed, l) {
			lengths = append(lengths, l)
		}
	}
	from = r.from()
	from.Confidence = weaker(from.Confidence, s.Confidence)
	return lengths, from
}

// CheckLength says whether a screw of a standard and size is made in a length (mm), and if not why
// and which neighbours are. ok is false where the tables do not know the lengths.
func CheckLength(standard string, size Size, length float64) (c LengthCheck, ok bool) {
	lengths, from := MadeLengths(standard, size)
	if len(lengths) == 0 {
		return LengthCheck{}, false
	}
	c = LengthCheck{Length: length, Provenance: from}
	for _, l := range lengths {
		switch {
		case l == length:
			c.Made = true
			return c, true
		case l < length:
			c.Shorter = l
		case c.Longer == 0:
			c.Longer = l
		}
	}
	std, _ := StandardOf(standard)
	r, _ := table("length-series").find("series", std.series)
	switch {
	case c.Shorter == 0 || c.Longer == 0:
		c.Reason = fmt.Sprintf("%s of %s are made from %s to %s mm long", size, std.Number, formatNumber(lengths[0]), formatNumber(lengths[len(lengths)-1]))
	case slices.Contains(r.Numbers("bracketed"), length):
		c.Reason = fmt.Sprintf("%s mm stands in brackets in the standard, so few shops have it", formatNumber(length))
	default:
		c.Reason = fmt.Sprintf("%s mm is not in the series of %s", formatNumber(length), std.Number)
	}
	return c, true
}

// LengthTolerance is how much longer or shorter, in mm, a screw of a nominal length may be
// (product grade A). ok is false outside the table.
func LengthTolerance(length float64) (plusMinus float64, from Provenance, ok bool) {
	for _, r := range table("length-tolerance").Rows {
		if length <= r.number("to") {
			if length < table("length-tolerance").Rows[0].number("from") {
				break
			}
			return r.number("plus minus"), r.from(), true
		}
	}
	return 0, Provenance{}, false
}
