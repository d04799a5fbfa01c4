package release

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"dropwright/series/disk"
	"dropwright/series/disk/crash"
	"dropwright/series/ledger"
	"dropwright/series/target"
	"dropwright/series/target/mem"
)

func TestRelease08ClockJumps(t *testing.T) {
	jumps := 0
	// Nothing goes out before its instant, whatever the clock does afterwards.
	for _, early := range []string{"1970-01-01 00:00", "2027-03-12 16:59", "2026-03-12 17:00"} {
		w := newWorld()
		if err := at(early)(w); err != nil {
			t.Fatal(err)
		}
		if got := below(w.tree(), "/place"); len(got) > 0 {
			t.Fatalf("at %s: %v", early, slices.Collect(maps.Keys(got)))
		}
		jumps++
	}
	// A jump in the middle of a run, at every reading of the clock: back an hour stops it, forward three days
	// does no harm, and in both cases the next run completes it.
	for _, jump := range []time.Duration{-time.Hour, 3 * 24 * time.Hour, -20 * 365 * 24 * time.Hour} {
		for k := 1; k < 12; k++ {
			w := newWorld()
			calls := 0
			w.tick = func() time.Time {
				if calls++; calls > k {
					return w.clock.Add(jump)
				}
				return w.clock
			}
			err := w.run()
			var refusal *Refusal
			if err != nil && !errors.As(err, &refusal) {
				t.Fatalf("jump of %s at reading %d: %v", jump, k, err)
			}
			if len(below(w.tree(), "/place/shelf")) > 0 {
				t.Fatalf("jump of %s at reading %d: something is public", jump, k)
			}
			w.tick = nil
			if err := play(w, short, nil); err != nil {
				t.Fatal(err)
			}
			w.audit(t)
			w.inTime(t)
			jumps++
		}
	}
	// A clock that goes back after the public day un-publishes nothing, sends nothing again, and is told.
	w := undisturbed(t, newWorld, short)
	before := below(w.tree(), "/place")
	for _, back := range []string{"2027-03-26 16:00", "2027-03-01 00:00", "1970-01-01 00:00"} {
		w.said = nil
		if err := at(back)(w); err != nil {
			t.Fatal(err)
		}
		if d := differ(below(w.tree(), "/place"), before); d != "" {
			t.Fatalf("back to %s: %s", back, d)
		}
		if !strings.Contains(strings.Join(w.said, "\n"), "one of the two clocks is wrong") {
			t.Fatalf("back to %s: nobody said so", back)
		}
		jumps++
	}
	// Over the clock change of 28 March 2027 the wall clock rules: 17:00 in Lisbon is 16:00 UTC then.
	w = newWorld()
	w.settings.Designs = map[int]string{4: "hook"}
	for _, c := range []struct {
		clock string
		out   bool
	}{{"2027-04-02 15:59", false}, {"2027-04-02 16:00", true}} {
		if err := at(c.clock)(w); err != nil {
			t.Fatal(err)
		}
		if got := len(below(w.tree(), "/place/club")) > 0; got != c.out {
			t.Fatalf("at %s: out %v", c.clock, got)
		}
		jumps++
	}
	t.Logf("%d clocks", jumps)
}

