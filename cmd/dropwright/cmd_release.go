package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"dropwright/series/calendar"
	"dropwright/series/ledger"
	"dropwright/series/schedule"
)

// releaseOptions are what release takes.
type releaseOptions struct {
	due      bool
	all      bool
	channels []string
	despite  []string
	because  string
	commit   bool
	sign     string
}

func (a *app) releaseCmd() *cobra.Command {
	var o releaseOptions
	cmd := &cobra.Command{
		Use:   "release [DESIGN|WEEK AUDIENCE]",
		Short: "send what is due to its audience, or print the plan",
		Long: `Without arguments prints the plan: what goes where, when, and why. With --due carries out what is due,
for a timer; with a design and an audience (early, public) that drop alone. A run that was interrupted is
completed by the next one; what went out is never sent twice and never changes.

Both audiences' bundles are packed and checked at the early drop and kept in the folder store/; the public
day sends those bytes. The files of a drop must be committed; its revision is tagged DESIGN/vX.Y.Z.
A channel with rehearsal: true takes --now and keeps a ledger of its own. Of a store that only its readers may
open, release links makes links that live for some days.`,
		Example: "  dropwright release\n  dropwright release --due --quiet                       # for cron\n  dropwright release vent-minder early --commit\n" +
			"  dropwright release vent-minder early --despite hole-narrow --because \"meant to be pressed in\"\n" +
			"  dropwright release confirm vent-minder early --at 2027-01-22T17:02:00Z --link https://place.example/post/1",
		Args:              cobra.MaximumNArgs(2),
		ValidArgsFunction: a.completeDesigns,
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case o.due && len(args) > 0:
				return usage("`dropwright release --due` carries out all of them, `dropwright release DESIGN AUDIENCE` one", "--due takes no design")
			case len(args) == 1:
				return usage("write it behind the design: dropwright release "+args[0]+" early", "to which audience?")
			case len(o.despite) > 0 && strings.TrimSpace(o.because) == "":
				return usage("say why, for the ledger and the sheet: --because \"…\"", "--despite needs a reason")
			case o.due && len(o.despite) > 0:
				return usage("name the design: dropwright release DESIGN early --despite CODE --because \"…\"", "--despite is a word for one design")
			case o.due || len(args) == 2:
				return a.release(args, o)
			}
			return a.releasePlan(o)
		},
	}
	a.formatFlag(cmd, "text", "json")
	f := cmd.Flags()
	f.BoolVar(&o.due, "due", false, "carry out everything that is due")
	f.BoolVar(&o.all, "all", false, "print the whole season, not the coming weeks")
	f.StringSliceVar(&o.channels, "channel", nil, "only these channels")
	f.StringSliceVar(&o.despite, "despite", nil, "let errors of this code pass on your word")
	f.StringVar(&o.because, "because", "", "the reason for --despite")
	f.BoolVar(&o.commit, "commit", false, "commit the files of the drop that are not committed, and the ledger afterwards")
	f.StringVar(&o.sign, "sign", "", "sign tag and bundles with this key: a private key file, a public one that the ssh-agent holds, or agent")
	cmd.AddCommand(a.confirmCmd(), a.linksCmd(), a.pagesCmd())
	return cmd
}

// plans are the two plans of a season: its real drops, and its rehearsals.
type plans struct {
	cal  *calendar.Calendar
	logs map[bool]*ledger.Log
	all  map[bool][]schedule.Action // by rehearsal
}

// plan works both plans out without locking anything.
func (a *app) plan(s *season, channels []string) (*plans, error) {
	for _, name := range channels {
		if !slices.ContainsFunc(append(channelsOf(s, false, nil), channelsOf(s, true, nil)...), func(c schedule.Channel) bool { return c.Name == name }) {
			return nil, usage("the channels stand in series.yaml", "no channel is called %q", name)
		}
	}
	cal, err := a.calendar(s)
	if err != nil {
		return nil, err
	}
	p := &plans{cal: cal, logs: map[bool]*ledger.Log{}, all: map[bool][]schedule.Action{}}
	for _, rehearsal := range []bool{false, true} {
		if p.logs[rehearsal], err = a.readLedger(s, rehearsal); err != nil {
			return nil, err
		}
		// All channels of the kind count for who leads; those not chosen are left out afterwards.
		in := a.planInput(s, cal, p.logs[rehearsal], channelsOf(s, rehearsal, nil))
		for _, x := range schedule.Plan(in, a.now()) {
			if len(channels) == 0 || slices.Contains(channels, x.Channel) {
				p.all[rehearsal] = append(p.all[rehearsal], x)
			}
		}
	}
	return p, nil
}

