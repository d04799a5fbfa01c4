package main

import (
	"crypto/rand"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"

	"dropwright/bundle/archive"
	"dropwright/bundle/finding"
	"dropwright/series/calendar"
	"dropwright/series/disk"
	"dropwright/series/history"
	"dropwright/series/release"
	"dropwright/series/schedule"
)

// release carries out what is due, or one drop.
func (a *app) release(words []string, o releaseOptions) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	name, audience := "", ""
	if len(words) == 2 {
		if name, err = a.oneDesign(s, words[:1]); err != nil {
			return err
		}
		if audience, err = a.audience(s, words[1]); err != nil {
			return err
		}
	}
	p, err := a.plan(s, o.channels)
	if err != nil {
		return err
	}
	pick := func(x schedule.Action) bool {
		return (len(o.channels) == 0 || slices.Contains(o.channels, x.Channel)) && (name == "" || x.Design == name && x.Audience == audience)
	}
	rehearsal, err := a.kindOfRun(s, p, pick, o)
	if err != nil {
		return err
	}
	if err := a.standsInTheWay(s, p, pick, name, audience); err != nil {
		return err
	}
	chosen := slices.DeleteFunc(due(p.all[rehearsal]), func(x schedule.Action) bool { return !pick(x) })
	var failed error
	if len(chosen) > 0 {
		if failed = a.carryOut(s, p, rehearsal, pick, o); failed == nil {
			if p, err = a.plan(s, o.channels); err != nil { // what was blocked may have gone out since
				return err
			}
		}
	} else {
		a.nothingDue(p, rehearsal, pick, name)
	}
	if name == "" && failed == nil {
		failed = a.blocked(p.all[rehearsal], pick)
	}
	if o.due {
		if err := a.keepLinks(s); err != nil {
			return a.highest(slices.DeleteFunc([]error{failed, err}, func(e error) bool { return e == nil }))
		}
	}
	return failed
}

// audience checks the name of an audience.
func (a *app) audience(s *season, word string) (string, error) {
	known := []string{calendar.Early, calendar.Public}
	for _, x := range s.Config.Audiences {
		known = append(known, string(x.Name.V))
	}
	if slices.Contains(known, word) {
		return word, nil
	}
	hint := "it is one of " + strings.Join(known, ", ")
	if near := finding.Nearest(word, known); near != "" {
		hint = "did you mean " + near + "?"
	}
	return "", usage(hint, "no audience is called %q", word)
}

// kindOfRun says whether this is a rehearsal. A run serves one kind, and a moved clock only rehearsals.
func (a *app) kindOfRun(s *season, p *plans, pick func(schedule.Action) bool, o releaseOptions) (bool, error) {
	real, rehearsals := channelsOf(s, false, o.channels), channelsOf(s, true, o.channels)
	if a.nowFlag != "" && len(real) > 0 {
		return false, refused("choose the rehearsal channels with --channel, or mark a channel rehearsal: true in series.yaml", "--now moves the clock for rehearsals only, and %s is not for rehearsing; nothing was sent", real[0].Name)
	}
	picked := func(rehearsal bool) bool { return slices.ContainsFunc(due(p.all[rehearsal]), pick) }
	switch {
	case picked(false) && picked(true):
		return false, refused("choose one kind with --channel: "+real[0].Name+", or "+rehearsals[0].Name, "drops are due both for real and for rehearsal channels: one run serves one kind; nothing was sent")
	case len(real) == 0:
		return true, nil
	}
	return picked(true), nil
}

