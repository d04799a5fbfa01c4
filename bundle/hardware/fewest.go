package hardware

import (
	"cmp"
	"slices"
)

// Interval is the lengths, mm, that would do for one joint: both ends included.
type Interval struct {
	Min float64 `json:"min"`
	Max float64 `json:"max"`
}

// Cover is a smallest set of lengths for a list of intervals.
type Cover struct {
	Lengths []float64 `json:"lengths"` // chosen, shortest first
	Choice  []float64 `json:"choice"`  // per interval the length it gets, 0 where none fits
	Unmet   []int     `json:"unmet"`   // indices of intervals in which no length lies
}

// lengthSlack forgives the rounding of sums of millimetres; not a tolerance of the trade.
const lengthSlack = 1e-9 // mm

// FewestLengths finds the smallest set of the given lengths such that every interval contains one
// of them. Among smallest sets it takes one that keeps the most of the lengths in keep (those
// used now), then the one with the smallest sum. Intervals in which no length lies are listed as
// unmet and do not count. The result does not depend on the order of lengths or keep.
//
// It is exact. On a line, a set of points meets every interval exactly if no interval lies wholly
// between two neighbours of the set, before the first or behind the last; so the best set that
// ends in one point follows from the best sets that end in earlier points:
//
//	best(j) = cost(j) + min of best(i) over all i < j with no interval wholly between i and j
//
// with a cost of (one length, one not used before, its millimetres), compared in that order. The
// time is the square of the lengths plus the intervals. (Taking the right end of the leftmost
// interval again and again is minimal too, but cannot prefer lengths that are in use.)
func FewestLengths(intervals []Interval, lengths, keep []float64) Cover {
	points := slices.Clone(lengths)
	slices.Sort(points)
	points = slices.Compact(points)
	kept := make([]bool, len(points))
	for _, k := range keep {
		if i, found := slices.BinarySearch(points, k); found {
			kept[i] = true
		}
	}
	c := Cover{Choice: make([]float64, len(intervals))}

	// first and last index of the points inside each interval; a[last] = largest first of those
	// intervals that end before point j: the previous chosen point must not lie left of it.
	first := make([]int, len(intervals))
	last := make([]int, len(intervals))
	for n, iv := range intervals {
		first[n] = sortSearch(points, iv.Min-lengthSlack)
		last[n] = sortSearch(points, iv.Max+2*lengthSlack) - 1
		if first[n] > last[n] {
			c.Unmet = append(c.Unmet, n)
		}
	}
	// latestFirst[j]: the largest first of all met intervals with last < j, -1 for none.
	latestFirst := make([]int, len(points)+1)
	for j := range latestFirst {
		latestFirst[j] = -1
	}
	for n := range intervals {
		if first[n] <= last[n] {
			latestFirst[last[n]+1] = max(latestFirst[last[n]+1], first[n])
		}
	}
	for j := 1; j <= len(points); j++ {
		latestFirst[j] = max(latestFirst[j], latestFirst[j-1])
	}

	best := make([]coverCost, len(points)+1) // index len(points): the end, behind the last point
	prev := make([]int, len(points)+1)
	for j := range best {
		best[j], prev[j] = coverCost{count: -1}, -1
		if latestFirst[j] < 0 { // nothing lies wholly before j: it may be the first
			best[j] = coverCost{}
		}
		for i := max(latestFirst[j], 0); i < j; i++ {
			if best[i].count >= 0 && (best[j].count < 0 || best[i].less(best[j])) {
				best[j], prev[j] = best[i], i
			}
		}
		if j < len(points) && best[j].count >= 0 {
			best[j].count++
			if !kept[j] {
				best[j].fresh++
			}
			best[j].sum += points[j]
		}
	}
	for j := prev[len(points)]; j >= 0; j = prev[j] {
		c.Lengths = append(c.Lengths, points[j])
	}
	slices.Reverse(c.Lengths)
	for n := range intervals {
		if i := sortSearch(c.Lengths, intervals[n].Min-lengthSlack); first[n] <= last[n] && i < len(c.Lengths) {
			c.Choice[n] = c.Lengths[i]
		}
	}
	return c
}

