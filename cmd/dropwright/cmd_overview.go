package main

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"dropwright/bundle/unit"
	"dropwright/series/calendar"
	"dropwright/series/outlook"
	"dropwright/series/schedule"
)

func (a *app) overviewCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "overview",
		Short: "look over the whole season: states, reserve, odds, printers, stock",
		Long: `Prints the season as a table: each week's design, how far it has come, what is missing next, its days and
the chance that its early day is met. Under it: how many weeks are in reserve, when the promise breaks if
work stops today, what must be finished this week, the odds of keeping every date, what the printers have to
do, what to order, ideas and open reports.

The odds play the coming weeks through 10,000 times, one design after another, with the days that the
finished designs took by git and the ledger. While fewer than five tell, they rest on a guess that is
printed, and no chance is finer than 10 %. A free week counts as a design that is not begun; a week in
which nothing is meant to go out is a day under calendar.skip. plan in series.yaml says how many test
prints and builds a design gets, how many days before its drop it is to be finished, and the guess.`,
		Example: "  dropwright overview\n  dropwright overview --format json\n  dropwright overview --output ../pages   # open ../pages/index.html\n  dropwright schedule --what-if \"move vent-minder to 2027-02-19\"",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case a.output == "":
				return a.overview()
			case a.format == "json":
				return usage("leave one of them out", "--output writes pages, and --format json prints figures")
			}
			return a.overviewPages(a.output)
		},
	}
	a.formatFlag(cmd, "text", "json")
	a.outputFlag(cmd, "write the season as pages into this folder, as `preview` shows it")
	return cmd
}

func (a *app) overview() error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	v, err := a.outlook(s)
	if err != nil {
		return err
	}
	if a.format == "json" {
		return a.asJSON(v.Season)
	}
	cal := v.input.Calendar
	a.overviewHead(v.Season, cal)
	a.overviewWeeks(v.Season, cal)
	a.overviewReserve(v.Season, cal)
	a.overviewPrinters(v.Season, cal)
	a.overviewStock(v.Season, cal)
	a.overviewRest(v.Season)
	return nil
}

func (a *app) overviewHead(v outlook.Season, cal *calendar.Calendar) {
	fmt.Fprintf(a.stdout, "%s, %s: ", v.Title, cal.Zone().In(v.Now).Format("Mon 2 Jan 2006"))
	if v.Week == 0 {
		slot, _ := cal.Slot(1)
		early, _ := slot.Drop(calendar.Early)
		fmt.Fprintf(a.stdout, "the season begins in %s\n\n", plural(calendar.DateOf(v.Now, cal.Zone()).DaysTo(early.Date), "day"))
		return
	}
	fmt.Fprintf(a.stdout, "week %d of %d\n\n", v.Week, len(v.Weeks))
}

// shortDay is how days are printed in a table whose year is clear.
const shortDay = "Mon 2 Jan 15:04"

func (a *app) overviewWeeks(v outlook.Season, cal *calendar.Calendar) {
	rows := [][]string{{"week", "design", "state", "missing next", "early", "public", "\tchance"}}
	day := func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		return cal.Zone().In(t).Format(shortDay)
	}
	for _, w := range append(v.Weeks[:len(v.Weeks):len(v.Weeks)], v.Waiting...) {
		number, next, chance := strconv.Itoa(w.Week), "", ""
		if w.Week == 0 {
			number = "none"
		}
		if len(w.Missing) > 0 {
			next = w.Missing[0].What
			if n := len(w.Missing) - 1; n > 0 {
				next += fmt.Sprintf(" (+%d)", n)
			}
		}
		if w.Chance != nil {
			chance = outlook.Percent(*w.Chance, v.Odds.Finest)
		}
		name := w.Design
		if name == "" {
			name = "free"
		}
		rows = append(rows, []string{"\t" + number, strings.TrimSpace(name + " " + w.Revision), stateSince(w, cal), next, day(w.Early), day(w.Public), "\t" + chance})
	}
	a.ui.table(withoutEmpty(rows))
}

// stateSince is a week's state, with the day on which it was reached where that is known.
func stateSince(w outlook.Week, cal *calendar.Calendar) string {
	for _, r := range w.Reached {
		if r.State == w.State && !r.At.IsZero() {
			return fmt.Sprintf("%s since %s", w.State, cal.Zone().In(r.At).Format("2 Jan"))
		}
	}
	return string(w.State)
}

func (a *app) overviewReserve(v outlook.Season, cal *calendar.Calendar) {
	r := v.Reserve
	byWeek := map[int]outlook.Week{}
	for _, w := range v.Weeks {
		byWeek[w.Week] = w
	}
	name := func(n int) string {
		if w := byWeek[n]; w.Design != "" {
			return fmt.Sprintf("%d %s", n, w.Design)
		}
		return fmt.Sprintf("%d free", n)
	}
	list := func(weeks []int) string {
		var out []string
		for _, n := range weeks {
			out = append(out, name(n))
		}
		return strings.Join(out, ", ")
	}
	fmt.Fprintf(a.stdout, "\nin reserve: %s", plural(r.Weeks, "week"))
	if n := len(r.Finished); n > r.Weeks {
		fmt.Fprintf(a.stdout, " (%s finished: week %s)", plural(n, "coming design"), list(r.Finished))
	}
	fmt.Fprintln(a.stdout)
	if len(r.Late) > 0 {
		fmt.Fprintf(a.stdout, "late: week %s\n", list(r.Late))
	}
	switch {
	case !r.Breaks.IsZero():
		fmt.Fprintf(a.stdout, "if work stops today, the promise breaks on %s: week %s\n", schedule.Day(r.Breaks, cal.Zone()), name(r.BreaksWeek))
	case len(r.Late) == 0:
		fmt.Fprintln(a.stdout, "if work stops today, every promise is kept: all coming weeks are finished")
	}
	if len(r.ThisWeek) > 0 {
		fmt.Fprintf(a.stdout, "to be finished within seven days: week %s\n", list(r.ThisWeek))
	}
	a.overviewOdds(v.Odds)
}

