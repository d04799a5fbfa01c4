package release

import (
	"errors"
	"fmt"
	"maps"
	"strings"
	"syscall"
	"testing"

	"dropwright/series/disk/crash"
)

// points are the numbers from 1 to n that a short run tries.
func points(n int) []int {
	stride := 1
	if testing.Short() && !*long {
		stride = max(1, n/40)
	}
	var out []int
	for k := 1; k <= n; k += stride {
		out = append(out, k)
	}
	return out
}

// The tests are numbered as the fifteen release tests; 6 and 7 are the network's.

func TestRelease01CrashAtEveryWrite(t *testing.T) {
	want := undisturbed(t, newWorld, short)
	n := want.fs.Ops()
	tried := points(n)
	for _, k := range tried {
		w := newWorld()
		w.fs.StopAt(k)
		if err := play(w, short, func(w *world) { w.restart(crash.KeepAll, 0) }); err != nil {
			t.Fatalf("stopped at %d of %d: %v", k, n, err)
		}
		if d := differ(w.tree(), want.tree()); d != "" {
			t.Fatalf("stopped at %d of %d: %s", k, n, d)
		}
		w.audit(t)
		w.quiet(t)
	}
	t.Logf("stopped at %d of %d operations", len(tried), n)
}

func TestRelease02PowerCut(t *testing.T) {
	want := undisturbed(t, newWorld, short)
	n := want.fs.Ops()
	runs := 0
	cut := func(k int, loss crash.Loss, seed uint64) {
		w := newWorld()
		w.fs.StopAt(k)
		if err := play(w, short, func(w *world) { w.restart(loss, seed) }); err != nil {
			t.Fatalf("power cut at %d of %d, seed %d: %v", k, n, seed, err)
		}
		// The ledger may tell the way differently: what was not durable was done again.
		got, wanted := below(w.tree(), "/place"), below(want.tree(), "/place")
		if d := differ(got, wanted); d != "" {
			t.Fatalf("power cut at %d of %d, seed %d: %s", k, n, seed, d)
		}
		w.audit(t)
		w.quiet(t)
		runs++
	}
	for _, k := range points(n) {
		cut(k, crash.DropAll, 0)
	}
	seeds := 200
	if testing.Short() && !*long {
		seeds = 40
	}
	for seed := range seeds {
		cut(1+(seed*7919)%n, crash.Random, uint64(seed))
	}
	if *long {
		for _, k := range points(n) {
			for seed := range 20 {
				cut(k, crash.Random, uint64(seed))
			}
		}
	}
	t.Logf("%d power cuts over %d operations, %d of them with random survival", runs, n, seeds)
}

func TestRelease03EveryOperationFails(t *testing.T) {
	want := undisturbed(t, newWorld, short)
	n := want.fs.Ops()
	runs := 0
	for i, k := range points(n) {
		fault := []error{syscall.EIO, syscall.EACCES, syscall.ENOSPC}[i%3]
		for _, forever := range []bool{false, true} {
			w := newWorld()
			w.fs.FailAt(k, fmt.Errorf("operation %d: %w", k, fault), forever)
			failed := false
			for _, s := range short {
				for try := 0; ; try++ {
					err := s(w)
					if err == nil {
						break
					}
					failed = true
					if !errors.Is(err, fault) {
						t.Fatalf("operation %d fails with %v: %v", k, fault, err)
					}
					if !strings.Contains(err.Error(), "/") && !strings.Contains(err.Error(), "ledger") {
						t.Fatalf("operation %d: the message names no path: %v", k, err)
					}
					if try > 3 {
						t.Fatalf("operation %d: it does not recover: %v", k, err)
					}
					w.fs.Fault = nil // the disk is well again
				}
			}
			if forever && !failed {
				t.Fatalf("operation %d failed for ever, and nobody said so", k)
			}
			if d := differ(below(w.tree(), "/place"), below(want.tree(), "/place")); d != "" {
				t.Fatalf("operation %d failed (forever %v): %s", k, forever, d)
			}
			w.audit(t)
			w.quiet(t)
			if left := w.temps(); len(left) > 0 {
				t.Fatalf("operation %d: left over: %v", k, left)
			}
			runs++
		}
	}
	t.Logf("%d runs with one of %d operations failing", runs, n)
}

func TestRelease04DiskFull(t *testing.T) {
	want := undisturbed(t, newWorld, short)
	size := 0
	for _, data := range want.fs.Tree() {
		size += len(data)
	}
	runs, failures := 0, 0
	for quota := 1; quota < size+2000; quota += max(1, size/60) {
		w := newWorld()
		w.fs.Quota = int64(quota)
		for _, s := range short {
			err := s(w)
			for err != nil {
				failures++
				if !errors.Is(err, syscall.ENOSPC) {
					t.Fatalf("with room for %d bytes: %v", quota, err)
				}
				if err := w.readable(); err != nil {
					t.Fatalf("with room for %d bytes: %v", quota, err)
				}
				w.fs.Quota = 0 // room was made
				err = s(w)
			}
		}
		if d := differ(below(w.tree(), "/place"), below(want.tree(), "/place")); d != "" {
			t.Fatalf("with room for %d bytes: %s", quota, d)
		}
		w.audit(t)
		runs++
	}
	if failures == 0 {
		t.Fatal("the disk was never full")
	}
	t.Logf("%d sizes of disk, full %d times", runs, failures)
}

// readable opens the ledger as the next run would.
func (w *world) readable() error {
	quota := w.fs.Quota
	w.fs.Quota = 0
	defer func() { w.fs.Quota = quota }()
	return w.with(func(*Runner) error { return nil })
}

func TestRelease05SyncFails(t *testing.T) {
	var syncs []int
	count := newWorld()
	count.fs.Fault = func(op crash.Op) error {
		if op.Kind == "sync" || op.Kind == "syncdir" {
			syncs = append(syncs, op.N)
		}
		return nil
	}
	if err := play(count, short, nil); err != nil {
		t.Fatal(err)
	}
	want := undisturbed(t, newWorld, short)
	for _, k := range syncs {
		w := newWorld()
		w.fs.FailAt(k, syscall.EIO, false)
		failed := false
		for _, s := range short {
			if err := s(w); err != nil {
				failed = true
				// What a failed sync dropped is gone at the next boot, whatever later syncs said: the step is
				// done again from its source before the power goes.
				if err := s(w); err != nil {
					t.Fatalf("sync %d: %v", k, err)
				}
				w.restart(crash.DropAll, 0)
			}
		}
		if !failed {
			t.Fatalf("sync %d failed, and the step counted as done", k)
		}
		w.quiet(t)
		got, wanted := below(w.tree(), "/place"), below(want.tree(), "/place")
		maps.DeleteFunc(got, func(n, _ string) bool { return strings.HasSuffix(n, IndexName) })
		maps.DeleteFunc(wanted, func(n, _ string) bool { return strings.HasSuffix(n, IndexName) })
		if d := differ(got, wanted); d != "" {
			t.Fatalf("sync %d: %s", k, d)
		}
		w.audit(t)
	}
	t.Logf("%d syncs failed, each once", len(syncs))
}
