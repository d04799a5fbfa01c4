package calendar

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// Early and Public are the two audiences that every series has.
const (
	Early  = "early"
	Public = "public"
)

// maxWeeks is the longest season, ten years of weeks: assumed to be past any plan.
const maxWeeks = 520

// Settings are the calendar's lines of series.yaml as plain values.
type Settings struct {
	First       Date           // early drop of week 1
	Weeks       int            // number of weeks, 1 to 520
	At          Clock          // wall-clock time of every drop
	Zone        Zone           // see [LoadZone]
	PublicAfter int            // calendar days from the promised early day to the public one
	Skip        []Date         // days on which nothing goes out
	Leave       []Span         // days on which the maker is away; drops are noted, not moved
	Designs     map[int]string // which design has which week
	Overrides   map[string]Override
	Audiences   []Audience // further audiences between early and public
}

// Override changes settings for one design; what is zero or nil keeps the series' own. An early day of its
// own moves the days that are counted from it, and no other week.
type Override struct {
	PublicAfter *int   // calendar days
	Early       Date   // early drop
	Public      Date   // public drop, not moved off skipped days
	At          *Clock // of all its drops
}

// Audience is a further paying group with its own delay in calendar days from the promised early day.
type Audience struct {
	Name  string
	After int
}

// Span is a run of days, both ends included.
type Span struct{ From, To Date }

// Contains says whether the day lies in the span.
func (s Span) Contains(d Date) bool { return !d.Before(s.From) && !s.To.Before(d) }

// Problem is something wrong with the settings. Key is the path below `calendar`, such as skip[2] or
// designs.5, for the caller to find the line.
type Problem struct {
	Key, Text, Hint string
}

// Drop is the promised time at which an audience gets a design.
type Drop struct {
	Audience string
	Resolved
	Notes []string // clock changes, moved off a skipped day, leave
}

// Slot is one week of the season. Design is empty for a free week.
type Slot struct {
	Week   int
	Day    Date // the week's own early day, whatever its design's overrides say
	Design string
	Drops  []Drop // early first, public last
}

// Drop gives the slot's drop for an audience.
func (s Slot) Drop(audience string) (Drop, bool) {
	for _, d := range s.Drops {
		if d.Audience == audience {
			return d, true
		}
	}
	return Drop{}, false
}

// Calendar is a season's weeks with their dates.
type Calendar struct {
	settings Settings
	slots    []Slot
	byDesign map[string]int
}

// New works out every week. With problems the calendar is nil; all of them are told, in the order of the
// settings.
func New(s Settings) (*Calendar, []Problem) {
	if problems := s.problems(); len(problems) > 0 {
		return nil, problems
	}
	c := &Calendar{settings: s, byDesign: map[string]int{}}
	skip := map[Date]bool{}
	for _, d := range s.Skip {
		skip[d] = true
	}
	day := s.First
	var late []Problem // only explicit public days can come too soon
	for week := 1; week <= s.Weeks; week++ {
		for skip[day] {
			day = day.AddDays(7)
		}
		slot := Slot{Week: week, Day: day, Design: s.Designs[week]}
		o, at, early := s.Overrides[slot.Design], s.At, day
		if o.At != nil {
			at = *o.At
		}
		if !o.Early.IsZero() {
			early = o.Early
		}
		slot.Drops = append(slot.Drops, s.drop(Early, early, early, at))
		for _, a := range s.Audiences {
			due := early.AddDays(a.After)
			slot.Drops = append(slot.Drops, s.drop(a.Name, due, pastSkips(due, skip), at))
		}
		due := early.AddDays(s.publicAfter(slot.Design))
		public := pastSkips(due, skip)
		if !o.Public.IsZero() {
			due, public = o.Public, o.Public
		}
		slot.Drops = append(slot.Drops, s.drop(Public, due, public, at))
		for _, d := range slot.Drops {
			if d.UTC.After(slot.Drops[len(slot.Drops)-1].UTC) {
				late = append(late, Problem{"overrides." + slot.Design + ".public", fmt.Sprintf("%q would be public on %s, before %s gets it on %s", slot.Design, public, d.Audience, d.Date),
					"the public comes last: choose a later public day"})
				break
			}
		}
		c.slots = append(c.slots, slot)
		if slot.Design != "" {
			c.byDesign[slot.Design] = week
		}
		day = day.AddDays(7)
	}
	if len(late) > 0 {
		return nil, late
	}
	return c, nil
}

func (s Settings) publicAfter(design string) int {
	if o, ok := s.Overrides[design]; ok && o.PublicAfter != nil {
		return *o.PublicAfter
	}
	return s.PublicAfter
}

// pastSkips is the first day from due on that is not skipped.
func pastSkips(due Date, skip map[Date]bool) Date {
	for skip[due] {
		due = due.AddDays(1)
	}
	return due
}

// drop dates one drop on a day that may have been moved from the due one.
func (s Settings) drop(audience string, due, day Date, at Clock) Drop {
	d := Drop{Audience: audience, Resolved: Resolve(day, at, s.Zone)}
	if day != due {
		d.Notes = append(d.Notes, fmt.Sprintf("%s is skipped: it goes out on %s", due, day))
	}
	if note := d.Note(); note != "" {
		d.Notes = append(d.Notes, note)
	}
	for _, span := range s.Leave {
		if span.Contains(day) {
			d.Notes = append(d.Notes, fmt.Sprintf("%s lies in the leave from %s to %s", day, span.From, span.To))
			break
		}
	}
	return d
}

