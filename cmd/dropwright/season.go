package main

import (
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/board"
	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
	"dropwright/bundle/measure/cache"
	"dropwright/bundle/trial"
	"dropwright/series/catalogue"
)

// season is an opened series with the root that keeps its files inside.
type season struct {
	*catalogue.Series
	dir  string // absolute
	root *os.Root

	trials []trial.Record // its log of test prints, when asked is set
	asked  bool

	goesOut bool // what is worked out is for builders, not for the maker

	// fixed stands in for the history and the trials where it is not nil: a test brings its own.
	fixed map[string]check.Past
}

func (s *season) close() { s.root.Close() }

// findSeries returns the folder with the series.yaml: --series, or the nearest one from here upwards.
func (a *app) findSeries() (string, error) {
	if a.series != "" {
		dir := a.abs(a.series)
		if _, err := os.Stat(filepath.Join(dir, catalogue.SeriesFile)); err != nil {
			return "", unreadable("name the folder that holds series.yaml, or make one with `dropwright init "+a.series+"`", "--series %s: no series.yaml there", a.series)
		}
		return dir, nil
	}
	for dir := a.dir; ; dir = filepath.Dir(dir) {
		if _, err := os.Stat(filepath.Join(dir, catalogue.SeriesFile)); err == nil {
			return dir, nil
		}
		if filepath.Dir(dir) == dir {
			return "", usage("go to the series' folder, name it with --series DIR, make one with `dropwright init DIR`,\nor try things on a demo season: `dropwright demo DIR`", "no series.yaml in this folder or above it")
		}
	}
}

// openSeries opens the series and refuses to go on when series.yaml itself cannot be read as meant.
func (a *app) openSeries() (*season, error) {
	dir, err := a.findSeries()
	if err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, machine("check that you may read the folder", "opening the series: %w", err)
	}
	s, err := catalogue.Open(root.FS(), a.shown(dir), board.Builtin())
	if err != nil {
		root.Close()
		if errors.Is(err, catalogue.ErrNoSeries) {
			return nil, usage("make a series with `dropwright init DIR`", "no series.yaml in %s", a.shown(dir))
		}
		return nil, machine("check that you may read the folder", "%w", err)
	}
	s.Findings = append(s.Findings, badStores(s.Config, s.Findings)...)
	finding.Sort(s.Findings)
	return &season{Series: s, dir: dir, root: root}, nil
}

// sound opens the series for a command that cannot work with a broken series.yaml: its findings are printed
// and the command ends.
func (a *app) sound() (*season, error) {
	s, err := a.openSeries()
	if err != nil {
		return nil, err
	}
	if finding.Count(s.Findings, finding.Error) > 0 || s.Config == nil {
		a.complain(s.Findings, s.Text)
		s.close()
		return nil, unreadable("mend "+path.Join(s.Shown, catalogue.SeriesFile)+" first", "the series cannot be read as meant")
	}
	return s, nil
}

// choose turns the words of the command line into design names: a bare number is a week. Without words it is
// the design whose folder this is, or, with all, every design.
func (a *app) choose(s *season, words []string, all bool) ([]string, error) {
	if len(words) == 0 {
		if rel, err := filepath.Rel(filepath.Join(s.dir, catalogue.DesignsDir), a.dir); err == nil && rel != "." && !strings.HasPrefix(rel, "..") {
			name := strings.Split(filepath.ToSlash(rel), "/")[0]
			if s.Has(name) {
				return []string{name}, nil
			}
		}
		if all {
			return s.Names, nil
		}
		return nil, usage("name one: "+strings.Join(s.Names, ", "), "which design?")
	}
	var out []string
	for _, w := range words {
		name := strings.TrimSuffix(strings.TrimPrefix(strings.TrimPrefix(filepath.ToSlash(w), "./"), catalogue.DesignsDir+"/"), "/")
		name = strings.TrimSuffix(name, "/"+catalogue.DesignFile)
		if n, err := strconv.Atoi(w); err == nil && !s.Has(w) {
			name = ""
			if s.Config != nil {
				for _, e := range s.Config.Calendar.Designs {
					if e.Week == n {
						name = string(e.Design.V)
					}
				}
			}
			if name == "" {
				return nil, usage("`dropwright schedule` prints the weeks", "week %d has no design", n)
			}
		}
		if !s.Has(name) {
			for _, i := range s.Ideas() {
				if string(i.Design.V) == name {
					return nil, usage("start it with `dropwright new "+name+"`", "%s is an idea: it has week %d and no folder yet", name, i.Week)
				}
			}
			hint := "the series has: " + strings.Join(s.Names, ", ")
			if near := finding.Nearest(name, s.Names); near != "" {
				hint = "did you mean " + near + "?"
			}
			return nil, usage(hint, "no design is called %q", name)
		}
		out = append(out, name)
	}
	return out, nil
}

