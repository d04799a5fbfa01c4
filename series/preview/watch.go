package preview

import (
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/fsnotify/fsnotify"
)

// Watcher tells of changes in a series' folder.
type Watcher struct {
	dir string
	fs  *fsnotify.Watcher // nil: it looks again and again
	// Why says why the system does not tell, and the folder is looked through again and again instead; "" when it does.
	Why  string
	seen map[string]stamp
}

// stamp is what a look at a file notes.
type stamp struct {
	size int64
	at   time.Time
}

// Times of the watcher. An editor writes a file in several strokes; a page that reloads between two of them would show
// half a file.
const (
	quiet   = 40 * time.Millisecond  // without a stroke, before a change is told
	longest = 250 * time.Millisecond // that strokes may hold it back
	look    = 500 * time.Millisecond // between two looks where the system does not tell
	maxDirs = 20_000                 // folders that are watched
)

// skipped are folders of a series that pages are not made from, and that grow large.
var skipped = []string{"store", "outbox", "node_modules"}

// Watch begins to watch. Systems bound how many folders may be watched, and folders of other machines tell nothing: the
// folder is then looked through twice a second.
func Watch(dir string) *Watcher {
	w := &Watcher{dir: dir}
	var err error
	if w.fs, err = fsnotify.NewWatcher(); err == nil {
		err = w.add(dir)
	}
	if err == nil {
		// A commit changes dates and states; its log is the one file that grows with each.
		if _, serr := os.Stat(filepath.Join(dir, ".git", "logs")); serr == nil {
			_ = w.fs.Add(filepath.Join(dir, ".git", "logs"))
		}
		return w
	}
	w.look(err.Error())
	return w
}

// Polling watches by looking only.
func Polling(dir, why string) *Watcher {
	w := &Watcher{dir: dir}
	w.look(why)
	return w
}

func (w *Watcher) look(why string) {
	if w.fs != nil {
		_ = w.fs.Close()
		w.fs = nil
	}
	w.Why, w.seen = why, w.scan()
}

// watched reports whether a folder is watched.
func (w *Watcher) watched(path string) bool {
	if path == w.dir {
		return true
	}
	rel, err := filepath.Rel(w.dir, path)
	if err != nil {
		return false
	}
	return !strings.HasPrefix(filepath.Base(path), ".") && !slices.Contains(skipped, filepath.ToSlash(rel))
}

// add watches a folder and all below it.
func (w *Watcher) add(dir string) error {
	n := 0
	return filepath.WalkDir(dir, func(p string, e fs.DirEntry, err error) error {
		if err != nil || !e.IsDir() {
			return nil // it vanished, or may not be read: check says so
		}
		if !w.watched(p) {
			return fs.SkipDir
		}
		if n++; n > maxDirs {
			return fs.SkipAll
		}
		if err := w.fs.Add(p); err != nil && !os.IsNotExist(err) {
			return err
		}
		return nil
	})
}

// Run calls changed with the areas of each change until ctx ends.
func (w *Watcher) Run(ctx context.Context, changed func(areas []string)) {
	if w.fs == nil {
		w.poll(ctx, changed)
		return
	}
	defer w.fs.Close()
	areas := map[string]bool{}
	var wait <-chan time.Time
	var first time.Time
	note := func(list ...string) {
		if len(areas) == 0 {
			first = time.Now()
		}
		for _, a := range list {
			areas[a] = true
		}
		wait = time.After(max(0, min(quiet, longest-time.Since(first))))
	}
	for {
		select {
		case <-ctx.Done():
			return
		case e, ok := <-w.fs.Events:
			if !ok {
				return
			}
			if e.Op == fsnotify.Chmod {
				continue // the bytes are the same
			}
			if e.Has(fsnotify.Create) {
				if st, err := os.Lstat(e.Name); err == nil && st.IsDir() && w.watched(e.Name) {
					_ = w.add(e.Name)
				}
			}
			if list := w.areas(e.Name); len(list) > 0 {
				note(list...)
			}
		case _, ok := <-w.fs.Errors:
			if !ok {
				return
			}
			note(Everything) // some change was lost: all may be old
		case <-wait:
			wait = nil
			changed(taken(areas))
		}
	}
}

func taken(areas map[string]bool) []string {
	var out []string
	for a := range areas {
		out = append(out, a)
		delete(areas, a)
	}
	slices.Sort(out)
	return out
}

// areas says what a change of a path concerns.
func (w *Watcher) areas(path string) []string {
	rel, err := filepath.Rel(w.dir, path)
	if err != nil {
		return nil
	}
	f := strings.Split(filepath.ToSlash(rel), "/")
	if f[0] == ".git" {
		if len(f) == 3 && f[1] == "logs" && f[2] == "HEAD" {
			return []string{Everything}
		}
		return nil
	}
	for _, x := range f {
		if strings.HasPrefix(x, ".") && x != "." {
			return nil // of an editor, or ours on its way
		}
	}
	if f[0] != "designs" {
		if slices.Contains(skipped, f[0]) {
			return nil
		}
		return []string{Everything}
	}
	switch len(f) {
	case 1:
		return []string{Everything}
	case 2: // a design came or went
		return []string{Everything, f[1]}
	}
	return []string{f[1]}
}

// poll looks through the folder again and again.
func (w *Watcher) poll(ctx context.Context, changed func(areas []string)) {
	tick := time.NewTicker(look)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		now := w.scan()
		areas := map[string]bool{}
		for p, s := range now {
			if w.seen[p] != s {
				for _, a := range w.areas(p) {
					areas[a] = true
				}
			}
		}
		for p := range w.seen {
			if _, ok := now[p]; !ok {
				for _, a := range w.areas(p) {
					areas[a] = true
				}
			}
		}
		w.seen = now
		if len(areas) > 0 {
			changed(taken(areas))
		}
	}
}

// scan notes every file that is watched.
func (w *Watcher) scan() map[string]stamp {
	out := map[string]stamp{}
	_ = filepath.WalkDir(w.dir, func(p string, e fs.DirEntry, err error) error {
		if err != nil {
			return nil
		}
		if e.IsDir() && !w.watched(p) {
			return fs.SkipDir
		}
		if len(out) > maxDirs {
			return fs.SkipAll
		}
		if info, err := e.Info(); err == nil && !e.IsDir() {
			out[p] = stamp{info.Size(), info.ModTime()}
		} else if err == nil {
			out[p] = stamp{size: -1} // a folder's own time changes with its files, which say so themselves
		}
		return nil
	})
	return out
}
