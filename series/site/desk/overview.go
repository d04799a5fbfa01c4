package desk

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"dropwright/bundle/unit"
	"dropwright/series/outlook"
	"dropwright/series/schedule"
	"dropwright/series/site"
)

// overviewView is what templates/desk/overview.html prints.
type overviewView struct {
	site.Frame
	Maker, When string
	Whole       bool // the season could be looked over
	Told        []told
	Trouble     []string
	Sick        bool // series.yaml cannot be read as meant
	Heads       []head
	Todo        []outlook.Missing
	Strip       *site.Chart
	Weeks       *site.Table
	Waiting     *site.Table
	Printers    []site.Chart
	Queue       *site.Table
	QueueSays   string
	Stock       *site.Chart
	Orders      *site.Table
	OrderCost   string
	Tight       []string
	Odds        *site.Chart
	Taken       *site.Table
	Ideas       *site.Table
	Reports     *site.Table
	Notes       []string
	Designs     []site.Link // where there is no outlook
}

// head is one of the figures at the top.
type head struct{ Term, Figure, Note string }

// overview prints the first page.
func (d *Desk) overview(ctx context.Context, watch string) (site.Page, error) {
	s, err := d.Source.Season(ctx)
	if err != nil {
		return site.Page{}, err
	}
	v := overviewView{Frame: d.frame(s, "index.html", s.Title, watch), Maker: s.Maker, Told: tell(s.Told, s.Texts), Trouble: s.Trouble}
	v.Sick = s.Outlook == nil && len(s.Trouble) == 0
	v.Description = "The season of " + s.Title + " at a glance."
	for _, n := range s.Names {
		v.Designs = append(v.Designs, site.Link{Href: v.To(designPath(n)), Text: n})
	}
	if o := s.Outlook; o != nil {
		v.Whole = true
		d.season(&v, s, o)
	}
	t, err := pages()
	if err != nil {
		return site.Page{}, fmt.Errorf("reading the templates: %w", err)
	}
	return site.Print(t, "overview", v.Frame, v)
}

// season fills in what an outlook says.
func (d *Desk) season(v *overviewView, s *Season, o *outlook.Season) {
	v.When = day(o.Now, s.Zone)
	if o.Week == 0 {
		v.When += ", before the season"
	} else {
		v.When += fmt.Sprintf(", week %d of %d", o.Week, len(o.Weeks))
	}
	v.Heads = heads(s, o)
	v.Todo = todo(s, o)
	strip := stripOf(s, o)
	v.Strip = &strip
	w := weekTable("The weeks", v, s, o, o.Weeks)
	v.Weeks = &w
	if len(o.Waiting) > 0 {
		t := weekTable("Designs without a week", v, s, o, o.Waiting)
		v.Waiting = &t
	}
	v.Printers = loads(o)
	v.Queue, v.QueueSays = queue(v, s, o)
	d.shelf(v, s, o)
	v.Odds, v.Taken = odds(s, o)
	v.Ideas, v.Reports = ideas(o), reports(v, s, o)
	v.Notes = o.Notes
}

// heads are the figures at the top: how long the promise holds.
func heads(s *Season, o *outlook.Season) []head {
	out := []head{{"In reserve", unit.Count(o.Reserve.Weeks, "week"), "finished weeks in a row, from now on"}}
	if o.Reserve.Breaks.IsZero() {
		out = append(out, head{"If work stops today", "kept", "every coming week is finished"})
	} else {
		out = append(out, head{"If work stops today", o.Reserve.Breaks.In(zoneOf(s)).Format(shortDay), fmt.Sprintf("the promise breaks, in week %d", o.Reserve.BreaksWeek)})
	}
	if o.Odds.All != nil {
		note := fmt.Sprintf("from %s; %d runs", o.Odds.Basis, o.Odds.Runs)
		if o.Odds.ReserveFor90 != nil {
			note = fmt.Sprintf("%s finished today would give 90 %%; %s", unit.Count(*o.Odds.ReserveFor90, "week"), note)
		}
		out = append(out, head{"All days kept", outlook.Percent(*o.Odds.All, o.Odds.Finest), note})
	}
	switch n := len(o.Reserve.ThisWeek); n {
	case 0:
		out = append(out, head{"To finish in seven days", "nothing", ""})
	default:
		out = append(out, head{"To finish in seven days", weeksSaid(o.Reserve.ThisWeek), ""})
	}
	if len(o.Reserve.Late) > 0 {
		out = append(out, head{"Late", weeksSaid(o.Reserve.Late), "their early day has passed"})
	}
	return out
}

// weeksSaid is "week 3" or "weeks 3, 4, 7".
func weeksSaid(list []int) string {
	var out []string
	for i, n := range list {
		if i == 12 {
			out = append(out, "…")
			break
		}
		out = append(out, strconv.Itoa(n))
	}
	word := "week "
	if len(list) > 1 {
		word = "weeks "
	}
	return word + strings.Join(out, ", ")
}