// inTime reads in the ledger that no drop began before its instant.
func (w *world) inTime(t *testing.T) {
	t.Helper()
	err := w.with(func(r *Runner) error {
		for _, d := range r.Ledger.Deliveries() {
			if d.Intent.At.Before(d.Intent.Due) {
				return fmt.Errorf("line %d: begun %s, due %s", d.Intent.Seq, d.Intent.At, d.Intent.Due)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestRelease09TwentyAtOnce(t *testing.T) {
	// With the lock: one works, the others are told that it does.
	folder := t.TempDir()
	store := mem.New("club")
	var wins, busy int
	var mu sync.Mutex
	var group sync.WaitGroup
	begin := make(chan struct{})
	for range 20 {
		group.Go(func() {
			<-begin
			w := newWorld()
			w.channels = []Channel{{Name: "club", Audience: "early", Target: store}}
			l, err := ledger.Open(disk.OS(), folder+"/ledger.jsonl", ledger.Options{Series: "tools", Now: w.clock})
			if errors.Is(err, ledger.ErrBusy) {
				mu.Lock()
				busy++
				mu.Unlock()
				return
			}
			if err != nil {
				t.Error(err)
				return
			}
			r := w.runner(l)
			rep, err := r.Run(context.Background(), every)
			if err := errors.Join(err, rep.Err(), l.Close()); err != nil {
				t.Error(err)
			}
			mu.Lock()
			wins++
			mu.Unlock()
		})
	}
	close(begin)
	group.Wait()
	if wins < 1 || wins+busy != 20 {
		t.Fatalf("%d worked, %d were told to wait", wins, busy)
	}
	written := func() {
		t.Helper()
		for name := range store.Tree() {
			if strings.HasPrefix(name, "hook/") && store.Writes(name) != 1 {
				t.Fatalf("%s was stored %d times", name, store.Writes(name))
			}
		}
	}
	written()
	// Without a lock, as on a network file system, and each with a ledger of its own: what is created is
	// created once, and whoever comes late is told.
	store = mem.New("club")
	begin = make(chan struct{})
	wins, refusals := 0, 0
	for range 20 {
		group.Go(func() {
			<-begin
			w := newWorld()
			w.channels = []Channel{{Name: "club", Audience: "early", Target: store}}
			err := w.run()
			mu.Lock()
			defer mu.Unlock()
			var unsound *Unsound
			switch {
			case err == nil:
				wins++
			case errors.As(err, &unsound):
				refusals++
			default:
				t.Error(err)
			}
		})
	}
	close(begin)
	group.Wait()
	if wins < 1 || len(store.Tree()) != 6 {
		t.Fatalf("%d worked, %d objects", wins, len(store.Tree()))
	}
	written()
	t.Logf("20 at once: with the lock one after the other (%d had to wait), without it %d worked and %d were refused", busy, wins, refusals)
}

// runner is open's runner on a ledger of another place.
func (w *world) runner(l *ledger.Ledger) *Runner {
	r, err := w.open()
	if err != nil {
		panic(err)
	}
	r.Ledger.Close()
	r.Ledger = l
	return r
}

func TestRelease10LedgerCut(t *testing.T) { eachPlace(t, ledgerCut) }

func ledgerCut(t *testing.T, fresh func() *world) {
	base := fresh()
	if err := at(earlyDay)(base); err != nil {
		t.Fatal(err)
	}
	want := undisturbed(t, fresh, short)
	whole := base.file(ledgerPath)
	last := strings.LastIndexByte(strings.TrimSuffix(whole, "\n"), '\n') + 1
	cuts := 0
	stride := 1
	if base.stores != nil && !*long {
		stride = 11
	}
	for n := last; n < len(whole); n += stride {
		w := base.clone()
		w.fs.Damage(ledgerPath, []byte(whole[:n]))
		w.restart(crash.KeepAll, 0)
		if err := play(w, short, nil); err != nil {
			t.Fatalf("cut at byte %d: %v", n, err)
		}
		if d := differ(below(w.tree(), "/place"), below(want.tree(), "/place")); d != "" {
			t.Fatalf("cut at byte %d: %s", n, d)
		}
		w.audit(t)
		cuts++
	}
	flips := 0
	random := rand.New(rand.NewPCG(10, 10))
	tries := 1000
	if (testing.Short() || base.stores != nil) && !*long {
		tries = 200
	}
	for range tries {
		// The line end of the last line is the tail's: without it the line is torn, and said again.
		i, bit := random.IntN(last-1), byte(1)<<random.IntN(7)
		data := []byte(whole)
		data[i] ^= bit
		w := base.clone()
		w.fs.Damage(ledgerPath, data)
		before := below(w.tree(), "/place")
		w.clock = instant(publicDay)
		err := w.run()
		var damage *ledger.Damage
		var newer *ledger.Newer
		if !errors.As(err, &damage) && !errors.As(err, &newer) {
			t.Fatalf("bit %b of byte %d flipped: %v", bit, i, err)
		}
		if d := differ(below(w.tree(), "/place"), before); d != "" {
			t.Fatalf("bit %b of byte %d flipped, and something went out: %s", bit, i, d)
		}
		flips++
	}
	t.Logf("%d cuts of the last line, %d flipped bits before it", cuts, flips)
}

// clone is a second world in the same state.
func (w *world) clone() *world {
	c := newWorld()
	c.fs = w.fs.Restart(crash.KeepAll, 0)
	if w.stores != nil {
		c.stores = w.stores.clone(c)
	}
	c.boot()
	c.kept, c.digests = maps.Clone(w.kept), maps.Clone(w.digests)
	c.sources, c.clock = maps.Clone(w.sources), w.clock
	c.settings = w.settings
	return c
}

func TestRelease12SwappedTargets(t *testing.T) { eachPlace(t, swappedTargets) }

func swappedTargets(t *testing.T, fresh func() *world) {
	w := fresh()
	if err := at(earlyDay)(w); err != nil {
		t.Fatal(err)
	}
	if err := at(publicDay)(w); err != nil {
		t.Fatal(err)
	}
	w.sources["hook"] = source{"1.0.1", "a better hook"}
	before := below(w.tree(), "/place")
	w.channels[0].Target, w.channels[1].Target = w.channels[1].Target, w.channels[0].Target
	err := w.run()
	var stranger *target.Stranger
	if !errors.As(err, &stranger) {
		t.Fatalf("swapped places: %v", err)
	}
	if d := differ(below(w.tree(), "/place"), before); d != "" {
		t.Fatalf("a byte went to a swapped place: %s", d)
	}
	// A rehearsal does not write to the real place, nor a real drop to a rehearsal's.
	w.boot()
	w.channels[0].Rehearsal, w.channels[1].Rehearsal = true, true
	if err := w.run(); !errors.As(err, &stranger) {
		t.Fatalf("a rehearsal at the real place: %v", err)
	}
	// Nor does a run serve both kinds.
	w = fresh()
	w.channels[1].Rehearsal = true
	w.settings.PublicAfter = 0
	var refusal *Refusal
	if err := w.run(); !errors.As(err, &refusal) || len(below(w.tree(), "/place")) > 0 {
		t.Fatalf("a mixed run: %v", err)
	}
	// A place that cannot be reached holds up no other place.
	w = fresh()
	w.settings.PublicAfter = 0
	gone := mem.New("shelf")
	gone.Fault = func(mem.Op) error { return mem.ErrLost }
	w.channels[1].Target = gone
	if err := w.run(); !errors.Is(err, mem.ErrLost) || len(below(w.tree(), "/place/club")) != 6 {
		t.Fatalf("a place out of reach: %v, %d files went to the other", err, len(below(w.tree(), "/place/club")))
	}
	// A place in use for something else is left alone.
	w = fresh()
	w.write(t, "/place/club/holiday.jpg", "sea")
	if err := w.run(); !errors.As(err, &stranger) {
		t.Fatalf("a foreign folder: %v", err)
	}
	if got := below(w.tree(), "/place"); len(got) != 1 {
		t.Fatalf("a foreign folder got %v", slices.Collect(maps.Keys(got)))
	}
}

// write puts a file into the world, durably.
func (w *world) write(t *testing.T, name, data string) {
	t.Helper()
	if w.stores != nil && strings.HasPrefix(name, "/place/") {
		w.stores.put(name, []byte(data))
		return
	}
	if err := disk.MkdirAll(w.fs, name[:strings.LastIndexByte(name, '/')]); err != nil {
		t.Fatal(err)
	}
	if err := disk.Replace(w.fs, name, []byte(data)); err != nil {
		t.Fatal(err)
	}
}

// remove takes a file of a place away.
func (w *world) remove(t *testing.T, name string) {
	t.Helper()
	if w.stores != nil {
		w.stores.put(name, nil)
		return
	}
	if err := w.fs.Remove(name); err != nil {
		t.Fatal(err)
	}
}

func TestRelease13RollbackAndMix(t *testing.T) { eachPlace(t, rollbackAndMix) }

func rollbackAndMix(t *testing.T, fresh func() *world) {
	two := func() *world {
		w := fresh()
		w.settings.Designs = map[int]string{1: "hook", 2: "stake"}
		return w
	}
	story := []step{at(earlyDay), at("2027-03-19 17:00")}
	for _, c := range []struct {
		name    string
		spoil   func(t *testing.T, w *world)
		names   string // what the refusal says
		foreign string // a file that must be moved away first
	}{
		{"an older ledger", func(t *testing.T, w *world) {
			whole := w.file(ledgerPath)
			w.fs.Damage(ledgerPath, []byte(firstLines(whole, 6)))
		}, "older copy", ""},
		{"an older index", func(t *testing.T, w *world) {
			older := two()
			if err := play(older, story[:1], nil); err != nil {
				t.Fatal(err)
			}
			w.write(t, "/place/club/release.json", older.file("/place/club/release.json"))
		}, "does not name stake 1.0.0", ""},
		{"a lost file", func(t *testing.T, w *world) {
			w.remove(t, "/place/club/hook/1.0.0/hook-1.0.0-early.zip")
		}, "hook/1.0.0/hook-1.0.0-early.zip: it is missing", ""},
		{"two weeks' zips exchanged", func(t *testing.T, w *world) {
			w.write(t, "/place/club/hook/1.0.0/hook-1.0.0-early.zip", w.file("/place/club/stake/1.0.0/stake-1.0.0-early.zip"))
		}, "holds the bytes of stake/1.0.0/stake-1.0.0-early.zip", "/place/club/hook/1.0.0/hook-1.0.0-early.zip"},
		{"sums replaced", func(t *testing.T, w *world) { w.write(t, "/place/club/hook/1.0.0/SHA256SUMS", "0  x\n") },
			"hook/1.0.0/SHA256SUMS: it has SHA-256", "/place/club/hook/1.0.0/SHA256SUMS"},
		{"no index", func(t *testing.T, w *world) {
			w.remove(t, "/place/club/release.json")
		}, "missing, although 2 revisions", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := two()
			if err := play(w, story, nil); err != nil {
				t.Fatal(err)
			}
			good := below(w.tree(), "/place/club")
			c.spoil(t, w)
			spoilt := below(w.tree(), "/place")
			w.sources["hook"] = source{"1.0.1", "a better hook"} // something is to go out
			err := w.run()
			var unsound *Unsound
			if !errors.As(err, &unsound) || !strings.Contains(err.Error(), c.names) {
				t.Fatalf("got %v, want %q", err, c.names)
			}
			if d := differ(below(w.tree(), "/place"), spoilt); d != "" {
				t.Fatalf("it went out on top: %s", d)
			}
			w.sources["hook"] = source{"1.0.0", "a hook"}
			repair := func() error {
				return w.with(func(r *Runner) error {
					_, err := r.Repair(context.Background(), "club", "restored from a backup")
					return err
				})
			}
			if c.foreign != "" {
				if err := repair(); !errors.As(err, &unsound) {
					t.Fatalf("repaired over a foreign file: %v", err)
				}
				w.remove(t, c.foreign)
			}
			if err := repair(); err != nil {
				t.Fatal(err)
			}
			w.audit(t)
			got := below(w.tree(), "/place/club")
			for _, m := range []map[string]string{got, good} {
				maps.DeleteFunc(m, func(n, _ string) bool { return strings.HasSuffix(n, IndexName) || strings.HasSuffix(n, PageName) })
			}
			if d := differ(got, good); d != "" {
				t.Fatalf("after the repair: %s", d)
			}
			// Never twice, and the public day comes as if nothing had been.
			if err := play(w, []step{at("2027-03-19 18:00"), at(publicDay), at("2027-04-02 16:00")}, nil); err != nil {
				t.Fatal(err)
			}
			w.audit(t)
			if got := len(below(w.tree(), "/place/shelf")); got != 9 { // marker, index, page, 3 of each design
				t.Fatalf("%d files are public", got)
			}
		})
	}
}

func firstLines(text string, n int) string {
	lines := strings.SplitAfter(text, "\n")
	return strings.Join(lines[:n], "")
}

func TestRelease14SourceChanged(t *testing.T) {
	var refusal *Refusal
	// While it is packed: nothing goes out.
	for _, moment := range []string{"build", "pack"} {
		w := newWorld()
		change := func(string) { w.sources["hook"] = source{"1.0.0", "a hook, changed"} }
		if moment == "build" {
			w.onBuild = change // the manifest was read, the files not yet
		} else {
			w.onPack = change
		}
		err := w.run()
		if !errors.As(err, &refusal) || len(w.kept) > 0 || len(below(w.tree(), "/place/club")) > 0 {
			t.Fatalf("changed at %s: %v, kept %v", moment, err, w.kept)
		}
		w.onBuild, w.onPack = nil, nil
		if err := w.run(); err != nil {
			t.Fatal(err)
		}
		if got := w.file("/place/club/hook/1.0.0/hook-1.0.0-early.zip"); !strings.Contains(got, "changed") {
			t.Fatal("the next run sent the old bytes")
		}
	}
	// Between the early drop and the public day: the public gets what was fixed.
	w := newWorld()
	if err := at(earlyDay)(w); err != nil {
		t.Fatal(err)
	}
	w.sources["hook"] = source{"1.0.0", "something else"}
	lost := w.clone()
	if err := at(publicDay)(w); err != nil {
		t.Fatal(err)
	}
	want := undisturbed(t, newWorld, short)
	if d := differ(below(w.tree(), "/place"), below(want.tree(), "/place")); d != "" {
		t.Fatal(d)
	}
	// The store is lost: the bundles come from the tag.
	lost.dropStore(t)
	tampered := lost.clone()
	if err := at(publicDay)(lost); err != nil {
		t.Fatal(err)
	}
	if d := differ(below(lost.tree(), "/place"), below(want.tree(), "/place")); d != "" {
		t.Fatal(d)
	}
	// The tag was moved: another content is refused.
	tampered.kept["hook 1.0.0"] = source{"1.0.0", "something else"}
	if err := at(publicDay)(tampered); !errors.As(err, &refusal) || len(below(tampered.tree(), "/place/shelf")) > 1 {
		t.Fatalf("another content: %v", err)
	}
	// A damaged object of the store counts as lost.
	damaged := newWorld()
	if err := at(earlyDay)(damaged); err != nil {
		t.Fatal(err)
	}
	for name := range below(damaged.tree(), "/series/store") {
		if !strings.HasSuffix(name, ".gitignore") {
			damaged.fs.Damage(name, []byte("rot"))
		}
	}
	if err := at(publicDay)(damaged); err != nil {
		t.Fatal(err)
	}
	if d := differ(below(damaged.tree(), "/place"), below(want.tree(), "/place")); d != "" {
		t.Fatal(d)
	}
}

// dropStore removes the store's objects.
func (w *world) dropStore(t *testing.T) {
	t.Helper()
	for name := range below(w.tree(), "/series/store") {
		if err := w.fs.Remove(name); err != nil {
			t.Fatal(err)
		}
	}
}

func TestRelease15InterruptAndElsewhere(t *testing.T) {
	want := undisturbed(t, newWorld, short)
	n := want.fs.Ops()
	runs := 0
	for _, k := range points(n) {
		w := newWorld()
		for _, s := range []string{earlyDay, publicDay} {
			w.clock = instant(s)
			ctx, cancel := context.WithCancel(context.Background())
			start := w.fs.Ops()
			w.fs.Fault = func(op crash.Op) error {
				if op.N == start+k {
					cancel() // Ctrl-C: the operation under way ends, no further one is begun
				}
				return nil
			}
			err := w.runIn(ctx)
			cancel()
			if err != nil && !errors.Is(err, context.Canceled) {
				t.Fatalf("interrupted at %d: %v", k, err)
			}
			// On to another machine, with the ledger and the places alone.
			w.fs.Fault = nil
			w.dropStore(t)
			w.restart(crash.KeepAll, 0)
			if err := w.run(); err != nil {
				t.Fatalf("resumed after %d: %v", k, err)
			}
			runs++
		}
		if d := differ(below(w.tree(), "/place"), below(want.tree(), "/place")); d != "" {
			t.Fatalf("interrupted at %d: %s", k, d)
		}
		w.audit(t)
		w.quiet(t)
	}
	t.Logf("%d runs interrupted and resumed elsewhere", runs)
}