// standsInTheWay refuses one named drop that is not due.
func (a *app) standsInTheWay(s *season, p *plans, pick func(schedule.Action) bool, name, audience string) error {
	if name == "" {
		return nil
	}
	any := false
	for _, rehearsal := range []bool{false, true} {
		for _, x := range p.all[rehearsal] {
			if !pick(x) {
				continue
			}
			any = true
			switch x.State {
			case schedule.Waiting:
				return refused(fmt.Sprintf("dropwright schedule move %s --%s DATE --because \"…\" moves the day", name, audience), "%s is due for the %s audience %s, and it is %s", name, audience, schedule.Day(x.Due, p.cal.Zone()), schedule.Day(a.now(), p.cal.Zone()))
			case schedule.Blocked:
				return refused("dropwright release shows the whole plan", "%s cannot go to %s: %s", name, x.Channel, strings.Join(x.Why, "; "))
			}
		}
	}
	if !any {
		if s.Config.WeekOf(name) == 0 {
			return refused("dropwright schedule move "+name+" WEEK gives it one", "%s has no week", name)
		}
		return refused("name its place under channels in series.yaml", "no channel serves the %s audience", audience)
	}
	return nil
}

// nothingDue says so, and what comes next.
func (a *app) nothingDue(p *plans, rehearsal bool, pick func(schedule.Action) bool, name string) {
	for _, x := range p.all[rehearsal] {
		if name != "" && pick(x) {
			fmt.Fprintf(a.stdout, "%s %s, %s: %s\n", x.Design, x.Revision, x.Channel, strings.Join(append([]string{string(x.State)}, x.Why...), ", "))
		}
	}
	if name != "" {
		return
	}
	for _, x := range p.all[rehearsal] {
		if x.State == schedule.Waiting && pick(x) {
			a.ui.say("nothing is due; next: %s to %s, %s", x.Design, x.Channel, schedule.Day(x.Due, p.cal.Zone()))
			return
		}
	}
	a.ui.say("nothing is due")
}

// blocked tells what should have gone out and may not.
func (a *app) blocked(all []schedule.Action, pick func(schedule.Action) bool) error {
	var texts []string
	for _, x := range all {
		if x.State == schedule.Blocked && pick(x) {
			texts = append(texts, fmt.Sprintf("%s cannot go to %s: %s", x.Design, x.Channel, strings.Join(x.Why, "; ")))
		}
	}
	if len(texts) == 0 {
		return nil
	}
	return refused("dropwright release shows the whole plan", "%s", strings.Join(texts, "\n  "))
}

// runner opens the ledger for writing and everything that a release needs. The caller closes the ledger.
func (a *app) runner(s *season, cal *calendar.Calendar, rehearsal bool) (*release.Runner, error) {
	places, err := a.places(s, rehearsal, nil)
	if err != nil {
		return nil, err
	}
	keeper, err := a.keeper(s)
	if errors.Is(err, history.ErrNoRepository) {
		return nil, refused("type `git init` and commit the series, or write `history: folder` into series.yaml", "%w", err)
	} else if err != nil {
		return nil, machine("check the git repository with git fsck", "opening the history: %w", err)
	}
	if rehearsal {
		keeper = rehearsing{keeper}
	}
	l, err := a.openLedger(s, rehearsal)
	if err != nil {
		return nil, err
	}
	if len(l.Torn) > 0 {
		a.ui.say("the last line of the ledger was torn by a crash; it lies in %s.torn now, and work goes on from the line before", a.shown(ledgerPath(s, rehearsal)))
	}
	r := &release.Runner{Series: string(s.Config.Name.V), Title: string(s.Config.Title.V), Ledger: l, Store: release.OpenStore(disk.OS(), filepath.Join(s.dir, release.StoreName)), Channels: places,
		Calendar: cal, Has: s.Has, Present: a.present(s), Builder: &builder{a: a, s: s, log: l.Log}, Keeper: keeper, Now: a.now, UID: uuid, Tool: toolVersion(), Go: runtime.Version(), Say: a.ui.say}
	r.Pages = a.pages(s, cal, r)
	return r, nil
}

