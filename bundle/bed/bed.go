// Package bed lays parts out on a printer's bed: how many loads a set of parts takes, which part lies
// where and turned how, and how long each load prints.
//
// It does not nest parts into each other's hollows: each part takes the rectangle around its turned
// outline. Which parts may share a load (one colour, one material) is the caller's business.
//
// Conventions: millimetres from the bed's front left corner, degrees counter-clockwise seen from above,
// seconds, grams. The same items in the same order give the same layout.
package bed

import (
	"fmt"
	"math"
)

// Bed is the printer's working space and how it is used.
type Bed struct {
	Size       [3]float64 // mm
	Edge       float64    // mm kept free along the rim
	Spacing    float64    // mm between neighbours
	Start      float64    // s before a load prints
	ChangeOver float64    // s to take it off
}

// Defaults of Edge and Spacing: room for a nozzle's blob and for a spatula. Common practice, no source.
const (
	DefaultEdge    = 5
	DefaultSpacing = 5
)

// Item is a part to be laid out.
type Item struct {
	Name   string
	Copies int
	Size   [3]float64 // mm, as it stands
	// Outline is the part's convex hull seen from above, its corners in order (mm, in the mesh's own
	// axes); without it the part is the rectangle of its Size.
	Outline [][2]float64
	Brim    float64 // mm around the part
	Seconds float64 // one copy's printing time
	Grams   float64 // one copy
}

// Layout is the outcome of Pack.
type Layout struct {
	Loads    []Load
	Unplaced []Unplaced // parts that do not fit an empty bed
}

// Load is what is printed at a time.
type Load struct {
	Placed  []Placed
	Used    float64 // mm2 that the parts cover, brims and spacing not counted
	Share   float64 // Used over the bed's area
	Seconds float64 // start, all parts, change-over
	Grams   float64
}

// Placed is one copy on the bed.
type Placed struct {
	Item int // index into the items
	Copy int // from 1
	// Turn the part by this angle about z, then move it so that the middle of its bounding rectangle
	// lies at Centre.
	Turn   float64
	Centre [2]float64
	Size   [2]float64 // of the rectangle, mm
}

// Unplaced is an item that cannot be printed on this bed, and why.
type Unplaced struct {
	Item int
	Why  string
}

// mostCopies bounds the work; a season's largest design has some hundred parts.
const mostCopies = 20_000

// footprint is an item's rectangle at one turn.
type footprint struct {
	turn float64
	size [2]float64 // without brim and spacing
}

// shape is what packing knows of an item.
type shape struct {
	item  int
	area  float64 // mm2, of the outline
	at    []footprint
	extra float64 // mm to add to each side's length: brim on both ends, spacing once
}

// Check returns an error that names the first figure that cannot be.
func (b Bed) Check() error {
	for _, v := range []struct {
		name      string
		x, lo, hi float64
	}{
		{"bed width", b.Size[0], 1, 1e5}, {"bed depth", b.Size[1], 1, 1e5}, {"bed height", b.Size[2], 1, 1e5},
		{"edge", b.Edge, 0, b.Size[0] / 2}, {"spacing", b.Spacing, 0, 1e4},
		{"start time", b.Start, 0, 1e7}, {"change-over time", b.ChangeOver, 0, 1e7},
	} {
		if !(v.x >= v.lo && v.x <= v.hi) {
			return fmt.Errorf("%s %g is out of range: %g to %g", v.name, v.x, v.lo, v.hi)
		}
	}
	return nil
}

// shapes prepares the items; what does not fit an empty bed comes back with the reason.
func shapes(items []Item, b Bed) ([]shape, []Unplaced, error) {
	if err := b.Check(); err != nil {
		return nil, nil, err
	}
	var list []shape
	var no []Unplaced
	copies := 0
	for i, it := range items {
		for _, v := range []float64{it.Size[0], it.Size[1], it.Size[2], it.Brim, it.Seconds, it.Grams} {
			if !(v >= 0 && v <= 1e9) {
				return nil, nil, fmt.Errorf("part %q: %g is no size, time or mass", it.Name, v)
			}
		}
		for _, p := range it.Outline {
			if d := p[0] - p[1]; math.IsNaN(d) || math.Abs(d) > 1e9 {
				return nil, nil, fmt.Errorf("part %q: outline through %g, %g", it.Name, p[0], p[1])
			}
		}
		if it.Copies < 0 {
			return nil, nil, fmt.Errorf("part %q: %d copies", it.Name, it.Copies)
		}
		if copies += it.Copies; it.Copies > mostCopies || copies > mostCopies {
			return nil, nil, fmt.Errorf("more than %d parts to lay out; lay out fewer builds at a time", mostCopies)
		}
		if it.Copies == 0 {
			continue
		}
		s := shape{item: i, extra: 2*it.Brim + b.Spacing}
		var why string
		if s.area, s.at, why = footprints(it, b, s.extra); why != "" {
			no = append(no, Unplaced{i, why})
			continue
		}
		list = append(list, s)
	}
	return list, no, nil
}

