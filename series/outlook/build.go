package outlook

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/trial"
	"dropwright/series/calendar"
	"dropwright/series/ledger"
	"dropwright/series/schedule"
	"dropwright/series/stock"
)

// Input is what a view over a season is made from.
type Input struct {
	Series, Title string
	House         *design.House
	Calendar      *calendar.Calendar
	Ledger        *ledger.Log
	Weeks         []schedule.Week
	Designs       map[string]Known // every design with a folder
	Plan          Plan
	Trials        []trial.Record
	Shelf         *stock.Shelf // nil: none is kept
	Ideas         []stock.Idea
	Reports       []Report
	BoardTitle    func(profile string) string
	// Dropped are designs whose weeks are taken out of the season, for a question "what if".
	Dropped []string
	Runs    int    // of the simulation; 0: Runs
	Seed    uint64 // 0: Seed
}

// Known is what is known of one design.
type Known struct {
	Title    string
	Design   *design.Design // nil: its manifest cannot be read
	Facts    *facts.Design  // nil: not measured
	Standing schedule.Facts
	Findings *Findings
	// Touched are the times of the commits that changed its folder, oldest first; nil: no history.
	Touched []time.Time
	// Meshes is when the last of its meshes was committed; zero: not known, or one is not committed as it lies
	// there.
	Meshes time.Time
	// Untried are its parts whose last print was not accepted, or that were never printed.
	Untried []string
	// Pending says that something in the folder is not committed as it lies there.
	Pending bool
}

// Build makes the view.
func Build(in Input, now time.Time) Season {
	b := builder{in: in, now: now.UTC(), days: newWorkdays(AwayOf(in.Calendar)), early: map[string]time.Time{}, public: map[string]time.Time{}}
	b.drops()
	s := Season{Series: in.Series, Title: in.Title, Zone: in.Calendar.Zone().Name(), Now: now.UTC(), Week: in.Calendar.Week(now), Plan: in.Plan,
		Weeks: []Week{}, Printers: []Printer{}, Ideas: []Idea{}, Reports: []Report{}}
	if in.House != nil {
		s.Currency = string(in.House.Currency.V)
	}
	s.Reports = append(s.Reports, in.Reports...)
	placed := map[string]bool{}
	for _, w := range in.Weeks {
		placed[w.Design] = true
		if slices.Contains(in.Dropped, w.Design) && w.Design != "" {
			continue
		}
		s.Weeks = append(s.Weeks, b.week(w))
	}
	for _, name := range sorted(in.Designs) {
		if !placed[name] {
			w := b.week(schedule.Week{Design: name, State: folderState(in.Designs[name].Standing)})
			w.Missing = append([]Missing{{"a week", "dropwright schedule move " + name + " WEEK"}}, w.Missing...)
			s.Waiting = append(s.Waiting, w)
		}
	}
	for _, x := range in.Ideas {
		_, begun := in.Designs[x.Name]
		s.Ideas = append(s.Ideas, Idea{x.Name, x.Title, x.Week, x.Asked, x.Note, begun})
	}
	b.reserve(&s)
	b.odds(&s)
	b.printing(&s)
	return s
}

type builder struct {
	in   Input
	now  time.Time
	days workdays
	// When designs first went out to anybody, and to the public; none of those that did not.
	early, public map[string]time.Time
}

// folderState is the standing of a design without a week, by its folder alone.
func folderState(f schedule.Facts) schedule.Standing {
	switch {
	case !f.Complete:
		return schedule.Started
	case f.Judged && f.Errors == 0:
		return schedule.Checked
	case f.Accepted:
		return schedule.Accepted
	}
	return schedule.MeshesIn
}

// finishedOf says whether a design is ready to go out.
func (b *builder) finishedOf(name, revision string) bool {
	if _, ok := b.in.Ledger.BundleOf(name, revision, calendar.Early); ok {
		return true
	}
	k, ok := b.in.Designs[name]
	return ok && k.Standing.Complete && k.Standing.Judged && k.Standing.Errors == 0
}

func (b *builder) week(w schedule.Week) Week {
	out := Week{Week: w.Week, Design: w.Design, Revision: w.Revision, Early: w.Early.UTC(), Public: w.Public.UTC(), State: w.State, Why: w.Why, Notes: w.Notes,
		Reached: []Reached{}, Missing: []Missing{}}
	if w.Week == 0 {
		out.Early, out.Public = time.Time{}, time.Time{}
	}
	if w.Design == "" {
		out.Missing = append(out.Missing, Missing{"a design", fmt.Sprintf("dropwright idea take NAME %d", w.Week)})
		return out
	}
	k, begun := b.in.Designs[w.Design]
	out.Title, out.Findings = k.Title, k.Findings
	for _, r := range b.in.Reports {
		if r.Design == w.Design {
			out.Reports++
		}
	}
	early, public := b.early[w.Design], b.public[w.Design]
	out.Out = !early.IsZero() || w.State == schedule.Withdrawn
	out.Finished = !out.Out && b.finishedOf(w.Design, w.Revision)
	out.Reached = b.reached(w, k, begun, early, public)
	out.Missing = append(out.Missing, missing(w, k, begun, out)...)
	return out
}

