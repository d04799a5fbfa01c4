package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"strings"

	"dropwright/bundle/archive"
	"dropwright/series/site/desk"
)

// pagesMark lists what `overview --output` wrote into a folder, so that the next run may replace just that.
const pagesMark = "pages.json"

// pagesWritten is the list.
type pagesWritten struct {
	Form  string            `json:"form"`
	Files map[string]string `json:"files"` // path to SHA-256
}

const pagesForm = "dropwright-pages-1"

// maxPagesMark bounds the list that is read back: a hundred thousand files have ten million bytes.
const maxPagesMark = 64 << 20

// overviewPages writes the maker's pages into a folder: the same as `preview` shows, but what only a server can do. The
// folder must be empty, or hold pages that were written before: those are replaced, each whole, and what is no page
// any more goes.
func (a *app) overviewPages(dir string) error {
	b, err := a.openBench(0)
	if err != nil {
		return err
	}
	defer b.close()
	s, err := b.opened()
	if err != nil {
		return err
	}
	to := a.abs(dir)
	if inside(b.dir, to) && !inside(filepath.Join(b.dir, "outbox"), to) {
		return refused("name a folder beside it, or one below its outbox: --output ../pages", "%s lies in the series, and the pages would be taken for a part of it", dir)
	}
	before, err := a.pagesIn(to, dir)
	if err != nil {
		return err
	}
	d := &desk.Desk{Source: b, Folder: true, Now: a.now}
	if c := a.cache(); c != nil {
		d.Kept = c
	}
	paths, err := d.Paths(a.ctx)
	if err != nil {
		return err
	}
	// The list comes first, with all that may lie there in the end: a run that is stopped leaves pages that the next one
	// knows for its own.
	begun := pagesWritten{Form: pagesForm, Files: map[string]string{}}
	maps.Copy(begun.Files, before.Files)
	for _, name := range paths {
		begun.Files[name] = before.Files[name]
	}
	if err := a.writeMark(to, begun); err != nil {
		return err
	}
	now := pagesWritten{Form: pagesForm, Files: map[string]string{}}
	wrote := 0
	for i, name := range paths {
		p, err := d.Page(a.ctx, name, "")
		if err != nil {
			return machine("`dropwright check` says which files are wrong", "making %s: %w", name, err)
		}
		a.ui.step("page %d of %d: %s", i+1, len(paths), name)
		sum := sha256.Sum256(p.Data)
		now.Files[name] = hex.EncodeToString(sum[:])
		changed, err := a.writePage(to, name, p.Data)
		if err != nil {
			return err
		}
		if changed {
			wrote++
		}
		if err := a.ctx.Err(); err != nil {
			return err
		}
	}
	for name := range before.Files { // what is no page any more
		if _, still := now.Files[name]; !still && fs.ValidPath(name) {
			if err := os.Remove(filepath.Join(to, filepath.FromSlash(name))); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return machine("remove it yourself, and run again", "removing %s: %w", name, plainly(err))
			}
			for up := path.Dir(name); up != "."; up = path.Dir(up) {
				if os.Remove(filepath.Join(to, filepath.FromSlash(up))) != nil {
					break // something else lies there
				}
			}
		}
	}
	if err := a.writeMark(to, now); err != nil {
		return err
	}
	if sick(s) {
		a.ui.say("note: series.yaml cannot be read as meant; the pages say what is wrong")
	}
	a.ui.say("%d of %d pages, pictures and meshes changed", wrote, len(paths))
	_, err = fmt.Fprintln(a.stdout, a.shown(filepath.Join(to, "index.html")))
	if err != nil {
		return machine("", "printing: %w", err)
	}
	return nil
}

// inside reports whether a path lies in a folder, or is it.
func inside(dir, p string) bool {
	rel, err := filepath.Rel(dir, p)
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
}

// pagesIn is what an earlier run wrote into the folder; an error when something else lies there.
func (a *app) pagesIn(to, dir string) (pagesWritten, error) {
	var out pagesWritten
	entries, err := os.ReadDir(to)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return out, nil
	case err != nil:
		return out, machine("name a folder that you may write to", "looking into %s: %w", dir, plainly(err))
	case len(entries) == 0:
		return out, nil
	}
	stranger := refused("name an empty folder, or the one that holds the pages of before", "%s holds files that are no pages of ours", dir)
	mark := filepath.Join(to, pagesMark)
	st, err := os.Lstat(mark)
	if err != nil || !st.Mode().IsRegular() || st.Size() > maxPagesMark {
		return out, stranger
	}
	data, err := os.ReadFile(mark)
	if err != nil {
		return out, machine("name a folder that you may read", "reading %s: %w", mark, plainly(err))
	}
	if json.Unmarshal(data, &out) != nil || out.Form != pagesForm {
		return pagesWritten{}, stranger
	}
	return out, nil
}

// writeMark writes the list of pages.
func (a *app) writeMark(to string, list pagesWritten) error {
	data, err := json.MarshalIndent(list, "", "  ")
	if err != nil {
		return machine("", "%w", err)
	}
	_, err = a.writePage(to, pagesMark, append(data, '\n'))
	return err
}

// writePage writes one file below the folder, whole or not at all; a file that holds these bytes is not touched.
func (a *app) writePage(to, name string, data []byte) (changed bool, err error) {
	file := filepath.Join(to, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
		return false, machine("name a folder that you may write to", "making a folder: %w", plainly(err))
	}
	changed, err = archive.WriteFile(file, archive.FileOptions{Replace: true}, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
	if err != nil {
		return false, machine("make room on the disk, or name a folder that you may write to", "writing %s: %w", name, plainly(err))
	}
	return changed, nil
}
