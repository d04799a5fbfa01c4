package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/archive"
	"dropwright/bundle/board"
	"dropwright/bundle/check"
	"dropwright/bundle/compare"
	"dropwright/bundle/design"
	"dropwright/bundle/measure"
	"dropwright/series/catalogue"
	"dropwright/series/schedule"
)

func (a *app) compareCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "compare A [B]",
		Short: "say what changed between two states, and what must be printed again",
		Long: `Compares two states of a design part by part: the same shape (whatever the file's bytes, names, order or
header), moved, turned, mirrored, or changed and by how much; and whether a builder must print it again.
Then fasteners, bought parts, wiring, settings and steps, the level that follows for the revision, and lines
to begin the text of CHANGES from.

A state is DESIGN as it lies there, DESIGN@1.0.0 or DESIGN/v1.0.0 as the history keeps it, a folder with
another copy of a design, or a bundle, as a zip or the folder it was unpacked to. With one name, the last kept revision is compared with the folder.

--output FOLDER also writes there, for each part that changed shape, a picture of both states from the same
side with what is gone and what is new marked, and of both cut through the place where they differ most; and
compare.html, a page with everything, to be sent on as it is.`,
		Example:           "  dropwright compare vent-minder\n  dropwright compare vent-minder@1.0.0 vent-minder\n  dropwright compare old.zip outbox/bundles/vent-minder-1.1.0-ce-public.zip --output changes",
		ValidArgsFunction: a.completeDesigns,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 && len(args) != 2 {
				return usage("`dropwright compare OLD NEW`, or `dropwright compare DESIGN`", "which two states?")
			}
			return a.compare(args)
		},
	}
	a.formatFlag(cmd, "text", "json")
	a.outputFlag(cmd, "folder to write the pictures and the page to (default: none are drawn)")
	return cmd
}

func (a *app) compare(args []string) error {
	var s *season // opened when a state needs it
	defer func() {
		if s != nil {
			s.close()
		}
	}()
	series := func() (*season, error) {
		if s == nil {
			var err error
			if s, err = a.sound(); err != nil {
				s = nil
				return nil, err
			}
		}
		return s, nil
	}
	if len(args) == 1 {
		s, err := series()
		if err != nil {
			return err
		}
		name, err := a.oneDesign(s, args)
		if err != nil {
			return err
		}
		last, err := a.lastKept(s, name)
		if err != nil {
			return err
		}
		args = []string{name + "@" + last, name}
	}
	var states [2]*bundle.State
	for i, word := range args {
		var err error
		if states[i], err = a.state(series, word); err != nil {
			return err
		}
	}
	d, err := bundle.Changes(states[0], states[1])
	if err != nil {
		return unreadable("dropwright check says what is wrong with the meshes", "%w", err)
	}
	if a.output != "" {
		if err := a.drawDiff(states, &d); err != nil {
			return err
		}
	}
	if a.format == "json" {
		return a.asJSON(d)
	}
	a.printDiff(d)
	return nil
}

// drawDiff writes a picture of each part that changed shape, and the page with all of them.
func (a *app) drawDiff(states [2]*bundle.State, d *compare.Diff) error {
	dir := a.abs(a.output)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return machine("choose a folder you may write to with --output", "making %s: %w", a.output, err)
	}
	drawn := make([]bundle.Drawn, len(d.Parts))
	for i := range d.Parts {
		p := &d.Parts[i]
		if err := a.ctx.Err(); err != nil {
			return err
		}
		a.ui.step("drawing %s", p.Part)
		svg, alt, err := bundle.Differs(states[0], states[1], *p)
		if err != nil {
			return unreadable("dropwright check says what is wrong with the meshes", "drawing %s: %w", p.Part, err)
		}
		if svg == nil {
			continue
		}
		drawn[i] = bundle.Drawn{SVG: svg, Alt: alt}
		p.Picture = p.Part + ".svg"
		if p.Variant != "" {
			p.Picture = p.Variant + "-" + p.Picture
		}
		if err := a.replaceFile(filepath.Join(dir, p.Picture), svg); err != nil {
			return err
		}
	}
	var page bytes.Buffer
	if err := bundle.ComparePage(&page, *d, drawn); err != nil {
		return machine("", "%w", err)
	}
	return a.replaceFile(filepath.Join(dir, "compare.html"), page.Bytes())
}

