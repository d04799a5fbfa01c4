package schedule

import (
	"strconv"
	"strings"
	"time"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/series/calendar"
	"dropwright/series/config"
)

// CalendarOf turns the calendar's lines of series.yaml into dates. The calendar is nil when a finding of
// level error says why: a zone that does not exist, two designs on one day.
func CalendarOf(c *config.Series) (*calendar.Calendar, []finding.Finding) {
	var found []finding.Finding
	zone, err := calendar.LoadZone(string(c.Calendar.Zone.V))
	if err != nil {
		return nil, append(found, finding.New("value-wrong", c.Calendar.Zone.At, "zone: "+err.Error(), "write a time zone by Area/City, such as Europe/Lisbon"))
	}
	s := calendar.Settings{
		First: day(c.Calendar.First.V), Weeks: int(c.Calendar.Weeks.V), Zone: zone, PublicAfter: int(c.Calendar.PublicAfter.V),
		At:      calendar.Clock{Hour: int(c.Calendar.Clock.V) / 60, Minute: int(c.Calendar.Clock.V) % 60},
		Designs: map[int]string{}, Overrides: map[string]calendar.Override{},
	}
	for _, d := range c.Calendar.Skip {
		s.Skip = append(s.Skip, day(d.V))
	}
	for _, l := range c.Calendar.Leave {
		s.Leave = append(s.Leave, calendar.Span{From: day(l.From.V), To: day(l.To.V)})
	}
	for _, w := range c.Calendar.Designs {
		s.Designs[w.Week] = string(w.Design.V)
	}
	for _, o := range c.Calendar.Overrides.Entries {
		var x calendar.Override
		if o.Value.PublicAfter.Set() {
			n := int(o.Value.PublicAfter.V)
			x.PublicAfter = &n
		}
		x.Early, x.Public = day(o.Value.Early.V), day(o.Value.Public.V)
		if o.Value.Clock.Set() {
			x.At = &calendar.Clock{Hour: int(o.Value.Clock.V) / 60, Minute: int(o.Value.Clock.V) % 60}
		}
		s.Overrides[o.Key] = x
	}
	for _, a := range c.Audiences {
		s.Audiences = append(s.Audiences, calendar.Audience{Name: string(a.Name.V), After: int(a.After.V)})
	}
	cal, problems := calendar.New(s)
	for _, p := range problems {
		found = append(found, finding.New("value-wrong", placeOf(c, p.Key), p.Text, p.Hint))
	}
	return cal, found
}

// placeOf finds the line of a calendar key as package calendar writes it: first, skip[2], designs.5,
// overrides.NAME.public, audiences[0].after.
func placeOf(c *config.Series, key string) finding.Place {
	first, rest, _ := strings.Cut(key, ".")
	name, index, _ := strings.Cut(strings.TrimSuffix(first, "]"), "[")
	n, err := strconv.Atoi(index)
	if err != nil {
		n = -1
	}
	in := func(length int) bool { return n >= 0 && n < length }
	switch {
	case name == "first":
		return c.Calendar.First.At
	case name == "weeks":
		return c.Calendar.Weeks.At
	case name == "public_after":
		return c.Calendar.PublicAfter.At
	case name == "zone":
		return c.Calendar.Zone.At
	case name == "at":
		return c.Calendar.Clock.At
	case name == "skip" && in(len(c.Calendar.Skip)):
		return c.Calendar.Skip[n].At
	case name == "leave" && in(len(c.Calendar.Leave)):
		return c.Calendar.Leave[n].At
	case name == "audiences" && in(len(c.Audiences)):
		return c.Audiences[n].After.At
	case name == "designs":
		for _, w := range c.Calendar.Designs {
			if strconv.Itoa(w.Week) == rest {
				return w.WeekAt
			}
		}
	case name == "overrides":
		return placeOfOverride(c, rest)
	}
	return c.Calendar.At
}

// placeOfOverride finds NAME or NAME.FIELD under overrides.
func placeOfOverride(c *config.Series, key string) finding.Place {
	name, field, _ := strings.Cut(key, ".")
	for _, o := range c.Calendar.Overrides.Entries {
		if o.Key != name {
			continue
		}
		at := map[string]finding.Place{"public": o.Value.Public.At, "public_after": o.Value.PublicAfter.At, "early": o.Value.Early.At}[field]
		if at.Known() {
			return at
		}
		return o.KeyAt
	}
	return c.Calendar.Overrides.At
}

// day is a date of the configuration; one that is not written is no date.
func day(d design.Date) calendar.Date {
	return calendar.Date{Year: d.Year, Month: time.Month(d.Month), Day: d.Day}
}

// Day writes an instant as people say it, in the zone's wall clock: "Fri 8 Jan 2027 17:00".
func Day(t time.Time, z calendar.Zone) string {
	return z.In(t).Format("Mon 2 Jan 2006 15:04")
}