// drops looks up when designs first went out.
func (b *builder) drops() {
	first := func(m map[string]time.Time, name string, at time.Time) {
		if t, ok := m[name]; !ok || at.Before(t) {
			m[name] = at
		}
	}
	for _, d := range b.in.Ledger.Deliveries() {
		if d.Outcome != ledger.Done && d.Outcome != ledger.HandedOver {
			continue
		}
		first(b.early, d.Intent.Design, d.At)
		if d.Intent.Audience == calendar.Public {
			first(b.public, d.Intent.Design, d.At)
		}
	}
}

// reached lists the states that a design went through. A day is given where the history, the log of trials or
// the ledger has one; what is not committed as it lies there has none.
func (b *builder) reached(w schedule.Week, k Known, begun bool, early, public time.Time) []Reached {
	out := []Reached{{State: schedule.Idea}}
	add := func(state schedule.Standing, at time.Time, from string) {
		if at.IsZero() {
			from = ""
		}
		out = append(out, Reached{state, at.UTC(), from})
	}
	if !begun {
		return out
	}
	var first, last time.Time
	if n := len(k.Touched); n > 0 {
		first, last = k.Touched[0], k.Touched[n-1]
	}
	add(schedule.Started, first, "git")
	if k.Standing.Complete {
		add(schedule.MeshesIn, k.Meshes, "git")
	}
	if k.Standing.Accepted {
		add(schedule.Accepted, b.acceptedAt(k), "trials")
	}
	if k.Standing.Complete && k.Standing.Judged && k.Standing.Errors == 0 {
		if k.Pending {
			last = time.Time{}
		}
		add(schedule.Checked, last, "git")
	}
	for _, e := range b.in.Ledger.Entries {
		if e.Kind == ledger.Bundle && e.Design == w.Design {
			add(schedule.Bundled, e.At, "ledger")
			break
		}
	}
	if w.State == schedule.Handed {
		add(schedule.Handed, early, "ledger")
	} else if !early.IsZero() {
		add(schedule.EarlyOut, early, "ledger")
	}
	if !public.IsZero() {
		add(schedule.PublicOut, public, "ledger")
	}
	return out
}

// acceptedAt is when the last of a design's parts was accepted.
func (b *builder) acceptedAt(k Known) time.Time {
	var last time.Time
	if k.Facts == nil {
		return last
	}
	for _, p := range k.Facts.Parts {
		if m, ok := k.Facts.Mesh(p.Mesh); ok {
			if r, ok := trial.Accepted(b.in.Trials, m.SHA256); ok {
				last = later(last, r.At)
			}
		}
	}
	return last
}

// coming are the weeks whose early day lies ahead and which are not out, by that day; late are those with a
// design whose day has passed.
func (b *builder) coming(s *Season) (coming, late []*Week) {
	for i := range s.Weeks {
		w := &s.Weeks[i]
		switch {
		case w.Out:
		case !w.Early.Before(b.now):
			coming = append(coming, w)
		case w.Design != "":
			late = append(late, w)
		}
	}
	byDay := func(x, y *Week) int { return cmp.Or(x.Early.Compare(y.Early), cmp.Compare(x.Week, y.Week)) }
	slices.SortStableFunc(coming, byDay)
	slices.SortStableFunc(late, byDay)
	return coming, late
}

func (b *builder) reserve(s *Season) {
	coming, late := b.coming(s)
	r := &s.Reserve
	r.Finished, r.Free, r.Late, r.ThisWeek = []int{}, []int{}, []int{}, []int{}
	inRow := true
	for _, w := range coming {
		if w.Design == "" {
			r.Free = append(r.Free, w.Week)
		}
		switch {
		case w.Finished:
			r.Finished = append(r.Finished, w.Week)
			if inRow {
				r.Weeks++
			}
		case inRow:
			inRow = false
			r.Breaks, r.BreaksWeek = w.Early, w.Week
		}
	}
	for _, w := range late {
		r.Late = append(r.Late, w.Week)
	}
}

