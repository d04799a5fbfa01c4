package outlook

import (
	"cmp"
	"math"
	"slices"
)

// Job is prints that one printer makes one after another.
type Job struct {
	Hours  float64
	On     []int   // the printers that take it, by their index; none: it cannot be printed
	Due    float64 // working days from now until it must be done
	Missed bool    // its day is past: it is printed first, and no order can keep its day
}

// The verdicts on a queue.
const (
	Kept       = "kept"       // the order keeps every day
	Impossible = "impossible" // no order does
	Unknown    = "unknown"    // none was found, and none was proved impossible
)

// Assignment is a proposed order. On[i] is the printer of job i, -1 for one that none takes; Starts and Ends
// are in hours of running of that printer from now on.
type Assignment struct {
	On           []int
	Starts, Ends []float64
	Verdict      string
}

// mostNodes bounds the search for an order; a season's queue is settled by its first guess as a rule.
const mostNodes = 200_000

// Assign gives every job a printer and an order: on each printer the earliest due date first. perDay are the
// hours that each printer runs in a working day.
//
// Every printer is free now and every job can start now, so that for given printers no other order is late less:
// a job that is due earlier, standing right behind one that is due later, can change places with it, and neither
// then ends later than the later one did (Jackson's rule: J. R. Jackson, Scheduling a production line to
// minimize maximum tardiness, 1955, from memory). What is left is which printer takes what: each job goes to
// the printer that ends it first; if that is late, every other way is tried, up to a bound.
func Assign(jobs []Job, perDay []float64) Assignment {
	order := make([]int, len(jobs))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := jobs[a], jobs[b]
		if x.Missed != y.Missed {
			if x.Missed {
				return -1
			}
			return 1
		}
		return cmp.Compare(x.Due, y.Due)
	})
	s := search{jobs: jobs, order: order, perDay: perDay, on: make([]int, len(jobs))}
	greedy, kept := s.greedy()
	switch {
	case kept:
		return s.timed(greedy, Kept)
	case s.hopeless():
		return s.timed(greedy, Impossible)
	}
	s.load, s.left = make([]float64, len(perDay)), mostNodes
	switch found := s.try(0); {
	case found:
		return s.timed(s.on, Kept)
	case s.left > 0:
		return s.timed(greedy, Impossible)
	}
	return s.timed(greedy, Unknown)
}

type search struct {
	jobs   []Job
	order  []int
	perDay []float64
	on     []int
	load   []float64 // hours on each printer
	left   int       // nodes that may still be looked at
}

// slack is how many hours a sum of hours may be past its end without being late: a hundredth of a second.
const slack = 1e-6 / 0.36

// late says whether a job that ends after so many hours of a printer is too late.
func (s *search) late(i, on int, ends float64) bool {
	j := s.jobs[i]
	return !j.Missed && ends > math.Max(j.Due, 0)*s.perDay[on]+slack
}

// greedy gives each job, in order, to the printer that ends it first.
func (s *search) greedy() (on []int, kept bool) {
	on, kept = make([]int, len(s.jobs)), true
	load := make([]float64, len(s.perDay))
	for _, i := range s.order {
		best, first := -1, 0.0
		for _, m := range s.jobs[i].On {
			if s.perDay[m] <= 0 {
				continue
			}
			if ends := (load[m] + s.jobs[i].Hours) / s.perDay[m]; best < 0 || ends < first {
				best, first = m, ends
			}
		}
		on[i] = best
		if best < 0 {
			kept = kept && s.jobs[i].Missed
			continue
		}
		load[best] += s.jobs[i].Hours
		kept = kept && !s.late(i, best, load[best])
	}
	return on, kept
}

// hopeless says whether more hours are due by some day than all the printers that take any of them can run.
func (s *search) hopeless() bool {
	need := 0.0
	takes := map[int]bool{}
	for _, i := range s.order {
		j := s.jobs[i]
		if !slices.ContainsFunc(j.On, func(m int) bool { return s.perDay[m] > 0 }) {
			return true
		}
		need += j.Hours
		for _, m := range j.On {
			takes[m] = true
		}
		have := 0.0
		for m := range takes {
			have += math.Max(j.Due, 0)*s.perDay[m] + slack
		}
		if !j.Missed && need > have {
			return true
		}
	}
	return false
}

// try places the jobs from the k-th on; false when they cannot be, or the bound is reached.
func (s *search) try(k int) bool {
	if k == len(s.order) {
		return true
	}
	if s.left--; s.left <= 0 {
		return false
	}
	i := s.order[k]
	var seen []int
	for _, m := range s.jobs[i].On {
		if s.perDay[m] <= 0 || s.late(i, m, s.load[m]+s.jobs[i].Hours) || s.alike(m, seen) {
			continue
		}
		seen = append(seen, m)
		s.load[m] += s.jobs[i].Hours
		s.on[i] = m
		if s.try(k + 1) {
			return true
		}
		s.load[m] -= s.jobs[i].Hours
	}
	return false
}

// alike says whether a printer is as full and as quick as one that was tried, and takes the same of what
// follows: then it need not be tried.
func (s *search) alike(m int, seen []int) bool {
	return slices.ContainsFunc(seen, func(x int) bool {
		if s.perDay[x] != s.perDay[m] || s.load[x] != s.load[m] {
			return false
		}
		return !slices.ContainsFunc(s.jobs, func(j Job) bool { return slices.Contains(j.On, x) != slices.Contains(j.On, m) })
	})
}

// timed works out when each job starts and ends.
func (s *search) timed(on []int, verdict string) Assignment {
	out := Assignment{On: slices.Clone(on), Starts: make([]float64, len(on)), Ends: make([]float64, len(on)), Verdict: verdict}
	load := make([]float64, len(s.perDay))
	for _, i := range s.order {
		m := out.On[i]
		if m < 0 {
			continue
		}
		out.Starts[i] = load[m]
		load[m] += s.jobs[i].Hours
		out.Ends[i] = load[m]
	}
	return out
}
