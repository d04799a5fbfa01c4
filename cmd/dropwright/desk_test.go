package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"dropwright/series/site"
	"dropwright/series/site/desk"
)

// TestBenchTogether asks for pages from several sides while files change: nothing but a page or "no such page" may come
// back, and in the end every page shows what lies there. Run with -race it also holds that nothing is shared unguarded.
func TestBenchTogether(t *testing.T) {
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	dir := laidOut(t)
	for _, big := range []string{"vent-minder", "rain-tipper", "mist-valve", "seed-dryer"} { // two designs are enough, and quick
		if err := os.RemoveAll(filepath.Join(dir, "designs", big)); err != nil {
			t.Fatal(err)
		}
	}
	a := &app{env: env{ctx: t.Context(), stdout: &output{}, stderr: &output{}, dir: dir, getenv: os.Getenv, now: func() time.Time { return time.Date(2027, 1, 19, 9, 0, 0, 0, time.UTC) }}}
	a.ui = newUI(a.env, true, "never")
	b, err := a.openBench(20 * time.Millisecond)
	if err != nil {
		t.Fatal(err)
	}
	defer b.close()
	var told sync.Map
	b.touched = func(design string) { told.Store(design, true) }
	d := &desk.Desk{Source: b, Kept: a.cache(), Now: a.now}
	manifest := filepath.Join(dir, "designs", "soil-stake", "design.yaml")
	text, err := os.ReadFile(manifest)
	if err != nil {
		t.Fatal(err)
	}
	paths := []string{"index.html", "designs/soil-stake/index.html", "designs/light-plate/index.html", "boards/index.html", "designs/soil-stake/solids/soil-stake.plain.solid", "desk.css", "designs/gone/index.html"}
	var wg sync.WaitGroup
	for k := range 4 {
		wg.Go(func() {
			for i := range 12 {
				name := paths[(i+k)%len(paths)]
				if _, err := d.Page(t.Context(), name, "run.1"); err != nil && !errors.Is(err, site.ErrNoPage) {
					t.Errorf("%s: %v", name, err)
				}
			}
		})
	}
	wg.Go(func() {
		for i := range 6 {
			changed := append([]byte(fmt.Sprintf("# %d\n", i)), text...)
			if i%3 == 1 {
				changed = []byte("title: [")
			}
			if err := os.WriteFile(manifest, changed, 0o666); err != nil {
				t.Error(err)
			}
			b.forget([]string{"soil-stake"})
			time.Sleep(10 * time.Millisecond)
		}
	})
	wg.Wait()
	b.forget([]string{""})
	x, err := b.Design(t.Context(), "soil-stake", true)
	if err != nil || x.Work == nil || x.Week == nil {
		t.Fatalf("in the end: %v, %+v", err, x)
	}
	if _, err := b.Design(t.Context(), "gone", true); !errors.Is(err, site.ErrNoPage) {
		t.Errorf("a design that is not there: %v", err)
	}
}
