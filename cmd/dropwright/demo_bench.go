package main

import (
	"strings"
	"time"

	"dropwright/series/release"
	"dropwright/series/stock"
)

// demoBench logs a test print, which takes its grams off a spool, and looks over the season.
func (a *app) demoBench(in app, dir string) error {
	const now = "2027-01-06T09:00:00Z"
	t, err := time.Parse(time.RFC3339, now)
	if err != nil {
		return err
	}
	in.nowFlag, in.now, in.format, in.output = now, func() time.Time { return t }, "text", ""
	words := []string{"soil-stake/soil-stake", "bench", "clay", "14g", "55m", "ok"}
	in.ui.say("\n5. a test print: dropwright trial add %s --now %s", strings.Join(words, " "), now)
	if err := in.trialAdd(words, false); err != nil {
		return err
	}
	in.ui.say("\n6. dropwright overview --now %s", now)
	if err := in.overview(); err != nil {
		return err
	}
	// What the tool keeps belongs to the season's history.
	if err := a.demoMaker(dir); err != nil {
		return err
	}
	s, err := in.sound()
	if err != nil {
		return err
	}
	defer s.close()
	keeper, err := in.keeper(s)
	if err != nil {
		return machine("", "committing the test print: %w", err)
	}
	if c, ok := keeper.(release.Committer); ok {
		if _, err := c.Commit([]string{trialsFile, stock.File}, "log a test print", a.now()); err != nil {
			return machine("", "committing the test print: %w", err)
		}
	}
	return nil
}