func (a *app) printDiff(d compare.Diff) {
	fmt.Fprintf(a.stdout, "%s -> %s\n\n", d.From, d.To)
	rows := [][]string{{"part", "change", "reprint", "why"}}
	for _, p := range d.Parts {
		name := p.Part
		if p.Variant != "" {
			name = p.Variant + ": " + name
		}
		if p.Was != "" {
			name += " (was " + p.Was + ")"
		}
		rows = append(rows, []string{name, p.Change, strings.ReplaceAll(p.Reprint, "-", " "), p.Why})
	}
	a.ui.table(rows)
	if a.output != "" {
		fmt.Fprintf(a.stdout, "\nwhere they differ: %s\n", a.shown(filepath.Join(a.abs(a.output), "compare.html")))
	}
	level, why := compare.Level(d)
	fmt.Fprintf(a.stdout, "\nrevision: %s: %s\n", level, why)
	lines := compare.Draft(d)
	if len(lines) == 0 {
		fmt.Fprintln(a.stdout, "changes: nothing that a builder would notice")
		return
	}
	fmt.Fprintln(a.stdout, "changes, to begin from:")
	for _, l := range lines {
		fmt.Fprintf(a.stdout, "  %s\n", l)
	}
}

// lastKept is the newest revision of a design that the history keeps.
func (a *app) lastKept(s *season, name string) (string, error) {
	hint := "name two states: dropwright compare old.zip new.zip"
	keeper, err := a.keeper(s)
	if err != nil {
		return "", unreadable(hint, "there is no history to compare with: %w", err)
	}
	revisions, err := keeper.Revisions(name)
	if err != nil {
		return "", machine("", "reading the history of %s: %w", name, err)
	}
	last := ""
	for _, r := range revisions {
		if last == "" || schedule.Newer(r, last) {
			last = r
		}
	}
	if last == "" {
		return "", unreadable(hint, "the history keeps no revision of %s yet", name)
	}
	return last, nil
}

// state finds what a word of the command line names.
func (a *app) state(series func() (*season, error), word string) (*bundle.State, error) {
	if st, err := os.Stat(a.abs(word)); err == nil {
		if !st.IsDir() {
			return a.zipState(word, st.Size())
		}
		if _, err := os.Stat(filepath.Join(a.abs(word), "bundle.json")); err == nil {
			return a.folderState(word)
		}
		if _, err := os.Stat(filepath.Join(a.abs(word), catalogue.DesignFile)); err == nil {
			return a.copyState(series, word)
		}
	}
	if strings.HasSuffix(word, ".zip") {
		return nil, unreadable("check the name", "%s: there is no such file", word)
	}
	s, err := series()
	if err != nil {
		return nil, err
	}
	name, revision, _ := strings.Cut(word, "@")
	if before, after, ok := strings.Cut(word, "/v"); ok && s.Has(before) {
		name, revision = before, after
	}
	revision = strings.TrimPrefix(revision, "v")
	if name, err = a.oneDesign(s, []string{name}); err != nil {
		return nil, err
	}
	return a.designState(s, name, revision)
}

// designState measures a design as it lies there, or as the history keeps a revision.
func (a *app) designState(s *season, name, revision string) (*bundle.State, error) {
	var at fs.FS
	house, called := &s.Config.House, name
	if revision != "" {
		if _, err := design.ParseRevision(revision); err != nil {
			return nil, usage("write it as "+name+"@1.0.0", "%q is no revision", revision)
		}
		keeper, err := a.keeper(s)
		if err != nil {
			return nil, unreadable("compare bundles instead: dropwright compare old.zip new.zip", "there is no history to ask: %w", err)
		}
		if at, err = keeper.At(name, revision); err != nil {
			if errors.Is(err, fs.ErrNotExist) {
				known, _ := keeper.Revisions(name)
				return nil, unreadable("it keeps: "+strings.Join(append(known, "nothing yet")[:max(1, len(known))], ", "), "the history keeps no revision %s of %s", revision, name)
			}
			return nil, machine("", "reading %s %s from the history: %w", name, revision, err)
		}
		old, err := catalogue.Open(at, s.Shown, board.Builtin())
		if err != nil || old.Config == nil {
			return nil, unreadable("compare bundles instead", "%s as it was at %s %s cannot be read", catalogue.SeriesFile, name, revision)
		}
		house, called = &old.Config.House, name+" "+revision
	}
	e, err := a.loadAt(s, name, at)
	if err != nil {
		return nil, machine("", "reading %s: %w", called, err)
	}
	if e.Design == nil || len(e.Design.Changes) == 0 {
		return nil, unreadable("dropwright check "+name, "the manifest of %s cannot be read as meant", called)
	}
	if at == nil {
		called = name + " " + e.Design.Revision().String() + " as it lies there"
	}
	return a.measured(e, house, called)
}

