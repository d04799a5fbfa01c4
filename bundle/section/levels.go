package section

import "math"

// Where the census cuts. Measured on torture plates of our own; no published source.
const (
	// gapLeast is the smallest distance in mm between vertex levels that gets a plane of its own. No
	// feature worth printing is thinner, and curved walls have levels far closer than this.
	gapLeast = 0.05
	// levelStep is the distance in mm of planes where levels lie closer than gapLeast.
	levelStep = 0.2
	// levelsMost bounds the planes of a large part: the step grows with its size.
	levelsMost = 4000
)

// cutHeight is a plane of the census: between lo and hi no vertex lies, so that the outline of every
// wall along the axis is the same in the whole gap. On a plane among dense levels both are the plane.
type cutHeight struct {
	z, lo, hi float64
}

// cutHeights chooses planes for vertex heights z: the middle of every gap between levels, and evenly
// spaced ones where levels are dense. Heights are counted into bins narrower than a gap, which finds
// exactly the gaps that sorting would find, without sorting.
func cutHeights(count int, z func(i int) float64) []cutHeight {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range count {
		if h := z(i); !math.IsInf(h, 0) && !math.IsNaN(h) {
			if h < lo {
				lo = h
			}
			if h > hi {
				hi = h
			}
		}
	}
	if !(hi > lo) {
		return nil
	}
	gap, step := gapLeast, levelStep
	if least := (hi - lo) / levelsMost; step < least {
		step = least
		gap = max(gap, least/4)
	}
	width := gap / 2
	type bin struct{ lo, hi float64 }
	bins := make([]bin, int((hi-lo)/width)+1)
	for i := range bins {
		bins[i] = bin{math.Inf(1), math.Inf(-1)}
	}
	for i := range count {
		h := z(i)
		if !(h >= lo && h <= hi) {
			continue
		}
		b := &bins[min(int((h-lo)/width), len(bins)-1)]
		if h < b.lo {
			b.lo = h
		}
		if h > b.hi {
			b.hi = h
		}
	}
	var out []cutHeight
	first, last := lo, lo // the present run of dense levels
	dense := func() {
		if length := last - first; length > gap {
			n := math.Ceil(length / step)
			for i := 0.5; i < n; i++ {
				z := first + length*i/n
				out = append(out, cutHeight{z, z, z})
			}
		}
	}
	for _, b := range bins {
		if b.lo > b.hi {
			continue
		}
		if b.lo-last >= gap {
			dense()
			out = append(out, cutHeight{(last + b.lo) / 2, last, b.lo})
			first = b.lo
		}
		last = b.hi
	}
	dense()
	return out
}