// carryOut runs what was picked and tells what went where.
func (a *app) carryOut(s *season, p *plans, rehearsal bool, pick func(schedule.Action) bool, o releaseOptions) error {
	key, err := a.openSigning(o.sign, string(s.Config.Name.V))
	if err != nil {
		return err
	}
	r, err := a.runner(s, p.cal, rehearsal)
	if err != nil {
		return err
	}
	r.Commit = o.commit
	if key != nil {
		defer key.close()
		r.Builder = &builder{a, s, r.Ledger.Log, key}
		r.Sign = func(text []byte) ([]byte, error) { return archive.Sign(key.signer, "git", text) } // git's own namespace
	}
	for _, code := range o.despite {
		if _, ok := finding.Lookup(code); !ok {
			r.Ledger.Close()
			return usage("dropwright check --list prints the codes", "no code is called %q", code)
		}
		r.Despite = append(r.Despite, release.Word{Code: code, Because: o.because})
	}
	rep, err := r.Run(a.ctx, pick)
	for _, x := range rep.Done {
		a.tell(p.cal, r, x)
	}
	var failures []error
	if err != nil {
		failures = append(failures, releaseError(err))
	}
	for _, f := range rep.Failed {
		if o.due && f.Action.Fresh && f.Action.Leads && f.Action.Intent == 0 && underWay(f.Err) {
			a.ui.say("%s %s: the correction waits: %s", f.Action.Design, f.Action.Revision, f.Err)
			continue
		}
		var unsound *release.Unsound
		if errors.As(f.Err, &unsound) && unsound.Again {
			a.ui.say("%s %s waits for %s too", f.Action.Design, f.Action.Revision, f.Action.Channel)
			continue
		}
		failures = append(failures, releaseError(fmt.Errorf("%s %s, %s: %w", f.Action.Design, f.Action.Revision, f.Action.Channel, f.Err)))
	}
	if err := r.Ledger.Close(); err != nil {
		failures = append(failures, ledgerError(err))
	}
	if len(rep.Done) > 0 {
		a.keepRecords(s, rehearsal, o.commit)
	}
	return a.highest(failures)
}

// underWay says whether a correction is simply not finished: nobody was promised a time for it.
func underWay(err error) bool {
	var faulty *release.Faulty
	var uncommitted *release.Uncommitted
	return errors.As(err, &faulty) || errors.As(err, &uncommitted)
}

// tell prints what went out.
func (a *app) tell(cal *calendar.Calendar, r *release.Runner, x schedule.Action) {
	where := x.Channel
	for _, c := range r.Channels {
		if c.Name == x.Channel {
			where = fmt.Sprintf("%s (%s)", c.Name, c.Target)
			if c.Post != nil && x.Kind == schedule.Drop {
				fmt.Fprintf(a.stdout, "laid out  %s %s for posting to %s, due %s\n  post it, then: dropwright release confirm %s %s --at TIME --link URL\n", x.Design, x.Revision, where, schedule.Day(x.Due, cal.Zone()), x.Design, x.Audience)
				return
			}
		}
	}
	if x.Kind == schedule.Mark {
		fmt.Fprintf(a.stdout, "marked    %s %s as withdrawn at %s\n", x.Design, x.Revision, where)
		return
	}
	fmt.Fprintf(a.stdout, "out       %s %s to %s\n", x.Design, x.Revision, where)
}

// highest prints all failures but the one with the highest exit status, which it returns.
func (a *app) highest(failures []error) error {
	if len(failures) == 0 {
		return nil
	}
	slices.SortStableFunc(failures, func(x, y error) int { return status(a.ctx, x) - status(a.ctx, y) })
	last := len(failures) - 1
	for _, f := range failures[:last] {
		a.ui.fail(f)
	}
	return failures[last]
}

// uuid is a random identity (RFC 9562 section 5.4, version 4).
func uuid() string {
	var b [16]byte
	rand.Read(b[:]) // never fails since Go 1.24
	b[6], b[8] = b[6]&0x0f|0x40, b[8]&0x3f|0x80
	return fmt.Sprintf("urn:uuid:%x-%x-%x-%x-%x", b[:4], b[4:6], b[6:8], b[8:10], b[10:])
}

// toolVersion is the version of this build.
func toolVersion() string {
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		return info.Main.Version
	}
	return "(devel)"
}
