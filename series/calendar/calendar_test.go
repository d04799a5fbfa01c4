package calendar

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// season is the calendar of the example in the design page.
func season(t testing.TB) Settings {
	four := 28
	return Settings{
		First: date(t, "2027-01-08"), Weeks: 12, At: clock(t, "17:00"), Zone: zone(t, "Europe/Lisbon"), PublicAfter: 21,
		Skip:      []Date{date(t, "2027-02-12")},
		Designs:   map[int]string{1: "soil-stake", 2: "twine-hook", 3: "vent-minder", 5: "seed-dryer"},
		Overrides: map[string]Override{"vent-minder": {PublicAfter: &four}},
	}
}

func TestSeason(t *testing.T) {
	c, problems := New(season(t))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	// Worked out by hand on a wall calendar: 12 February is skipped, so week 6 and all after it are a week
	// later; summer time begins on 28 March 2027, so that 17:00 becomes 16:00 UTC.
	want := map[int][2]string{
		1:  {"2027-01-08T17:00:00Z", "2027-01-29T17:00:00Z"},
		3:  {"2027-01-22T17:00:00Z", "2027-02-19T17:00:00Z"},
		4:  {"2027-01-29T17:00:00Z", "2027-02-19T17:00:00Z"},
		5:  {"2027-02-05T17:00:00Z", "2027-02-26T17:00:00Z"},
		6:  {"2027-02-19T17:00:00Z", "2027-03-12T17:00:00Z"},
		9:  {"2027-03-12T17:00:00Z", "2027-04-02T16:00:00Z"},
		12: {"2027-04-02T16:00:00Z", "2027-04-23T16:00:00Z"},
	}
	for week, times := range want {
		slot, ok := c.Slot(week)
		if !ok {
			t.Fatalf("no week %d", week)
		}
		for i, audience := range []string{Early, Public} {
			d, _ := slot.Drop(audience)
			if got := d.UTC.Format(time.RFC3339); got != times[i] {
				t.Errorf("week %d %s: %s, want %s", week, audience, got, times[i])
			}
		}
	}
	if s, ok := c.SlotOf("seed-dryer"); !ok || s.Week != 5 {
		t.Errorf("seed-dryer has week %d", s.Week)
	}
	if _, ok := c.SlotOf("nobody"); ok {
		t.Error("a design without a week has one")
	}
	for at, want := range map[string]int{"2027-01-07T23:00:00Z": 0, "2027-01-08T00:00:00Z": 1, "2027-02-18T12:00:00Z": 5, "2030-01-01T00:00:00Z": 12} {
		now, _ := time.Parse(time.RFC3339, at)
		if got := c.Week(now); got != want {
			t.Errorf("%s lies in week %d, want %d", at, got, want)
		}
	}
}

func TestPublicDayMovesOffSkippedDays(t *testing.T) {
	s := season(t)
	s.Skip = append(s.Skip, date(t, "2027-01-29"), date(t, "2027-01-30"))
	c, problems := New(s)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	slot, _ := c.Slot(1)
	d, _ := slot.Drop(Public)
	if d.Date.String() != "2027-01-31" || len(d.Notes) != 1 || !strings.Contains(d.Notes[0], "2027-01-29 is skipped") {
		t.Errorf("public drop on %s, notes %q", d.Date, d.Notes)
	}
	// 29 January was week 4's early day: weeks 4 on are a week later, and 12 February is skipped as well.
	four, _ := c.Slot(4)
	five, _ := c.Slot(5)
	if four.Drops[0].Date.String() != "2027-02-05" || five.Drops[0].Date.String() != "2027-02-19" {
		t.Errorf("weeks 4 and 5 on %s and %s", four.Drops[0].Date, five.Drops[0].Date)
	}
}

