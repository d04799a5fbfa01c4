package main

import (
	"fmt"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"dropwright/bundle"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
	"dropwright/series/calendar"
	"dropwright/series/catalogue"
	"dropwright/series/schedule"
)

func (a *app) scheduleCmd() *cobra.Command {
	var asked []string
	cmd := &cobra.Command{
		Use:   "schedule",
		Short: "print the season's weeks; move, swap and slip designs",
		Long: `Prints every week with its early and its public day, in the series' own time zone, and how far its
design has come: free, idea (no folder yet), started (files are missing), meshes-in (errors are left),
trials-accepted, checked (no errors), bundled (a release fixed its bundles and was stopped before they went
out; the bundle command fixes nothing), handed-over (laid out to be posted), early-out, late, public-out or
withdrawn. The days are those that stand: what was promised, where series.yaml says another day by now.

--format ics writes the maker's own calendar for any calendar program: every drop, posts to confirm, and the last
day to start the prints of each coming design. It names designs before their day: keep it to yourself.

--what-if asks what a change would do to the odds that overview prints, and writes nothing: "move DESIGN to
DATE", "move DESIGN to WEEK" (two designs change places), "drop DESIGN" (its week is taken out). It may be
given more than once.`,
		Example: "  dropwright schedule\n  dropwright schedule move vent-minder 6\n  dropwright schedule move vent-minder --public 2027-03-05 --because \"two weeks more for supporters\"\n" +
			"  dropwright schedule swap 3 5\n  dropwright schedule slip vent-minder --shift\n  dropwright schedule --what-if \"drop vent-minder\"\n  dropwright schedule --format ics --output season.ics",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(asked) > 0 {
				return a.whatIf(asked)
			}
			return a.schedule()
		},
	}
	cmd.Flags().StringArrayVar(&asked, "what-if", nil, "compare the odds with those after a change: \"move DESIGN to DATE\", \"drop DESIGN\"")
	a.formatFlag(cmd, "text", "json", "ics")
	a.outputFlag(cmd, "write the calendar (--format ics) to this file instead of printing")
	cmd.AddCommand(a.scheduleMoveCmd(), a.scheduleSwapCmd(), a.scheduleSlipCmd())
	return cmd
}

type jsonWeek struct {
	Week     int               `json:"week"`
	Design   string            `json:"design,omitempty"`
	Revision string            `json:"revision,omitempty"`
	Early    string            `json:"early"`
	Public   string            `json:"public"`
	State    schedule.Standing `json:"state"`
	Why      string            `json:"why,omitempty"`
	Notes    []string          `json:"notes,omitempty"`
}

func (a *app) schedule() error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	if a.format == "ics" {
		return a.scheduleICS(s)
	}
	if a.output != "" {
		return usage("write dropwright schedule --format ics --output FILE", "--output is for the calendar")
	}
	cal, weeks, err := a.weeks(s)
	if err != nil {
		return err
	}
	if a.format == "json" {
		out := []jsonWeek{}
		for _, w := range weeks {
			out = append(out, jsonWeek{w.Week, w.Design, w.Revision, cal.Zone().In(w.Early).Format(time.RFC3339), cal.Zone().In(w.Public).Format(time.RFC3339), w.State, w.Why, w.Notes})
		}
		return a.asJSON(map[string]any{"series": s.Config.Name.V, "zone": cal.Zone().Name(), "weeks": out})
	}
	fmt.Fprintf(a.stdout, "%s, times of %s (zone data %s)\n\n", s.Config.Title.V, cal.Zone().Name(), cal.Zone().Data())
	rows := [][]string{{"week", "design", "early", "public", "state", "why"}}
	for _, w := range weeks {
		what := strings.TrimSpace(w.Design + " " + w.Revision)
		rows = append(rows, []string{fmt.Sprintf("\t%d", w.Week), what, schedule.Day(w.Early, cal.Zone()), schedule.Day(w.Public, cal.Zone()), string(w.State), w.Why})
	}
	a.ui.table(rows)
	for _, w := range weeks {
		for _, n := range w.Notes {
			fmt.Fprintf(a.stdout, "week %d: %s\n", w.Week, n)
		}
	}
	return nil
}

