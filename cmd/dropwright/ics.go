package main

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"slices"
	"strings"
	"time"

	"dropwright/series/calendar"
	"dropwright/series/feed"
	"dropwright/series/ledger"
	"dropwright/series/outlook"
	"dropwright/series/schedule"
)

// beforeAll stamps events of a series whose ledger was not begun: a ledger's own times are all later.
var beforeAll = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// scheduleICS prints the maker's own calendar: every drop, what was laid out and waits to be confirmed, and the last
// moment to start the prints of what is to come. It names designs and is not for readers; theirs lies at each place.
func (a *app) scheduleICS(s *season) error {
	v, err := a.outlook(s)
	if err != nil {
		return err
	}
	log, cal := v.plan.Ledger, v.plan.Calendar
	// The space of names is the series' own name, not its ledger: the calendar is there before the ledger is.
	sum := sha256.Sum256([]byte("dropwright series " + string(s.Config.Name.V)))
	d := &dates{s: s, log: log, zone: cal.Zone(), space: feed.Derive(feed.UUID(sum[:16]), "maker"), opened: beforeAll, latest: beforeAll}
	if at := feed.Opened(log); !at.IsZero() {
		d.opened, d.latest = at, log.Latest()
	}
	promised := map[[2]string]feed.Drop{}
	for _, x := range feed.Drops(log) {
		promised[[2]string{x.Design, x.Audience}] = x
	}
	for _, w := range v.Weeks {
		if w.Design != "" && w.Week > 0 {
			d.title(w.Design, w.Title)
		}
	}
	channels := v.plan.Channels
	for _, slot := range cal.Slots() {
		for _, drop := range slot.Drops {
			if slot.Design == "" || !slices.ContainsFunc(channels, func(c schedule.Channel) bool { return c.Audience == drop.Audience }) && drop.Audience != calendar.Early && drop.Audience != calendar.Public {
				continue
			}
			p, ok := promised[[2]string{slot.Design, drop.Audience}]
			d.drop(slot, drop, p, ok, channels)
			delete(promised, [2]string{slot.Design, drop.Audience})
		}
	}
	for _, p := range promised { // taken off the calendar, or promised to an audience that there is no more
		d.off(p)
	}
	d.confirmations()
	d.prints(v.Season)
	out, err := feed.WriteICS(feed.Calendar{UID: feed.Derive(d.space, "calendar").String(), Name: string(s.Config.Title.V) + ", the maker's days",
		Description: "Drops, posts to confirm, and when prints must begin. Local times are those of " + cal.Zone().Name() + ".", Events: d.events})
	if err != nil {
		return unreadable("give designs a week under calendar.designs in series.yaml", "the calendar cannot be written: %w", err)
	}
	if a.output != "" {
		return a.writeFile(a.output, out)
	}
	if _, err := a.stdout.Write(out); err != nil {
		return machine("", "writing the calendar: %w", err)
	}
	return nil
}

// dates gathers the events of the maker's calendar.
type dates struct {
	s              *season
	log            *ledger.Log
	zone           calendar.Zone
	space          feed.UUID
	opened, latest time.Time
	titles         map[string]string
	events         []feed.Event
}

func (d *dates) title(name, title string) {
	if d.titles == nil {
		d.titles = map[string]string{}
	}
	d.titles[name] = cmp.Or(title, name)
}

// called is a design as the calendar names it.
func (d *dates) called(name string) string { return cmp.Or(d.titles[name], name) }

// local notes the wall clock that was meant: calendars show their reader's own.
func (d *dates) local(t time.Time) string {
	return fmt.Sprintf("%s in %s.", schedule.Day(t, d.zone), d.zone.Name())
}

// uid is the name of an event about a design that stays through moves.
func (d *dates) uid(what, design string, week int) string {
	first, turn := feed.Turn(d.log, design, week)
	return feed.Derive(d.space, fmt.Sprintf("%s week %d turn %d", what, first, turn)).String()
}

// drop is one day of a week.
func (d *dates) drop(slot calendar.Slot, drop calendar.Drop, p feed.Drop, promised bool, channels []schedule.Channel) {
	due := schedule.DueOf(d.log.Dates(slot.Design), drop)
	e := feed.Event{UID: d.uid("drop "+drop.Audience, slot.Design, slot.Week), Start: due, Modified: d.opened, Tentative: true, Summary: fmt.Sprintf("%s: %s drop", d.called(slot.Design), drop.Audience)}
	if promised {
		e.Created, e.Modified, e.Sequence, e.Tentative, e.Cancelled = p.Created, p.Modified, p.Sequence, false, p.Cancelled
	}
	lines := []string{fmt.Sprintf("Week %d, %s", slot.Week, d.local(due))}
	var to []string
	for _, c := range channels {
		if c.Audience == drop.Audience {
			to = append(to, c.Name)
		}
	}
	if len(to) > 0 {
		lines = append(lines, "To "+strings.Join(to, ", ")+".")
	}
	if promised && p.Because != "" {
		lines = append(lines, "Moved: "+p.Because+".")
	}
	lines = append(lines, fmt.Sprintf("dropwright release %s %s", slot.Design, drop.Audience))
	e.Description = strings.Join(append(lines, drop.Notes...), "\n")
	d.events = append(d.events, e)
}