func TestLeaveAndChangesAreNoted(t *testing.T) {
	s := season(t)
	s.First, s.At = date(t, "2027-03-07"), clock(t, "01:30") // week 4 is 28 March, when 01:30 does not exist
	s.Leave = []Span{{date(t, "2027-03-20"), date(t, "2027-03-22")}}
	c, problems := New(s)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	three, _ := c.Slot(3)
	four, _ := c.Slot(4)
	if n := three.Drops[0].Notes; len(n) != 1 || !strings.Contains(n[0], "leave") {
		t.Errorf("week 3: %q", n)
	}
	if n := four.Drops[0].Notes; len(n) != 1 || !strings.Contains(n[0], "does not exist") {
		t.Errorf("week 4: %q", n)
	}
}

func TestOverrides(t *testing.T) {
	s := season(t)
	half := clock(t, "09:30")
	s.Overrides["twine-hook"] = Override{Early: date(t, "2027-01-16"), At: &half}
	s.Overrides["soil-stake"] = Override{Public: date(t, "2027-02-12")}
	c, problems := New(s)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	for design, want := range map[string][2]string{
		"twine-hook":  {"2027-01-16T09:30:00Z", "2027-02-06T09:30:00Z"},
		"soil-stake":  {"2027-01-08T17:00:00Z", "2027-02-12T17:00:00Z"}, // said outright, so not moved off the skipped day
		"vent-minder": {"2027-01-22T17:00:00Z", "2027-02-19T17:00:00Z"},
	} {
		slot, _ := c.SlotOf(design)
		for i, d := range slot.Drops {
			if got := d.UTC.Format(time.RFC3339); got != want[i] {
				t.Errorf("%s %s: %s, want %s", design, d.Audience, got, want[i])
			}
		}
	}
}

func TestAudiencesInOrder(t *testing.T) {
	s := season(t)
	s.Audiences = []Audience{{"club", 7}}
	c, problems := New(s)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	if got := c.Audiences(); !slices.Equal(got, []string{"early", "club", "public"}) {
		t.Error(got)
	}
	slot, _ := c.Slot(1)
	d, ok := slot.Drop("club")
	if !ok || d.Date.String() != "2027-01-15" {
		t.Errorf("club on %s", d.Date)
	}
}

func TestProblems(t *testing.T) {
	days := func(n int) *int { return &n }
	for _, c := range []struct {
		key  string
		harm func(*Settings)
	}{
		{"first", func(s *Settings) { s.First = Date{} }},
		{"weeks", func(s *Settings) { s.Weeks = 0 }},
		{"weeks", func(s *Settings) { s.Weeks = 1e9; s.Designs = nil; s.Overrides = nil }},
		{"zone", func(s *Settings) { s.Zone = Zone{} }},
		{"public_after", func(s *Settings) { s.PublicAfter = -1 }},
		{"skip[1]", func(s *Settings) { s.Skip = append(s.Skip, s.Skip[0]) }},
		{"leave[0]", func(s *Settings) { s.Leave = []Span{{date(t, "2027-02-02"), date(t, "2027-02-01")}} }},
		{"designs.13", func(s *Settings) { s.Designs[13] = "late" }},
		{"designs.4", func(s *Settings) { s.Designs[4] = "soil-stake"; delete(s.Designs, 5); s.Designs[1] = "soil-stake" }},
		{"overrides.nobody", func(s *Settings) { s.Overrides["nobody"] = Override{} }},
		{"overrides.vent-minder.public_after", func(s *Settings) { s.Overrides["vent-minder"] = Override{PublicAfter: days(99999)} }},
		{"overrides.vent-minder.public_after", func(s *Settings) {
			s.Overrides["vent-minder"] = Override{PublicAfter: days(1), Public: date(t, "2027-03-01")}
		}},
		{"overrides.vent-minder.public", func(s *Settings) { s.Overrides["vent-minder"] = Override{Public: date(t, "2027-01-21")} }},
		{"overrides.vent-minder.public", func(s *Settings) {
			s.Overrides["vent-minder"] = Override{Early: date(t, "2027-02-01"), Public: date(t, "2027-01-31")}
		}},
		{"audiences[0]", func(s *Settings) { s.Audiences = []Audience{{"public", 1}} }},
		{"audiences[0].after", func(s *Settings) { s.Audiences = []Audience{{"club", 40}} }},
	} {
		s := season(t)
		c.harm(&s)
		got, problems := New(s)
		if got != nil || len(problems) != 1 || problems[0].Key != c.key || problems[0].Hint == "" {
			t.Errorf("%s: %+v", c.key, problems)
		}
	}
}

