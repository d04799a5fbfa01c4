package main

import (
	"errors"
	"io/fs"
	"path"
	"path/filepath"
	"slices"

	"dropwright/bundle/finding"
	"dropwright/series/calendar"
	"dropwright/series/catalogue"
	"dropwright/series/disk"
	"dropwright/series/ledger"
	"dropwright/series/release"
	"dropwright/series/schedule"
)

// calendar works out the season's dates, or prints what is wrong with them.
func (a *app) calendar(s *season) (*calendar.Calendar, error) {
	cal, found := schedule.CalendarOf(s.Config)
	if cal == nil || finding.Count(found, finding.Error) > 0 {
		a.complain(found, s.Text)
		return nil, unreadable("mend "+path.Join(s.Shown, catalogue.SeriesFile)+" first", "the calendar cannot be worked out")
	}
	return cal, nil
}

// ledgerPath is where a series keeps its record; rehearsals keep one of their own.
func ledgerPath(s *season, rehearsal bool) string {
	if rehearsal {
		return filepath.Join(s.dir, "ledger.rehearsal.jsonl")
	}
	return filepath.Join(s.dir, "ledger.jsonl")
}

// readLedger reads a ledger without locking it.
func (a *app) readLedger(s *season, rehearsal bool) (*ledger.Log, error) {
	log, err := ledger.Read(disk.OS(), ledgerPath(s, rehearsal))
	if err != nil {
		return nil, ledgerError(err)
	}
	return log, nil
}

// openLedger locks a ledger for writing. The lock lies in the store, which git ignores.
func (a *app) openLedger(s *season, rehearsal bool) (*ledger.Ledger, error) {
	store := filepath.Join(s.dir, release.StoreName)
	l, err := ledger.Open(disk.OS(), ledgerPath(s, rehearsal), ledger.Options{Series: string(s.Config.Name.V), Rehearsal: rehearsal, Now: a.now(),
		Lock: func(path string) (func() error, error) {
			if err := release.OpenStore(disk.OS(), store).Ready(); err != nil {
				return nil, err
			}
			return ledger.Flock(filepath.Join(store, filepath.Base(path)))
		}})
	if err != nil {
		return nil, ledgerError(err)
	}
	return l, nil
}

// ledgerError gives a failure of the ledger its exit status and way forward.
func ledgerError(err error) error {
	var damage *ledger.Damage
	var newer *ledger.Newer
	var mismatch *ledger.Mismatch
	switch {
	case errors.As(err, &damage):
		return refused("restore the file from git or a backup (git checkout -- FILE), then dropwright ledger verify;\nif the copy is older than what went out, dropwright ledger repair CHANNEL brings it up to date", "%w", err)
	case errors.As(err, &newer):
		return refused("install the newest dropwright", "%w", err)
	case errors.As(err, &mismatch):
		return refused("each series keeps its own ledger.jsonl; rehearsals keep ledger.rehearsal.jsonl", "%w", err)
	case errors.Is(err, ledger.ErrBusy):
		return refused("wait for the other run to end; the lock is freed by the system, no file need be removed", "%w", err)
	}
	return machine("check the disk and that the series' folder may be written to", "%w", err)
}

// channelsOf are the channels of one kind, as the schedule wants them; names, if any, choose among them.
func channelsOf(s *season, rehearsal bool, names []string) []schedule.Channel {
	var out []schedule.Channel
	for _, c := range s.Config.Channels {
		if bool(c.Rehearsal.V) == rehearsal && (len(names) == 0 || slices.Contains(names, string(c.Name.V))) {
			out = append(out, schedule.Channel{Name: string(c.Name.V), Audience: string(c.Audience.V)})
		}
	}
	return out
}

// onlyRehearsal says whether every channel of the series is for rehearsing.
func onlyRehearsal(s *season) bool {
	for _, c := range s.Config.Channels {
		if !bool(c.Rehearsal.V) {
			return false
		}
	}
	return len(s.Config.Channels) > 0
}

// present tells the revision of a design's manifest as cheaply as it can, "" when it cannot be told.
func (a *app) present(s *season) func(string) string {
	known := map[string]string{}
	return func(name string) string {
		if r, ok := known[name]; ok {
			return r
		}
		data, err := fs.ReadFile(s.FS, path.Join(catalogue.DesignsDir, name, catalogue.DesignFile))
		r := ""
		if err == nil {
			if r = schedule.Glance(data); r == "" {
				if e, err := s.Load(name); err == nil && e.Design != nil && len(e.Design.Changes) > 0 {
					r = e.Design.Revision().String()
				}
			}
		}
		known[name] = r
		return r
	}
}

// planInput is what the season looks like to the schedule.
func (a *app) planInput(s *season, cal *calendar.Calendar, log *ledger.Log, channels []schedule.Channel) schedule.Input {
	return schedule.Input{Calendar: cal, Ledger: log, Channels: channels, Has: s.Has, Present: a.present(s)}
}
