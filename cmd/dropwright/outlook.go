package main

import (
	"errors"
	"io/fs"
	"path"
	"path/filepath"

	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
	"dropwright/bundle/trial"
	"dropwright/series/disk"
	"dropwright/series/ledger"
	"dropwright/series/outlook"
	"dropwright/series/schedule"
	"dropwright/series/stock"
)

// view is what a season looks like, with what it was worked out from, so that a question "what if" measures
// nothing again.
type view struct {
	outlook.Season
	input    outlook.Input
	plan     schedule.Input
	examined map[string]examined // every design with a folder; those that are out are read and not measured
}

// outlook works out the view over the season.
func (a *app) outlook(s *season) (*view, error) {
	cal, err := a.calendar(s)
	if err != nil {
		return nil, err
	}
	rehearsal := onlyRehearsal(s)
	log, err := a.readLedger(s, rehearsal)
	if err != nil {
		return nil, err
	}
	shelf, err := a.shelf(s)
	if err != nil {
		return nil, err
	}
	ideas, err := a.ideas(s)
	if err != nil {
		return nil, err
	}
	out := map[string]bool{}
	for _, d := range log.Deliveries() {
		out[d.Intent.Design] = out[d.Intent.Design] || d.Outcome == ledger.Done || d.Outcome == ledger.HandedOver
	}
	all, back, err := a.examineAll(s, measure.Topics{Estimate: true}, func(name string) bool { return !out[name] })
	if err != nil {
		return nil, err
	}
	v := &view{examined: all, plan: a.planInput(s, cal, log, channelsOf(s, rehearsal, nil))}
	in := outlook.Input{Series: string(s.Config.Name.V), Title: string(s.Config.Title.V), House: &s.Config.House, Calendar: cal, Ledger: log, Designs: map[string]outlook.Known{},
		Plan:   planOf(s),
		Trials: a.logged(s), BoardTitle: boardTitle}
	if shelf != nil {
		in.Shelf = &shelf.Shelf
	}
	in.Ideas = ideas.List
	for _, name := range s.Names {
		in.Designs[name] = a.known(s, all[name], back)
	}
	in.Reports = a.openReports(s)
	in.Weeks = a.weeksOf(s, v.plan, in.Designs)
	v.input = in
	v.Season = outlook.Build(in, a.now())
	return v, a.ctx.Err()
}

// planOf is what series.yaml plans for each design.
func planOf(s *season) outlook.Plan {
	p := s.Config.Plan
	return outlook.Plan{Trials: p.TrialsPlanned(), Builds: p.BuildsPlanned(), Buffer: p.BufferDays(), Delivery: p.DeliveryDays(), Days: p.DaysPlanned(), Stated: p.At.Known()}
}

// weeksOf is how every week stands, from designs that were examined already.
func (a *app) weeksOf(s *season, in schedule.Input, known map[string]outlook.Known) []schedule.Week {
	weeks := schedule.Weeks(in, func(name string) schedule.Facts { return known[name].Standing }, a.now())
	for i, w := range weeks {
		if near := nearFolder(s, w.Design); near != "" {
			weeks[i].Why = nearWords(near, w.Design)
		}
	}
	return weeks
}

// known is what is known of one design.
func (a *app) known(s *season, x examined, back *lookback) outlook.Known {
	k := outlook.Known{Touched: back.Touched[x.entry.Name]}
	if x.entry.Design != nil {
		k.Title = string(x.entry.Design.Title.V)
	}
	if x.entry.Design == nil || finding.Count(x.entry.Findings, finding.Error) > 0 {
		n := finding.Count(x.entry.Findings, finding.Error)
		k.Findings = &outlook.Findings{Errors: n, Warnings: finding.Count(x.entry.Findings, finding.Warning), Notes: finding.Count(x.entry.Findings, finding.Note)}
		return k
	}
	k.Design = x.entry.Design
	k.Meshes, k.Pending = back.meshesAt(x.entry), back.pendingIn(x.entry)
	if x.work == nil {
		return k
	}
	k.Facts = x.work.Facts
	k.Standing = a.standingOf(s, x.work)
	found := append(x.entry.Findings[:len(x.entry.Findings):len(x.entry.Findings)], x.work.Checked.Findings...)
	k.Findings = &outlook.Findings{Errors: finding.Count(found, finding.Error), Warnings: finding.Count(found, finding.Warning), Notes: finding.Count(found, finding.Note),
		NotChecked: len(x.work.Checked.NotChecked)}
	for _, p := range k.Facts.Parts {
		m, ok := k.Facts.Mesh(p.Mesh)
		if !ok {
			k.Untried = append(k.Untried, p.Part)
			continue
		}
		if _, ok := trial.Accepted(a.logged(s), m.SHA256); !ok {
			k.Untried = append(k.Untried, p.Part)
		}
	}
	return k
}

// shelfFile is stock.csv as it was read.
type shelfFile struct {
	stock.Shelf
	name string // absolute
}

// kept reads a file beside series.yaml that the tool keeps; nil without one.
func (a *app) kept(s *season, name string) ([]byte, error) {
	data, err := disk.ReadFile(disk.OS(), filepath.Join(s.dir, name), stock.MaxBytes)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, machine("check that you may read "+path.Join(s.Shown, name), "reading %s: %w", path.Join(s.Shown, name), plainly(err))
	}
	return data, nil
}

// atLine gives a mistake in a file that the tool keeps its place.
func atLine(shown string, err error) error {
	var l *stock.LineError
	if errors.As(err, &l) {
		return unreadable(l.Hint+"; git log -p "+path.Base(shown)+" shows when it changed", "%s:%d: %s", shown, l.Line, l.Text)
	}
	return machine("", "reading %s: %w", shown, err)
}

// shelf reads stock.csv; nil when none is kept.
func (a *app) shelf(s *season) (*shelfFile, error) {
	data, err := a.kept(s, stock.File)
	if err != nil || data == nil {
		return nil, err
	}
	sh, err := stock.Read(data)
	if err != nil {
		return nil, atLine(path.Join(s.Shown, stock.File), err)
	}
	return &shelfFile{*sh, filepath.Join(s.dir, stock.File)}, nil
}

// ideas reads ideas.csv; an empty list when there is none.
func (a *app) ideas(s *season) (*stock.Ideas, error) {
	data, err := a.kept(s, stock.IdeasFile)
	if err != nil || data == nil {
		return &stock.Ideas{}, err
	}
	l, err := stock.ReadIdeas(data)
	if err != nil {
		return nil, atLine(path.Join(s.Shown, stock.IdeasFile), err)
	}
	return l, nil
}
