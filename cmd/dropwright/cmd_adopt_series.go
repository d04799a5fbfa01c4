package main

import (
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"dropwright/bundle/adopt"
	"dropwright/bundle/archive"
	"dropwright/bundle/board"
	"dropwright/bundle/manifest"
	"dropwright/bundle/measure"
	"dropwright/series/calendar"
	"dropwright/series/catalogue"
)

// lieIn tells whether a folder is the design's own folder in a series.
func lieIn(s *season, dir, name string) bool {
	return filepath.Clean(dir) == filepath.Join(s.dir, catalogue.DesignsDir, name)
}

// roomFor refuses before anything is read when the series has a design of the name.
func (a *app) roomFor(s *season, dir, name string) error {
	to := filepath.Join(s.dir, catalogue.DesignsDir, name)
	if lieIn(s, dir, name) {
		return nil
	}
	if _, err := os.Lstat(to); err == nil {
		return refused("name it otherwise with --name", "the series has a folder %s already", a.shown(to))
	}
	if rel, err := filepath.Rel(dir, s.dir); err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(os.PathSeparator)) {
		return refused("adopt a folder that lies outside of it", "the series lies in the folder that is to be copied into it")
	}
	return nil
}

// takeIn copies a folder into the series: what the manifest names keeps its place, the rest goes into refs/, where
// a maker's own notes are.
func (a *app) takeIn(s *season, fsys fs.FS, dir, name string, d *adopt.Draft) error {
	to := filepath.Join(s.dir, catalogue.DesignsDir, name)
	if lieIn(s, dir, name) {
		return a.layOut(to, map[string][]byte{catalogue.DesignFile: d.Manifest})
	}
	m, _, _ := manifest.Decode(name, catalogue.DesignFile, d.Manifest, manifest.Context{Boards: board.Builtin()})
	named := map[string]bool{}
	if m != nil {
		for _, u := range m.Files() {
			named[string(u.Path)] = true
		}
	}
	var files []string
	err := fs.WalkDir(fsys, ".", func(p string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return nil
		case len(files) > measure.MaxFiles:
			return fs.SkipAll
		case e.IsDir() && p != "." && strings.HasPrefix(e.Name(), "."):
			return fs.SkipDir
		case e.Type().IsRegular() && !strings.HasPrefix(e.Name(), "."):
			files = append(files, p)
		}
		return nil
	})
	if err != nil {
		return machine("", "looking through %s: %w", a.shown(dir), err)
	}
	// The copy is made under another name and gets its own when it is whole: no half a design is ever seen.
	temp := filepath.Join(s.dir, catalogue.DesignsDir, ".adopting-"+name)
	if err := os.Mkdir(temp, 0o777); err != nil {
		if os.IsExist(err) {
			return refused("remove it when no other adopt runs", "%s is left from a run that was stopped", a.shown(temp))
		}
		return machine("choose a place you may write to", "making a folder: %w", plainly(err))
	}
	done := false
	defer func() {
		if !done {
			os.RemoveAll(temp)
		}
	}()
	for i, f := range files {
		if err := a.ctx.Err(); err != nil {
			return err
		}
		a.ui.step("copying %d of %d: %s", i+1, len(files), f)
		dest := f
		if !named[f] && f != "refs" && !strings.HasPrefix(f, "refs/") {
			dest = path.Join("refs", f)
		}
		if err := copyInto(fsys, f, filepath.Join(temp, filepath.FromSlash(dest))); err != nil {
			return machine("check the space on the disk", "copying %s: %w", f, plainly(err))
		}
	}
	if err := a.layOut(temp, map[string][]byte{catalogue.DesignFile: d.Manifest}); err != nil {
		return err
	}
	if err := os.Rename(temp, to); err != nil {
		return machine("", "naming the copy: %w", plainly(err))
	}
	done = true
	return nil
}

func copyInto(fsys fs.FS, from, to string) error {
	if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
		return err
	}
	in, err := fsys.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	_, err = archive.WriteFile(to, archive.FileOptions{}, func(w io.Writer) error {
		_, err := io.Copy(w, in)
		return err
	})
	return err
}

// freeWeek gives an adopted design the first week that is free and whose day has not come.
func (a *app) giveFreeWeek(s *season, name string) error {
	fresh, err := a.sound() // with the new folder
	if err != nil {
		return err
	}
	defer fresh.close()
	if w := fresh.Config.WeekOf(name); w != 0 {
		a.ui.say("%s has week %d", name, w)
		return nil
	}
	cal, err := a.calendar(fresh)
	if err != nil {
		return err
	}
	week := 0
	for _, slot := range cal.Slots() {
		if slot.Design != "" || week != 0 {
			continue
		}
		if drop, ok := slot.Drop("early"); !ok || drop.UTC.After(a.now()) {
			week = slot.Week
		}
	}
	if week == 0 {
		a.ui.say("note: no week is free; add weeks to calendar in %s, then `dropwright schedule move %s WEEK`", fresh.shownSeries(), name)
		return nil
	}
	return a.changeCalendar(moveOptions{}, func(s *season, cal *calendar.Calendar, e *edit) (calendar.Settings, error) {
		return a.giveWeek(s, cal, e, name, fmt.Sprint(week))
	})
}
