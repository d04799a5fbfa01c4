package outlook

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"time"
)

// Least is how many finished designs it takes before their own durations are used instead of the prior.
const Least = 5

// Durations is how long a design takes, as a distribution of days.
type Durations interface {
	// Draw gives one duration in days, 0 or more.
	Draw(*rand.Rand) float64
	// Median is the usual number of days.
	Median() float64
	// Remaining draws what is left of a design that has been worked on for so many days.
	Remaining(r *rand.Rand, elapsed float64) float64
}

// Prior is the triangular distribution from least over likeliest to most days: what is assumed while too few
// designs are finished to tell.
type Prior struct{ Min, Mode, Max float64 }

// at is the inverse of the distribution function: the days that a share u of all designs stays below.
func (p Prior) at(u float64) float64 {
	width := p.Max - p.Min
	if width <= 0 {
		return p.Min
	}
	if u*width < p.Mode-p.Min {
		return p.Min + math.Sqrt(u*width*(p.Mode-p.Min))
	}
	return p.Max - math.Sqrt((1-u)*width*(p.Max-p.Mode))
}

// share is the distribution function: the share of designs that take up to x days.
func (p Prior) share(x float64) float64 {
	width := p.Max - p.Min
	switch {
	case x >= p.Max:
		return 1
	case x < p.Min:
		return 0
	case x < p.Mode:
		return (x - p.Min) * (x - p.Min) / (width * (p.Mode - p.Min))
	}
	return 1 - (p.Max-x)*(p.Max-x)/(width*(p.Max-p.Mode))
}

// Draw is Durations'.
func (p Prior) Draw(r *rand.Rand) float64 { return p.at(r.Float64()) }

// Median is Durations'.
func (p Prior) Median() float64 { return p.at(0.5) }

// Remaining is Durations': drawn from the designs that take longer than elapsed. One that has taken longer than
// the most is as good as begun anew: nothing is known of it, and hope is no plan.
func (p Prior) Remaining(r *rand.Rand, elapsed float64) float64 {
	if elapsed >= p.Max {
		return p.Draw(r)
	}
	low := p.share(elapsed)
	return math.Max(0, p.at(low+(1-low)*r.Float64())-max(elapsed, 0))
}

// Sample is the maker's own durations, sorted; each is as likely as the other.
type Sample []float64

// Draw is Durations'.
func (s Sample) Draw(r *rand.Rand) float64 { return s[r.IntN(len(s))] }

// Median is Durations'.
func (s Sample) Median() float64 {
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}

// Remaining is Durations': drawn from those that took longer than elapsed; from all when none did.
func (s Sample) Remaining(r *rand.Rand, elapsed float64) float64 {
	i, _ := slices.BinarySearchFunc(s, elapsed, func(x, e float64) int {
		if x <= e {
			return -1
		}
		return 1
	})
	if i == len(s) {
		return s.Draw(r)
	}
	return s[i+r.IntN(len(s)-i)] - max(elapsed, 0)
}

// Work is when one design's folder was first and last worked on, by the history.
type Work struct {
	Design      string
	First, Last time.Time
	// Once says that all came in one commit: then nobody can tell how long it took.
	Once bool
}

// Took works out how long each finished design took for one pair of hands: from its first commit, or from the
// moment at which the one finished before it was done, to its own last one. Days of leave do not count.
func took(done []Work, w workdays) []Took {
	list := slices.Clone(done)
	slices.SortStableFunc(list, func(a, b Work) int { return cmp.Or(a.Last.Compare(b.Last), cmp.Compare(a.Design, b.Design)) })
	out := []Took{}
	var free time.Time // when the hands were free again
	for _, x := range list {
		if x.First.IsZero() || x.Last.IsZero() {
			continue
		}
		from := later(x.First, free)
		if !x.Once && x.Last.After(from) {
			out = append(out, Took{x.Design, from.UTC(), x.Last.UTC(), round2(w.between(from, x.Last))})
		}
		if !x.Once {
			free = later(free, x.Last)
		}
	}
	return out
}

// sampleOf are the days of finished designs, sorted.
func sampleOf(list []Took) Sample {
	var out Sample
	for _, t := range list {
		out = append(out, t.Days)
	}
	slices.Sort(out)
	return out
}

func round2(x float64) float64 { return math.Round(x*100) / 100 }
