package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle/design"
	"dropwright/series/ledger"
	"dropwright/series/release"
	"dropwright/series/schedule"
)

func (a *app) withdrawCmd() *cobra.Command {
	var because string
	cmd := &cobra.Command{
		Use:   "withdraw DESIGN|WEEK REVISION --because TEXT",
		Short: "mark a revision that went out as one not to be built",
		Long: `Marks, never deletes: the files stay where they are, and every place that has the revision says first of
all that it was withdrawn, and why. It does not go to any further audience. Where a person posts by hand, the
text to post is laid out.`,
		Example:           "  dropwright withdraw vent-minder 1.0.0 --because \"the servo horn can trap a finger\"",
		Args:              cobra.ExactArgs(2),
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.withdraw(args, because) },
	}
	cmd.Flags().StringVar(&because, "because", "", "why, in one sentence: everybody who has the revision reads it")
	return cmd
}

func (a *app) withdraw(words []string, because string) error {
	if strings.TrimSpace(because) == "" {
		return usage("say why in one sentence: --because \"…\"", "withdraw needs a reason: everybody who has the revision reads it")
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
	rev, err := design.ParseRevision(words[1])
	if err != nil {
		return usage("write three plain numbers, such as 1.0.0", "%s", err)
	}
	revision := rev.String()
	rehearsal, err := a.whichLedger(s, func(l *ledger.Log) bool {
		return slices.ContainsFunc(l.Deliveries(), func(d ledger.Delivery) bool { return d.Intent.Design == name && d.Intent.Revision == revision })
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
	defer r.Ledger.Close()
	e, before := r.Ledger.Withdrawn(name, revision)
	if err := r.Withdraw(name, revision, because); err != nil {
		return releaseError(err)
	}
	rep, err := r.Run(a.ctx, func(x schedule.Action) bool {
		return x.Kind == schedule.Mark && x.Design == name && x.Revision == revision
	})
	for _, x := range rep.Done {
		a.tell(cal, r, x)
	}
	if err := errors.Join(err, rep.Err()); err != nil {
		return releaseError(fmt.Errorf("the ledger says that %s %s is withdrawn, and not every place does yet; dropwright release --due tries again: %w", name, revision, err))
	}
	if before {
		fmt.Fprintf(a.stdout, "%s %s is withdrawn already: %s\n", name, revision, e.Because)
		return nil
	}
	fmt.Fprintf(a.stdout, "%s %s is withdrawn; %s\n", name, revision, a.afterWithdrawal(s, r, name, revision))
	a.keepRecords(s, rehearsal, false)
	return nil
}

// afterWithdrawal says where a revision's readers find a better one.
func (a *app) afterWithdrawal(s *season, r *release.Runner, name, revision string) string {
	newest := ""
	for _, d := range r.Ledger.Deliveries() {
		_, gone := r.Ledger.Withdrawn(name, d.Intent.Revision)
		if d.Intent.Design == name && !gone && (d.Outcome == ledger.Done || d.Outcome == ledger.HandedOver) && schedule.Newer(d.Intent.Revision, revision) && (newest == "" || schedule.Newer(d.Intent.Revision, newest)) {
			newest = d.Intent.Revision
		}
	}
	present := a.present(s)(name)
	switch {
	case newest != "":
		return newest + " is out already and takes its place"
	case present != "" && schedule.Newer(present, revision):
		return "its correction " + present + " is sent by: dropwright release " + name + " early"
	}
	return "a correction: dropwright revise " + name
}
