package calendar

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// Date is a day of the Gregorian calendar without a time or zone. The zero value is no date.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// The years a season may lie in. Below, zone data is patchy; above, no zone's rules mean anything.
const (
	firstYear = 1970
	lastYear  = 2199
)

var (
	dateForm  = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}$`)
	clockForm = regexp.MustCompile(`^[0-9]{2}:[0-9]{2}$`)
	delayForm = regexp.MustCompile(`^([0-9]{1,4}) (day|days|week|weeks)$`)
)

// ParseDate reads a date written as 2027-01-08. The error says what was expected.
func ParseDate(text string) (Date, error) {
	if !dateForm.MatchString(text) {
		return Date{}, fmt.Errorf("%q is no date: write it as year-month-day, as in 2027-01-08", text)
	}
	t, err := time.Parse("2006-01-02", text)
	if err != nil {
		return Date{}, fmt.Errorf("%q is no day of the calendar", text)
	}
	if t.Year() < firstYear || t.Year() > lastYear {
		return Date{}, fmt.Errorf("%q is outside the years %d to %d", text, firstYear, lastYear)
	}
	return Date{t.Year(), t.Month(), t.Day()}, nil
}

// DateOf is the day that an instant falls on in a zone.
func DateOf(t time.Time, zone Zone) Date {
	y, m, d := t.In(zone.loc).Date()
	return Date{y, m, d}
}

// String writes the date as 2027-01-08.
func (d Date) String() string { return fmt.Sprintf("%04d-%02d-%02d", d.Year, int(d.Month), d.Day) }

// IsZero says whether d is no date.
func (d Date) IsZero() bool { return d == Date{} }

// AddDays is the date n days later, or earlier for a negative n.
func (d Date) AddDays(n int) Date {
	t := time.Date(d.Year, d.Month, d.Day+n, 0, 0, 0, 0, time.UTC)
	return Date{t.Year(), t.Month(), t.Day()}
}

// Before says whether d is an earlier day than o.
func (d Date) Before(o Date) bool { return d.midnight().Before(o.midnight()) }

// DaysTo is the number of days from d to o, negative when o is earlier.
func (d Date) DaysTo(o Date) int {
	return int(o.midnight().Sub(d.midnight()) / (24 * time.Hour))
}

// Weekday is the day of the week.
func (d Date) Weekday() time.Weekday { return d.midnight().Weekday() }

func (d Date) midnight() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

// MarshalText writes the date as 2027-01-08, and nothing for no date.
func (d Date) MarshalText() ([]byte, error) {
	if d.IsZero() {
		return nil, nil
	}
	return []byte(d.String()), nil
}

// UnmarshalText reads what MarshalText writes.
func (d *Date) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*d = Date{}
		return nil
	}
	parsed, err := ParseDate(string(text))
	*d = parsed
	return err
}

// Clock is a wall-clock time of day in whole minutes, 00:00 to 23:59.
type Clock struct{ Hour, Minute int }

// ParseClock reads a time of day written as 17:00.
func ParseClock(text string) (Clock, error) {
	if !clockForm.MatchString(text) {
		return Clock{}, fmt.Errorf("%q is no time of day: write it with two digits each, as in 09:30 or 17:00", text)
	}
	hour, _ := strconv.Atoi(text[:2])
	minute, _ := strconv.Atoi(text[3:])
	if hour > 23 || minute > 59 {
		return Clock{}, fmt.Errorf("%q is no time of day: hours go from 00 to 23, minutes from 00 to 59", text)
	}
	return Clock{hour, minute}, nil
}

// String writes the time of day as 17:00.
func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", c.Hour, c.Minute) }

// ParseDelay reads a delay written as "10 days" or "3 weeks" and gives it in calendar days. Months are
// refused: a month after 31 January is no day.
func ParseDelay(text string) (days int, err error) {
	m := delayForm.FindStringSubmatch(text)
	if m == nil {
		return 0, fmt.Errorf("%q is no delay: write a whole number of days or weeks, as in 10 days or 3 weeks", text)
	}
	n, _ := strconv.Atoi(m[1])
	if strings.HasPrefix(m[2], "week") {
		n *= 7
	}
	if n > maxDelay {
		return 0, fmt.Errorf("%q is longer than %d days", text, maxDelay)
	}
	return n, nil
}

// maxDelay is the longest delay in days, five years: assumed to be past any early access.
const maxDelay = 5 * 366
