package main

import (
	"dropwright/bundle"
	"dropwright/bundle/design"
	"dropwright/bundle/measure"
	"dropwright/series/catalogue"
	"dropwright/series/schedule"
)

// revisionBefore names the newest revision below that of a design which its history keeps; "" where there is none. What
// comes of it is the same for a revision whenever it is asked for: a later one does not change it.
func (a *app) revisionBefore(s *season, d *design.Design) string {
	keeper, err := a.keeper(s)
	if err != nil {
		return ""
	}
	revisions, err := keeper.Revisions(d.Folder)
	if err != nil {
		return ""
	}
	last := ""
	for _, text := range revisions {
		r, err := design.ParseRevision(text)
		if err == nil && r.Compare(d.Revision()) < 0 && (last == "" || schedule.Newer(text, last)) {
			last = text
		}
	}
	return last
}

// since lets the sheets of a design say which parts must be printed anew by who built the revision before. A history
// that cannot answer is a note to the maker, not a failure: the sheet is whole without it.
func (a *app) since(s *season, w *bundle.Work) {
	last := a.revisionBefore(s, w.Design)
	if last == "" {
		return
	}
	was, err := a.designState(s, w.Design.Folder, last)
	if err == nil {
		err = w.ChangedSince(was)
	}
	if err != nil {
		a.ui.say("note: the sheet says nothing of parts to print anew since %s: %v", last, err)
	}
}

// logo is the picture that the series' pages and sheets begin with, as a path from the series' folder; "" for none.
func logo(s *catalogue.Series) string {
	if s.Config == nil || !s.Config.Logo.Set() {
		return ""
	}
	return string(s.Config.Logo.V)
}

// sheetTopics is what must be measured for a sheet: with a revision before it, what tells which parts changed too.
func (a *app) sheetTopics(s *season, name string) measure.Topics {
	e, err := s.Load(name)
	if err == nil && e.Design != nil && a.revisionBefore(s, e.Design) != "" {
		t := bundle.CompareTopics
		t.Estimate = true
		return t
	}
	return measure.Topics{Estimate: true}
}
