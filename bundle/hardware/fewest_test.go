package hardware

import (
	"fmt"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"
)

// bruteForce tries all subsets of the lengths and returns the smallest number that serves every
// interval that can be served, and among those the least number of lengths not in keep.
func bruteForce(intervals []Interval, lengths, keep []float64) (count, fresh int) {
	count, fresh = len(lengths)+1, 0
	for set := range 1 << len(lengths) {
		n, f := bits.OnesCount(uint(set)), 0
		if n > count {
			continue
		}
		for i, l := range lengths {
			if set>>i&1 == 1 && !slices.Contains(keep, l) {
				f++
			}
		}
		if n == count && f >= fresh {
			continue
		}
		serves := !slices.ContainsFunc(intervals, func(iv Interval) bool {
			can, does := false, false
			for i, l := range lengths {
				if l >= iv.Min && l <= iv.Max {
					can = true
					does = does || set>>i&1 == 1
				}
			}
			return can && !does
		})
		if serves {
			count, fresh = n, f
		}
	}
	return count, fresh
}

func TestFewestLengthsEqualsBruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 7))
	for n := range 1000 {
		lengths := make([]float64, 1+rng.IntN(9))
		for i := range lengths {
			lengths[i] = float64(2 + rng.IntN(30))
		}
		slices.Sort(lengths)
		lengths = slices.Compact(lengths)
		rng.Shuffle(len(lengths), func(i, j int) { lengths[i], lengths[j] = lengths[j], lengths[i] })
		var keep []float64
		for _, l := range lengths {
			if rng.IntN(3) == 0 {
				keep = append(keep, l)
			}
		}
		intervals := make([]Interval, rng.IntN(9))
		for i := range intervals {
			low := float64(rng.IntN(32)) + float64(rng.IntN(2))/2
			intervals[i] = Interval{low, low + float64(rng.IntN(20))/2}
		}
		c := FewestLengths(intervals, lengths, keep)
		count, fresh := bruteForce(intervals, lengths, keep)
		got := 0
		for _, l := range c.Lengths {
			if !slices.Contains(keep, l) {
				got++
			}
		}
		if len(c.Lengths) != count || got != fresh {
			t.Fatalf("case %d: %v of %v keeping %v for %v; brute force has %d lengths, %d new", n, c.Lengths, lengths, keep, intervals, count, fresh)
		}
		for i, iv := range intervals {
			l := c.Choice[i]
			can := slices.ContainsFunc(lengths, func(l float64) bool { return l >= iv.Min && l <= iv.Max })
			if can != !slices.Contains(c.Unmet, i) || can && (l < iv.Min || l > iv.Max || !slices.Contains(c.Lengths, l)) || !can && l != 0 {
				t.Fatalf("case %d: interval %v gets %v of %v", n, iv, l, c.Lengths)
			}
		}
		// Order must not matter.
		again := slices.Clone(lengths)
		slices.Reverse(again)
		if d := FewestLengths(intervals, again, keep); !slices.Equal(c.Lengths, d.Lengths) {
			t.Fatalf("case %d: %v, turned round %v", n, c.Lengths, d.Lengths)
		}
	}
}

// Rounding of sums must not lose a length at the edge of an interval.
func TestFewestLengthsAtTheEdge(t *testing.T) {
	a, b := 0.1, 0.2
	c := FewestLengths([]Interval{{Min: (a + b) * 10, Max: 3}, {Min: 3, Max: 2.9999999999}}, []float64{3}, nil)
	if !slices.Equal(c.Lengths, []float64{3}) || len(c.Unmet) != 0 {
		t.Errorf("%+v", c)
	}
	if c := FewestLengths(nil, []float64{3}, nil); len(c.Lengths) != 0 {
		t.Errorf("no interval needs no length: %+v", c)
	}
	if c := FewestLengths([]Interval{{1, 2}}, nil, nil); len(c.Unmet) != 1 {
		t.Errorf("%+v", c)
	}
}

func TestFewestSizes(t *testing.T) {
	got := FewestSizes([]Demand{
		{Standard: "ISO 4762", Size: "M3", Lengths: Interval{7.5, 10.5}, Present: 8, Count: 4, Where: "lid"},
		{Standard: "ISO 4762", Size: "M3", Lengths: Interval{9, 13}, Present: 12, Count: 2, Where: "foot"},
		{Standard: "DIN EN ISO 4762", Size: "M3", Lengths: Interval{10, 10.4}, Present: 10, Count: 1, Where: "hinge"},
		{Standard: "ISO 4762", Size: "M2.5", Lengths: Interval{5.2, 5.8}, Present: 5, Count: 4, Where: "board"},
		{Standard: "ISO 7045", Size: "M3", Lengths: Interval{7.5, 12.5}, Present: 8, Count: 4, Where: "pan"},
		{Standard: "ISO 9999", Size: "M3", Lengths: Interval{1, 2}, Where: "unknown"},
	})
	if len(got) != 3 {
		t.Fatalf("%d groups: %+v", len(got), got)
	}
	if s := got[0]; s.Size != "M2.5" || !slices.Equal(s.Unmet, []string{"board"}) || s.Fewer() != 0 {
		t.Errorf("%+v", s)
	}
	s := got[1]
	if !slices.Equal(s.Before, []float64{8, 10, 12}) || !slices.Equal(s.After, []float64{10}) || s.Fewer() != 2 {
		t.Errorf("%+v", s)
	}
	if want := []Change{{"lid", 8, 10, 4}, {"foot", 12, 10, 2}}; !slices.Equal(s.Changes, want) {
		t.Errorf("%+v", s.Changes)
	}
	if s := got[2]; !slices.Equal(s.After, []float64{8}) || len(s.Changes) != 0 {
		t.Errorf("a length that fits must stay: %+v", s)
	}
}

// A season of 104 designs with ten joints each; the aim is under a second.
func BenchmarkFewestSizes(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	var demands []Demand
	for design := range 104 {
		for joint := range 10 {
			low := 4 + 20*rng.Float64()
			demands = append(demands, Demand{
				Standard: []string{"ISO 4762", "ISO 7045", "ISO 10642"}[rng.IntN(3)], Size: Sizes()[2+rng.IntN(4)],
				Lengths: Interval{low, low + 4*rng.Float64()}, Present: 8, Count: 4, Where: fmt.Sprint(design, joint),
			})
		}
	}
	for b.Loop() {
		FewestSizes(demands)
	}
}