// durations is how long a design takes, and says what that rests on.
func (b *builder) durations(s *Season) Durations {
	var done []Work
	for name, k := range b.in.Designs {
		early := b.early[name]
		touched := k.Touched
		if !early.IsZero() { // what came after the drop are corrections
			touched = slices.DeleteFunc(slices.Clone(touched), func(t time.Time) bool { return t.After(early) })
		} else if !b.finishedOf(name, "") || k.Pending {
			continue
		}
		if n := len(touched); n > 0 {
			done = append(done, Work{name, touched[0], touched[n-1], touched[0].Equal(touched[n-1])})
		}
	}
	s.Odds.Taken = took(done, b.days)
	o := &s.Odds
	if own := sampleOf(o.Taken); len(own) >= Least {
		o.Basis, o.Finest = "history", 1
		o.Says = fmt.Sprintf("the days that %d finished designs took: %s to %s, half of them up to %s", len(own), number(own[0]), number(own[len(own)-1]), number(own.Median()))
		return own
	}
	d := b.in.Plan.Days
	o.Basis, o.Finest = "prior", 10
	o.Says = fmt.Sprintf("a guess: %s to %s days a design, most often %s; %d of at least %d finished designs tell how long they took", number(d[0]), number(d[2]), number(d[1]), len(o.Taken), Least)
	return Prior{d[0], d[1], d[2]}
}

// dueOf is when a week's design must be finished.
func (b *builder) dueOf(w *Week) time.Time { return w.Early.AddDate(0, 0, -b.in.Plan.Buffer) }

func (b *builder) odds(s *Season) {
	d := b.durations(s)
	o := &s.Odds
	o.Runs, o.Seed, o.Usual = cmp.Or(b.in.Runs, Runs), cmp.Or(b.in.Seed, uint64(Seed)), round2(d.Median())
	coming, late := b.coming(s)
	// Backwards from the last: a design is finished before its day, and before the next one has to be begun.
	var next time.Time
	for _, w := range slices.Backward(coming) {
		if w.Finished {
			continue
		}
		w.FinishBy = b.dueOf(w)
		if !next.IsZero() {
			w.FinishBy = earlier(w.FinishBy, next)
		}
		w.StartBy = b.days.add(w.FinishBy, -o.Usual)
		next = w.StartBy
	}
	var tasks []Task
	var weeks []*Week
	begun := b.inHand(slices.Concat(late, coming))
	for _, w := range slices.Concat(late, coming) {
		t := Task{ID: w.Week, Due: b.days.between(b.now, b.dueOf(w)), NoWork: w.Finished, Missed: w.Early.Before(b.now)}
		if begun != nil && w.Week == begun.Week {
			t.Begun = b.elapsed(w.Design, o.Taken)
		}
		if !w.Finished && !w.FinishBy.After(b.now.AddDate(0, 0, 7)) {
			s.Reserve.ThisWeek = append(s.Reserve.ThisWeek, w.Week)
		}
		tasks, weeks = append(tasks, t), append(weeks, w)
	}
	if len(coming) == 0 {
		return
	}
	c := Simulate(tasks, d, o.Runs, o.Seed)
	o.Runs = (o.Runs + block - 1) / block * block
	open := 0
	for i, w := range weeks {
		if !tasks[i].Missed {
			w.Chance = o.chance(c.Each[i], tasks[i].NoWork)
		}
		if !tasks[i].NoWork {
			open++
		}
	}
	o.All, o.StandardError = o.chance(c.All, open == 0), math.Ceil(c.StandardError*1e4)/1e4
	for n, p := range c.More {
		if p < 0.9 {
			continue
		}
		reserve, left := 0, n
		for _, w := range slices.Concat(late, coming) {
			if !w.Finished {
				if left == 0 {
					break
				}
				left--
			}
			if !w.Early.Before(b.now) {
				reserve++
			}
		}
		o.MoreFor90, o.ReserveFor90 = &n, &reserve
		break
	}
}

// chance rounds to what the basis bears. What is not certain is never said to be: with steps of 10 %, 0.9 stands for
// nine tenths or more and 0.1 for up to a tenth, so that between them it rounds towards the middle. Work that is still
// to be done is never certain, though it was met in every run.
func (o *Odds) chance(p float64, done bool) *float64 {
	step, x := float64(o.Finest)/100, p
	switch {
	case p <= 0:
		x = 0
	case done:
		x = 1
	case o.Finest == 1:
		x = min(max(math.Round(p/step), 1), 99) * step
	case p >= 0.5:
		x = min(math.Floor(p/step+rounding)*step, 1-step)
	default:
		x = math.Ceil(p/step-rounding) * step
	}
	x = math.Round(x*100) / 100
	return &x
}

// inHand is the design that is being worked on: of those begun and not finished, the one that is due first. The
// others wait: there is one pair of hands.
func (b *builder) inHand(list []*Week) *Week {
	for _, w := range list {
		if k, ok := b.in.Designs[w.Design]; ok && !w.Finished && len(k.Touched) > 0 {
			return w
		}
	}
	return nil
}

// elapsed is for how many working days the design in hand has been worked on: since its first commit, or since
// the last of the finished ones was done.
func (b *builder) elapsed(name string, done []Took) float64 {
	from := b.in.Designs[name].Touched[0]
	for _, t := range done {
		if !t.To.After(b.now) {
			from = later(from, t.To)
		}
	}
	return math.Max(0, b.days.between(from, b.now))
}

func sorted(m map[string]Known) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
