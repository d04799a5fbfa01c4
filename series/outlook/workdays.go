package outlook

import (
	"slices"
	"time"

	"dropwright/series/calendar"
)

// Away is a stretch of time without work, from From up to To.
type Away struct{ From, To time.Time }

// AwayOf are the days off of a calendar as instants: from midnight to midnight of its zone.
func AwayOf(c *calendar.Calendar) []Away {
	var out []Away
	zone := c.Zone()
	for _, l := range c.Settings().Leave {
		out = append(out, Away{calendar.Resolve(l.From, calendar.Clock{}, zone).UTC, calendar.Resolve(l.To.AddDays(1), calendar.Clock{}, zone).UTC})
	}
	return out
}

// workdays counts days without leave. The zero value knows no leave.
type workdays struct{ away []Away } // sorted, apart from one another

func newWorkdays(away []Away) workdays {
	list := slices.Clone(away)
	slices.SortFunc(list, func(a, b Away) int { return a.From.Compare(b.From) })
	var w workdays
	for _, a := range list {
		if n := len(w.away); n > 0 && !a.From.After(w.away[n-1].To) { // two leaves that overlap are one
			if a.To.After(w.away[n-1].To) {
				w.away[n-1].To = a.To
			}
			continue
		}
		if a.To.After(a.From) {
			w.away = append(w.away, a)
		}
	}
	return w
}

const day = 24 * time.Hour

// between is the number of working days from a to b, negative when b is earlier.
func (w workdays) between(a, b time.Time) float64 {
	if b.Before(a) {
		return -w.between(b, a)
	}
	total := b.Sub(a)
	for _, x := range w.away {
		from, to := later(x.From, a), earlier(x.To, b)
		if to.After(from) {
			total -= to.Sub(from)
		}
	}
	return total.Hours() / 24
}

// add is the earliest moment by which so many working days after t have passed; for a negative number the
// latest moment that leaves so many before t.
func (w workdays) add(t time.Time, days float64) time.Time {
	d := time.Duration(days * float64(day))
	if d < 0 {
		for _, x := range slices.Backward(w.away) {
			if !x.From.Before(t) {
				continue
			}
			if t.Before(x.To) { // it lies in a leave: work ends when that begins
				t = x.From
				continue
			}
			if room := t.Sub(x.To); -d > room {
				d += room
				t = x.From
				continue
			}
			break
		}
		return t.Add(d)
	}
	for _, x := range w.away {
		if !x.To.After(t) {
			continue
		}
		if !t.Before(x.From) {
			if d == 0 {
				return t
			}
			t = x.To
			continue
		}
		if room := x.From.Sub(t); d > room {
			d -= room
			t = x.To
			continue
		}
		break
	}
	return t.Add(d)
}

func later(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}
