package main

import (
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strconv"
	"strings"

	"dropwright/bundle/finding"
	"dropwright/bundle/source"
	"dropwright/series/calendar"
	"dropwright/series/catalogue"
	"dropwright/series/config"
	"dropwright/series/ledger"
	"dropwright/series/schedule"
)

// moveOptions are what the commands that change the calendar take.
type moveOptions struct {
	to            string
	early, public string
	because       string
	show          bool
}

// reschedule changes which design has which week.
func (a *app) reschedule(m moveOptions, change func(*season, map[int]string) error) error {
	return a.changeCalendar(m, func(s *season, cal *calendar.Calendar, e *edit) (calendar.Settings, error) {
		return reassign(s, cal, e, change)
	})
}

// reassign writes which design has which week, of those that have one.
func reassign(s *season, cal *calendar.Calendar, e *edit, change func(*season, map[int]string) error) (calendar.Settings, error) {
	want := cal.Settings()
	want.Designs = designsOf(cal)
	if err := change(s, want.Designs); err != nil {
		return want, err
	}
	maps.DeleteFunc(want.Designs, func(_ int, name string) bool { return name == "" })
	// The entries keep their places in the file and their order by week: what is written beside them
	// stays beside the week.
	old := slices.Clone(s.Config.Calendar.Designs)
	slices.SortFunc(old, func(x, y config.WeekEntry) int { return x.Week - y.Week })
	weeks := slices.Sorted(maps.Keys(want.Designs))
	if len(weeks) != len(old) {
		return want, fmt.Errorf("%d designs before, %d after", len(old), len(weeks))
	}
	for i, w := range weeks {
		e.swap(old[i].WeekAt, fmt.Sprint(old[i].Week), fmt.Sprint(w))
		e.swap(old[i].Design.At, string(old[i].Design.V), want.Designs[w])
	}
	if last := weeks[len(weeks)-1]; last > want.Weeks {
		e.swap(s.Config.Calendar.Weeks.At, fmt.Sprint(want.Weeks), fmt.Sprint(last))
		want.Weeks = last
	}
	return want, nil
}

// giveWeek gives a design that has none a free week.
func (a *app) giveWeek(s *season, cal *calendar.Calendar, e *edit, name, word string) (calendar.Settings, error) {
	want := cal.Settings()
	want.Designs = designsOf(cal)
	week, err := a.weekOf(s, word)
	if err != nil {
		return want, err
	}
	if other := want.Designs[week]; other != "" {
		return want, usage("`dropwright schedule` prints the free weeks", "week %d belongs to %s", week, other)
	}
	want.Designs[week] = name
	addWeek(e, week, name)
	return want, nil
}

// addWeek writes a week's entry where its number belongs.
func addWeek(e *edit, week int, name string) {
	all := e.root.Get("calendar").Get("designs")
	key := fmt.Sprint(week)
	if all == nil || all.Kind != source.Map {
		e.addKeyAfter(e.root.Get("calendar"), "public_after", "designs", "{"+key+": "+name+"}")
		return
	}
	var lower, higher *source.Pair
	for i, p := range all.Pairs {
		if n, err := strconv.Atoi(p.Key); err == nil && n < week {
			lower = &all.Pairs[i]
		} else if higher == nil {
			higher = &all.Pairs[i]
		}
	}
	switch flow := e.flow(all); {
	case flow && higher != nil && lower != nil:
		e.insert(higher.KeyAt, key+": "+name+", ")
	case flow && lower != nil && strings.HasPrefix(string(e.before[e.offset(lower.Value.At):]), lower.Value.Text):
		e.swap(lower.Value.At, lower.Value.Text, lower.Value.Text+", "+key+": "+name)
	case !flow && lower != nil:
		e.addKeyAfter(all, lower.Key, key, name)
	default:
		e.addKey(all, key, name)
	}
}

// moveDays gives a design an early or public day of its own.
func (a *app) moveDays(word string, m moveOptions) error {
	return a.changeCalendar(m, func(s *season, cal *calendar.Calendar, e *edit) (calendar.Settings, error) {
		want := cal.Settings()
		week, err := a.weekOf(s, word)
		if err != nil {
			return want, err
		}
		name := want.Designs[week]
		if name == "" {
			return want, usage("`dropwright schedule` prints the weeks", "week %d has no design to move", week)
		}
		o := want.Overrides[name]
		want.Overrides = maps.Clone(want.Overrides)
		var add []string
		if m.early != "" {
			if o.Early, err = dateFlag("early", m.early); err != nil {
				return want, err
			}
			add = append(add, "early", m.early)
		}
		if m.public != "" {
			if o.Public, err = dateFlag("public", m.public); err != nil {
				return want, err
			}
			o.PublicAfter = nil
			add = append(add, "public", m.public)
		}
		want.Overrides[name] = o
		if m.because != "" {
			add = append(add, "because", quoteYAML(m.because))
		}
		override(e, name, add)
		return want, nil
	})
}

