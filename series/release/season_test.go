package release

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"dropwright/series/calendar"
	"dropwright/series/disk/crash"
	"dropwright/series/ledger"
	"dropwright/series/schedule"
)

// revise, replan and withdraw are steps of a season; each may be carried out again after a stop.
func revise(design, revision, text string) step {
	return func(w *world) error {
		w.sources[design] = source{revision, text}
		return w.run()
	}
}

func replan(designs map[int]string) step {
	return func(w *world) error {
		w.settings.Designs = designs
		return w.run()
	}
}

func withdraw(design, revision, because string) step {
	return func(w *world) error {
		return w.with(func(r *Runner) error {
			if err := r.Withdraw(design, revision, because); err != nil {
				return err
			}
			rep, err := r.Run(context.Background(), func(a schedule.Action) bool { return a.Kind == schedule.Mark })
			return errors.Join(err, rep.Err())
		})
	}
}

// twelveWeeks begins on 5 March 2027, so that the clock change of 28 March lies in it, and is run every day
// at noon and at six.
func twelveWeeks() (fresh func() *world, story []step) {
	designs := map[int]string{}
	for week := 1; week <= 12; week++ {
		designs[week] = fmt.Sprintf("design-%02d", week)
	}
	fresh = func() *world {
		w := newWorld()
		w.settings.First, w.settings.Weeks, w.settings.Designs = date("2027-03-05"), 13, designs
		w.settings.PublicAfter = 21
		w.sources = map[string]source{}
		for _, d := range designs {
			w.sources[d] = source{"1.0.0", "the first " + d}
		}
		return w
	}
	slip := map[int]string{}
	for week, d := range designs { // design-05 is not ready: it and those behind it move on
		if week >= 5 {
			slip[week+1] = d
		} else {
			slip[week] = d
		}
	}
	swap := map[int]string{}
	for week, d := range slip {
		swap[week] = d
	}
	swap[9], swap[10] = swap[10], swap[9]
	for day := range 130 {
		t := date("2027-03-05").AddDays(day)
		story = append(story, at(t.String()+" 12:00"))
		switch t.String() {
		case "2027-03-23":
			story = append(story, revise("design-02", "1.0.1", "a correction before its public day"))
		case "2027-03-30":
			story = append(story, replan(slip))
		case "2027-04-20":
			story = append(story, revise("design-01", "1.0.1", "a correction after its public day"))
		case "2027-04-27":
			story = append(story, withdraw("design-03", "1.0.0", "it cracks"), replan(swap))
		case "2027-05-03":
			story = append(story, revise("design-03", "1.1.0", "it does not crack"))
		}
		story = append(story, at(t.String()+" 18:00"))
	}
	return fresh, story
}

