package calendar

import (
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

func zone(t testing.TB, name string) Zone {
	t.Helper()
	z, err := LoadZone(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func date(t testing.TB, text string) Date {
	t.Helper()
	d, err := ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func clock(t testing.TB, text string) Clock {
	t.Helper()
	c, err := ParseClock(text)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The two New York rows are the examples of RFC 5545 section 3.3.5 ("TZID=America/New_York:20071104T013000
// denotes November 4, 2007 at 1:30 A.M. EDT (UTC -04:00)", "TZID=America/New_York:20070311T023000 denotes
// March 11, 2007 at 3:30 A.M. EDT"). The others follow from the published rules of the zones: Europe
// changes at 01:00 UTC, Pacific/Apia had no 30 December 2011, Australia/Lord_Howe moves by half an hour.
func TestResolve(t *testing.T) {
	for _, c := range []struct{ zone, date, clock, utc, shift string }{
		{"America/New_York", "2007-11-04", "01:30", "2007-11-04T05:30:00Z", "overlap"},
		{"America/New_York", "2007-03-11", "02:30", "2007-03-11T07:30:00Z", "gap"},
		{"America/New_York", "2007-03-11", "03:30", "2007-03-11T07:30:00Z", ""},
		{"Europe/Berlin", "2026-03-29", "02:30", "2026-03-29T01:30:00Z", "gap"},
		{"Europe/Berlin", "2026-03-29", "02:00", "2026-03-29T01:00:00Z", "gap"},
		{"Europe/Berlin", "2026-03-29", "01:59", "2026-03-29T00:59:00Z", ""},
		{"Europe/Berlin", "2026-03-29", "03:00", "2026-03-29T01:00:00Z", ""},
		{"Europe/Berlin", "2026-10-25", "02:30", "2026-10-25T00:30:00Z", "overlap"},
		{"Europe/Berlin", "2026-10-25", "03:00", "2026-10-25T02:00:00Z", ""},
		{"Europe/Lisbon", "2027-03-26", "17:00", "2027-03-26T17:00:00Z", ""},
		{"Europe/Lisbon", "2027-04-02", "17:00", "2027-04-02T16:00:00Z", ""},
		{"Europe/Lisbon", "2027-03-28", "01:30", "2027-03-28T01:30:00Z", "gap"},
		{"America/Nuuk", "2026-03-28", "23:30", "2026-03-29T01:30:00Z", "gap"},
		{"Atlantic/Azores", "2026-03-29", "00:30", "2026-03-29T01:30:00Z", "gap"},
		{"Pacific/Apia", "2011-12-30", "17:00", "2011-12-31T03:00:00Z", "gap"},
		{"Pacific/Apia", "2011-12-29", "17:00", "2011-12-30T03:00:00Z", ""},
		{"Pacific/Apia", "2011-12-31", "17:00", "2011-12-31T03:00:00Z", ""},
		{"Australia/Lord_Howe", "2026-04-05", "01:45", "2026-04-04T14:45:00Z", "overlap"},
		{"Australia/Lord_Howe", "2026-10-04", "02:15", "2026-10-03T15:45:00Z", "gap"},
		{"Asia/Kathmandu", "2026-06-01", "17:00", "2026-06-01T11:15:00Z", ""},
		{"Etc/UTC", "2026-06-01", "17:00", "2026-06-01T17:00:00Z", ""},
	} {
		r := Resolve(date(t, c.date), clock(t, c.clock), zone(t, c.zone))
		if got := r.UTC.Format(time.RFC3339); got != c.utc || string(r.Shift) != c.shift {
			t.Errorf("%s %s %s: got %s %q, want %s %q", c.date, c.clock, c.zone, got, r.Shift, c.utc, c.shift)
		}
		if (r.Note() == "") != (c.shift == "") {
			t.Errorf("%s %s %s: note %q with shift %q", c.date, c.clock, c.zone, r.Note(), c.shift)
		}
	}
}

// gnuDate asks the date program for the wall clock of an instant.
func gnuDate(t *testing.T, zone string, at time.Time) string {
	t.Helper()
	cmd := exec.Command("date", "-d", fmt.Sprintf("@%d", at.Unix()), "+%Y-%m-%d %H:%M")
	cmd.Env = append(os.Environ(), "TZ="+zone, "LC_ALL=C")
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(out))
}

// judgeByDate says what is wrong with a resolution in the eyes of the date program, or "".
func judgeByDate(t *testing.T, r Resolved) string {
	want := r.Date.String() + " " + r.Clock.String()
	got := gnuDate(t, r.Zone.Name(), r.UTC)
	switch r.Shift {
	case Plain:
		if got != want {
			return "date shows " + got
		}
	case Overlap:
		if got != want {
			return "date shows " + got
		}
		for _, later := range []time.Duration{30 * time.Minute, time.Hour} { // Lord Howe moves by half an hour
			if gnuDate(t, r.Zone.Name(), r.UTC.Add(later)) == want {
				return ""
			}
		}
		return "date shows no second " + want
	case Gap:
		// date must refuse the wall clock, and show our instant later by the size of the gap.
		cmd := exec.Command("date", "-d", want)
		cmd.Env = append(os.Environ(), "TZ="+r.Zone.Name(), "LC_ALL=C")
		if cmd.Run() == nil {
			return "date accepts " + want
		}
		if got <= want {
			return "date shows " + got + ", not later"
		}
	}
	return ""
}

// TestAgainstDate compares five o'clock and the hours of the change, over the days around every clock
// change of one year, with the date program, which reads the same database by another implementation.
func TestAgainstDate(t *testing.T) {
	if out, err := exec.Command("date", "--version").Output(); err != nil || !strings.Contains(string(out), "GNU") {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatal("no GNU date")
		}
		t.Skip("SKIPPED: no GNU date on this machine, the calendar was not compared with it")
	}
	count, shifts := 0, 0
	for _, c := range []struct{ zone, from string }{
		{"Europe/Berlin", "2026-03-28"}, {"Europe/Berlin", "2026-10-24"},
		{"Europe/Lisbon", "2027-03-27"}, {"Europe/Lisbon", "2027-10-30"},
		{"America/New_York", "2027-03-13"}, {"America/New_York", "2027-11-06"},
		{"America/Los_Angeles", "2027-03-13"}, {"America/St_Johns", "2027-11-06"},
		{"Pacific/Apia", "2011-12-29"}, {"Australia/Lord_Howe", "2027-04-03"}, {"Australia/Lord_Howe", "2027-10-02"},
	} {
		z := zone(t, c.zone)
		for day := range 3 {
			for _, at := range []string{"00:00", "00:30", "01:00", "01:30", "01:45", "02:00", "02:15", "02:30", "03:00", "17:00"} {
				r := Resolve(date(t, c.from).AddDays(day), clock(t, at), z)
				if fault := judgeByDate(t, r); fault != "" {
					t.Errorf("%s -> %s %q: %s", r.Local(), r.UTC, r.Shift, fault)
				}
				count++
				if r.Shift != Plain {
					shifts++
				}
			}
		}
	}
	// One wrong answer must be found out, or the comparison proves nothing.
	wrong := Resolve(date(t, "2027-07-02"), clock(t, "17:00"), zone(t, "Europe/Lisbon"))
	wrong.UTC = wrong.UTC.Add(-time.Hour)
	if judgeByDate(t, wrong) == "" {
		t.Error("date agrees with an instant that is an hour early")
	}
	t.Logf("%d local times compared with date, %d of them in a gap or an overlap", count, shifts)
	if shifts < 30 {
		t.Errorf("only %d gaps and overlaps met", shifts)
	}
}

func TestLoadZoneRefuses(t *testing.T) {
	for _, name := range []string{"", "Local", "GMT", "Z", "CET", "CEST", "EST5EDT", "Portugal", "europe/lisbon", "Europe/Nowhere",
		"right/Europe/Lisbon", "posix/Europe/Lisbon", "/etc/localtime", "../zoneinfo/Europe/Lisbon", "Europe/../Europe/Lisbon", `Europe\Lisbon`, "+01:00"} {
		if z, err := LoadZone(name); err == nil {
			t.Errorf("%q is accepted as %q", name, z.Name())
		}
	}
	z := zone(t, "UTC")
	if z.Data() == "" {
		t.Error("the time zone data has no source")
	}
}

func TestSourceNamesTheCopyThatWon(t *testing.T) {
	// Package time passes over a ZONEINFO folder without the zone; so must the name of the source.
	t.Setenv("ZONEINFO", t.TempDir())
	if z := zone(t, "Europe/Lisbon"); strings.Contains(z.Data(), "ZONEINFO") {
		t.Errorf("an empty ZONEINFO folder is named as the source: %q", z.Data())
	}
}

// FuzzResolve holds what must be true of every local time: a plain or doubled one reads back as itself,
// and one in a gap never comes out earlier than the gap.
func FuzzResolve(f *testing.F) {
	names := []string{"Europe/Lisbon", "Europe/Berlin", "America/New_York", "America/St_Johns", "Pacific/Apia", "Pacific/Kwajalein",
		"Australia/Lord_Howe", "America/Nuuk", "Atlantic/Azores", "Africa/Casablanca", "Asia/Tehran", "Asia/Pyongyang", "America/Caracas", "Antarctica/Troll"}
	var zones []Zone
	for _, name := range names {
		zones = append(zones, zone(f, name))
	}
	f.Add(uint8(0), 2027, 3, 28, 1, 30)
	f.Add(uint8(4), 2011, 12, 30, 17, 0)
	f.Fuzz(func(t *testing.T, which uint8, year, month, day, hour, minute int) {
		if year < firstYear || year > lastYear || month < 1 || month > 12 || day < 1 || time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC).Day() != day || hour < 0 || hour > 23 || minute < 0 || minute > 59 {
			t.Skip()
		}
		z := zones[int(which)%len(zones)]
		r := Resolve(Date{year, time.Month(month), day}, Clock{hour, minute}, z)
		wall := time.Date(year, time.Month(month), day, hour, minute, 0, 0, time.UTC)
		local := z.In(r.UTC)
		shown := time.Date(local.Year(), local.Month(), local.Day(), local.Hour(), local.Minute(), local.Second(), 0, time.UTC)
		if r.Shift == Gap {
			if !shown.After(wall) || shown.Sub(wall) > 25*time.Hour {
				t.Fatalf("%s in a gap gives %s", r.Local(), local)
			}
		} else if !shown.Equal(wall) {
			t.Fatalf("%s gives %s", r.Local(), local)
		}
	})
}

// TestLastDayOfLeapYears: past the end of a zone's table Time.ZoneBounds gives an end before 31 December of a
// leap year; resolving must neither hang nor take that day for a gap.
func TestLastDayOfLeapYears(t *testing.T) {
	for _, name := range []string{"America/New_York", "Europe/Berlin", "Australia/Lord_Howe"} {
		z, err := LoadZone(name)
		if err != nil {
			t.Fatal(err)
		}
		for year := 2024; year <= 2072; year += 4 {
			for day := 28; day <= 31; day++ {
				r := Resolve(Date{year, time.December, day}, Clock{17, 0}, z)
				if got := z.In(r.UTC).Format("2006-01-02 15:04"); r.Shift != Plain || got != fmt.Sprintf("%d-12-%02d 17:00", year, day) {
					t.Errorf("%s %d-12-%d: %s, shift %q", name, year, day, got, r.Shift)
				}
			}
		}
	}
}