// problems judges the settings.
func (s Settings) problems() (out []Problem) {
	add := func(key, hint, format string, args ...any) {
		out = append(out, Problem{Key: key, Text: fmt.Sprintf(format, args...), Hint: hint})
	}
	if s.First.IsZero() {
		add("first", "write the early day of week 1, as in 2027-01-08", "no first day")
	}
	if s.Weeks < 1 || s.Weeks > maxWeeks {
		add("weeks", "write how many weeks the season has", "%d weeks: 1 to %d are possible", s.Weeks, maxWeeks)
	}
	if s.Zone.loc == nil {
		add("zone", "write the nearest city, as in Europe/Lisbon", "no time zone")
	}
	delay := func(key string, days int) {
		if days < 0 || days > maxDelay {
			add(key, "write it as in 3 weeks", "a delay of %d days: 0 to %d are possible", days, maxDelay)
		}
	}
	delay("public_after", s.PublicAfter)
	seen := map[Date]bool{}
	for i, d := range s.Skip {
		if seen[d] {
			add(fmt.Sprintf("skip[%d]", i), "remove one of the two", "%s is skipped twice", d)
		}
		seen[d] = true
	}
	for i, span := range s.Leave {
		if span.From.IsZero() || span.To.Before(span.From) {
			add(fmt.Sprintf("leave[%d]", i), "the first day comes first", "leave from %s to %s ends before it begins", span.From, span.To)
		}
	}
	where := map[string]int{}
	for _, week := range sortedKeys(s.Designs) {
		design, key := s.Designs[week], fmt.Sprintf("designs.%d", week)
		if s.Weeks >= 1 && (week < 1 || week > s.Weeks) {
			add(key, fmt.Sprintf("choose a week from 1 to %d, or raise weeks", s.Weeks), "week %d is outside the season", week)
		}
		if first, ok := where[design]; ok {
			add(key, "a design goes out once; corrections are revisions of it", "%q already has week %d", design, first)
		} else {
			where[design] = week
		}
	}
	for _, name := range sortedKeys(s.Overrides) {
		key := "overrides." + name
		if _, ok := where[name]; !ok {
			add(key, "give the design a week under designs, or remove the line", "%q has no week", name)
		}
		o := s.Overrides[name]
		if o.PublicAfter != nil {
			delay(key+".public_after", *o.PublicAfter)
		}
		if o.PublicAfter != nil && !o.Public.IsZero() {
			add(key+".public_after", "keep one of the two", "%q has both a public day and a delay to it", name)
		}
		if !o.Public.IsZero() && !o.Early.IsZero() && o.Public.Before(o.Early) {
			add(key+".public", "the public day is the early day or later", "%q would be public on %s, before its early day %s", name, o.Public, o.Early)
		}
	}
	names := map[string]bool{Early: true, Public: true}
	for i, a := range s.Audiences {
		key := fmt.Sprintf("audiences[%d]", i)
		if a.Name == "" || names[a.Name] {
			add(key, "every audience has a name of its own; early and public exist already", "audience %q is named twice or not at all", a.Name)
		}
		names[a.Name] = true
		delay(key+".after", a.After)
		// Whoever pays must not wait longer than the public; overrides are judged one by one.
		for _, week := range sortedKeys(s.Designs) {
			if public := s.publicAfter(s.Designs[week]); a.After > public {
				add(key+".after", "shorten this delay or lengthen public_after",
					"%q would get %q after %d days, the public already after %d", a.Name, s.Designs[week], a.After, public)
				break
			}
		}
	}
	return out
}

func sortedKeys[K cmp.Ordered, V any](m map[K]V) []K {
	keys := make([]K, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// Slots are all weeks in order. The result is shared: do not change it.
func (c *Calendar) Slots() []Slot { return c.slots }

// Slot gives a week by its number.
func (c *Calendar) Slot(week int) (Slot, bool) {
	if week < 1 || week > len(c.slots) {
		return Slot{}, false
	}
	return c.slots[week-1], true
}

// SlotOf gives the week that a design has.
func (c *Calendar) SlotOf(design string) (Slot, bool) { return c.Slot(c.byDesign[design]) }

// Zone is the zone of the season.
func (c *Calendar) Zone() Zone { return c.settings.Zone }

// Settings are what the calendar was made from.
func (c *Calendar) Settings() Settings { return c.settings }

// Audiences are the names of all audiences, early first, public last.
func (c *Calendar) Audiences() []string {
	names := []string{Early}
	for _, a := range c.settings.Audiences {
		names = append(names, a.Name)
	}
	return append(names, Public)
}

// Week is the number of the week in which an instant lies, counted by calendar days from one early day to
// the next: 0 before the season, the last week after it.
func (c *Calendar) Week(now time.Time) int {
	today := DateOf(now, c.settings.Zone)
	week := 0
	for _, s := range c.slots {
		if !today.Before(s.Day) {
			week = s.Week
		}
	}
	return week
}
