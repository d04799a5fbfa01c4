package main

import (
	"path"
	"slices"

	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/bundle/trial"
	"dropwright/series/catalogue"
)

// before is all that came before a design as it now lies there: what went out, when its files were last
// changed, what was printed.
func (a *app) before(s *season, e *catalogue.Entry) check.Past {
	if s.fixed != nil {
		return s.fixed[e.Name]
	}
	out := a.past(s, e.Name)
	out.Ages = a.ages(s, e)
	if log, _, err := readTrials(s); err == nil { // a damaged log is said where estimates are calibrated
		for _, r := range log {
			if r.Design == e.Name && r.Mesh != "" && r.Outcome != "" {
				out.Trials = append(out.Trials, check.Trial{Part: r.Part, Variant: r.Variant, Mesh: r.Mesh, Accepted: r.Outcome == trial.OK})
			}
		}
	}
	return out
}

// ages is when the pictures, meshes and sources of a design were last changed, by the history; nil without one.
func (a *app) ages(s *season, e *catalogue.Entry) map[string]check.Age {
	keeper, err := a.keeper(s)
	if err != nil {
		return nil
	}
	dir := path.Join(catalogue.DesignsDir, e.Name)
	var files []string
	for _, u := range e.Design.Files() {
		if name := path.Join(dir, string(u.Path)); aged(u) && !slices.Contains(files, name) {
			files = append(files, name)
		}
	}
	at, err := keeper.Changed(files)
	if err != nil {
		return nil
	}
	out := map[string]check.Age{}
	for f, t := range at {
		out[f[len(dir)+1:]] = check.Age{At: t}
	}
	unclean, err := keeper.Unclean(files)
	if err != nil {
		return nil
	}
	for _, u := range unclean {
		if len(u.Path) > len(dir) {
			out[u.Path[len(dir)+1:]] = check.Age{Pending: true}
		}
	}
	return out
}

// aged reports whether the age of a file is asked for.
func aged(u design.FileUse) bool {
	return u.Kind == "mesh" || u.Kind == "source" || u.Kind == "photo" || u.Kind == "step picture"
}
