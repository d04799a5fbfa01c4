package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"dropwright/series/ledger"
	"dropwright/series/release"
)

func (a *app) ledgerCmd() *cobra.Command {
	var rehearsal bool
	cmd := &cobra.Command{
		Use:   "ledger [DESIGN|WEEK]",
		Short: "read, verify and explain the record of what went where",
		Long: `Prints the ledger in sentences: what was promised, fixed, sent, confirmed, moved and withdrawn, and when.
verify proves its chain and compares every place with it; repair accepts a place or a ledger that was
restored from an older copy. Nothing ever rewrites a line of it.`,
		Example:           "  dropwright ledger\n  dropwright ledger vent-minder\n  dropwright ledger verify\n  dropwright ledger repair supporters --because \"the disk was restored from Monday's backup\"",
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.ledger(args, rehearsal) },
	}
	a.formatFlag(cmd, "text", "json")
	cmd.PersistentFlags().BoolVar(&rehearsal, "rehearsal", false, "the ledger of the rehearsals")
	verify := &cobra.Command{
		Use:   "verify",
		Short: "prove the chain, and compare every place with the ledger",
		Args:  cobra.NoArgs,
		RunE:  func(cmd *cobra.Command, args []string) error { return a.ledgerVerify(rehearsal) },
	}
	a.formatFlag(verify, "text", "json")
	var because string
	repair := &cobra.Command{
		Use:   "repair CHANNEL --because TEXT",
		Short: "accept a place or a ledger that was restored from an older copy",
		Long: `Enters what the place's index names and the ledger has forgotten, sends again what is missing at the
place, and writes the index anew. A file with other bytes is never overwritten: move it away first.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error { return a.ledgerRepair(args[0], because, rehearsal) },
	}
	repair.Flags().StringVar(&because, "because", "", "what happened; kept in the ledger")
	cmd.AddCommand(verify, repair)
	return cmd
}

func (a *app) ledger(words []string, rehearsal bool) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	name := ""
	if len(words) > 0 {
		if name, err = a.oneDesign(s, words); err != nil {
			return err
		}
	}
	log, err := a.readLedger(s, rehearsal || onlyRehearsal(s))
	if err != nil {
		return err
	}
	if a.format == "json" {
		type line struct {
			Seq  int           `json:"seq"`
			Sum  string        `json:"sum"`
			Body ledger.Record `json:"body"`
			Text string        `json:"text"`
		}
		out := []line{}
		for _, e := range log.Entries {
			if name == "" || e.Design == name {
				out = append(out, line{e.Seq, e.Sum, e.Record, e.Sentence()})
			}
		}
		return a.asJSON(map[string]any{"entries": out, "torn": len(log.Torn) > 0})
	}
	if len(log.Entries) == 0 {
		fmt.Fprintln(a.stdout, "nothing has gone out: the ledger begins with the first drop")
	}
	for _, e := range log.Entries {
		if name == "" || e.Design == name {
			fmt.Fprintf(a.stdout, "%4d  %s  %s\n", e.Seq, e.At.Format(time.RFC3339), e.Sentence())
		}
	}
	a.sayTorn(log)
	return nil
}

func (a *app) sayTorn(log *ledger.Log) {
	if len(log.Torn) > 0 {
		a.ui.say("the last line was torn by a crash (%d bytes); the next release moves it aside and goes on", len(log.Torn))
	}
}

func (a *app) ledgerVerify(rehearsal bool) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	rehearsal = rehearsal || onlyRehearsal(s)
	log, err := a.readLedger(s, rehearsal)
	if err != nil {
		return err
	}
	places, err := a.places(s, rehearsal, nil)
	if err != nil {
		return err
	}
	r := &release.Runner{Series: string(s.Config.Name.V), Ledger: &ledger.Ledger{Log: log}, Channels: places}
	problems := []release.Problem{}
	var unread []error
	for _, c := range places {
		a.ui.step("reading %s", c.Target)
		found, err := r.Audit(a.ctx, c.Name)
		if err != nil {
			unread = append(unread, releaseError(fmt.Errorf("channel %s: %w", c.Name, err)))
			continue
		}
		problems = append(problems, found...)
	}
	if a.format == "json" {
		if err := a.asJSON(map[string]any{"ok": len(problems)+len(unread) == 0, "lines": len(log.Entries), "torn": len(log.Torn) > 0, "head": log.Head(), "problems": problems}); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(a.stdout, "%s: %s, chain whole", a.shown(log.Path), plural(len(log.Entries), "line"))
		if len(log.Entries) > 0 {
			fmt.Fprintf(a.stdout, ", head %d %.12s", log.Head().Seq, log.Head().Sum)
		}
		fmt.Fprintln(a.stdout)
		for _, c := range places {
			fmt.Fprintf(a.stdout, "%s (%s): %s\n", c.Name, c.Target, verdict(c.Name, problems, unread))
		}
		for _, p := range problems {
			fmt.Fprintf(a.stdout, "  %s: %s: %s\n", p.Channel, p.Name, p.Text)
		}
	}
	a.sayTorn(log)
	if len(problems) > 0 {
		unread = append(unread, differences(problems))
	}
	return a.highest(unread)
}

// differences ends a comparison that has listed them: it says what to do, once.
func differences(problems []release.Problem) error {
	err := releaseError(&release.Unsound{Problems: problems})
	var s *statusError
	if errors.As(err, &s) {
		s.err = fmt.Errorf("%s between the ledger and its places", plural(len(problems), "difference"))
		s.hint = strings.TrimSuffix(s.hint, "; dropwright ledger verify lists every difference")
	}
	return err
}

// verdict is one word on a place.
func verdict(channel string, problems []release.Problem, unread []error) string {
	n := 0
	for _, p := range problems {
		if p.Channel == channel {
			n++
		}
	}
	for _, err := range unread {
		if strings.Contains(err.Error(), "channel "+channel+":") {
			return "not checked"
		}
	}
	if n == 0 {
		return "as the ledger says"
	}
	return plural(n, "difference")
}

func (a *app) ledgerRepair(channel, because string, rehearsal bool) error {
	if strings.TrimSpace(because) == "" {
		return usage("say what happened: --because \"…\"", "repair needs a reason")
	}
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	cal, err := a.calendar(s)
	if err != nil {
		return err
	}
	known := false
	for _, c := range s.Config.Channels {
		if string(c.Name.V) == channel {
			known, rehearsal = true, bool(c.Rehearsal.V)
		}
	}
	if !known {
		return usage("the channels stand in series.yaml", "no channel is called %q", channel)
	}
	r, err := a.runner(s, cal, rehearsal)
	if err != nil {
		return err
	}
	problems, err := r.Repair(a.ctx, channel, because)
	err = errors.Join(err, r.Ledger.Close())
	if err != nil {
		return releaseError(err)
	}
	if len(problems) == 0 {
		fmt.Fprintf(a.stdout, "%s agrees with the ledger already\n", channel)
		return nil
	}
	fmt.Fprintf(a.stdout, "%s agrees with the ledger again; %s:\n", channel, plural(len(problems), "difference"))
	for _, p := range problems {
		fmt.Fprintf(a.stdout, "  %s: %s\n", p.Name, p.Text)
	}
	return nil
}
