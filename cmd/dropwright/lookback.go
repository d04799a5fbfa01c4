package main

import (
	"path"
	"runtime"
	"slices"
	"sync"
	"time"

	"dropwright/bundle"
	"dropwright/bundle/check"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
	"dropwright/bundle/measure/cache"
	"dropwright/bundle/trial"
	"dropwright/series/catalogue"
	"dropwright/series/history"
)

// lookback is what the history says of a whole season, asked once: a season of a hundred designs asks it for a
// thousand files.
type lookback struct {
	keeper  history.Keeper
	noneWhy error // there is no history
	Changed map[string]time.Time
	Touched map[string][]time.Time // by design
	pending map[string]bool        // files that are not committed as they lie there
}

// lookBack asks the history about designs. What the present commit says is kept with what was measured; what lies
// there is compared afresh. A history that cannot be read gives none of it, as a series without one.
func (a *app) lookBack(s *season, entries map[string]*catalogue.Entry) *lookback {
	l := &lookback{Changed: map[string]time.Time{}, Touched: map[string][]time.Time{}, pending: map[string]bool{}}
	if l.keeper, l.noneWhy = a.keeper(s); l.noneWhy != nil {
		return l
	}
	var files, folders []string
	for _, name := range s.Names {
		dir := path.Join(catalogue.DesignsDir, name)
		folders = append(folders, dir)
		if e := entries[name]; e != nil && e.Design != nil {
			files = append(files, agedFiles(e)...)
		}
	}
	g, isGit := l.keeper.(*history.Git)
	if !isGit {
		return l
	}
	head, err := g.Present()
	if err != nil || head == "" {
		return l
	}
	kept := a.cache()
	key := cache.Key("lookback", 1, s.dir, head, files, folders)
	if !kept.Get(key, l) {
		changed, err := g.Changed(files)
		if err != nil {
			return l
		}
		touched, err := g.Touched(folders)
		if err != nil {
			return l
		}
		l.Changed = changed
		for f, t := range touched {
			l.Touched[path.Base(f)] = t
		}
		kept.Put(key, l)
	}
	for _, name := range s.Names {
		if entries[name] != nil {
			files = append(files, path.Join(catalogue.DesignsDir, name, catalogue.DesignFile))
		}
	}
	unclean, err := g.Unclean(files)
	if err != nil {
		return l
	}
	for _, u := range unclean {
		l.pending[u.Path] = true
	}
	return l
}

// agedFiles are the files of a design whose age is asked for, by their path in the series.
func agedFiles(e *catalogue.Entry) []string {
	var files []string
	for _, u := range e.Design.Files() {
		if name := path.Join(catalogue.DesignsDir, e.Name, string(u.Path)); aged(u) && !slices.Contains(files, name) {
			files = append(files, name)
		}
	}
	return files
}

// ages are those of a design's files, as before asks for them; nil without a history.
func (l *lookback) ages(e *catalogue.Entry) map[string]check.Age {
	if l.noneWhy != nil {
		return nil
	}
	dir := path.Join(catalogue.DesignsDir, e.Name) + "/"
	out := map[string]check.Age{}
	for _, f := range agedFiles(e) {
		if t, ok := l.Changed[f]; ok {
			out[f[len(dir):]] = check.Age{At: t}
		}
		if l.pending[f] {
			out[f[len(dir):]] = check.Age{Pending: true}
		}
	}
	return out
}

// examined is one design, read and judged. work is nil when the manifest does not decode.
type examined struct {
	entry *catalogue.Entry
	work  *bundle.Work
}

// examineAll is examine for many designs: the history is asked once, and several are measured at a time. Designs
// for which only says no are read and not measured.
func (a *app) examineAll(s *season, topics measure.Topics, only func(name string) bool) (map[string]examined, *lookback, error) {
	out := map[string]examined{}
	entries := map[string]*catalogue.Entry{}
	for _, name := range s.Names {
		e, err := s.Load(name)
		if err != nil {
			return nil, nil, machine("check that you may read the folder", "%w", err)
		}
		out[name] = examined{entry: e}
		if only(name) {
			entries[name] = e
		}
	}
	back := a.lookBack(s, entries)
	log := a.logged(s) // once, before there are several at work
	in, quiet := *s, *a
	quiet.ui = newUI(a.env, true, a.color)
	if s.fixed == nil {
		in.fixed = map[string]check.Past{}
		sent, err := a.readLedger(s, false)
		if err != nil {
			sent = nil
		}
		for name, e := range entries {
			if e.Design == nil || finding.Count(e.Findings, finding.Error) > 0 {
				continue
			}
			past := a.pastOf(s, name, back.keeper, back.noneWhy, sent)
			past.Ages = back.ages(e)
			for _, r := range log {
				if r.Design == name && r.Mesh != "" && r.Outcome != "" {
					past.Trials = append(past.Trials, check.Trial{Part: r.Part, Variant: r.Variant, Mesh: r.Mesh, Accepted: r.Outcome == trial.OK})
				}
			}
			in.fixed[name] = past
		}
	}
	var lock sync.Mutex
	var failed error
	done := 0
	next := make(chan string)
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for name := range next {
				e := entries[name]
				w, err := quiet.examineRead(&in, e, "", topics)
				lock.Lock()
				if err != nil && failed == nil {
					failed = err
				}
				if err == nil {
					out[name] = examined{e, w}
				}
				done++
				a.ui.step("measuring: %d of %d: %s", done, len(entries), name)
				lock.Unlock()
			}
		})
	}
	for _, name := range s.Names {
		if entries[name] != nil {
			next <- name
		}
	}
	close(next)
	wg.Wait()
	a.ui.wipe()
	return out, back, failed
}

// meshesAt is when the last of a design's meshes was committed; zero where one is not, or not as it lies there.
func (l *lookback) meshesAt(e *catalogue.Entry) time.Time {
	var last time.Time
	for _, u := range e.Design.Files() {
		if u.Kind != "mesh" {
			continue
		}
		f := path.Join(catalogue.DesignsDir, e.Name, string(u.Path))
		t, ok := l.Changed[f]
		if !ok || l.pending[f] {
			return time.Time{}
		}
		if t.After(last) {
			last = t
		}
	}
	return last
}

// pendingIn says whether anything of a design that the history was asked for is not committed as it lies there.
// The manifest is always asked for.
func (l *lookback) pendingIn(e *catalogue.Entry) bool {
	files := append(agedFiles(e), path.Join(catalogue.DesignsDir, e.Name, catalogue.DesignFile))
	return slices.ContainsFunc(files, func(f string) bool { return l.pending[f] })
}