// weeks works out how every week of the season stands.
func (a *app) weeks(s *season) (*calendar.Calendar, []schedule.Week, error) {
	cal, err := a.calendar(s)
	if err != nil {
		return nil, nil, err
	}
	rehearsal := onlyRehearsal(s)
	log, err := a.readLedger(s, rehearsal)
	if err != nil {
		return nil, nil, err
	}
	var failed error
	weeks := schedule.Weeks(a.planInput(s, cal, log, channelsOf(s, rehearsal, nil)), func(name string) schedule.Facts {
		f, err := a.standing(s, name)
		if err != nil {
			failed = err
		}
		return f
	}, a.now())
	for i, w := range weeks {
		if near := nearFolder(s, w.Design); near != "" {
			weeks[i].Why = nearWords(near, w.Design)
		}
	}
	return cal, weeks, failed
}

func nearWords(near, name string) string {
	return fmt.Sprintf("no folder of that name; did you mean %s? correct calendar.designs in series.yaml, or dropwright new %s", near, name)
}

// nearFolder is a design without a week that a name of the calendar without a folder may mean, "" if there is none.
func nearFolder(s *season, name string) string {
	if name == "" || s.Has(name) {
		return ""
	}
	return finding.Nearest(name, slices.DeleteFunc(slices.Clone(s.Names), func(n string) bool { return s.Config.WeekOf(n) != 0 }))
}

// standing measures a design as far as its state needs it.
func (a *app) standing(s *season, name string) (schedule.Facts, error) {
	_, w, err := a.examine(s, name, "", measure.Topics{})
	if err != nil {
		return schedule.Facts{}, err
	}
	if w == nil {
		return schedule.Facts{}, nil
	}
	return a.standingOf(s, w), nil
}

// standingOf is how far a design has come that was measured.
func (a *app) standingOf(s *season, w *bundle.Work) schedule.Facts {
	f := schedule.Facts{Complete: true, Accepted: a.accepted(s, w.Facts), Judged: true, Errors: w.Checked.Errors()}
	for _, x := range w.Facts.Files {
		if x.Named && x.Problem != "" {
			f.Complete = false
		}
	}
	return f
}

func (a *app) scheduleMoveCmd() *cobra.Command {
	var m moveOptions
	cmd := &cobra.Command{
		Use:   "move DESIGN|WEEK [WEEK]",
		Short: "give a design a week, another one, or an early or public day of its own",
		Long: `Changes the calendar's own lines in series.yaml, those bytes only, and shows them before and after.
Dates that the ledger has promised move only with --because.`,
		Example:           "  dropwright schedule move vent-minder 6\n  dropwright schedule move vent-minder --public 2027-03-05 --because \"a correction is under way\"",
		Args:              cobra.RangeArgs(1, 2),
		ValidArgsFunction: a.completeDesigns,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 2 {
				m.to = args[1]
			}
			return a.scheduleMove(args[0], m)
		},
	}
	cmd.Flags().StringVar(&m.early, "early", "", "date of its early drop, such as 2027-01-08")
	cmd.Flags().StringVar(&m.public, "public", "", "date of its public drop")
	a.movingFlags(cmd, &m)
	return cmd
}

func (a *app) scheduleSwapCmd() *cobra.Command {
	var m moveOptions
	cmd := &cobra.Command{
		Use:               "swap DESIGN|WEEK DESIGN|WEEK",
		Short:             "let two designs change weeks",
		Example:           "  dropwright schedule swap 3 5\n  dropwright schedule swap vent-minder seed-dryer",
		Args:              cobra.ExactArgs(2),
		ValidArgsFunction: a.completeDesigns,
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.reschedule(m, func(s *season, weeks map[int]string) error {
				x, err := a.weekOf(s, args[0])
				if err != nil {
					return err
				}
				y, err := a.weekOf(s, args[1])
				if err != nil {
					return err
				}
				weeks[x], weeks[y] = weeks[y], weeks[x]
				return nil
			})
		},
	}
	a.movingFlags(cmd, &m)
	return cmd
}

func (a *app) scheduleSlipCmd() *cobra.Command {
	var m moveOptions
	var shift, free bool
	cmd := &cobra.Command{
		Use:   "slip DESIGN|WEEK --shift|--free-week",
		Short: "put a design that is not ready off",
		Long: `--shift moves the design and those behind it one week on, as far as the next free week, which takes the
shift up; without one the season gets a week longer. --free-week gives the design the next free week
and leaves its own week free; no other design moves.`,
		Example:           "  dropwright schedule slip vent-minder --shift\n  dropwright schedule slip 3 --free-week",
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: a.completeDesigns,
		RunE: func(cmd *cobra.Command, args []string) error {
			if shift == free {
				return usage("write --shift (those behind it move too) or --free-week (it alone moves)", "slip: one of --shift and --free-week is needed")
			}
			return a.reschedule(m, func(s *season, weeks map[int]string) error {
				w, err := a.weekOf(s, args[0])
				if err != nil {
					return err
				}
				if weeks[w] == "" {
					return usage("`dropwright schedule` prints the weeks", "week %d has no design to put off", w)
				}
				gap := w + 1
				for weeks[gap] != "" {
					gap++
				}
				if free {
					weeks[gap], weeks[w] = weeks[w], ""
					return nil
				}
				for ; gap > w; gap-- {
					weeks[gap] = weeks[gap-1]
				}
				weeks[w] = ""
				return nil
			})
		},
	}
	cmd.Flags().BoolVar(&shift, "shift", false, "those behind it move one week on too, as far as the next free week")
	cmd.Flags().BoolVar(&free, "free-week", false, "it takes the next free week; no other design moves")
	a.movingFlags(cmd, &m)
	return cmd
}

