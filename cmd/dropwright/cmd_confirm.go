package main

import (
	"fmt"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"dropwright/series/ledger"
)

func (a *app) confirmCmd() *cobra.Command {
	var at, link, channel string
	cmd := &cobra.Command{
		Use:               "confirm DESIGN|WEEK AUDIENCE --at TIME --link URL",
		Short:             "say that a drop that was laid out has been posted",
		Example:           "  dropwright release confirm vent-minder early --at 2027-01-22T17:02:00Z --link https://place.example/post/1",
		Args:              cobra.ExactArgs(2),
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.confirm(args, at, link, channel) },
	}
	cmd.Flags().StringVar(&at, "at", "", "when it was posted, such as 2027-01-22T17:02:00Z")
	cmd.Flags().StringVar(&link, "link", "", "where it was posted: an address from https:// on, without secrets")
	cmd.Flags().StringVar(&channel, "channel", "", "which of several channels of the audience")
	return cmd
}

func (a *app) confirm(words []string, at, link, channel string) error {
	if at == "" {
		return usage("write date, T, time and zone: --at 2027-01-22T17:02:00Z", "confirm: when was it posted?")
	}
	when, err := time.Parse(time.RFC3339, at)
	if err != nil {
		return usage("write date, T, time and zone: --at 2027-01-22T17:02:00Z", "--at: expected a time such as 2027-01-22T17:02:00Z, found %q", at)
	}
	if err := ledger.CheckLink(link); err != nil {
		return usage("give the page's own address: --link https://place.example/post/1", "--link: %w", err)
	}
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	name, err := a.oneDesign(s, words[:1])
	if err != nil {
		return err
	}
	audience, err := a.audience(s, words[1])
	if err != nil {
		return err
	}
	rehearsal, err := a.whichLedger(s, func(l *ledger.Log) bool {
		return slices.ContainsFunc(l.Deliveries(), func(d ledger.Delivery) bool {
			return d.Intent.Design == name && d.Intent.Audience == audience && d.Outcome != ""
		})
	})
	if err != nil {
		return err
	}
	cal, err := a.calendar(s)
	if err != nil {
		return err
	}
	r, err := a.runner(s, cal, rehearsal)
	if err != nil {
		return err
	}
	d, err := r.Confirm(name, audience, channel, when, link)
	if cerr := r.Ledger.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return releaseError(err)
	}
	if d.Outcome == ledger.Done {
		fmt.Fprintf(a.stdout, "%s %s is out to %s already, since %s\n", name, d.Intent.Revision, d.Intent.Channel, d.At.Format(time.RFC3339))
		return nil
	}
	fmt.Fprintf(a.stdout, "out  %s %s to %s at %s\n", name, d.Intent.Revision, d.Intent.Channel, when.UTC().Format(time.RFC3339))
	a.keepRecords(s, rehearsal, false)
	return nil
}

// whichLedger chooses between the real ledger and the rehearsals': the first in which something is found,
// the real one if nothing is. Under --now only rehearsals are touched.
func (a *app) whichLedger(s *season, found func(*ledger.Log) bool) (rehearsal bool, err error) {
	for _, rehearsal := range []bool{false, true} {
		l, err := a.readLedger(s, rehearsal)
		if err != nil {
			return false, err
		}
		if !found(l) {
			continue
		}
		if a.nowFlag != "" && !rehearsal {
			return false, refused("leave --now away", "--now moves the clock for rehearsals only, and this one was real")
		}
		return rehearsal, nil
	}
	return onlyRehearsal(s), nil
}
