package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/adopt"
	"dropwright/bundle/board"
	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/manifest"
	"dropwright/bundle/measure"
	"dropwright/bundle/source"
	"dropwright/series/catalogue"
	"dropwright/series/config"
	"dropwright/series/history"
)

// adoptOptions are the flags of adopt.
type adoptOptions struct {
	name                     string
	dryRun, update, yes, all bool
}

func (a *app) adoptCmd() *cobra.Command {
	var o adoptOptions
	cmd := &cobra.Command{
		Use:   "adopt DIR|DESIGN",
		Short: "draft a manifest from a folder of files",
		Long: `Reads what lies in a folder (meshes, print files, CAD sources, photos, Markdown and text, tables, licences) and
drafts design.yaml there: parts with copies and colours, boards by their holes, fasteners from lists and holes,
steps. Behind each value stands where it came from and whether it is sure, likely or a guess; what was not found
is a commented line to fill in. Then it checks the draft and prints the findings that matter most: what
contradicts what. A design.yaml that is there is never overwritten, and nothing leaves the machine.

With --series the folder is copied into that series and gets the first free week; what the manifest does not
name goes into refs/. With --update it compares a design with the meshes that lie in its folder after a new
export: new parts, gone ones, changed ones; it asks before it writes, and in a pipe writes with --yes only.

Findings are no failure of adopt: it ends with 0 when the draft is written.`,
		Example: "  dropwright adopt ~/designs/lamp                       # drafts ~/designs/lamp/design.yaml\n" +
			"  dropwright adopt ~/designs/lamp --dry-run             # prints it\n" +
			"  dropwright adopt ~/designs/lamp --series my-season    # copies it into a series, in a free week\n" +
			"  dropwright adopt lamp --update                        # after a new export",
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.update {
				if o.dryRun && o.yes {
					return usage("leave one of the two out", "--dry-run shows, --yes writes")
				}
				return a.adoptUpdate(args[0], o)
			}
			return a.adopt(args[0], o, cmd.Flags().Changed("series"))
		},
	}
	a.formatFlag(cmd, "text", "json")
	cmd.Flags().StringVar(&o.name, "name", "", "name of the design (default: the folder's)")
	cmd.Flags().BoolVar(&o.dryRun, "dry-run", false, "print the manifest, write nothing")
	cmd.Flags().BoolVar(&o.update, "update", false, "compare a design with its meshes after a new export")
	cmd.Flags().BoolVar(&o.yes, "yes", false, "with --update: write without asking")
	cmd.Flags().BoolVar(&o.all, "all", false, "print every finding, not the first ten")
	return cmd
}

// adopted is the result as --format json prints it.
type adopted struct {
	Design   string        `json:"design"`
	Manifest string        `json:"manifest"` // path as shown; with --dry-run the one it would have
	Written  bool          `json:"written"`
	Text     string        `json:"text"`
	Values   []adoptValue  `json:"values"`
	Findings []jsonFinding `json:"findings"`
	Left     []adoptLeft   `json:"left"`
	Notes    []string      `json:"notes"`
}

type adoptValue struct {
	Path string `json:"path"`
	Text string `json:"text"`
	From string `json:"from,omitempty"`
	Sure string `json:"sure"`
}

type adoptLeft struct {
	File string `json:"file"`
	Why  string `json:"why"`
}