// todo is what to do now: what is late, and what must be finished within seven days; each with the first thing that
// is missing.
func todo(s *Season, o *outlook.Season) []outlook.Missing {
	var out []outlook.Missing
	for _, w := range o.Weeks {
		late := slices.Contains(o.Reserve.Late, w.Week)
		if !late && !slices.Contains(o.Reserve.ThisWeek, w.Week) {
			continue
		}
		name := w.Design
		if name == "" {
			name = "free"
		}
		m := outlook.Missing{What: fmt.Sprintf("Week %d, %s, ", w.Week, name)}
		if late {
			m.What += "was due " + stamp(w.Early, s.Zone)
		} else {
			m.What += "to be finished by " + stamp(w.FinishBy, s.Zone)
			if w.FinishBy.IsZero() {
				m.What = strings.TrimSuffix(m.What, ", to be finished by ")
			}
		}
		if len(w.Missing) > 0 {
			m.What += ": " + w.Missing[0].What
			m.Command = w.Missing[0].Command
		}
		out = append(out, m)
	}
	return out
}

// way is the states on the way to a drop, in their order.
var way = []schedule.Standing{schedule.Idea, schedule.Started, schedule.MeshesIn, schedule.Accepted, schedule.Checked, schedule.Bundled}

// behind counts the steps that a week's design has behind it.
func behind(w outlook.Week) int {
	if w.Finished {
		return len(way)
	}
	n := slices.Index(way, w.State) + 1
	for _, r := range w.Reached {
		n = max(n, slices.Index(way, r.State)+1)
	}
	return n
}

// stripOf draws the calendar.
func stripOf(s *Season, o *outlook.Season) site.Chart {
	var slots []site.Slot
	out, finished, free := 0, 0, 0
	for _, w := range o.Weeks {
		k := site.Slot{Number: w.Week, Name: w.Design, Day: w.Early.In(zoneOf(s)).Format("2 Jan"), Done: behind(w), Out: w.Out || w.State == schedule.EarlyOut,
			Public: w.State == schedule.PublicOut, Late: w.State == schedule.Late || slices.Contains(o.Reserve.Late, w.Week), Void: w.State == schedule.Withdrawn, Now: w.Week == o.Week}
		switch {
		case k.Out || k.Public:
			out++
		case w.Finished:
			finished++
		case w.Design == "":
			free++
		}
		slots = append(slots, k)
	}
	says := fmt.Sprintf("%s: %d out, %d finished and waiting, %d free.", unit.Count(len(o.Weeks), "week"), out, finished, free)
	if o.Week > 0 {
		says += fmt.Sprintf(" Now is week %d.", o.Week)
	}
	c := site.Chart{ID: "strip", Title: "Calendar", Says: says, Drawing: site.Strip("strip", "Calendar of the season", says+" The table below says the same of each week.", len(way), slots)}
	key := func(text string, k site.Slot) {
		c.Key = append(c.Key, site.KeyEntry{Mark: site.Mark(fmt.Sprintf("key%d", len(c.Key)), k, len(way)), Text: text})
	}
	key("free", site.Slot{})
	key("in work: the fuller, the farther", site.Slot{Name: "x", Done: 3})
	key("finished", site.Slot{Name: "x", Done: 6})
	key("late", site.Slot{Name: "x", Done: 2, Late: true})
	key("early is out", site.Slot{Name: "x", Out: true})
	key("public is out", site.Slot{Name: "x", Public: true})
	return c
}

// weekTable is the table of weeks.
func weekTable(title string, v *overviewView, s *Season, o *outlook.Season, weeks []outlook.Week) site.Table {
	t := site.Table{Title: title, Head: []site.Column{{Text: "week", Figure: true}, {Text: "design", Long: true}, {Text: "state"}, {Text: "findings"}, {Text: "missing next", Long: true}, {Text: "early"}, {Text: "public"}, {Text: "chance", Figure: true}}}
	for _, w := range weeks {
		number := "–"
		if w.Week > 0 {
			number = strconv.Itoa(w.Week)
		}
		name := site.Cell{Text: w.Design, Note: w.Title}
		if w.Design == "" {
			name.Text = "free"
		} else if slices.Contains(s.Names, w.Design) {
			name.Href = v.To(designPath(w.Design))
		}
		state := site.Cell{Text: string(w.State), Strong: w.State == schedule.Late}
		found := site.Cell{}
		if f := w.Findings; f != nil {
			found.Text = tally(f.Errors, f.Warnings, f.Notes)
			if found.Text == "" {
				found.Text = "none"
			}
		}
		if w.Reports > 0 {
			found.Note = unit.Count(w.Reports, "open report")
		}
		next := site.Cell{}
		if len(w.Missing) > 0 {
			next.Text, next.Command = w.Missing[0].What, w.Missing[0].Command
			if n := len(w.Missing) - 1; n > 0 {
				next.Note = fmt.Sprintf("and %d more", n)
			}
		}
		chance := site.Cell{}
		if w.Chance != nil {
			chance.Text = outlook.Percent(*w.Chance, o.Odds.Finest)
		}
		short := "Mon 2 Jan 15:04"
		early, public := "", ""
		if !w.Early.IsZero() {
			early = w.Early.In(zoneOf(s)).Format(short)
		}
		if !w.Public.IsZero() {
			public = w.Public.In(zoneOf(s)).Format(short)
		}
		t.Rows = append(t.Rows, site.Row{Now: w.Week > 0 && w.Week == o.Week, Cells: []site.Cell{{Text: number}, name, state, found, next, {Text: early}, {Text: public}, chance}})
	}
	return t
}