// A season of twelve weeks over a clock change, with two corrections, a slip, a swap and a withdrawn
// revision, gives the same places and the same ledger as one that is killed at fifty random points.
func TestTwelveWeeksKilledFiftyTimes(t *testing.T) {
	fresh, story := twelveWeeks()
	want := undisturbed(t, fresh, story)
	want.audit(t)
	want.inTime(t)
	shelf := below(want.tree(), "/place/shelf")
	if got := len(shelf); got != 3+3*14 { // marker, page, index; 12 first drops and the corrections of 01 and 03
		t.Fatalf("%d files are public", got)
	}
	if strings.Contains(want.file("/place/shelf/release.json"), `"design-02","revision": "1.0.0"`) {
		t.Fatal("the public got the revision that was corrected before its day")
	}
	if !strings.HasPrefix(strings.SplitN(want.file("/place/club/RELEASES.txt"), "\n\n", 2)[1], "WITHDRAWN: design-03 1.0.0. it cracks") {
		t.Fatalf("the page does not say first what was withdrawn:\n%s", want.file("/place/club/RELEASES.txt"))
	}
	n := want.fs.Ops()
	kills := 0
	random := rand.New(rand.NewPCG(12, 50))
	w := fresh()
	w.fs.StopAt(1 + random.IntN(n/50))
	err := play(w, story, func(w *world) {
		kills++
		w.restart(crash.KeepAll, 0)
		if kills < 50 {
			w.fs.StopAt(1 + random.IntN(n/50))
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if kills != 50 {
		t.Fatalf("killed %d times", kills)
	}
	if d := differ(w.tree(), want.tree()); d != "" {
		t.Fatal(d)
	}
	w.audit(t)
	w.quiet(t)
	t.Logf("%d steps, %d operations, killed %d times", len(story), n, kills)
}

func TestRelease11Embargo(t *testing.T) { eachPlace(t, embargo) }

func embargo(t *testing.T, fresh func() *world) {
	if f := flag.Lookup("rapid.checks"); fresh().stores != nil && !*long { // requests take longer than files
		before := f.Value.String()
		if err := f.Value.Set("25"); err != nil {
			t.Fatal(err)
		}
		defer f.Value.Set(before)
	}
	moves, leaksPossible, public := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		w := fresh()
		w.settings.Weeks = 8
		designs := []string{"zq-alpha", "zq-beta", "zq-gamma"}
		w.settings.Designs = map[int]string{1: designs[0], 2: designs[1], 3: designs[2]}
		w.sources = map[string]source{}
		for _, d := range designs {
			w.sources[d] = source{"1.0.0", "CANARY-" + d}
		}
		open := map[string]bool{} // designs whose public instant the clock has reached
		clock := instant("2027-03-10 00:00")
		watch := func() {
			cal, problems := calendar.New(w.settings)
			if len(problems) > 0 {
				t.Fatal(problems)
			}
			for _, d := range designs {
				if slot, ok := cal.SlotOf(d); ok {
					if drop, _ := slot.Drop(calendar.Public); !clock.Before(drop.UTC) {
						open[d] = true
					}
				}
			}
		}
		look := func() {
			if leak := leak(w, designs, open); leak != "" {
				t.Fatal(leak)
			}
			for _, d := range designs {
				if !open[d] {
					leaksPossible++
				}
			}
		}
		release := func(*rapid.T) {
			watch()
			w.clock = clock
			err := w.run()
			for errors.Is(err, crash.ErrDown) {
				look()
				w.restart(crash.KeepAll, 0)
				err = w.run()
			}
			for _, say := range append(w.said, fmt.Sprint(err)) {
				if strings.Contains(say, "CANARY") {
					t.Fatalf("a message shows a content: %s", say)
				}
			}
			w.said = nil
			public += len(below(w.all(), "/place/shelf"))
		}
		t.Repeat(map[string]func(*rapid.T){
			"release": release,
			"later": func(t *rapid.T) {
				clock = clock.Add(time.Duration(rapid.IntRange(1, 9*24*60).Draw(t, "minutes")) * time.Minute)
			},
			"later, and release": func(t *rapid.T) {
				clock = clock.Add(time.Duration(rapid.IntRange(1, 20*24*60).Draw(t, "minutes")) * time.Minute)
				release(t)
			},
			"earlier": func(t *rapid.T) {
				clock = clock.Add(-time.Duration(rapid.IntRange(1, 40*24*60).Draw(t, "minutes")) * time.Minute)
			},
			"swap": func(t *rapid.T) {
				next := map[int]string{}
				order := rapid.Permutation(designs).Draw(t, "order")
				weeks := rapid.Permutation([]int{1, 2, 3, 4, 5}).Draw(t, "weeks")
				for i, d := range order {
					next[weeks[i]] = d
				}
				w.settings.Designs = next
			},
			"cancel": func(t *rapid.T) {
				next := map[int]string{}
				gone := rapid.SampledFrom(designs).Draw(t, "design")
				for week, d := range w.settings.Designs {
					if d != gone {
						next[week] = d
					}
				}
				w.settings.Designs = next
			},
			"lengthen": func(t *rapid.T) { w.settings.PublicAfter = rapid.IntRange(0, 30).Draw(t, "days") },
			"correct": func(t *rapid.T) {
				d := rapid.SampledFrom(designs).Draw(t, "design")
				r := w.sources[d].revision
				w.sources[d] = source{r[:4] + fmt.Sprint(int(r[4]-'0'+1)%10), "CANARY-" + d + " again"}
			},
			"withdraw": func(t *rapid.T) {
				d := rapid.SampledFrom(designs).Draw(t, "design")
				_ = withdraw(d, "1.0.0", "a reason")(w) // refused when it never went out
			},
			"crash and release": func(t *rapid.T) {
				w.fs.StopAt(w.fs.Ops() + rapid.IntRange(1, 120).Draw(t, "operations"))
				if w.stores != nil {
					w.stores.stopAt(rapid.IntRange(1, 60).Draw(t, "requests"), rapid.Bool().Draw(t, "late"))
				}
				release(t)
				w.fs.Fault = nil
				w.boot()
			},
			"": func(*rapid.T) { moves++; look() },
		})
		// In the end everything may be seen, so that every case shows the watch something.
		clock = instant("2028-01-01 00:00")
		w.settings.Designs = map[int]string{1: designs[0], 2: designs[1], 3: designs[2]}
		release(t)
		look()
	})
	if public == 0 {
		t.Error("nothing ever went public: the test shows nothing")
	}
	t.Logf("%d moves; %d times a design was under embargo and looked for; %d files seen in public", moves, leaksPossible, public)
	// The watch must be able to see a leak.
	w := undisturbed(t, fresh, short)
	if leak(w, []string{"hook"}, nil) == "" {
		t.Error("a planted leak is not seen")
	}
}

// leak names a file that the public can see, half-written ones included, which shows a design that is not open.
func leak(w *world, designs []string, open map[string]bool) string {
	for name, data := range below(w.all(), "/place/shelf") {
		for _, d := range designs {
			if !open[d] && (strings.Contains(data, d) || strings.Contains(name, d)) {
				return fmt.Sprintf("%s shows %s before its day: %s", name, d, data)
			}
		}
	}
	return ""
}

// Old revisions stay where they are, word for word, whatever comes later.
func TestOldRevisionsStay(t *testing.T) {
	w := undisturbed(t, newWorld, short)
	before := below(w.tree(), "/place/shelf/hook/1.0.0")
	if len(before) != 3 {
		t.Fatal(before)
	}
	if err := revise("hook", "2.0.0", "another hook")(w); err != nil {
		t.Fatal(err)
	}
	if d := differ(below(w.tree(), "/place/shelf/hook/1.0.0"), before); d != "" {
		t.Fatal(d)
	}
	if got := below(w.tree(), "/place/shelf/hook/2.0.0"); len(got) != 3 {
		t.Fatalf("the correction: %v", got)
	}
}

func TestWordOfTheMaker(t *testing.T) {
	w := newWorld()
	w.faults["hook"] = []Fault{{"count-short", "one screw is missing"}}
	var faulty *Faulty
	if err := w.run(); !errors.As(err, &faulty) || len(below(w.tree(), "/place")) > 0 {
		t.Fatalf("with an error: %v", err)
	}
	w.despite = []Word{{"count-short", "everybody has one"}}
	if err := w.run(); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(w.file(ledgerPath), "everybody has one") {
		t.Fatal("the ledger does not keep the word")
	}
	var refusal *Refusal
	for _, code := range []string{"revision-same", "photo-located", "file-private", "mains-present", "lithium-present", "file-missing", "file-pointer"} {
		w := newWorld()
		w.faults["hook"] = []Fault{{code, "x"}}
		w.despite = []Word{{code, "never mind"}}
		if err := w.run(); !errors.As(err, &refusal) || len(below(w.tree(), "/place")) > 0 {
			t.Errorf("%s passed: %v", code, err)
		}
	}
}

func TestUncommittedFiles(t *testing.T) {
	w := newWorld()
	w.unclean = []string{"designs/hook/design.yaml"}
	var u *Uncommitted
	if err := w.run(); !errors.As(err, &u) || !slices.Equal(u.Files, []string{"designs/hook/design.yaml: it is not committed"}) {
		t.Fatalf("got %v", err)
	}
	if len(w.kept)+len(below(w.tree(), "/place")) > 0 {
		t.Fatal("something was kept or went out")
	}
	err := w.with(func(r *Runner) error {
		r.Commit = true
		rep, err := r.Run(context.Background(), every)
		return errors.Join(err, rep.Err())
	})
	if err != nil || len(w.kept) != 1 {
		t.Fatalf("with --commit: %v, kept %v", err, w.kept)
	}
}

func TestWithdrawAndConfirmRefusals(t *testing.T) {
	w := newWorld()
	var refusal *Refusal
	if err := withdraw("hook", "1.0.0", "x")(w); !errors.As(err, &refusal) {
		t.Errorf("withdrawing what never went out: %v", err)
	}
	err := w.with(func(r *Runner) error {
		_, err := r.Confirm("hook", "early", "", w.clock, "")
		return err
	})
	if !errors.As(err, &refusal) {
		t.Errorf("confirming what was never laid out: %v", err)
	}
}

// One design that fails does not hold up another week's.
func TestOneFailureHoldsUpNobodyElse(t *testing.T) {
	w := newWorld()
	w.settings.Designs = map[int]string{1: "hook", 2: "stake"}
	w.faults["hook"] = []Fault{{"count-short", "x"}}
	err := at("2027-03-19 17:00")(w)
	var faulty *Faulty
	if !errors.As(err, &faulty) {
		t.Fatal(err)
	}
	if got := below(w.tree(), "/place/club/stake"); len(got) != 3 {
		t.Fatalf("stake: %v", got)
	}
	if got := below(w.tree(), "/place/club/hook"); len(got) != 0 {
		t.Fatalf("hook: %v", got)
	}
}

// BenchmarkNothingDue plans a season of 104 designs, all of them out, with a ledger of their drops.
func BenchmarkNothingDue(b *testing.B) {
	s := calendar.Settings{First: date("2027-01-08"), Weeks: 104, At: calendar.Clock{Hour: 17}, Zone: lisbon, PublicAfter: 21, Designs: map[int]string{}}
	l := &ledger.Log{}
	for week := 1; week <= 104; week++ {
		name := fmt.Sprintf("design-%03d", week)
		s.Designs[week] = name
		for _, c := range []string{"early", "public"} {
			i := ledger.Record{Kind: ledger.Intent, Design: name, Revision: "1.0.0", Audience: c, Channel: c, Due: instant(earlyDay)}
			l.Entries = append(l.Entries, ledger.Entry{Seq: len(l.Entries) + 1, Record: i})
			o := ledger.Record{Kind: ledger.Result, Of: len(l.Entries), Outcome: ledger.Done, Design: name, Revision: "1.0.0", Audience: c, Channel: c}
			l.Entries = append(l.Entries, ledger.Entry{Seq: len(l.Entries) + 1, Record: o})
		}
	}
	cal, _ := calendar.New(s)
	in := schedule.Input{Calendar: cal, Ledger: l, Channels: []schedule.Channel{{Name: "early", Audience: "early"}, {Name: "public", Audience: "public"}},
		Has: func(string) bool { return true }, Present: func(string) string { return "1.0.0" }}
	now := instant("2030-01-01 00:00")
	for b.Loop() {
		for _, a := range schedule.Plan(in, now) {
			if a.State != schedule.Done {
				b.Fatal(a)
			}
		}
	}
}
