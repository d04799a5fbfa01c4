package main

import (
	"io"
	"os"
	"path/filepath"
	"slices"

	"dropwright/bundle/archive"
)

// layOut writes several files below a folder, each whole or not at all, in the order of their names. What
// is there already with other bytes is not replaced.
func (a *app) layOut(dir string, files map[string][]byte) error {
	names := make([]string, 0, len(files))
	for n := range files {
		names = append(names, n)
	}
	slices.Sort(names)
	for i, n := range names {
		path := filepath.Join(dir, n)
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			return machine("choose a place you may write to", "making a folder: %w", err)
		}
		_, err := archive.WriteFile(path, archive.FileOptions{}, func(w io.Writer) error {
			_, err := w.Write(files[n])
			return err
		})
		if err != nil {
			return machine("choose a place you may write to", "writing %s: %w", a.shown(path), err)
		}
		a.ui.step("wrote %d of %d files", i+1, len(names))
		if err := a.ctx.Err(); err != nil {
			return err
		}
	}
	return nil
}