// override writes keys and values into a design's entry under calendar.overrides.
func override(e *edit, name string, add []string) {
	cal := e.root.Get("calendar")
	all := cal.Get("overrides")
	entry := all.Get(name)
	if entry == nil {
		var pairs []string
		for i := 0; i < len(add); i += 2 {
			pairs = append(pairs, add[i]+": "+add[i+1])
		}
		text := "{" + strings.Join(pairs, ", ") + "}"
		if all != nil && all.Kind == source.Map {
			e.addKey(all, name, text)
			return
		}
		e.addKeyAfter(cal, "public_after", "overrides", "{"+name+": "+text+"}")
		return
	}
	for i := len(add) - 2; i >= 0; i -= 2 { // each becomes the first key
		key, value := add[i], add[i+1]
		done := false
		for _, p := range entry.Pairs {
			switch {
			case p.Key == key && key == "because":
				e.swap(p.Value.At, p.Value.Text, strings.Trim(value, `"`))
				done = true
			case p.Key == key:
				e.swap(p.Value.At, p.Value.Text, value)
				done = true
			case key == "public" && p.Key == "public_after": // the two exclude each other
				e.swap(p.KeyAt, p.Key, key)
				e.swap(p.Value.At, p.Value.Text, value)
				done = true
			}
		}
		if !done {
			e.addKey(entry, key, value)
		}
	}
}

// changeCalendar carries one change of the calendar out: edits the lines, makes sure that the result means
// what was asked for and breaks no promise, shows both, writes, and records what moved.
func (a *app) changeCalendar(m moveOptions, change func(*season, *calendar.Calendar, *edit) (calendar.Settings, error)) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	cal, err := a.calendar(s)
	if err != nil {
		return err
	}
	data, err := fs.ReadFile(s.FS, catalogue.SeriesFile)
	if err != nil {
		return machine("", "reading %s: %w", s.shownSeries(), err)
	}
	e, err := editing(s.shownSeries(), data)
	if err != nil {
		return err
	}
	want, err := change(s, cal, e)
	if err != nil {
		return err
	}
	after, err := e.after()
	if err != nil {
		return err
	}
	changed, err := a.meant(s, after, want)
	if err != nil {
		return err
	}
	records, err := a.promises(s, cal, changed, m.because)
	if err != nil {
		return err
	}
	lines := changedLines(data, after)
	for _, l := range lines {
		fmt.Fprintln(a.stdout, l)
	}
	a.movedDates(cal, changed)
	switch {
	case len(lines) == 0 && len(records) == 0:
		fmt.Fprintln(a.stdout, "nothing to change: the calendar says so already")
		return nil
	case m.show:
		fmt.Fprintln(a.stdout, "nothing was written: --show")
		return nil
	}
	if len(lines) > 0 {
		if err := a.replaceFile(s.seriesFile(), after); err != nil {
			return err
		}
		a.ui.say("%s is changed; commit it with the rest of the series", s.shownSeries())
	}
	return a.recordMoves(s, changed, records, m.because)
}

// meant decodes the changed text and compares it with what was asked for.
func (a *app) meant(s *season, after []byte, want calendar.Settings) (*calendar.Calendar, error) {
	c, text, found := config.Decode(s.shownSeries(), after)
	var cal *calendar.Calendar
	if c != nil && finding.Count(found, finding.Error) == 0 {
		var more []finding.Finding
		cal, more = schedule.CalendarOf(c)
		found = append(found, more...)
	}
	if cal == nil || finding.Count(found, finding.Error) > 0 {
		a.complain(found, text)
		return nil, unreadable("nothing was written; choose other weeks or days", "the calendar would not work out after that")
	}
	direct, problems := calendar.New(want)
	if len(problems) > 0 || !slices.EqualFunc(direct.Slots(), cal.Slots(), sameSlot) {
		return nil, unreadable("change calendar.designs or calendar.overrides by hand; nothing was written", "%s is written in a form that cannot be edited safely", s.shownSeries())
	}
	return cal, nil
}

