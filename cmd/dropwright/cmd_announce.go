package main

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/design"
	"dropwright/bundle/measure"
	"dropwright/bundle/sheet"
	"dropwright/series/calendar"
	"dropwright/series/ledger"
	"dropwright/series/release"
	"dropwright/series/schedule"
)

func (a *app) announceCmd() *cobra.Command {
	var week int
	var notice string
	cmd := &cobra.Command{
		Use:   "announce DESIGN AUDIENCE",
		Short: "write the text that goes with a drop, a correction or a withdrawal",
		Long: `Writes the announcement of a drop from the design's story.md, with its placeholders filled: title,
dates, print time, grams, variants. Ready to paste as text, HTML or Markdown. --week N makes one text
of what goes out early and to the public on the same day of that week.

--notice correction says what a correction means for who has printed already: which parts to print again, and
that the rest is fine, from a comparison of what the audience has with what takes its place. --notice withdrawal
says that a revision is withdrawn, and why.`,
		Example:           "  dropwright announce vent-minder early\n  dropwright announce vent-minder public --format html --output post.html\n  dropwright announce --week 5\n  dropwright announce soil-stake early --notice correction",
		ValidArgsFunction: a.completeDrop,
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case notice != "" && week != 0:
				return usage("leave one of them away", "--week and --notice are two texts")
			case notice != "":
				return a.notice(args, notice)
			}
			return a.announce(args, week)
		},
	}
	a.formatFlag(cmd, "text", "html", "md")
	a.outputFlag(cmd, "write to this file instead of printing")
	cmd.Flags().StringVar(&notice, "notice", "", "the text that follows a drop: correction, withdrawal")
	_ = cmd.RegisterFlagCompletionFunc("notice", cobra.FixedCompletions([]string{noticeCorrection, noticeWithdrawal}, cobra.ShellCompDirectiveNoFileComp))
	cmd.Flags().IntVar(&week, "week", 0, "one text for what goes out on the early day of this week")
	return cmd
}

// completeDrop offers a design first, then an audience.
func (a *app) completeDrop(cmd *cobra.Command, args []string, word string) ([]string, cobra.ShellCompDirective) {
	if len(args) == 0 {
		return a.completeDesigns(cmd, args, word)
	}
	return []string{"early", "public"}, cobra.ShellCompDirectiveNoFileComp
}

func (a *app) announce(words []string, week int) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	s.goesOut = true
	cal, _ := schedule.CalendarOf(s.Config)
	if cal == nil {
		return unreadable("`dropwright check` says where", "the calendar cannot be worked out")
	}
	var parts []*sheet.Announcement
	title := ""
	switch {
	case week != 0 && len(words) > 0:
		return usage("name a design and an audience, or --week alone", "--week makes one text of all that goes out that day")
	case week != 0:
		slot, ok := cal.Slot(week)
		if !ok {
			return usage(fmt.Sprintf("the season has %d weeks", s.Config.Calendar.Weeks.V), "there is no week %d", week)
		}
		early, _ := slot.Drop(calendar.Early)
		title = fmt.Sprintf("%s, %s", s.Config.Title.V, early.Date)
		for _, other := range cal.Slots() {
			for _, d := range other.Drops {
				if d.Date != early.Date || other.Design == "" || !s.Has(other.Design) {
					continue
				}
				p, err := a.announcement(s, cal, other.Design, d.Audience)
				if err != nil {
					return err
				}
				parts = append(parts, p)
			}
		}
		if len(parts) == 0 {
			return usage("`dropwright schedule` prints what goes out when", "nothing goes out on %s", early.Date)
		}
	case len(words) == 2:
		if words[1] != "early" && words[1] != "public" {
			return usage("write early or public", "expected an audience, found %q", words[1])
		}
		name, err := a.oneDesign(s, words[:1])
		if err != nil {
			return err
		}
		p, err := a.announcement(s, cal, name, words[1])
		if err != nil {
			return err
		}
		parts = append(parts, p)
	default:
		return usage("`dropwright announce vent-minder early`, or --week N", "name a design and an audience")
	}
	text := parts[0]
	if len(parts) > 1 {
		text = sheet.AnnounceTogether(title, parts...)
	}
	return a.printAnnouncement(text)
}