// oneDesign is choose for commands that take one.
func (a *app) oneDesign(s *season, words []string) (string, error) {
	names, err := a.choose(s, words, false)
	if err != nil {
		return "", err
	}
	if len(names) != 1 {
		return "", usage("name one", "this command takes one design, found %d", len(names))
	}
	return names[0], nil
}

// examine reads, measures and judges one design. work is nil when the manifest does not decode; the entry
// then holds the findings.
func (a *app) examine(s *season, name string, audience design.Audience, topics measure.Topics) (*catalogue.Entry, *bundle.Work, error) {
	e, err := s.Load(name)
	if err != nil {
		return nil, nil, machine("check that you may read the folder", "%w", err)
	}
	w, err := a.examineRead(s, e, audience, topics)
	if err != nil && w == nil {
		return nil, nil, err
	}
	return e, w, err
}

// examineRead is examine for a design that was read already.
func (a *app) examineRead(s *season, e *catalogue.Entry, audience design.Audience, topics measure.Topics) (*bundle.Work, error) {
	name := e.Name
	if e.Design == nil || finding.Count(e.Findings, finding.Error) > 0 {
		return nil, nil
	}
	b := a.ui.busy(0)
	defer b.stop()
	opt := measure.Options{Topics: topics, Factors: a.factors(s), Cache: a.cache(),
		Stage:    func(file, stage string) { b.at(name+"/"+file, stage) },
		Progress: func(done, total int, file string) { b.jobs(done, total, name+"/"+file) }}
	w, err := bundle.Examine(bundle.Source{FS: e.FS, Manifest: e.Manifest, Design: e.Design, House: &s.Config.House, Series: s.FS}, a.before(s, e), audience, opt)
	if err != nil {
		return nil, machine("", "measuring %s: %w", name, err)
	}
	return w, a.ctx.Err()
}

// cache is the user's folder of what was measured before; nil when there is none or it is not wanted. The
// program's own size and time stand for its build: another build measures afresh.
func (a *app) cache() *cache.Cache {
	dir, err := os.UserCacheDir()
	if a.noCache || err != nil {
		return nil
	}
	exe, err := os.Executable()
	if err != nil {
		return nil
	}
	st, err := os.Stat(exe)
	if err != nil {
		return nil
	}
	return cache.New(filepath.Join(dir, "dropwright"), fmt.Sprint(st.Size(), st.ModTime().UnixNano()), 0)
}

// variants resolves --variant for a design.
func (a *app) variants(d *design.Design) ([]string, error) {
	names := d.VariantNames()
	if a.variant == "" {
		return names, nil
	}
	for _, n := range names {
		if n == a.variant {
			return []string{n}, nil
		}
	}
	hint := "it has: " + strings.Join(names, ", ")
	if near := finding.Nearest(a.variant, names); near != "" {
		hint = "did you mean " + near + "?"
	}
	return nil, usage(hint, "%s has no variant %q", d.Folder, a.variant)
}

// completeDesigns offers design names to the shell.
func (a *app) completeDesigns(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	s, err := a.openSeries()
	if err != nil {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	defer s.close()
	var out []string
	for _, n := range s.Names {
		used := false
		for _, x := range args {
			used = used || x == n
		}
		if !used {
			out = append(out, n)
		}
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}

// completeVariants offers the variants of the design named so far.
func (a *app) completeVariants(args []string) []string {
	s, err := a.openSeries()
	if err != nil || len(args) == 0 || !s.Has(args[0]) {
		return nil
	}
	defer s.close()
	e, err := s.Load(args[0])
	if err != nil || e.Design == nil {
		return nil
	}
	return e.Design.VariantNames()
}