// coverCost is the cost of a set of lengths, compared from left to right; count -1 is no set.
type coverCost struct {
	count, fresh int
	sum          float64
}

func (a coverCost) less(b coverCost) bool {
	return cmp.Or(cmp.Compare(a.count, b.count), cmp.Compare(a.fresh, b.fresh), cmp.Compare(a.sum, b.sum)) < 0
}

// sortSearch is the index of the first element that is at least v.
func sortSearch(sorted []float64, v float64) int {
	i, _ := slices.BinarySearch(sorted, v)
	return i
}

// Demand is one joint's wish for a screw: what would do, and what it has now.
type Demand struct {
	Standard string   `json:"standard"`
	Size     Size     `json:"size"`
	Grade    string   `json:"grade,omitempty"`
	Lengths  Interval `json:"lengths"`
	Present  float64  `json:"present"` // mm; 0 if none is chosen yet
	Count    int      `json:"count"`   // screws
	Where    string   `json:"where"`   // for the reader: "vent-minder: hatch-screw"
}

// Saving is what FewestSizes found for the screws of one standard, size and grade.
type Saving struct {
	Standard string    `json:"standard"`
	Size     Size      `json:"size"`
	Grade    string    `json:"grade,omitempty"`
	Before   []float64 `json:"before"`  // lengths used now, shortest first
	After    []float64 `json:"after"`   // lengths that would do
	Changes  []Change  `json:"changes"` // demands that would get another length, in the order given
	Unmet    []string  `json:"unmet"`   // Where of demands that no made length serves
}

// Change is one joint that would take another length.
type Change struct {
	Where string  `json:"where"`
	From  float64 `json:"from"`
	To    float64 `json:"to"`
	Count int     `json:"count"`
}

// Fewer tells by how many lengths the order gets shorter. It is 0 when some demand is unmet,
// since then there is no full set to compare with.
func (s Saving) Fewer() int {
	if len(s.Unmet) > 0 {
		return 0
	}
	return max(0, len(s.Before)-len(s.After))
}

// FewestSizes groups demands by standard, size and grade (one drive goes with each standard) and
// finds for each group the fewest lengths that are made. Groups come sorted by standard, size and
// grade. Demands on a standard whose lengths the tables do not know are left out. A joint keeps
// its present length wherever that is among the chosen ones and fits.
func FewestSizes(demands []Demand) []Saving {
	type key struct {
		standard string
		size     Size
		grade    string
	}
	groups := map[key][]Demand{}
	for _, d := range demands {
		k := key{canonicalNumber(d.Standard), d.Size, d.Grade}
		groups[k] = append(groups[k], d)
	}
	keys := make([]key, 0, len(groups))
	for k := range groups {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b key) int {
		return cmp.Or(cmp.Compare(a.standard, b.standard), cmp.Compare(a.size.Nominal(), b.size.Nominal()), cmp.Compare(a.grade, b.grade))
	})
	var list []Saving
	for _, k := range keys {
		made, _ := MadeLengths(k.standard, k.size)
		if len(made) == 0 {
			continue
		}
		group := groups[k]
		s := Saving{Standard: k.standard, Size: k.size, Grade: k.grade}
		intervals := make([]Interval, len(group))
		for n, d := range group {
			intervals[n] = d.Lengths
			if d.Present > 0 && !slices.Contains(s.Before, d.Present) {
				s.Before = append(s.Before, d.Present)
			}
		}
		slices.Sort(s.Before)
		cover := FewestLengths(intervals, made, s.Before)
		s.After = cover.Lengths
		for _, n := range cover.Unmet {
			s.Unmet = append(s.Unmet, group[n].Where)
		}
		for n, d := range group {
			to := cover.Choice[n]
			fits := d.Present >= d.Lengths.Min-lengthSlack && d.Present <= d.Lengths.Max+lengthSlack
			if to == 0 || fits && slices.Contains(s.After, d.Present) {
				continue
			}
			s.Changes = append(s.Changes, Change{Where: d.Where, From: d.Present, To: to, Count: d.Count})
		}
		list = append(list, s)
	}
	return list
}
