// Package schedule says what is due: from the calendar, the catalogue and the ledger it works out the state of
// every design and the actions that a time asks for, each with its reasons. It carries nothing out.
package schedule

import (
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

// placeOf finds the line of a calendar key.
func placeOf(c *config.Series, key string) finding.Place {
	first, _, _ := strings.Cut(strings.TrimPrefix(key, "calendar."), ".")
	switch first {
	case "first":
		return c.Calendar.First.At
	case "weeks":
		return c.Calendar.Weeks.At
	case "public_after":
		return c.Calendar.PublicAfter.At
	case "zone":
		return c.Calendar.Zone.At
	case "at":
		return c.Calendar.Clock.At
	case "skip":
		if len(c.Calendar.Skip) > 0 {
			return c.Calendar.Skip[0].At
		}
	case "overrides":
		return c.Calendar.Overrides.At
	}
	return c.Calendar.At
}

func day(d design.Date) calendar.Date {
	return calendar.Date{Year: d.Year, Month: time.Month(d.Month), Day: d.Day}
}

// Day writes an instant as people say it, in the zone's wall clock: "Fri 8 Jan 2027 17:00".
func Day(t time.Time, z calendar.Zone) string {
	return z.In(t).Format("Mon 2 Jan 2006 15:04")
}
