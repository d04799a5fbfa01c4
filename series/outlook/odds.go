package outlook

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
)

// Runs and Seed are what the odds are simulated with as a rule.
const (
	Runs = 10_000
	Seed = 20_270_108 // any fixed number does
)

// Task is the work that is left for one coming week.
type Task struct {
	// ID numbers the task for its random draws: the same task draws the same durations whatever stands before
	// it, so that two plans are compared under the same luck.
	ID      int
	Due     float64 // working days from now until it must be finished; negative when that is past
	Begun   float64 // working days already spent on it
	NoWork  bool    // it is finished
	Missed  bool    // its day has passed: it is still to be done, and cannot be met
	Ignored bool    // it is to be done and nobody counts on its day
}

// Chances is what a simulation gives. StandardError is that of All: sqrt(p(1-p)/runs), at least 1/runs.
type Chances struct {
	Each          []float64 // in the order of the tasks
	All           float64   // that every task that can be met is met
	StandardError float64
	// More[n] is the chance that all are met if the first n tasks that are not finished were finished now; it
	// has one entry more than there are such tasks.
	More []float64
}

// block is how many runs draw from one generator. Blocks are numbered, so that the result does not depend on
// which processor takes which.
const block = 250

// Simulate plays the coming weeks: one pair of hands does the tasks one after another in the order of their
// days. The tasks keep their order where two are due at once. Runs is rounded up to whole blocks of 250.
func Simulate(tasks []Task, d Durations, runs int, seed uint64) Chances {
	order := make([]int, len(tasks))
	most := 0
	for i, t := range tasks {
		order[i] = i
		most = max(most, t.ID)
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(tasks[a].Due, tasks[b].Due) })
	blocks := (max(runs, 1) + block - 1) / block
	runs = blocks * block
	results := make([]counts, blocks)
	var wg sync.WaitGroup
	next := make(chan int)
	for range min(runtime.GOMAXPROCS(0), blocks) {
		wg.Go(func() {
			p := player{tasks: tasks, order: order, days: d, draws: make([]float64, most+1), sums: make([]float64, len(tasks))}
			for b := range next {
				results[b] = p.play(seed, uint64(b))
			}
		})
	}
	for b := range blocks {
		next <- b
	}
	close(next)
	wg.Wait()
	open := 0
	for _, t := range tasks {
		if !t.NoWork {
			open++
		}
	}
	total := counts{each: make([]int, len(tasks)), needs: make([]int, open+2)}
	for _, r := range results { // whole numbers: their sum does not depend on the order
		total.all += r.all
		for i, n := range r.each {
			total.each[i] += n
		}
		for i, n := range r.needs {
			total.needs[i] += n
		}
	}
	n := float64(runs)
	out := Chances{Each: make([]float64, len(tasks)), All: float64(total.all) / n}
	for i, k := range total.each {
		out.Each[i] = float64(k) / n
	}
	met := 0
	for _, k := range total.needs[:open+1] {
		met += k
		out.More = append(out.More, float64(met)/n)
	}
	out.StandardError = math.Max(math.Sqrt(out.All*(1-out.All)/n), 1/n)
	return out
}

// rounding is how many days a sum of days may be past its end without being late: a tenth of a millisecond.
const rounding = 1e-9

// counts are what a block of runs adds up to. needs[k] are the runs that would have needed k more finished tasks
// for all to be met.
type counts struct {
	each  []int
	all   int
	needs []int
}

// player plays runs; it keeps its memory from one to the next.
type player struct {
	tasks []Task
	order []int
	days  Durations
	draws []float64
	sums  []float64
}

func (p *player) play(seed, b uint64) counts {
	r := rand.New(rand.NewPCG(seed, b))
	open := 0
	for _, t := range p.tasks {
		if !t.NoWork {
			open++
		}
	}
	out := counts{each: make([]int, len(p.tasks)), needs: make([]int, open+2)}
	begun := make([]float64, len(p.draws))
	for _, t := range p.tasks {
		begun[t.ID] = t.Begun
	}
	for range block {
		for id := range p.draws { // every number draws, taken or not: the others keep their luck
			if begun[id] > 0 {
				p.draws[id] = p.days.Remaining(r, begun[id])
			} else {
				p.draws[id] = p.days.Draw(r)
			}
		}
		all, at := true, 0.0
		for i, k := range p.order {
			t := p.tasks[k]
			if !t.NoWork {
				at += p.draws[t.ID]
			}
			p.sums[i] = at
			switch {
			case t.NoWork, !t.Missed && at <= t.Due+rounding:
				out.each[k]++
			case !t.Missed && !t.Ignored:
				all = false
			}
		}
		if all {
			out.all++
		}
		out.needs[p.needed(open)]++
	}
	return out
}

// needed is how many of the first open tasks would have to be finished already for every task to be met: with
// the first k done, a later task ends at its sum less the sum up to the k-th.
func (p *player) needed(open int) int {
	left, behind := open, math.Inf(-1) // the most by which a task from here on comes too late
	best := open
	for i := len(p.order) - 1; i >= 0; i-- {
		t := p.tasks[p.order[i]]
		if t.NoWork {
			continue
		}
		if behind <= p.sums[i]+rounding { // the tasks behind this one are met when those up to it are done
			best = left
		} else {
			return best
		}
		left--
		if !t.Missed && !t.Ignored {
			behind = math.Max(behind, p.sums[i]-t.Due)
		}
	}
	if behind <= rounding {
		best = 0
	}
	return best
}

// Percent prints a chance no finer than the figures behind it bear; near the ends as a bound, as nothing is certain.
func Percent(p float64, finest int) string {
	switch step := float64(finest) / 100; {
	case p <= 0:
		return "0 %"
	case p >= 1:
		return "100 %"
	case p <= step+1e-9 && finest > 1:
		return fmt.Sprintf("up to %d %%", finest)
	case p >= 1-step-1e-9 && finest > 1:
		return fmt.Sprintf("%d %% or more", 100-finest)
	}
	step := float64(max(1, finest))
	return fmt.Sprintf("%.0f %%", math.Round(p*100/step)*step)
}
