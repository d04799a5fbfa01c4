package main

import (
	"fmt"
	"path"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
	"dropwright/series/calendar"
	"dropwright/series/catalogue"
	"dropwright/series/schedule"
)

// thisWeek is the program without a command: what the coming days ask for, each line with the command to
// type. What is known without a release is known here: the calendar, the folders, the findings.
func (a *app) thisWeek() error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	cal, found := schedule.CalendarOf(s.Config)
	if cal == nil || finding.Count(found, finding.Error) > 0 {
		t := texts{}
		t.add(s.Text)
		errUI := *a.ui
		errUI.out = a.stderr
		errUI.findings(found, t, false)
		return unreadable("mend "+path.Join(s.Shown, catalogue.SeriesFile)+" first", "the calendar cannot be worked out")
	}
	now := a.now()
	week := cal.Week(now)
	fmt.Fprintf(a.stdout, "%s, %s: ", s.Config.Title.V, cal.Zone().In(now).Format("Mon 2 Jan 2006"))
	switch {
	case week == 0:
		slot, _ := cal.Slot(1)
		early, _ := slot.Drop(calendar.Early)
		fmt.Fprintf(a.stdout, "the season begins in %s\n", plural(calendar.DateOf(now, cal.Zone()).DaysTo(calendar.DateOf(early.UTC, cal.Zone())), "day"))
	default:
		fmt.Fprintf(a.stdout, "week %d of %d\n", week, s.Config.Calendar.Weeks.V)
	}
	lines := a.coming(s, cal)
	if len(lines) == 0 {
		fmt.Fprintln(a.stdout, "\nnothing is planned: give a design a week under calendar.designs in series.yaml")
		return nil
	}
	fmt.Fprintln(a.stdout)
	rows := [][]string{{"week", "design", "early", "public", "next"}}
	rows = append(rows, lines...)
	a.ui.table(rows)
	if n := len(s.Names); n > 0 {
		for _, name := range s.Names {
			if s.Config.WeekOf(name) == 0 {
				fmt.Fprintf(a.stdout, "\n%s has no week yet: add it to calendar.designs in series.yaml", name)
			}
		}
		fmt.Fprintln(a.stdout)
	}
	return nil
}

// coming lists this week and the four after it, and what stands next for each design.
func (a *app) coming(s *season, cal *calendar.Calendar) [][]string {
	const ahead = 5
	first := max(cal.Week(a.now()), 1)
	var rows [][]string
	for _, slot := range cal.Slots() {
		if slot.Week < first || slot.Week >= first+ahead {
			continue
		}
		early, _ := slot.Drop(calendar.Early)
		public, _ := slot.Drop(calendar.Public)
		name, next := slot.Design, ""
		switch {
		case name == "":
			name, next = "free", "give it a design: calendar.designs in series.yaml"
		case !s.Has(name):
			next = "an idea: dropwright new " + name
		default:
			next = a.nextFor(s, name)
		}
		row := []string{fmt.Sprint(slot.Week), name, early.UTC.In(cal.Zone().In(early.UTC).Location()).Format("Mon 2 Jan 15:04"), public.UTC.In(cal.Zone().In(public.UTC).Location()).Format("Mon 2 Jan 15:04"), next}
		rows = append(rows, row)
	}
	return rows
}

// nextFor is the command that brings a design forward.
func (a *app) nextFor(s *season, name string) string {
	e, w, err := a.examine(s, name, design.Audience(""), measure.Topics{})
	switch {
	case err != nil:
		return "dropwright check " + name
	case w == nil:
		return fmt.Sprintf("%s: dropwright check %s", plural(finding.Count(e.Findings, finding.Error), "error"), name)
	case w.Checked.Errors() > 0:
		return fmt.Sprintf("%s: dropwright check %s", plural(w.Checked.Errors(), "error"), name)
	}
	return "clean: dropwright bundle " + name
}