func (a *app) adopt(arg string, o adoptOptions, intoSeries bool) error {
	dir := a.abs(arg)
	if st, err := os.Stat(dir); err != nil || !st.IsDir() {
		if err == nil {
			return usage("name the folder that it lies in", "%s is a file", arg)
		}
		return unreadable("name a folder that holds meshes", "%s cannot be read: %w", arg, plainly(err))
	}
	name := o.name
	if name == "" {
		name = design.Kebab(filepath.Base(dir))
	} else if k := design.Kebab(name); k != name {
		return usage("--name "+k, "a design's name has lower-case letters, digits and single hyphens, found %q", name)
	}
	s, err := a.seriesFor(dir, intoSeries)
	if err != nil {
		return err
	}
	if s != nil {
		defer s.close()
	}
	target := filepath.Join(dir, catalogue.DesignFile)
	if !o.dryRun {
		if _, err := os.Lstat(target); err == nil {
			return refused("`dropwright adopt "+arg+" --update` compares it with the meshes; `--dry-run` prints a fresh draft beside it", "%s is there already and is not overwritten", a.shown(target))
		}
	}
	if intoSeries && !o.dryRun {
		if err := a.roomFor(s, dir, name); err != nil {
			return err
		}
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return machine("check that you may read the folder", "%w", err)
	}
	defer root.Close()
	opt := a.adoptReading(dir, root.FS(), name, s)
	d, err := adopt.Read(root.FS(), opt)
	a.ui.wipe()
	switch {
	case errors.Is(err, adopt.ErrNothing):
		return unreadable("put its STL or 3MF files there", "%s: %w", arg, err)
	case errors.Is(err, adopt.ErrStopped):
		return a.ctx.Err()
	case err != nil:
		return machine("check that you may read the folder", "reading %s: %w", arg, err)
	}
	shown := a.shown(target)
	if intoSeries {
		shown = a.shown(filepath.Join(s.dir, catalogue.DesignsDir, name, catalogue.DesignFile))
	}
	found, texts, err := a.judgeDraft(root.FS(), d, s, name, shown)
	if err != nil {
		return err
	}
	out := adopted{Design: name, Manifest: shown, Text: string(d.Manifest), Values: []adoptValue{}, Findings: toJSON(found), Left: []adoptLeft{}, Notes: append([]string{}, d.Notes...)}
	for _, v := range d.Values {
		out.Values = append(out.Values, adoptValue{v.Path, v.Text, v.From, v.Sure.String()})
	}
	for _, l := range d.Left {
		out.Left = append(out.Left, adoptLeft{l.File, l.Why})
	}
	if !o.dryRun {
		if intoSeries {
			if err := a.takeIn(s, root.FS(), dir, name, d); err != nil {
				return err
			}
		} else if err := a.layOut(dir, map[string][]byte{catalogue.DesignFile: d.Manifest}); err != nil {
			return err
		}
		out.Written = true
	}
	if a.format == "json" {
		return a.asJSON(out)
	}
	if o.dryRun {
		fmt.Fprint(a.stdout, string(d.Manifest))
	}
	a.printDraft(out, d, found, texts, o)
	if intoSeries && !o.dryRun {
		return a.giveFreeWeek(s, name)
	}
	return nil
}

// printDraft says what was drafted, what was left aside, and what contradicts what.
func (a *app) printDraft(out adopted, d *adopt.Draft, found []finding.Finding, t texts, o adoptOptions) {
	sure, likely, guess := d.Sums()
	verb := "wrote"
	if !out.Written {
		verb = "would write"
	}
	a.ui.say("%s %s: %s, of them %d sure, %d likely, %s", verb, out.Manifest, plural(len(d.Values), "value"), sure, likely, guesses(guess))
	for _, n := range d.Notes {
		a.ui.say("note: %s", n)
	}
	if o.dryRun && a.ui.quiet {
		return
	}
	shown := *a.ui
	if o.dryRun {
		shown.out = a.stderr // stdout is the manifest alone
	}
	list, hidden := found, 0
	if !o.all && len(list) > worst {
		list, hidden = list[:worst], len(found)-worst
	}
	for _, f := range list {
		shown.finding(f, t)
	}
	switch {
	case len(found) == 0:
		a.ui.say("nothing in the folder contradicts anything else")
	case hidden > 0:
		fmt.Fprintf(shown.out, "… and %s that matter less; --all prints them\n", plural(hidden, "finding"))
	}
	if !o.dryRun {
		a.ui.say("next: look at the guesses in %s, then `dropwright check`", out.Manifest)
	}
}

// guesses is "1 guess", "2 guesses".
func guesses(n int) string {
	if n == 1 {
		return "1 guess"
	}
	return fmt.Sprintf("%d guesses", n)
}

