package main

import (
	"errors"
	"io/fs"
	"path"
	"time"

	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/bundle/measure"
	"dropwright/series/catalogue"
	"dropwright/series/config"
	"dropwright/series/history"
	"dropwright/series/ledger"
	"dropwright/series/release"
)

// keeper opens the history that series.yaml asks for. A series in no git repository gives
// history.ErrNoRepository.
func (a *app) keeper(s *season) (history.Keeper, error) {
	if s.Config.History.Or("git") == config.HistoryKind("folder") {
		return history.OpenFolder(s.dir), nil
	}
	return history.OpenGit(s.dir)
}

// rehearsing is a history in which nothing is fixed: a rehearsal tags nothing, so that the real drop may
// still bring another content under the same revision.
type rehearsing struct{ history.Keeper }

// Freeze is history.Keeper's.
func (rehearsing) Freeze(history.Request) (history.Frozen, error) {
	return history.Frozen{Source: "the folder"}, nil
}

// Commit is release.Committer's.
func (r rehearsing) Commit(files []string, message string, now time.Time) (string, error) {
	if c, ok := r.Keeper.(release.Committer); ok {
		return c.Commit(files, message, now)
	}
	return "", errors.New("this history commits nothing")
}

// past is what came before a design: the revisions that are kept in its history, and those that the ledger
// says went out. Only the content of the present revision is worked out: an older one is never compared.
func (a *app) past(s *season, name string) check.Past {
	if s.Config == nil {
		return check.Past{}
	}
	keeper, noHistory := a.keeper(s)
	log, err := a.readLedger(s, false)
	if err != nil {
		log = nil
	}
	return a.pastOf(s, name, keeper, noHistory, log)
}

// pastOf is past with a history that is open already, or with why there is none, and a ledger that was read; nil:
// it cannot be.
func (a *app) pastOf(s *season, name string, keeper history.Keeper, noHistory error, log *ledger.Log) check.Past {
	known := map[string]bool{}
	if noHistory == nil {
		revisions, err := keeper.Revisions(name)
		if err != nil {
			return check.Past{}
		}
		for _, r := range revisions {
			known[r] = true
		}
	}
	if log != nil {
		for _, e := range log.Entries {
			if (e.Kind == ledger.Bundle || e.Kind == ledger.Intent) && e.Design == name {
				known[e.Revision] = true
			}
		}
	}
	if len(known) == 0 && noHistory != nil {
		return check.Past{} // no history to ask, and nothing went out
	}
	present := a.present(s)(name)
	out := check.Past{Known: true}
	for text := range known {
		r, err := design.ParseRevision(text)
		if err != nil {
			continue
		}
		x := check.Released{Revision: r}
		if text == present && noHistory == nil {
			if at, err := keeper.At(name, text); err == nil {
				x.Content, _ = a.contentAt(s, name, at)
			}
		}
		out.Released = append(out.Released, x)
	}
	return out
}

// contentAt is the content digest of a design in a series' folder as history keeps it, or, with nil, as it
// lies there.
func (a *app) contentAt(s *season, name string, at fs.FS) (string, error) {
	e, err := a.loadAt(s, name, at)
	if err != nil {
		return "", err
	}
	if e.Design == nil {
		return "", errors.New("its manifest cannot be read")
	}
	return measure.Content(e.FS, e.Design, e.Manifest)
}

// loadAt reads a design from the folder, or from history.
func (a *app) loadAt(s *season, name string, at fs.FS) (*catalogue.Entry, error) {
	if at == nil {
		return s.Load(name)
	}
	sub, err := fs.Sub(at, path.Join(catalogue.DesignsDir, name))
	if err != nil {
		return nil, err
	}
	return s.LoadFrom(sub, name)
}