// off is a day that was promised and will not come.
func (d *dates) off(p feed.Drop) {
	d.events = append(d.events, feed.Event{UID: d.uid("drop "+p.Audience, p.Design, p.Week), Start: p.Due, Created: p.Created, Modified: p.Modified, Sequence: p.Sequence, Cancelled: true,
		Summary: fmt.Sprintf("%s: %s drop", d.called(p.Design), p.Audience), Description: strings.TrimSpace(p.Because)})
}

// confirmations are the posts that were laid out: at their instant, until and after the maker has confirmed them.
func (d *dates) confirmations() {
	handed, confirmed := map[int]ledger.Entry{}, map[int]ledger.Entry{}
	intents := map[int]int{} // seq of a result -> of its intent
	for _, e := range d.log.Entries {
		switch {
		case e.Kind == ledger.Result && e.Outcome == ledger.HandedOver:
			handed[e.Of], intents[e.Seq] = e, e.Of
		case e.Kind == ledger.Confirm:
			of := e.Of
			if i, ok := intents[of]; ok {
				of = i
			}
			confirmed[of] = e
		}
	}
	for _, x := range d.log.Deliveries() {
		i := x.Intent
		laid, ok := handed[i.Seq]
		if !ok {
			continue
		}
		e := feed.Event{UID: feed.Derive(d.space, fmt.Sprintf("confirm %s %s %s", i.Design, i.Revision, i.Channel)).String(), Start: i.Due, Created: laid.At, Modified: laid.At, Tentative: true,
			Summary:     fmt.Sprintf("Post %s %s to %s and confirm it", d.called(i.Design), i.Revision, i.Channel),
			Description: fmt.Sprintf("Not before %s\ndropwright release confirm %s %s --at TIME --link URL", d.local(i.Due), i.Design, i.Audience)}
		if c, ok := confirmed[i.Seq]; ok {
			e.Modified, e.Sequence, e.Tentative = c.At, 1, false
			e.Summary = fmt.Sprintf("%s %s was posted to %s", d.called(i.Design), i.Revision, i.Channel)
			e.Description = strings.TrimSpace(d.local(c.When) + "\n" + c.Link)
		}
		d.events = append(d.events, e)
	}
}

// prints are the last moments at which the prints of each coming design can begin, if its printers run their hours
// evenly: from the last due print of each printer back, each print ends when it is due or when the next one must
// begin.
func (d *dates) prints(v outlook.Season) {
	perDay := map[string]float64{}
	for _, p := range v.Printers {
		perDay[p.Name] = p.HoursPerWeek / 7
	}
	jobs := slices.Clone(v.Queue.Jobs)
	slices.SortStableFunc(jobs, func(a, b outlook.QueuedJob) int { return b.Due.Compare(a.Due) })
	next := map[string]time.Time{}
	type start struct {
		at    time.Time
		due   time.Time
		week  int
		hours float64
		on    []string
	}
	first := map[string]*start{}
	for _, j := range jobs {
		rate := perDay[j.Printer]
		if rate <= 0 {
			continue
		}
		end := j.Due
		if n, ok := next[j.Printer]; ok && n.Before(end) {
			end = n
		}
		begin := end.Add(-time.Duration(j.Hours / rate * 24 * float64(time.Hour))).Truncate(time.Minute)
		next[j.Printer] = begin
		x := first[j.Design]
		if x == nil {
			x = &start{at: begin, due: j.Due, week: j.Week}
			first[j.Design] = x
		}
		if begin.Before(x.at) {
			x.at = begin
		}
		x.hours += j.Hours
		if !slices.Contains(x.on, j.Printer) {
			x.on = append(x.on, j.Printer)
		}
	}
	for name, x := range first {
		slices.Sort(x.on)
		d.events = append(d.events, feed.Event{UID: d.uid("print", name, x.week), Start: x.at, Modified: d.latest, Tentative: true, Summary: fmt.Sprintf("%s: last day to start printing", d.called(name)),
			Description: fmt.Sprintf("%.1f hours of printing on %s, to end %s\nWorked out from the estimates and hours_per_week; dropwright overview shows the queue.", x.hours, strings.Join(x.on, ", "), d.local(x.due))})
	}
}