type jsonAction struct {
	Kind      schedule.Kind   `json:"kind,omitempty"` // absent for a drop
	Design    string          `json:"design"`
	Revision  string          `json:"revision,omitempty"`
	Audience  string          `json:"audience"`
	Channel   string          `json:"channel"`
	Rehearsal bool            `json:"rehearsal,omitempty"`
	Due       string          `json:"due"`
	State     schedule.State  `json:"state"`
	Why       string          `json:"why,omitempty"`
	Objects   []ledger.Object `json:"objects"`
}

func (a *app) releasePlan(o releaseOptions) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	p, err := a.plan(s, o.channels)
	if err != nil {
		return err
	}
	if a.format == "json" {
		return a.printActions(p)
	}
	if len(s.Config.Channels) == 0 {
		a.ui.say("no channels: name the places of your audiences under channels in series.yaml, such as\n  - {name: supporters, audience: early, to: \"hand:../outbox/supporters\"}")
	}
	rows := [][]string{{"due", "design", "audience", "channel", "state", "why"}}
	hidden := 0
	for _, rehearsal := range []bool{false, true} {
		for _, x := range p.all[rehearsal] {
			if !o.all && !near(x, a.now()) {
				hidden++
				continue
			}
			channel := x.Channel
			if rehearsal {
				channel += " (rehearsal)"
			}
			what := strings.TrimSpace(x.Design + " " + x.Revision)
			if x.Kind == schedule.Mark {
				what += " withdrawn"
			}
			rows = append(rows, []string{schedule.Day(x.Due, p.cal.Zone()), what, x.Audience, channel, string(x.State), strings.Join(x.Why, "; ")})
		}
	}
	if len(rows) == 1 {
		fmt.Fprintln(a.stdout, "nothing is due in the coming weeks")
	} else {
		a.ui.table(rows)
	}
	if hidden > 0 {
		fmt.Fprintf(a.stdout, "\n%s done or further ahead: --all\n", plural(hidden, "drop"))
	}
	if n := len(due(p.all[false])) + len(due(p.all[true])); n > 0 {
		fmt.Fprintf(a.stdout, "\n%s due: dropwright release --due\n", plural(n, "drop"))
	}
	return nil
}

// near says whether an action is worth a line without --all: not settled, or within four weeks.
func near(x schedule.Action, now time.Time) bool {
	const weeks = 4 * 7 * 24 * time.Hour
	switch x.State {
	case schedule.Done:
		return now.Sub(x.Due) < weeks/4 && now.After(x.Due)
	case schedule.Waiting:
		return x.Due.Sub(now) < weeks
	}
	return true
}

// due are the actions whose time has come.
func due(all []schedule.Action) []schedule.Action {
	return slices.DeleteFunc(slices.Clone(all), func(x schedule.Action) bool { return x.State != schedule.Due })
}

func (a *app) printActions(p *plans) error {
	out := []jsonAction{}
	for _, rehearsal := range []bool{false, true} {
		for _, x := range p.all[rehearsal] {
			j := jsonAction{Design: x.Design, Revision: x.Revision, Audience: x.Audience, Channel: x.Channel, Rehearsal: rehearsal,
				Due: p.cal.Zone().In(x.Due).Format(time.RFC3339), State: x.State, Why: strings.Join(x.Why, "; "), Objects: []ledger.Object{}}
			if x.Kind == schedule.Mark {
				j.Kind = x.Kind
			}
			if e, ok := p.logs[rehearsal].BundleOf(x.Design, x.Revision, x.Fixed); ok {
				j.Objects = e.Objects
			}
			out = append(out, j)
		}
	}
	return a.asJSON(map[string]any{"actions": out})
}