// measured is the state of a design once it is measured.
func (a *app) measured(e *catalogue.Entry, house *design.House, called string) (*bundle.State, error) {
	opt := measure.Options{Topics: bundle.CompareTopics, Cache: a.cache(), Progress: func(done, total int, file string) {
		a.ui.step("measuring %s: %d of %d: %s", called, done, total, file)
	}}
	w, err := bundle.Examine(bundle.Source{FS: e.FS, Manifest: e.Manifest, Design: e.Design, House: house}, check.Past{}, "", opt)
	if err != nil {
		return nil, machine("", "measuring %s: %w", called, err)
	}
	return w.State(called), a.ctx.Err()
}

// copyState measures a copy of a design that lies anywhere, as if it lay in the series: filaments and settings are the
// series' own.
func (a *app) copyState(series func() (*season, error), word string) (*bundle.State, error) {
	s, err := series()
	if err != nil {
		return nil, err
	}
	if dir, name := filepath.Split(a.abs(word)); s.Has(name) && filepath.Clean(dir) == filepath.Join(s.dir, catalogue.DesignsDir) {
		return a.designState(s, name, "")
	}
	root, err := os.OpenRoot(a.abs(word))
	if err != nil {
		return nil, machine("check that you may read it", "opening %s: %w", word, err)
	}
	context.AfterFunc(a.ctx, func() { root.Close() }) // its meshes are read when they are compared
	e, err := s.LoadFrom(root.FS(), filepath.Base(a.abs(word)))
	if err != nil {
		return nil, machine("", "reading %s: %w", word, err)
	}
	if e.Design == nil || len(e.Design.Changes) == 0 {
		return nil, unreadable("copy it into the series' designs folder; dropwright check says more", "the manifest of %s cannot be read as meant", word)
	}
	return a.measured(e, &s.Config.House, word+" ("+e.Design.Revision().String()+")")
}

// zipState reads a packed bundle, once it has been verified.
func (a *app) zipState(word string, size int64) (*bundle.State, error) {
	f, err := os.Open(a.abs(word))
	if err != nil {
		return nil, unreadable("check that you may read it", "opening %s: %w", word, plainError(err))
	}
	defer f.Close()
	rep, err := archive.Verify(a.ctx, f, size)
	if err != nil {
		return nil, machine("", "reading %s: %w", word, err)
	}
	if len(rep.Problems) > 0 {
		return nil, unreadable("dropwright verify "+word+" says more", "%s is no whole bundle: %s", word, rep.Problems[0])
	}
	z, err := archive.Read(f, size)
	if err != nil {
		return nil, machine("", "reading %s: %w", word, err)
	}
	all := memFS{}
	for _, p := range z.Paths() {
		if p != "bundle.json" && !strings.HasPrefix(p, "meshes/") {
			continue
		}
		data, err := z.ReadFile(p, archive.MaxBytes)
		if err != nil {
			return nil, machine("", "reading %s: %w", word, err)
		}
		all[p] = data
	}
	return readState(all, word, rep.Top)
}

func (a *app) folderState(word string) (*bundle.State, error) {
	root, err := os.OpenRoot(a.abs(word))
	if err != nil {
		return nil, machine("check that you may read it", "opening %s: %w", word, err)
	}
	defer root.Close()
	all := memFS{}
	for _, dir := range []string{".", "meshes"} {
		list, _ := fs.ReadDir(root.FS(), dir)
		for _, e := range list {
			p := path.Join(dir, e.Name())
			if !e.Type().IsRegular() || dir == "." && p != "bundle.json" {
				continue
			}
			if all[p], err = fs.ReadFile(root.FS(), p); err != nil {
				return nil, unreadable("check that you may read it", "reading %s: %w", path.Join(word, p), plainError(err))
			}
		}
	}
	return readState(all, word, filepath.Base(a.abs(word)))
}

func readState(all memFS, word, called string) (*bundle.State, error) {
	s, err := bundle.ReadState(all, called)
	if err != nil {
		return nil, unreadable("name a bundle that dropwright packed", "%s: %w", word, err)
	}
	return s, nil
}

// memFS is files in memory by their path.
type memFS map[string][]byte

// Open is fs.FS's.
func (m memFS) Open(name string) (fs.File, error) {
	data, ok := m[name]
	if !ok {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return &memFile{Reader: bytes.NewReader(data), size: int64(len(data))}, nil
}
