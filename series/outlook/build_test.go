package outlook

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/trial"
	"dropwright/series/config"
	"dropwright/series/ledger"
	"dropwright/series/schedule"
	"dropwright/series/stock"
)

const seriesText = `series: s
title: S
maker: {name: M}
currency: EUR
calendar:
  first: 2027-01-08
  weeks: 6
  at: "17:00"
  zone: Europe/Lisbon
  public_after: 3 weeks
  leave: [{from: 2027-01-18, to: 2027-01-20}]
  designs: {1: one, 2: two, 3: three, 5: five, 6: six}
printers:
  - {name: bench, bed: [220, 220, 250], hours_per_week: 70}
filaments:
  - {name: clay, material: PETG, colour: "#8a5a44", price_per_kg: 24.00, spool: 750 g}
print: {layer: 0.2, line: 0.45, walls: 3, solid: {top: 5, bottom: 4}, infill: 15 %}
channels:
  - {name: club, audience: early, to: "file:a"}
  - {name: shelf, audience: public, to: "file:b"}
`

// world is a small season at a moment: `one` is out, `two` and `five` are clean, `three` has an error, `six` has no
// folder, week 4 is free.
func world(t *testing.T, now string) (Input, time.Time) {
	t.Helper()
	c, _, found := config.Decode("series.yaml", []byte(seriesText))
	if len(found) > 0 {
		t.Fatal(found)
	}
	cal, found := schedule.CalendarOf(c)
	if cal == nil {
		t.Fatal(found)
	}
	clean := schedule.Facts{Complete: true, Judged: true}
	log := &ledger.Log{}
	for i, r := range []ledger.Record{
		{Kind: ledger.Bundle, At: at("2027-01-08 16:30"), Design: "one", Revision: "1.0.0", Audience: "early"},
		{Kind: ledger.Intent, At: at("2027-01-08 17:00"), Due: at("2027-01-08 17:00"), Design: "one", Revision: "1.0.0", Audience: "early", Channel: "club"},
		{Kind: ledger.Result, At: at("2027-01-08 17:01"), Of: 2, Outcome: ledger.Done, Design: "one", Revision: "1.0.0", Audience: "early", Channel: "club"},
	} {
		log.Entries = append(log.Entries, ledger.Entry{Seq: i + 1, Record: r})
	}
	known := map[string]Known{
		"one":   {Design: &design.Design{}, Touched: []time.Time{at("2026-12-20 09:00"), at("2026-12-28 09:00"), at("2027-01-10 09:00")}},
		"two":   {Design: &design.Design{}, Standing: clean, Touched: []time.Time{at("2026-12-26 09:00"), at("2027-01-02 09:00")}, Untried: []string{"case", "case", "lid"}},
		"three": {Design: &design.Design{}, Standing: schedule.Facts{Complete: true, Judged: true, Errors: 1}, Touched: []time.Time{at("2027-01-05 09:00")}},
		"five":  {Design: &design.Design{}, Standing: clean, Touched: []time.Time{at("2027-01-03 09:00"), at("2027-01-03 09:00")}},
		"stray": {Design: &design.Design{}, Standing: schedule.Facts{}},
	}
	when := at(now)
	in := Input{Series: "s", Title: "S", House: &c.House, Calendar: cal, Ledger: log, Designs: known,
		Plan: Plan{Trials: 2, Builds: 1, Buffer: 1, Delivery: 5, Days: [3]float64{3, 5, 12}}, BoardTitle: func(string) string { return "" }}
	in.Weeks = schedule.Weeks(schedule.Input{Calendar: cal, Ledger: log, Channels: []schedule.Channel{{Name: "club", Audience: "early"}, {Name: "shelf", Audience: "public"}},
		Has:     func(n string) bool { _, ok := known[n]; return ok },
		Present: func(string) string { return "1.0.0" }}, func(n string) schedule.Facts { return known[n].Standing }, when)
	return in, when
}

