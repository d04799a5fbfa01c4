package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"dropwright/series/site/desk"
)

// BenchmarkPages makes the pages of 52 designs of six parts, warm: what was measured and drawn before is kept. "first" is
// the first page anew, as after a change of series.yaml; "design" one design's page after a change of its manifest's text
// alone, as somebody sees who works on it; "folder" is all of `overview --output`, to a folder that has the pages.
func BenchmarkPages(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "season")
	manyDesigns(b, dir, 52)
	b.Setenv("XDG_CACHE_HOME", filepath.Join(dir, ".cache"))
	to := filepath.Join(b.TempDir(), "pages")
	folder := func(b *testing.B) {
		if status, _, errs := command(b, dir, "overview", "--output", to); status != exitDone {
			b.Fatal(errs)
		}
	}
	folder(b) // fills the cache
	var a *app
	open := func(b *testing.B) *bench {
		a = &app{env: env{ctx: b.Context(), stdout: &output{}, stderr: &output{}, dir: dir, getenv: os.Getenv, now: func() time.Time { return time.Date(2027, 1, 4, 9, 0, 0, 0, time.UTC) }}}
		a.ui = newUI(a.env, true, "never")
		x, err := a.openBench(0)
		if err != nil {
			b.Fatal(err)
		}
		return x
	}
	page := func(b *testing.B, d *desk.Desk, name string) {
		if _, err := d.Page(b.Context(), name, "run.1"); err != nil {
			b.Fatal(err)
		}
	}
	b.Run("first", func(b *testing.B) {
		x := open(b)
		defer x.close()
		d := &desk.Desk{Source: x, Kept: a.cache(), Now: a.now}
		for b.Loop() {
			x.forget([]string{""})
			page(b, d, "index.html")
		}
	})
	b.Run("design", func(b *testing.B) {
		x := open(b)
		defer x.close()
		x.wait, x.touched = time.Minute, func(string) {}
		d := &desk.Desk{Source: x, Kept: a.cache(), Now: a.now}
		page(b, d, "designs/design-007/index.html")
		for b.Loop() {
			x.forget([]string{"design-007"})
			page(b, d, "designs/design-007/index.html")
		}
	})
	b.Run("folder", func(b *testing.B) {
		for b.Loop() {
			folder(b)
		}
	})
}