// announcement makes the text of one drop, as release posts it.
func (a *app) announcement(s *season, cal *calendar.Calendar, name, audience string) (*sheet.Announcement, error) {
	if _, _, err := a.sane(s, name, measure.Topics{}); err != nil {
		return nil, err
	}
	e, w, err := a.examine(s, name, "early", bundle.PackTopics)
	if err != nil {
		return nil, err
	}
	log, err := a.readLedger(s, onlyRehearsal(s))
	if err != nil {
		return nil, err
	}
	var words []release.Word
	for _, d := range log.Despites(name, w.Design.Revision().String()) {
		words = append(words, release.Word{Code: d.Code, Because: d.Because})
	}
	if len(words) > 0 {
		w.Remarks = remarks(a.faultsOf(s, e, w), words)
	}
	return textOf(w, design.Audience(audience), cal, log), nil
}

// textOf is the announcement of a drop, for announce and release alike: with the days that were promised, and with
// the errors that the maker let pass. cal may be nil: then no day is known.
func textOf(w *bundle.Work, audience design.Audience, cal *calendar.Calendar, log *ledger.Log) *sheet.Announcement {
	var early, public sheet.Moment
	if cal != nil {
		if slot, ok := cal.SlotOf(w.Design.Folder); ok {
			dates := promisedFor(log, w.Design.Folder, w.Design.Revision().String())
			early, public = moment(slot, calendar.Early, dates), moment(slot, calendar.Public, dates)
		}
	}
	text := w.Announcement(audience, early, public, boardTitle)
	for _, r := range w.Remarks {
		text.Blocks = append(text.Blocks, sheet.Block{Kind: sheet.Para, Spans: []sheet.Span{{Text: "Known: " + r}}})
	}
	return text
}

// promisedFor is what a design's audiences had been promised when a revision was fixed, or by now if it was not:
// made again, the text of a revision stays the same.
func promisedFor(log *ledger.Log, name, revision string) []ledger.Date {
	var out []ledger.Date
	for _, e := range log.Entries {
		switch {
		case e.Design != name:
		case e.Kind == ledger.Bundle && e.Revision == revision:
			return out
		case e.Kind == ledger.Promise || e.Kind == ledger.Move:
			out = e.Dates
		}
	}
	return out
}

// moment is a drop of a slot as the sheet writes it.
func moment(slot calendar.Slot, audience string, promised []ledger.Date) sheet.Moment {
	d, ok := slot.Drop(audience)
	if !ok {
		return sheet.Moment{}
	}
	day, clock := d.Date, d.Clock.String()
	if due := schedule.DueOf(promised, d); !due.Equal(d.UTC) {
		day, clock = calendar.DateOf(due, d.Zone), d.Zone.In(due).Format("15:04")
	}
	return sheet.Moment{Day: design.Date{Year: day.Year, Month: int(day.Month), Day: day.Day}, Clock: clock, Zone: d.Zone.Name()}
}

func (a *app) printAnnouncement(text *sheet.Announcement) error {
	if len(text.Unknown) > 0 {
		a.ui.say("note: the story holds placeholders that nothing is known for: %s", strings.Join(text.Unknown, ", "))
	}
	if len(text.Missing) > 0 {
		a.ui.say("note: these figures are not known yet: %s", strings.Join(text.Missing, ", "))
	}
	var out bytes.Buffer
	var err error
	switch a.format {
	case "html":
		err = text.HTML(&out)
	case "md":
		err = text.Markdown(&out)
	default:
		err = text.Text(&out)
	}
	if err != nil {
		return machine("", "writing the announcement: %w", err)
	}
	if a.output != "" {
		return a.writeFile(a.output, out.Bytes())
	}
	if _, err := a.stdout.Write(out.Bytes()); err != nil {
		return machine("", "writing the announcement: %w", err)
	}
	return nil
}