// seriesFor is the series that an adopted folder belongs to: the one that --series names, or the one it lies in;
// nil when there is none.
func (a *app) seriesFor(dir string, named bool) (*season, error) {
	if named {
		return a.sound()
	}
	for up := dir; ; up = filepath.Dir(up) {
		if _, err := os.Stat(filepath.Join(up, catalogue.SeriesFile)); err == nil {
			b := *a
			b.series = up
			return b.sound()
		}
		if filepath.Dir(up) == up {
			return nil, nil
		}
	}
}

// adoptReading is how the folder is read: with the names of the series' filaments, and with what git knows of the
// files.
func (a *app) adoptReading(dir string, fsys fs.FS, name string, s *season) adopt.Options {
	now := a.now()
	opt := adopt.Options{Name: name, Date: design.Date{Year: now.Year(), Month: int(now.Month()), Day: now.Day()}, Shown: a.shown(dir),
		Progress: func(done, total int, file string) { a.ui.step("reading %d of %d: %s", done, total, file) },
		Stop:     func() bool { return a.ctx.Err() != nil }}
	if s != nil {
		opt.House = &s.Config.House
	}
	g, err := history.OpenGit(dir)
	if err != nil {
		return opt
	}
	var files []string
	_ = fs.WalkDir(fsys, ".", func(p string, e fs.DirEntry, err error) error {
		if err != nil || len(files) >= 500 {
			return fs.SkipDir
		}
		if e.IsDir() && strings.HasPrefix(e.Name(), ".") && p != "." {
			return fs.SkipDir
		}
		if x := strings.ToLower(filepath.Ext(p)); x == ".stl" || x == ".3mf" {
			files = append(files, p)
		}
		return nil
	})
	if changed, err := g.Changed(files); err == nil {
		opt.Ages = map[string]int64{}
		for f, t := range changed {
			opt.Ages[f] = t.Unix()
		}
	}
	if states, err := g.States(files, 300); err == nil {
		opt.States = states
	}
	return opt
}

// judgeDraft checks the draft as `check` would, and puts what the folder itself contradicts first.
func (a *app) judgeDraft(fsys fs.FS, d *adopt.Draft, s *season, name, shown string) ([]finding.Finding, texts, error) {
	t := texts{}
	for _, x := range d.Texts {
		t.add(x)
	}
	ctx := manifest.Context{Boards: board.Builtin()}
	house := a.plainHouse()
	if s != nil {
		ctx = s.Context()
		house = &s.Config.House
	}
	m, text, found := manifest.Decode(name, shown, d.Manifest, ctx)
	t.add(text)
	if m == nil || finding.Count(found, finding.Error) > 0 {
		return d.Rank(found), t, nil // a fault of ours, and to be seen
	}
	if s == nil {
		for _, e := range m.Colours.Entries { // without a series every colour is on the shelf
			for _, f := range e.Value.Items {
				fil := house.Filaments[0]
				fil.Name = f
				house.Filaments = append(house.Filaments, fil)
			}
		}
	}
	opt := measure.Options{Cache: a.cache(), Progress: func(done, total int, file string) {
		a.ui.step("measuring %d of %d: %s", done, total, file)
	}}
	w, err := bundle.Examine(bundle.Source{FS: fsys, Manifest: d.Manifest, Design: m, House: house}, check.Past{}, "", opt)
	a.ui.wipe()
	if err != nil {
		return nil, nil, machine("", "measuring %s: %w", name, err)
	}
	for _, x := range w.Facts.Texts {
		t.add(source.NewText(filepath.ToSlash(filepath.Join(filepath.Dir(shown), x.File)), []byte(x.Body)))
	}
	return d.Rank(append(found, w.Checked.Findings...)), t, a.ctx.Err()
}

// plainHouse is what stands for a series where there is none: the printer and settings that `init` begins with.
func (a *app) plainHouse() *design.House {
	c, _, _ := config.Decode(catalogue.SeriesFile, []byte(fmt.Sprintf(seriesTemplate, "adopted", "Adopted", "you", "2027-01-08", "UTC")))
	return &c.House
}