func sameSlot(x, y calendar.Slot) bool {
	return x.Week == y.Week && x.Design == y.Design && slices.EqualFunc(x.Drops, y.Drops, func(p, q calendar.Drop) bool {
		return p.Audience == q.Audience && p.Date == q.Date && p.Clock == q.Clock && p.UTC.Equal(q.UTC)
	})
}

// moved says whether a drop's intent differs.
func moved(x, y calendar.Drop) bool { return x.Date != y.Date || x.Clock != y.Clock }

// promises looks for what may not move, or not without a reason: the designs that each ledger has promised
// other dates for.
func (a *app) promises(s *season, before, after *calendar.Calendar, because string) (map[bool][]string, error) {
	out := map[bool][]string{}
	for _, rehearsal := range []bool{false, true} {
		log, err := a.readLedger(s, rehearsal)
		if err != nil {
			return nil, err
		}
		deliveries := log.Deliveries()
		for _, slot := range after.Slots() {
			if slot.Design == "" {
				continue
			}
			old, _ := before.SlotOf(slot.Design)
			for _, drop := range slot.Drops {
				was, ok := old.Drop(drop.Audience)
				if !ok || !moved(was, drop) {
					continue
				}
				for _, d := range deliveries {
					if d.Intent.Design == slot.Design && d.Intent.Audience == drop.Audience && d.Outcome != ledger.Abandoned {
						return nil, refused("what went out stays in its week; a correction is a new revision: dropwright revise "+slot.Design, "the %s drop of %s %s already and cannot move", drop.Audience, slot.Design, went(d, before.Zone()))
					}
				}
			}
			differs := false
			for _, d := range log.Dates(slot.Design) {
				drop, ok := slot.Drop(d.Audience)
				if ok && d.Local != local(drop) {
					differs = true
					if because == "" {
						return nil, refused("say why, for the ledger: --because \"…\"", "%s was promised to the %s audience for %s and would go out %s", slot.Design, d.Audience, d.Local, local(drop))
					}
				}
			}
			if differs {
				out[rehearsal] = append(out[rehearsal], slot.Design)
			}
		}
	}
	return out, nil
}

// went says what became of a drop, and on which day.
func went(d ledger.Delivery, z calendar.Zone) string {
	switch d.Outcome {
	case ledger.Done:
		return "went out on " + calendar.DateOf(d.At, z).String()
	case ledger.HandedOver:
		return "was laid out on " + calendar.DateOf(d.At, z).String()
	}
	return "was begun on " + calendar.DateOf(d.Intent.At, z).String()
}

// local is a drop's wall clock as the ledger keeps it.
func local(d calendar.Drop) string { return fmt.Sprintf("%s %s", d.Date, d.Clock) }

// movedDates prints the dates that change.
func (a *app) movedDates(before, after *calendar.Calendar) {
	rows := [][]string{{"design", "week", "audience", "before", "after"}}
	for _, slot := range after.Slots() {
		if slot.Design == "" {
			continue
		}
		old, ok := before.SlotOf(slot.Design)
		week := fmt.Sprint(slot.Week)
		if !ok {
			for _, drop := range slot.Drops {
				rows = append(rows, []string{slot.Design, week, drop.Audience, "no week", schedule.Day(drop.UTC, after.Zone())})
			}
			continue
		}
		if old.Week != slot.Week {
			week = fmt.Sprintf("%d to %d", old.Week, slot.Week)
		}
		for _, drop := range slot.Drops {
			if was, ok := old.Drop(drop.Audience); ok && moved(was, drop) {
				rows = append(rows, []string{slot.Design, week, drop.Audience, schedule.Day(was.UTC, before.Zone()), schedule.Day(drop.UTC, after.Zone())})
			}
		}
	}
	if len(rows) > 1 {
		a.ui.table(rows)
	}
}

// recordMoves writes the new dates of promised designs into their ledgers.
func (a *app) recordMoves(s *season, cal *calendar.Calendar, names map[bool][]string, because string) error {
	for _, rehearsal := range []bool{false, true} {
		if len(names[rehearsal]) == 0 {
			continue
		}
		l, err := a.openLedger(s, rehearsal)
		if err != nil {
			return err
		}
		for _, name := range names[rehearsal] {
			slot, _ := cal.SlotOf(name)
			if _, err = l.Append(ledger.Record{Kind: ledger.Move, At: a.now(), Design: name, Week: slot.Week, Dates: schedule.Dates(slot), Because: because}); err != nil {
				break
			}
		}
		if cerr := l.Close(); err == nil {
			err = cerr
		}
		if err != nil {
			return ledgerError(err)
		}
		a.ui.say("readers' pages and calendars follow with the next drop, or now: dropwright release pages")
	}
	return nil
}
