package preview

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// TestWatch: what is told of which change, by the system and by looking. Each case waits for the areas it names.
func TestWatch(t *testing.T) {
	for how, begin := range map[string]func(dir string) *Watcher{"told": Watch, "looking": func(dir string) *Watcher { return Polling(dir, "for the test") }} {
		t.Run(how, func(t *testing.T) {
			dir := t.TempDir()
			put := func(name, text string) {
				t.Helper()
				p := filepath.Join(dir, filepath.FromSlash(name))
				if err := os.MkdirAll(filepath.Dir(p), 0o777); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(p, []byte(text), 0o666); err != nil {
					t.Fatal(err)
				}
			}
			put("series.yaml", "a")
			put("designs/hook/design.yaml", "a")
			put("designs/hook/meshes/hook.stl", "a")
			put("designs/stake/design.yaml", "a")
			put("store/x", "a")
			put("outbox/x", "a")
			w := begin(dir)
			if how == "told" && w.Why != "" {
				t.Skipf("SKIPPED LOUDLY: the system tells of no changes here: %s", w.Why)
			}
			heard := make(chan []string, 100)
			ctx, stop := context.WithCancel(context.Background())
			done := make(chan struct{})
			go func() { w.Run(ctx, func(areas []string) { heard <- areas }); close(done) }()
			defer func() { stop(); <-done }()
			// next gathers what is told until it holds all that is wanted; without a want, that nothing comes.
			next := func(what string, want ...string) {
				t.Helper()
				got := map[string]bool{}
				wait := 5 * time.Second
				if len(want) == 0 {
					wait = 3 * look / 2
				}
				end := time.After(wait)
				for {
					select {
					case areas := <-heard:
						for _, a := range areas {
							got[a] = true
						}
						if len(want) == 0 {
							t.Errorf("%s: told of %q", what, areas)
							return
						}
						if slices.IndexFunc(want, func(a string) bool { return !got[a] }) < 0 {
							return
						}
					case <-end:
						if len(want) > 0 {
							t.Errorf("%s: heard %v, expected %q", what, got, want)
						}
						return
					}
				}
			}
			quietly := func() { // strokes of one change may come apart
				time.Sleep(2 * quiet)
				if how == "looking" {
					time.Sleep(look)
				}
				for len(heard) > 0 {
					<-heard
				}
			}
			put("designs/hook/design.yaml", "longer")
			next("an edited manifest", "hook")
			quietly()
			put("designs/hook/meshes/hook.stl", "longer")
			next("an edited mesh", "hook")
			quietly()
			put("series.yaml", "longer")
			next("series.yaml", Everything)
			quietly()
			temp := filepath.Join(dir, "designs/stake/.design.yaml.swp")
			if err := os.WriteFile(temp, []byte("whole"), 0o666); err != nil {
				t.Fatal(err)
			}
			put("store/y", "b")
			put("outbox/y", "b")
			next("files of an editor, the store and the outbox")
			if err := os.Rename(temp, filepath.Join(dir, "designs/stake/design.yaml")); err != nil {
				t.Fatal(err)
			}
			next("a manifest written as editors do", "stake")
			quietly()
			put("designs/drip/design.yaml", "new")
			next("a new design", Everything, "drip")
			quietly()
			put("designs/drip/meshes/tip.stl", "new")
			next("a folder below it", "drip")
			quietly()
			put("designs/drip/meshes/tip.stl", "longer")
			next("a file in the folder that came later", "drip")
			quietly()
			if err := os.RemoveAll(filepath.Join(dir, "designs/hook")); err != nil {
				t.Fatal(err)
			}
			next("a deleted design", Everything, "hook")
		})
	}
}

func TestAreas(t *testing.T) {
	w := &Watcher{dir: filepath.FromSlash("/season")}
	for path, want := range map[string]string{"series.yaml": "*", "ledger.jsonl": "*", "stock.csv": "*", "designs": "*", "designs/hook": "*,hook", "designs/hook/design.yaml": "hook",
		"designs/hook/boards/a.yaml": "hook", ".git/logs/HEAD": "*", ".git/index": "", ".git/logs/refs": "", "designs/hook/.a.swp": "", ".DS_Store": "", "store/a.zip": "", "outbox/b": "", "designs/.x/design.yaml": ""} {
		var got []string
		for _, a := range w.areas(filepath.Join(w.dir, filepath.FromSlash(path))) {
			if a == Everything {
				a = "*"
			}
			got = append(got, a)
		}
		if strings.Join(got, ",") != want {
			t.Errorf("%s concerns %q, expected %q", path, got, want)
		}
	}
}

// TestStrokes: a file written in several strokes is told once it is whole, and not later than the bound.
func TestStrokes(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "series.yaml")
	if err := os.WriteFile(name, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	w := Watch(dir)
	if w.Why != "" {
		t.Skipf("SKIPPED LOUDLY: the system tells of no changes here: %s", w.Why)
	}
	told := make(chan time.Time, 100)
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { w.Run(ctx, func([]string) { told <- time.Now() }); close(done) }()
	defer func() { stop(); <-done }()
	f, err := os.OpenFile(name, os.O_APPEND|os.O_WRONLY, 0o666)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for range 5 {
		if _, err := f.WriteString("stroke\n"); err != nil {
			t.Fatal(err)
		}
		time.Sleep(quiet / 8)
	}
	select {
	case <-told:
	case <-time.After(5 * time.Second):
		t.Fatal("nothing is told")
	}
	time.Sleep(2 * quiet)
	if n := len(told); n > 1 { // one may come apart from the others on a busy machine
		t.Errorf("%d more tellings for five strokes", n)
	}
}