func TestReserve(t *testing.T) {
	in, now := world(t, "2027-01-11 09:00")
	s := Build(in, now)
	r := s.Reserve
	if r.Weeks != 1 || !slices.Equal(r.Finished, []int{2, 5}) || !slices.Equal(r.Free, []int{4}) || r.BreaksWeek != 3 || !r.Breaks.Equal(at("2027-01-22 17:00")) || len(r.Late) != 0 {
		t.Errorf("%+v", r)
	}
	if s.Week != 1 || len(s.Weeks) != 6 || !s.Weeks[0].Out || s.Weeks[0].State != schedule.EarlyOut {
		t.Errorf("week %d, %+v", s.Week, s.Weeks[0])
	}
	if len(s.Waiting) != 1 || s.Waiting[0].Design != "stray" || s.Waiting[0].Missing[0].What != "a week" {
		t.Errorf("%+v", s.Waiting)
	}
	// A week later `two` was not sent: late, though it is finished.
	in, now = world(t, "2027-01-16 09:00")
	if r := Build(in, now).Reserve; !slices.Equal(r.Late, []int{2}) || r.Weeks != 0 || r.BreaksWeek != 3 || !slices.Equal(r.ThisWeek, []int{3}) {
		t.Errorf("%+v", r)
	}
	// Everything finished: it never breaks.
	for name, k := range in.Designs {
		k.Standing = schedule.Facts{Complete: true, Judged: true}
		in.Designs[name] = k
	}
	in.Designs["six"] = in.Designs["five"]
	in.Dropped = []string{}
	in.Weeks = slices.DeleteFunc(in.Weeks, func(w schedule.Week) bool { return w.Design == "" })
	if r := Build(in, now).Reserve; r.Weeks != 3 || !r.Breaks.IsZero() {
		t.Errorf("%+v", r)
	}
}

func TestReached(t *testing.T) {
	in, now := world(t, "2027-01-11 09:00")
	in.Designs["two"] = func(k Known) Known {
		k.Meshes, k.Standing.Accepted = at("2026-12-30 10:00"), true
		k.Facts = &facts.Design{Measured: facts.Measured{Meshes: []facts.Mesh{{File: "a.stl", SHA256: "aa"}, {File: "b.stl", SHA256: "bb"}}, Parts: []facts.Part{{Part: "case", Mesh: "a.stl"}, {Part: "lid", Mesh: "b.stl"}}}}
		return k
	}(in.Designs["two"])
	in.Trials = []trial.Record{{At: at("2026-12-31 10:00"), Mesh: "aa", Outcome: trial.OK}, {At: at("2027-01-01 10:00"), Mesh: "bb", Outcome: trial.OK}, {At: at("2027-01-03 10:00"), Mesh: "cc", Outcome: trial.OK}}
	s := Build(in, now)
	say := func(list []Reached) (out []string) {
		for _, r := range list {
			text := string(r.State)
			if !r.At.IsZero() {
				text += " " + r.At.Format("01-02 15:04") + " " + r.From
			}
			out = append(out, text)
		}
		return out
	}
	for i, want := range [][]string{
		{"idea", "started 12-20 09:00 git", "bundled 01-08 16:30 ledger", "early-out 01-08 17:01 ledger"},
		{"idea", "started 12-26 09:00 git", "meshes-in 12-30 10:00 git", "trials-accepted 01-01 10:00 trials", "checked 01-02 09:00 git"},
		{"idea", "started 01-05 09:00 git", "meshes-in"},
		nil,
	} {
		if got := say(s.Weeks[i].Reached); !slices.Equal(got, want) {
			t.Errorf("week %d: %v, want %v", i+1, got, want)
		}
	}
	// What is not committed as it lies there was not clean on that day.
	k := in.Designs["two"]
	k.Pending = true
	in.Designs["two"] = k
	if got := say(Build(in, now).Weeks[1].Reached); got[len(got)-1] != "checked" {
		t.Errorf("%v", got)
	}
}

func TestMissing(t *testing.T) {
	in, now := world(t, "2027-01-11 09:00")
	in.Reports = []Report{{Design: "three", ID: "r1", Text: "x"}}
	in.Designs["five"] = Known{Standing: schedule.Facts{}}
	s := Build(in, now)
	say := func(list []Missing) (out []string) {
		for _, m := range list {
			out = append(out, m.What)
		}
		return out
	}
	for i, want := range [][]string{
		{"the public drop"},
		{"accepted trials of case and lid", "the early drop"},
		{"1 error to mend", "accepted trials", "the early drop", "1 answer to open reports"},
		{"a design"},
		{"a manifest that can be read"},
		{"a folder"},
	} {
		if got := say(s.Weeks[i].Missing); !slices.Equal(got, want) {
			t.Errorf("week %d: %v, want %v", i+1, got, want)
		}
		for _, m := range s.Weeks[i].Missing {
			if m.Command == "" {
				t.Errorf("%v without a command", m)
			}
		}
	}
}