// room is the bed that rectangles with their spacing may take: the spacing of the outermost lies on
// the rim.
func (b Bed) room() [2]float64 {
	return [2]float64{b.Size[0] - 2*b.Edge + b.Spacing, b.Size[1] - 2*b.Edge + b.Spacing}
}

// slack forgives rounding: a part of exactly the bed's size fits.
const slack = 1e-6

// footprints lists the turns worth trying: as it stands and a quarter on, the narrowest rectangle and a
// quarter on; and if none of them fits the bed, the turn that fits best, in whole degrees.
func footprints(it Item, b Bed, extra float64) (area float64, list []footprint, why string) {
	hull := it.Outline
	if len(hull) < 3 {
		x, y := it.Size[0], it.Size[1]
		hull = [][2]float64{{0, 0}, {x, 0}, {x, y}, {0, y}}
	}
	area = polygonArea(hull)
	if it.Size[2] > b.Size[2]+slack {
		return area, nil, fmt.Sprintf("it is %.1f mm high, the printer reaches %.1f mm", it.Size[2], b.Size[2])
	}
	room := b.room()
	fits := func(f footprint) bool {
		return f.size[0]+extra <= room[0]+slack && f.size[1]+extra <= room[1]+slack
	}
	turns := []float64{0, 90}
	if a := narrowest(hull); a > 1e-9 && a < 90-1e-9 {
		turns = append(turns, a, a+90)
	}
	for _, t := range turns {
		if f := at(hull, t); fits(f) {
			list = append(list, f)
		}
	}
	if len(list) > 0 {
		return area, list, ""
	}
	best, over := footprint{}, math.Inf(1)
	for t := 0; t < 180; t++ {
		f := at(hull, float64(t))
		if o := math.Max(f.size[0]+extra-room[0], f.size[1]+extra-room[1]); o < over {
			best, over = f, o
		}
	}
	if fits(best) {
		return area, []footprint{best}, ""
	}
	return area, nil, fmt.Sprintf("it takes %.1f x %.1f mm at best (turned by %g degrees, brim %g mm), the bed has %.1f x %.1f mm inside its edge of %g mm",
		best.size[0], best.size[1], best.turn, it.Brim, b.Size[0]-2*b.Edge, b.Size[1]-2*b.Edge, b.Edge)
}

// at is the rectangle around the hull turned by so many degrees.
func at(hull [][2]float64, turn float64) footprint {
	sin, cos := math.Sincos(turn * math.Pi / 180)
	switch turn { // to the last digit, so that a part of exactly the bed's size fits
	case 90:
		sin, cos = 1, 0
	case 0:
		sin, cos = 0, 1
	}
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, p := range hull {
		q := [2]float64{p[0]*cos - p[1]*sin, p[0]*sin + p[1]*cos}
		for i, v := range q {
			lo[i], hi[i] = math.Min(lo[i], v), math.Max(hi[i], v)
		}
	}
	return footprint{turn, [2]float64{hi[0] - lo[0], hi[1] - lo[1]}}
}

// narrowest is the turn, in [0, 90) degrees, at which the rectangle around the hull has the least area:
// one of its sides then lies along a side of the hull (Freeman and Shapira 1975, from memory).
func narrowest(hull [][2]float64) float64 {
	best, least := 0.0, math.Inf(1)
	for i, p := range hull {
		q := hull[(i+1)%len(hull)]
		turn := math.Mod(-math.Atan2(q[1]-p[1], q[0]-p[0])*180/math.Pi+360, 90)
		f := at(hull, turn)
		if a := f.size[0] * f.size[1]; a < least*(1-1e-9) {
			best, least = turn, a
		}
	}
	return best
}

func polygonArea(p [][2]float64) float64 {
	sum := 0.0
	for i := range p {
		q := p[(i+1)%len(p)]
		sum += p[i][0]*q[1] - p[i][1]*q[0]
	}
	return math.Abs(sum) / 2
}
