package main

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"dropwright/series/calendar"
	"dropwright/series/schedule"
)

func (a *app) pagesCmd() *cobra.Command {
	var channels []string
	cmd := &cobra.Command{
		Use:   "pages",
		Short: "make the readers' pages, feeds and calendars anew, between drops",
		Long: `Every drop, correction and withdrawal makes the pages of its place anew. This makes them without one: after
a day moved or a teaser changed, or before the first drop. It sends no revision. Outboxes have no pages.`,
		Example: "  dropwright release pages\n  dropwright release pages --channel open-shelf",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, args []string) error { return a.refreshPages(channels) },
	}
	cmd.Flags().StringSliceVar(&channels, "channel", nil, "only these channels")
	return cmd
}

func (a *app) refreshPages(channels []string) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	for _, name := range channels {
		if !slices.ContainsFunc(append(channelsOf(s, false, nil), channelsOf(s, true, nil)...), func(c schedule.Channel) bool { return c.Name == name }) {
			return usage("the channels stand in series.yaml", "no channel is called %q", name)
		}
	}
	cal, err := a.calendar(s)
	if err != nil {
		return err
	}
	var failures []error
	none := true
	for _, rehearsal := range []bool{false, true} {
		if len(channelsOf(s, rehearsal, channels)) == 0 {
			continue
		}
		if a.nowFlag != "" && !rehearsal {
			return refused("leave --now away, or choose the rehearsal channels with --channel", "--now moves the clock for rehearsals only; nothing was written")
		}
		any, err := a.refreshKind(s, cal, rehearsal, channels)
		none = none && !any
		failures = append(failures, err...)
	}
	if none && len(failures) == 0 {
		a.ui.say("no channel has pages: an outbox is posted from by hand")
	}
	return a.highest(failures)
}

// refreshKind makes the pages of the rehearsals, or of the real channels.
func (a *app) refreshKind(s *season, cal *calendar.Calendar, rehearsal bool, names []string) (any bool, failures []error) {
	r, err := a.runner(s, cal, rehearsal)
	if err != nil {
		return false, []error{err}
	}
	for _, c := range r.Channels {
		if c.Post != nil || len(names) > 0 && !slices.Contains(names, c.Name) {
			continue
		}
		any = true
		if err := r.Refresh(a.ctx, c.Name); err != nil {
			failures = append(failures, releaseError(fmt.Errorf("the pages of %s: %w", c.Name, err)))
			continue
		}
		fmt.Fprintf(a.stdout, "pages     %s (%s)\n", c.Name, c.Target)
	}
	if err := r.Ledger.Close(); err != nil {
		failures = append(failures, ledgerError(err))
	}
	return any, failures
}
