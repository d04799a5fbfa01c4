package outlook

import (
	"fmt"
	"math"
	"slices"

	"dropwright/bundle/design"
)

// assumedHours is how long a printer runs in a week where series.yaml says nothing: eight hours on five days.
// Assumed, no source.
const assumedHours = 40

// printing works out what coming designs need of printers and shelf.
func (b *builder) printing(s *Season) {
	s.Queue = Queue{Jobs: []QueuedJob{}, Verdict: Kept, Over: []int{}, Unknown: []string{}}
	s.Stock = Shelf{Needs: []Need{}, Orders: []Order{}, NoSpool: []Tight{}}
	if b.in.House == nil {
		return
	}
	coming, late := b.coming(s)
	weeks := slices.Concat(late, coming)
	var list []wanting
	for _, w := range weeks {
		if w.Design == "" {
			continue
		}
		x := wanting{week: w.Week, design: w.Design, from: w.StartBy}
		if x.from.IsZero() {
			x.from = later(b.dueOf(w), b.now)
		}
		k, begun := b.in.Designs[w.Design]
		if !begun {
			x.unknown = []string{w.Design + ": no folder yet"}
		} else {
			built := func(string, string) float64 { return 0 }
			if b.in.Shelf != nil {
				built = b.in.Shelf.Builds
			}
			x.wants = wantsOf(w.Design, k, b.in.House, b.in.Plan, b.in.Trials, built, b.in.BoardTitle)
		}
		for _, p := range x.prints {
			w.Hours = tidy(w.Hours + float64(p.count)*p.seconds/3600)
		}
		s.Queue.Unknown = append(s.Queue.Unknown, x.unknown...)
		list = append(list, x)
	}
	b.queue(s, weeks, list)
	s.Stock = shelfOf(list, b.in.Shelf, b.in.House, b.in.Plan)
	s.Stock.Uncounted = len(s.Queue.Unknown) > 0 || len(s.Reserve.Free) > 0
	if len(s.Reserve.Free) > 0 {
		s.Notes = append(s.Notes, uncounted(s.Reserve.Free))
	}
}

// queue proposes the order of prints, and sums up what falls due on each printer.
func (b *builder) queue(s *Season, weeks []*Week, list []wanting) {
	var perDay []float64
	index := map[string]int{}
	for i, p := range b.in.House.Printers {
		hours := float64(p.HoursPerWeek.Or(assumedHours))
		if !p.HoursPerWeek.Set() {
			s.Notes = append(s.Notes, fmt.Sprintf("printer %s: series.yaml says no hours_per_week; %d are assumed", p.Name.V, assumedHours))
		}
		index[string(p.Name.V)] = i
		perDay = append(perDay, hours/7)
		s.Printers = append(s.Printers, Printer{Name: string(p.Name.V), HoursPerWeek: hours, Load: []WeekLoad{}})
	}
	byWeek := map[int]*Week{}
	for _, w := range weeks {
		byWeek[w.Week] = w
	}
	var jobs []Job
	for _, x := range list {
		w := byWeek[x.week]
		for _, p := range x.prints {
			j := Job{Hours: float64(p.count) * p.seconds / 3600, Due: b.days.between(b.now, b.dueOf(w)), Missed: w.Early.Before(b.now)}
			for _, name := range p.on {
				if i, ok := index[name]; ok {
					j.On = append(j.On, i)
				}
			}
			jobs = append(jobs, j)
			s.Queue.Jobs = append(s.Queue.Jobs, QueuedJob{Week: x.week, Design: x.design, Part: p.part, Variant: p.variant, Prints: p.count, Copies: p.copies, For: p.use,
				Hours: tidy(j.Hours), Grams: tidy(float64(p.count) * p.grams), Filament: p.filament, Due: b.dueOf(w).UTC()})
		}
	}
	a := Assign(jobs, perDay)
	s.Queue.Verdict = a.Verdict
	loads := make([]map[int]*WeekLoad, len(perDay))
	for m := range loads {
		loads[m] = map[int]*WeekLoad{}
		before := b.now
		for _, w := range weeks {
			due := later(b.dueOf(w), b.now)
			l := &WeekLoad{Week: w.Week, Have: tidy(math.Max(0, b.days.between(before, due)) * perDay[m]), Until: due.UTC()}
			before = later(before, due)
			loads[m][w.Week] = l
		}
	}
	over := map[int]bool{}
	for i := range s.Queue.Jobs {
		q, m := &s.Queue.Jobs[i], a.On[i]
		if m < 0 {
			q.Late, over[q.Week] = true, true
			continue
		}
		q.Printer = s.Printers[m].Name
		if perDay[m] > 0 {
			q.Starts, q.Ends = b.days.add(b.now, a.Starts[i]/perDay[m]).UTC(), b.days.add(b.now, a.Ends[i]/perDay[m]).UTC()
		}
		l := loads[m][q.Week]
		l.Need = tidy(l.Need + jobs[i].Hours)
		if past := a.Ends[i] - math.Max(jobs[i].Due, 0)*perDay[m]; past > slack {
			q.Late, over[q.Week] = true, true
			l.Over = tidy(l.Over + math.Min(past, jobs[i].Hours))
		}
	}
	for m := range loads {
		for _, w := range weeks {
			s.Printers[m].Load = append(s.Printers[m].Load, *loads[m][w.Week])
		}
	}
	for _, w := range weeks {
		if over[w.Week] {
			s.Queue.Over = append(s.Queue.Over, w.Week)
		}
	}
	s.Queue.Why = whyOf(s.Queue, b.in.House)
	slices.SortStableFunc(s.Queue.Jobs, func(x, y QueuedJob) int { return x.Starts.Compare(y.Starts) })
}

// whyOf says in a sentence what the verdict means.
func whyOf(q Queue, house *design.House) string {
	switch {
	case len(q.Jobs) == 0:
		return "nothing is to be printed that is known of"
	case q.Verdict == Kept && len(q.Over) == 0:
		return "in this order every print ends in time"
	case q.Verdict == Kept:
		return "weeks whose day has passed come first; every other print ends in time"
	case q.Verdict == Impossible && slices.ContainsFunc(q.Jobs, func(j QueuedJob) bool { return j.Printer == "" }):
		return "some prints fit on no printer of the series"
	case q.Verdict == Impossible:
		return "no order of the prints keeps every day: raise hours_per_week, move a week, or plan fewer trials or builds"
	}
	return "no order was found that keeps every day, and none was proved impossible"
}