func (a *app) movingFlags(cmd *cobra.Command, m *moveOptions) {
	cmd.Flags().StringVar(&m.because, "because", "", "the reason, kept in the ledger; needed where a promised date moves")
	cmd.Flags().BoolVar(&m.show, "show", false, "show what would change and write nothing")
}

// weekOf is the week of a word: a number, or a design that has one.
func (a *app) weekOf(s *season, word string) (int, error) {
	var n int
	if _, err := fmt.Sscanf(word, "%d", &n); err == nil && fmt.Sprint(n) == word {
		if n < 1 || n > int(s.Config.Calendar.Weeks.V) {
			return 0, usage(fmt.Sprintf("weeks run from 1 to %d; raise calendar.weeks in series.yaml for more", s.Config.Calendar.Weeks.V), "there is no week %d", n)
		}
		return n, nil
	}
	if w := s.Config.WeekOf(word); w > 0 {
		return w, nil
	}
	var names []string
	for _, d := range s.Config.Calendar.Designs {
		names = append(names, string(d.Design.V))
	}
	hint := "`dropwright schedule` prints the weeks"
	if near := finding.Nearest(word, names); near != "" {
		hint = "did you mean " + near + "?"
	}
	return 0, usage(hint, "no week has a design called %q", word)
}

func (a *app) scheduleMove(word string, m moveOptions) error {
	days := m.early != "" || m.public != ""
	if days == (m.to != "") {
		return usage("`dropwright schedule move vent-minder 6` gives another week,\n`dropwright schedule move vent-minder --public 2027-03-05` a day of its own", "move: name either a week, or days with --early and --public")
	}
	if days {
		return a.moveDays(word, m)
	}
	return a.changeCalendar(m, func(s *season, cal *calendar.Calendar, e *edit) (calendar.Settings, error) {
		if s.Has(word) && s.Config.WeekOf(word) == 0 {
			return a.giveWeek(s, cal, e, word, m.to)
		}
		return reassign(s, cal, e, func(s *season, weeks map[int]string) error { return a.moveWeek(s, weeks, word, m.to) })
	})
}

// moveWeek moves one design to a free week.
func (a *app) moveWeek(s *season, weeks map[int]string, word, where string) error {
	from, err := a.weekOf(s, word)
	if err != nil {
		return err
	}
	to, err := a.weekOf(s, where)
	switch {
	case err != nil:
		return err
	case weeks[from] == "":
		return usage("`dropwright schedule` prints the weeks", "week %d has no design to move", from)
	case from == to:
		return nil
	case weeks[to] != "":
		return usage(fmt.Sprintf("`dropwright schedule swap %s %d` lets the two change weeks", word, to), "week %d belongs to %s", to, weeks[to])
	}
	weeks[to], weeks[from] = weeks[from], ""
	return nil
}

// shownSeries is series.yaml's path as the user would type it.
func (s *season) shownSeries() string { return path.Join(s.Shown, catalogue.SeriesFile) }

// seriesFile is series.yaml's path.
func (s *season) seriesFile() string { return filepath.Join(s.dir, catalogue.SeriesFile) }

// designsOf lists which design has which week, as a copy to change.
func designsOf(cal *calendar.Calendar) map[int]string {
	out := map[int]string{}
	for week, name := range cal.Settings().Designs {
		out[week] = name
	}
	return out
}

// dateFlag reads a date from a flag.
func dateFlag(flag, text string) (calendar.Date, error) {
	d, err := design.ParseDate(text)
	if err != nil {
		return calendar.Date{}, usage("write year-month-day: --"+flag+" 2027-03-05", "--%s: expected a date such as 2027-03-05, found %q", flag, text)
	}
	return calendar.Date{Year: d.Year, Month: time.Month(d.Month), Day: d.Day}, nil
}