// The latest days, backwards from the last week: a design takes the prior's median of 6.39 days (12 less the root of
// 0.5*9*7). Buffer one day.
func TestLatestDays(t *testing.T) {
	in, now := world(t, "2027-01-11 09:00")
	s := Build(in, now)
	const median = 6.39
	six := at("2027-02-11 17:00")      // 12 February less a day
	sixStart := six.Add(-days(median)) // 5 February
	four := at("2027-01-28 17:00")     // week 5 is finished; week 4 on 29 January
	fourStart := four.Add(-days(median))
	three := at("2027-01-21 17:00")
	for _, w := range []struct {
		week          int
		finish, start time.Time
	}{{6, six, sixStart}, {4, four, fourStart}, {3, three, time.Time{}}} {
		got := s.Weeks[w.week-1]
		if got.FinishBy.Sub(w.finish).Abs() > time.Minute || !w.start.IsZero() && got.StartBy.Sub(w.start).Abs() > 10*time.Minute {
			t.Errorf("week %d: finish by %v start by %v, by hand %v %v", w.week, got.FinishBy, got.StartBy, w.finish, w.start)
		}
	}
	// Week 3 is due on 21 January 17:00; 6.39 days before that, with three of leave, is 12 January.
	if got := s.Weeks[2].StartBy; got.Format("01-02") != "01-12" {
		t.Errorf("%v", got)
	}
	if len(s.Reserve.ThisWeek) != 0 {
		t.Errorf("%v", s.Reserve.ThisWeek)
	}
}

// With fewer than five finished designs the prior is said, and no chance is finer than 10 %; from five on their own
// days are used.
func TestBasis(t *testing.T) {
	in, now := world(t, "2027-01-11 09:00")
	s := Build(in, now)
	if o := s.Odds; o.Basis != "prior" || o.Finest != 10 || len(o.Taken) != 2 || o.Says == "" {
		t.Errorf("%+v", o)
	}
	// one: 20 to 28 December, what came after the drop is a correction; two: from the 28th, when one was done, to the
	// 2nd; five came in one commit and tells nothing.
	if got := s.Odds.Taken; got[0].Design != "one" || got[0].Days != 8 || got[1].Design != "two" || got[1].Days != 5 {
		t.Errorf("%+v", got)
	}
	for _, w := range s.Weeks {
		if w.Chance != nil {
			if tenth := *w.Chance * 10; math.Abs(tenth-math.Round(tenth)) > 1e-9 {
				t.Errorf("week %d: %v", w.Week, *w.Chance)
			}
		}
	}
	for i := range 5 {
		in.Designs[fmt.Sprint("old-", i)] = Known{Design: &design.Design{}, Standing: schedule.Facts{Complete: true, Judged: true},
			Touched: []time.Time{at("2026-10-01 09:00").AddDate(0, 0, 10*i), at("2026-10-01 09:00").AddDate(0, 0, 10*i+4+i)}}
	}
	s = Build(in, now)
	if o := s.Odds; o.Basis != "history" || o.Finest != 1 || len(o.Taken) != 7 || o.Usual != 6 {
		t.Errorf("%+v", o)
	}
	again := Build(in, now)
	if !reflect.DeepEqual(s, again) {
		t.Error("it differs from one time to the next")
	}
}

func days(x float64) time.Duration { return time.Duration(x * float64(day)) }

// Dropping a design takes its week out; nothing else changes.
func TestDropped(t *testing.T) {
	in, now := world(t, "2027-01-11 09:00")
	s := Build(in, now)
	in.Dropped = []string{"three"}
	then := Build(in, now)
	if len(then.Weeks) != 5 || then.Reserve.BreaksWeek != 4 || *then.Odds.All < *s.Odds.All {
		t.Errorf("%+v", then.Reserve)
	}
}

func TestChanceIsNeverCertain(t *testing.T) {
	for _, c := range []struct {
		finest  int
		p, want float64
	}{{10, 0, 0}, {10, 1, 0.9}, {1, 1, 0.99}, {10, 0.004, 0.1}, {10, 0.9999, 0.9}, {10, 0.44, 0.5}, {10, 0.88, 0.8}, {10, 0.9, 0.9}, {10, 0.1, 0.1}, {10, 0.12, 0.2}, {10, 0.5, 0.5}, {1, 0.9999, 0.99}, {1, 0.446, 0.45}, {1, 0.0001, 0.01}} {
		o := Odds{Finest: c.finest}
		if got := *o.chance(c.p, false); got != c.want {
			t.Errorf("%v at %d %%: %v, want %v", c.p, c.finest, got, c.want)
		}
		if o := (Odds{Finest: c.finest}); *o.chance(1, true) != 1 {
			t.Error("what is finished is certain")
		}
	}
}

