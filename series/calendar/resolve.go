package calendar

import (
	"fmt"
	"slices"
	"time"
)

// Shift says how a wall-clock time met the zone's clock changes.
type Shift string

const (
	// Plain is a wall-clock time that occurs exactly once.
	Plain Shift = ""
	// Gap is one that the clocks jump over; it was read with the offset before the jump.
	Gap Shift = "gap"
	// Overlap is one that occurs twice; the first was taken.
	Overlap Shift = "overlap"
)

// Resolved is a wall-clock time in a zone and the instant it stands for.
type Resolved struct {
	Date  Date
	Clock Clock
	Zone  Zone
	UTC   time.Time
	Shift Shift
}

// Local is the wall clock that was asked for, as 2027-03-28 17:00 Europe/Lisbon.
func (r Resolved) Local() string {
	return fmt.Sprintf("%s %s %s", r.Date, r.Clock, r.Zone.Name())
}

// Note explains a gap or an overlap in one sentence; it is empty for a plain time.
func (r Resolved) Note() string {
	switch r.Shift {
	case Gap:
		return fmt.Sprintf("%s does not exist, the clocks jump over it: it goes out at %s", r.Local(), r.UTC.In(r.Zone.loc).Format("2006-01-02 15:04 -07:00"))
	case Overlap:
		return fmt.Sprintf("%s occurs twice, the clocks go back: the first is meant, %s", r.Local(), r.UTC.In(r.Zone.loc).Format("15:04 -07:00"))
	}
	return ""
}

// searchSpan is how far an instant may lie from its wall clock read as UTC: offsets lie within UTC-15:57 and
// UTC+15:14 (IANA tz, Asia/Manila and America/Juneau in the 19th century).
const searchSpan = 16 * time.Hour

// searchStep is finer than any stretch for which an offset was in force (IANA tz: weeks).
const searchStep = time.Hour

// Resolve finds the instant of a wall-clock time after RFC 5545 section 3.3.5: of two the first, and in a
// gap the offset in force before it. Package time promises neither and takes the earlier instant in some
// zones, which would let a drop out an hour before its time.
//
// The offsets are asked for at instants, not taken from Time.ZoneBounds: on 31 December of a leap year that
// gives an end that lies before the instant itself (go1.26, the rules past the end of a zone's table).
func Resolve(date Date, clock Clock, zone Zone) Resolved {
	r := Resolved{Date: date, Clock: clock, Zone: zone}
	// The wall clock as if it were UTC: subtracting an offset from it gives a candidate instant.
	wall := time.Date(date.Year, date.Month, date.Day, clock.Hour, clock.Minute, 0, 0, time.UTC)
	offsetAt := func(t time.Time) time.Duration {
		_, seconds := t.In(zone.loc).Zone()
		return time.Duration(seconds) * time.Second
	}
	var offsets []time.Duration
	for d := -searchSpan; d <= searchSpan; d += searchStep {
		if o := offsetAt(wall.Add(d)); !slices.Contains(offsets, o) {
			offsets = append(offsets, o)
		}
	}
	var found []time.Time
	for _, o := range offsets {
		if t := wall.Add(-o); offsetAt(t) == o {
			found = append(found, t)
		}
	}
	switch len(found) {
	case 0:
		// In a gap the greatest offset is the one after it, and with that one the instant lies before it.
		r.UTC, r.Shift = wall.Add(-offsetAt(wall.Add(-slices.Max(offsets)))), Gap
	case 1:
		r.UTC = found[0]
	default:
		r.UTC, r.Shift = slices.MinFunc(found, time.Time.Compare), Overlap
	}
	r.UTC = r.UTC.UTC()
	return r
}