// TestSeasonsHold checks what must be true of any season.
func TestSeasonsHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		names := []string{"Europe/Lisbon", "America/New_York", "Pacific/Apia", "Australia/Lord_Howe", "Asia/Kathmandu"}
		z, _ := LoadZone(rapid.SampledFrom(names).Draw(t, "zone"))
		first := Date{2000, 1, 1}.AddDays(rapid.IntRange(0, 20000).Draw(t, "first"))
		s := Settings{First: first, Zone: z, Weeks: rapid.IntRange(1, 60).Draw(t, "weeks"), PublicAfter: rapid.IntRange(0, 60).Draw(t, "after"),
			At: Clock{rapid.IntRange(0, 23).Draw(t, "hour"), rapid.IntRange(0, 59).Draw(t, "minute")}}
		skipped := map[Date]bool{}
		for _, n := range rapid.SliceOfNDistinct(rapid.IntRange(0, 500), 0, 30, rapid.ID[int]).Draw(t, "skip") {
			s.Skip = append(s.Skip, first.AddDays(n))
			skipped[first.AddDays(n)] = true
		}
		c, problems := New(s)
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		var last Date
		for _, slot := range c.Slots() {
			early, _ := slot.Drop(Early)
			public, _ := slot.Drop(Public)
			if skipped[early.Date] || skipped[public.Date] {
				t.Fatalf("week %d goes out on a skipped day", slot.Week)
			}
			if public.UTC.Before(early.UTC) || early.Date.DaysTo(public.Date) < s.PublicAfter {
				t.Fatalf("week %d: public %s, early %s", slot.Week, public.Date, early.Date)
			}
			if early.Date.Weekday() != first.Weekday() || !last.IsZero() && last.DaysTo(early.Date)%7 != 0 || !last.IsZero() && last.DaysTo(early.Date) < 7 {
				t.Fatalf("week %d on %s after %s", slot.Week, early.Date, last)
			}
			last = early.Date
		}
	})
}

func TestReadsDatesAndDelays(t *testing.T) {
	for _, bad := range []string{"", "2027-1-8", "08.01.2027", "2027-02-30", "0001-01-01", "2027-01-08 ", "9999-01-01"} {
		if d, err := ParseDate(bad); err == nil {
			t.Errorf("%q read as %s", bad, d)
		}
	}
	for _, bad := range []string{"", "9:30", "24:00", "12:60", "17:00:00", "5pm"} {
		if c, err := ParseClock(bad); err == nil {
			t.Errorf("%q read as %s", bad, c)
		}
	}
	for text, want := range map[string]int{"3 weeks": 21, "1 week": 7, "10 days": 10, "0 days": 0} {
		if n, err := ParseDelay(text); err != nil || n != want {
			t.Errorf("%q: %d, %v", text, n, err)
		}
	}
	for _, bad := range []string{"", "1 month", "3", "-1 days", "9999 weeks", "3weeks", "1.5 weeks"} {
		if n, err := ParseDelay(bad); err == nil {
			t.Errorf("%q read as %d days", bad, n)
		}
	}
}

func ExampleResolve() {
	z, _ := LoadZone("Europe/Berlin")
	r := Resolve(Date{2026, time.March, 29}, Clock{2, 30}, z)
	fmt.Println(r.UTC.Format(time.RFC3339), r.Note())
	// Output: 2026-03-29T01:30:00Z 2026-03-29 02:30 Europe/Berlin does not exist, the clocks jump over it: it goes out at 2026-03-29 03:30 +02:00
}