func (a *app) overviewOdds(o outlook.Odds) {
	if o.All == nil {
		return
	}
	fmt.Fprintf(a.stdout, "every coming early day is met: %s (%s)\n", outlook.Percent(*o.All, o.Finest), runsText(o, o.StandardError))
	fmt.Fprintf(a.stdout, "  rests on %s\n", o.Says)
	switch {
	case o.MoreFor90 == nil:
	case *o.MoreFor90 == 0:
		fmt.Fprintln(a.stdout, "  that is 90 % or more with what is finished")
	default:
		fmt.Fprintf(a.stdout, "  for 90 %%: %s in reserve, which takes %s finished today\n", plural(*o.ReserveFor90, "week"), plural(*o.MoreFor90, "more week"))
	}
}

// runsText says what a chance was worked out with. The error of the simulation is said where the chance itself is
// that fine: beside a guess it would promise too much.
func runsText(o outlook.Odds, standardError float64) string {
	if o.Finest > 1 {
		return fmt.Sprintf("%d runs", o.Runs)
	}
	return fmt.Sprintf("%d runs, standard error %.1f %%", o.Runs, 100*standardError)
}

func (a *app) overviewPrinters(v outlook.Season, cal *calendar.Calendar) {
	if len(v.Queue.Jobs) == 0 {
		return
	}
	fmt.Fprintf(a.stdout, "\nprinters, %s and %s planned of what is not out:\n", plural(v.Plan.Trials, "trial")+" a part", plural(v.Plan.Builds, "build")+" a variant")
	rows := [][]string{{"week"}}
	for _, p := range v.Printers {
		rows[0] = append(rows[0], "\t"+p.Name+" needs", "\tof", "\tover")
	}
	if len(v.Printers) == 0 {
		return
	}
	for i, l := range v.Printers[0].Load {
		row, any := []string{"\t" + strconv.Itoa(l.Week)}, false
		for _, p := range v.Printers {
			x := p.Load[i]
			any = any || x.Need > 0
			row = append(row, "\t"+hours(x.Need), "\t"+hours(x.Have), "\t"+hours(x.Over))
		}
		if any {
			rows = append(rows, row)
		}
	}
	a.ui.table(withoutEmpty(rows))
	fmt.Fprintln(a.stdout, v.Queue.Why)
	if len(v.Queue.Over) > 0 {
		var weeks []string
		for _, w := range v.Queue.Over {
			weeks = append(weeks, strconv.Itoa(w))
		}
		fmt.Fprintf(a.stdout, "prints that end too late: week %s\n", strings.Join(weeks, ", "))
	}
	zone := cal.Zone()
	for i, j := range v.Queue.Jobs {
		if i == 3 {
			fmt.Fprintf(a.stdout, "  … and %s\n", plural(len(v.Queue.Jobs)-i, "more print"))
			break
		}
		where := "no printer takes it"
		if j.Printer != "" {
			where = fmt.Sprintf("on %s from %s", j.Printer, zone.In(j.Starts).Format(shortDay))
		}
		fmt.Fprintf(a.stdout, "  next: %s/%s%s, %s, %s, %s\n", j.Design, j.Part, inBrackets(j.Variant), plural(j.Prints, j.For), unit.Duration(j.Hours*3600), where)
	}
	for _, u := range v.Queue.Unknown {
		fmt.Fprintf(a.stdout, "not counted: %s\n", u)
	}
}

func inBrackets(s string) string {
	if s == "" {
		return ""
	}
	return " (" + s + ")"
}

// hours prints hours of printing; nothing for none.
func hours(x float64) string {
	if x == 0 {
		return ""
	}
	return fmt.Sprintf("%.1f h", x)
}

func (a *app) overviewStock(v outlook.Season, cal *calendar.Calendar) {
	switch {
	case !v.Stock.Kept:
		fmt.Fprintln(a.stdout, "\nstock: none is kept; `dropwright stock add FILAMENT` puts the first spool on the shelf")
		return
	case len(v.Stock.Orders) == 0:
		fmt.Fprintln(a.stdout, "\nstock: what is there is enough for what is known of the coming weeks")
	default:
		fmt.Fprintln(a.stdout, "\nto order:")
		a.orderTable(v, cal)
	}
	a.tightLines(v)
}

func (a *app) overviewRest(v outlook.Season) {
	if len(v.Reports) > 0 {
		fmt.Fprintln(a.stdout, "\nopen reports:")
		rows := [][]string{{"report", "of", "what"}}
		for _, r := range v.Reports {
			rows = append(rows, []string{r.ID, strings.TrimSpace(strings.TrimSuffix(r.Design+"/"+r.Part, "/") + " " + r.Revision), cut(r.Text, 70)})
		}
		a.ui.table(rows)
	}
	n := 0
	for _, x := range v.Ideas {
		if !x.Begun {
			n++
		}
	}
	if n > 0 {
		fmt.Fprintf(a.stdout, "\n%s: dropwright idea\n", plural(n, "idea"))
	}
	for _, note := range v.Notes {
		fmt.Fprintf(a.stdout, "note: %s\n", note)
	}
}
