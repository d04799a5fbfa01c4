package main

import (
	"fmt"

	"dropwright/series/calendar"
	"dropwright/series/schedule"
)

// ahead is how many weeks the list without a command shows, the present one included.
const ahead = 5

// thisWeek is the program without a command: what the coming days ask for, each line with the command to
// type.
func (a *app) thisWeek() error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	cal, weeks, err := a.weeks(s)
	if err != nil {
		return err
	}
	now := a.now()
	week := cal.Week(now)
	fmt.Fprintf(a.stdout, "%s, %s: ", s.Config.Title.V, cal.Zone().In(now).Format("Mon 2 Jan 2006"))
	if week == 0 {
		slot, _ := cal.Slot(1)
		early, _ := slot.Drop(calendar.Early)
		fmt.Fprintf(a.stdout, "the season begins in %s\n\n", plural(calendar.DateOf(now, cal.Zone()).DaysTo(early.Date), "day"))
	} else {
		fmt.Fprintf(a.stdout, "week %d of %d\n\n", week, len(weeks))
	}
	rows := [][]string{{"week", "design", "state", "early", "public", "next"}}
	for _, w := range weeks {
		next := nextCommand(w, s.Has(w.Design))
		if near := nearFolder(s, w.Design); near != "" {
			next = "did you mean " + near + "? correct calendar.designs in series.yaml"
		}
		// Past weeks show as long as they ask for something, the coming ones in any case.
		if w.Week >= week+ahead || w.Week < week && next == "" {
			continue
		}
		name := w.Design
		if name == "" {
			name = "free"
		}
		day := "Mon 2 Jan 15:04"
		rows = append(rows, []string{fmt.Sprintf("\t%d", w.Week), name, string(w.State), cal.Zone().In(w.Early).Format(day), cal.Zone().In(w.Public).Format(day), next})
	}
	a.ui.table(rows)
	for _, name := range s.Names {
		if s.Config.WeekOf(name) == 0 {
			fmt.Fprintf(a.stdout, "\n%s has no week yet: dropwright schedule move %s WEEK\n", name, name)
		}
	}
	return nil
}

// nextCommand is what brings a week forward: the command to type, or what to do first.
func nextCommand(w schedule.Week, begun bool) string {
	if w.Design != "" && !begun {
		return "dropwright new " + w.Design
	}
	switch w.State {
	case schedule.Free:
		return "give it a design: designs under calendar in series.yaml"
	case schedule.Started, schedule.MeshesIn:
		return "dropwright check " + w.Design
	case schedule.Accepted, schedule.Checked, schedule.Bundled:
		return "dropwright release " + w.Design + " early"
	case schedule.Handed:
		return "dropwright release confirm " + w.Design + " …"
	case schedule.Late:
		return "dropwright release"
	case schedule.EarlyOut:
		return "dropwright release " + w.Design + " public"
	}
	return ""
}