// Needs by hand: two parts of 100 g (up to 110), one of them accepted, on a shelf with spools of 150 and 105 g.
func TestNeedsByHand(t *testing.T) {
	in, now := world(t, "2027-01-11 09:00")
	est := &facts.Estimate{Grams: 100, GramsLow: 90, GramsHigh: 110, Seconds: 3600}
	d := &design.Design{Folder: "three"}
	part := func(name string) design.Part {
		var p design.Part
		p.Name.V, p.Colour.V = design.Name(name), "body"
		return p
	}
	d.Parts = []design.Part{part("case"), part("lid")}
	d.Colours.Entries = append(d.Colours.Entries, design.DictEntry[design.OneOrMore[design.Name]]{Key: "body", Value: design.OneOrMore[design.Name]{Items: []design.Val[design.Name]{{V: "clay"}}}})
	k := in.Designs["three"]
	k.Design = d
	k.Facts = &facts.Design{Measured: facts.Measured{
		Printers: []facts.Printer{{Name: "bench", Start: 600, ChangeOver: 1200}},
		Meshes:   []facts.Mesh{{File: "c.stl", SHA256: "cc"}, {File: "l.stl", SHA256: "ll"}},
		Parts:    []facts.Part{{Part: "case", Variant: "plain", Mesh: "c.stl", FitsOn: []string{"bench"}, Estimate: est}, {Part: "lid", Variant: "plain", Mesh: "l.stl", FitsOn: []string{"bench"}, Estimate: est}},
	}}
	in.Designs["three"] = k
	in.Trials = []trial.Record{{Mesh: "cc", Outcome: trial.OK}, {Mesh: "ll", Outcome: trial.Failed}}
	in.Shelf = &stock.Shelf{Lines: []stock.Line{{Kind: stock.Spool, Item: "clay", Label: "a", Amount: 150, Pack: 750}, {Kind: stock.Spool, Item: "clay", Label: "b", Amount: 105, Pack: 750}}}
	for _, name := range []string{"two", "five"} { // their prints are not known
		in.Designs[name] = Known{Standing: in.Designs[name].Standing}
	}
	s := Build(in, now)
	// The case is accepted; the lid failed once of two: one trial is left. One build of both: 3 prints, 300 g.
	var n Need
	for _, x := range s.Stock.Needs {
		if x.Item == "clay" {
			n = x
		}
	}
	if n.Need != 300 || n.Have != 255 || n.Short != 45 || n.ByWeek != 3 || len(n.PerWeek) != 1 || n.PerWeek[0].Trials != 100 || n.PerWeek[0].Builds != 200 {
		t.Errorf("%+v", n)
	}
	// 45 g short: one spool of 750 g at 24 a kilogram, five days before work on week 3 must begin.
	if len(s.Stock.Orders) != 1 {
		t.Fatalf("%+v", s.Stock.Orders)
	}
	if o := s.Stock.Orders[0]; o.Packs != 1 || o.Of != 750 || *o.Cost != 18 || !o.By.Equal(s.Weeks[2].StartBy.AddDate(0, 0, -5)) {
		t.Errorf("%+v", o)
	}
	if len(s.Stock.NoSpool) != 0 { // 110 g fit on the spool of 150
		t.Errorf("%+v", s.Stock.NoSpool)
	}
	// Each print takes an hour, ten minutes to start and twenty to change over: 3 * 1.5 h, at 10 h a day.
	if s.Weeks[2].Hours != 4.5 || len(s.Queue.Jobs) != 3 || s.Queue.Verdict != Kept {
		t.Errorf("%v %+v", s.Weeks[2].Hours, s.Queue)
	}
	if last := s.Queue.Jobs[2].Ends; last.Sub(now.Add(4500*time.Hour/1000/10*24)).Abs() > time.Minute {
		t.Errorf("ends %v", last)
	}
	// A booked build needs no second one.
	in.Shelf.Lines = append(in.Shelf.Lines, stock.Line{Kind: stock.Build, Item: "three", Label: "plain", Amount: 1})
	if s := Build(in, now); s.Weeks[2].Hours != 1.5 || len(s.Stock.Orders) != 0 {
		t.Errorf("%v %+v", s.Weeks[2].Hours, s.Stock.Orders)
	}
	// A spool that holds no print though there is enough in all.
	in.Shelf.Lines = []stock.Line{{Kind: stock.Spool, Item: "clay", Label: "a", Amount: 105}, {Kind: stock.Spool, Item: "clay", Label: "b", Amount: 105}, {Kind: stock.Spool, Item: "clay", Label: "c", Amount: 105}}
	s = Build(in, now)
	if len(s.Stock.NoSpool) != 2 || s.Stock.NoSpool[0].Fullest != 105 || len(s.Stock.Orders) != 1 || s.Stock.Orders[0].Packs != 1 || s.Stock.Orders[0].Short != 0 {
		t.Errorf("%+v %+v", s.Stock.NoSpool, s.Stock.Orders)
	}
}

func BenchmarkBuild(b *testing.B) {
	in, now := world(&testing.T{}, "2027-01-11 09:00")
	for b.Loop() {
		Build(in, now)
	}
}
