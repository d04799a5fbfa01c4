package schedule

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"dropwright/bundle/finding"
	"dropwright/bundle/manifest"
	"dropwright/series/calendar"
	"dropwright/series/config"
	"dropwright/series/ledger"
)

const season = `series: tools
title: Tools
maker: {name: A Workshop}
licence: CC-BY-4.0
calendar:
  first: 2027-03-12
  weeks: 4
  at: "17:00"
  zone: Europe/Lisbon
  public_after: 2 weeks
  designs: {1: hook, 2: stake, 4: tray}
  overrides: {stake: {public_after: 3 weeks}}
printers: []
filaments: []
`

func calendarOf(t *testing.T, text string) *calendar.Calendar {
	t.Helper()
	c, _, found := config.Decode("series.yaml", []byte(text))
	if c == nil {
		t.Fatal(found)
	}
	cal, more := CalendarOf(c)
	if cal == nil {
		t.Fatal(more)
	}
	return cal
}

func at(text string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", text)
	if err != nil {
		panic(err)
	}
	return t
}

// entries numbers records as a ledger would.
func entries(rs ...ledger.Record) *ledger.Log {
	l := &ledger.Log{}
	for i, r := range rs {
		l.Entries = append(l.Entries, ledger.Entry{Seq: i + 1, Record: r})
	}
	return l
}

func sent(seq int, design, revision, channel, audience, outcome string) []ledger.Record {
	r := ledger.Record{Design: design, Revision: revision, Channel: channel, Audience: audience, Due: at("2027-03-12 17:00"), At: at("2027-03-12 17:00")}
	i, o := r, r
	i.Kind, o.Kind, o.Of, o.Outcome = ledger.Intent, ledger.Result, seq, outcome
	if outcome == "" {
		return []ledger.Record{i}
	}
	return []ledger.Record{i, o}
}

var both = []Channel{{"club", "early"}, {"shelf", "public"}}

func input(t *testing.T, l *ledger.Log, present map[string]string) Input {
	return Input{Calendar: calendarOf(t, season), Ledger: l, Channels: both,
		Has:     func(d string) bool { return present[d] != "" },
		Present: func(d string) string { return present[d] }}
}

// lines writes a plan in short.
func lines(actions []Action) string {
	var out []string
	for _, a := range actions {
		out = append(out, fmt.Sprintf("%s %s %s>%s %s %s", a.Kind, a.Design, a.Revision, a.Channel, a.Due.Format("01-02 15:04"), a.State))
	}
	return strings.Join(out, "\n")
}

// The dates are worked out by hand: Lisbon is at UTC until 28 March 2027, at UTC+1 from then on (EU rule:
// last Sunday of March).
func TestPlan(t *testing.T) {
	hook := map[string]string{"hook": "1.0.0"}
	fixed := map[string]string{"hook": "1.0.1"}
	early := sent(1, "hook", "1.0.0", "club", "early", ledger.Done)
	withdrawn := append(slices.Clone(early), ledger.Record{Kind: ledger.Withdraw, Design: "hook", Revision: "1.0.0", Because: "cracks", At: at("2027-03-20 09:00")})
	for _, c := range []struct {
		name    string
		now     string
		present map[string]string
		log     []ledger.Record
		want    string
	}{
		{"a second before its time nothing is due", "2027-03-12 16:59", hook, nil, "drop hook 1.0.0>club 03-12 17:00 waiting\ndrop hook >shelf 03-26 17:00 waiting"},
		{"on the instant it is", "2027-03-12 17:00", hook, nil, "drop hook 1.0.0>club 03-12 17:00 due\ndrop hook >shelf 03-26 17:00 waiting"},
		{"the public waits for the early drop even past its day", "2027-04-01 12:00", hook, nil, "drop hook 1.0.0>club 03-12 17:00 due\ndrop hook >shelf 03-26 17:00 blocked"},
		{"public follows early", "2027-03-26 17:00", hook, early, "drop hook 1.0.0>club 03-12 17:00 done\ndrop hook 1.0.0>shelf 03-26 17:00 due"},
		{"a correction goes early at once, to the public not before its day", "2027-03-20 12:00", fixed, early, "drop hook 1.0.1>club 03-12 17:00 due\ndrop hook 1.0.0>shelf 03-26 17:00 waiting"},
		{"a manifest gone back sends nothing", "2027-03-20 12:00", map[string]string{"hook": "0.9.0"}, early, "drop hook 1.0.0>club 03-12 17:00 done\ndrop hook 1.0.0>shelf 03-26 17:00 waiting"},
		{"a withdrawn revision never goes public, and its channel is to say so", "2027-03-26 17:00", hook, withdrawn, "drop hook 1.0.0>club 03-12 17:00 done\nmark hook 1.0.0>club 03-20 09:00 due\ndrop hook >shelf 03-26 17:00 blocked"},
		{"an interrupted drop is completed under its own revision", "2027-03-20 12:00", fixed, sent(1, "hook", "1.0.0", "club", "early", ""), "drop hook 1.0.0>club 03-12 17:00 due\ndrop hook >shelf 03-26 17:00 waiting"},
		{"a clock gone back before its time completes nothing", "1970-01-01 00:00", hook, sent(1, "hook", "1.0.0", "club", "early", ""), "drop hook 1.0.0>club 03-12 17:00 waiting\ndrop hook >shelf 03-26 17:00 waiting"},
		{"a clock gone back un-publishes nothing", "1970-01-01 00:00", hook, early, "drop hook 1.0.0>club 03-12 17:00 done\ndrop hook 1.0.0>shelf 03-26 17:00 waiting"},
		{"over the clock change 17:00 stays 17:00", "2027-04-02 15:59", map[string]string{"tray": "2.0.0"}, nil, "drop tray 2.0.0>club 04-02 16:00 waiting\ndrop tray >shelf 04-16 16:00 waiting"},
		{"laid out counts as gone for the public", "2027-03-26 17:00", hook, sent(1, "hook", "1.0.0", "club", "early", ledger.HandedOver), "drop hook 1.0.0>club 03-12 17:00 handed-over\ndrop hook 1.0.0>shelf 03-26 17:00 due"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := lines(Plan(input(t, entries(c.log...), c.present), at(c.now))); got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
		})
	}
}

// A promise outlives an edit of series.yaml: earlier never counts, and both say what to do.
func TestPromisedDates(t *testing.T) {
	for _, c := range []struct{ local, utc, due, why string }{
		{"2027-04-02 17:00", "2027-04-02 16:00", "04-02 16:00", "the promised date stands"},
		{"2027-03-19 17:00", "2027-03-19 17:00", "03-26 17:00", "record the reason"},
		{"2027-03-26 17:00", "2027-03-26 16:00", "03-26 17:00", "the rules of Europe/Lisbon changed"},
	} {
		l := entries(ledger.Record{Kind: ledger.Promise, Design: "hook", Week: 1, Dates: []ledger.Date{{Audience: "public", Local: c.local, Zone: "Europe/Lisbon", UTC: at(c.utc)}}})
		plan := Plan(input(t, l, map[string]string{"hook": "1.0.0"}), at("2027-03-01 00:00"))
		a := plan[1]
		if got := a.Due.Format("01-02 15:04"); got != c.due || !strings.Contains(strings.Join(a.Why, "; "), c.why) {
			t.Errorf("promised %s: due %s, %q", c.local, got, a.Why)
		}
	}
}

func TestWeeks(t *testing.T) {
	present := map[string]string{"hook": "1.0.0", "stake": "1.0.0"}
	facts := Facts{}
	states := func(l *ledger.Log, now string) string {
		var out []string
		for _, w := range Weeks(input(t, l, present), func(string) Facts { return facts }, at(now)) {
			out = append(out, string(w.State))
		}
		return strings.Join(out, " ")
	}
	check := func(got, want string) {
		t.Helper()
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	check(states(entries(), "2027-03-01 00:00"), "started started free idea")
	facts = Facts{Complete: true, Judged: true, Errors: 2}
	check(states(entries(), "2027-03-01 00:00"), "meshes-in meshes-in free idea")
	facts = Facts{Complete: true, Judged: true}
	check(states(entries(), "2027-03-01 00:00"), "checked checked free idea")
	check(states(entries(), "2027-03-12 18:00"), "late checked free idea")
	early := sent(1, "hook", "1.0.0", "club", "early", ledger.HandedOver)
	check(states(entries(early...), "2027-03-12 18:00"), "handed-over checked free idea")
	early = append(early, ledger.Record{Kind: ledger.Confirm, Of: 2, When: at("2027-03-12 17:05")})
	check(states(entries(early...), "2027-03-12 18:00"), "early-out checked free idea")
	public := append(early, sent(4, "hook", "1.0.0", "shelf", "public", ledger.Done)...)
	check(states(entries(public...), "2027-03-27 18:00"), "public-out late free idea")
	gone := append(public, ledger.Record{Kind: ledger.Withdraw, Design: "hook", Revision: "1.0.0", Because: "cracks"})
	check(states(entries(gone...), "2027-03-27 18:00"), "withdrawn late free idea")
	bundle := ledger.Record{Kind: ledger.Bundle, Design: "stake", Revision: "1.0.0", Audience: "early"}
	check(states(entries(bundle), "2027-03-01 18:00"), "checked bundled free idea")
}

func TestGlance(t *testing.T) {
	for text, want := range map[string]string{
		"title: A\nchanges: [{revision: 1.0.2, date: 2027-01-01, text: x}]\n":                                     "1.0.2",
		"changes:                 # newest first\n  # for the club\n  - {revision: 1.10.0, date: 2027-01-01}\n":   "1.10.0",
		"changes:\r\n  - revision: \"2.0.0\"\r\n    date: 2027-01-01\r\n":                                         "2.0.0",
		"changes:\n  - date: 2027-01-01\n    revision: 2.0.0\n  - {revision: 1.0.0, date: 2026-01-01, text: x}\n": "", // decode it: never the older one
		"changes:\n  - text: \"a # b\"\n    revision: 2.0.0\n":                                                    "",
		"x:\n  changes: [{revision: 1.0.0}]\n":                                                                    "",
		"changes: []\nparts: [{revision: 1.0.0}]\n":                                                               "",
		"changes:\n  - {revision: 1.0}\n":                                                                         "",
		"":                                                                                                        "",
	} {
		if got := Glance([]byte(text)); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}

// Every problem that the calendar can have is shown at a line of the calendar, not nowhere.
func TestPlacesOfProblems(t *testing.T) {
	for old, change := range map[string][2]string{
		"skip":      {"public_after: 2 weeks", "public_after: 2 weeks\n  skip: [2027-03-19, 2027-03-19]"},
		"public":    {"{public_after: 3 weeks}", "{public: 2027-03-12}"},
		"overrides": {"{stake: {public_after: 3 weeks}}", "{stake: {public_after: 3 weeks, public: 2027-05-01}}"},
		"zone":      {"Europe/Lisbon", "Europe/Lisboa"},
	} {
		text := strings.Replace(season, change[0], change[1], 1)
		c, _, _ := config.Decode("series.yaml", []byte(text))
		cal, found := CalendarOf(c)
		if cal != nil || len(found) == 0 || found[0].At.Line < 7 {
			t.Errorf("%s: %v", old, found)
		}
		if finding.Count(found, finding.Error) == 0 {
			t.Errorf("%s: no error", old)
		}
	}
}

// FuzzGlance: what the short look finds is what decoding finds, or nothing.
func FuzzGlance(f *testing.F) {
	for _, text := range []string{"changes: [{revision: 1.0.2, date: 2027-01-01, text: x}]\n", "changes:\n  - revision: 1.0.0\n    date: 2027-01-01\n    text: y\n", "changes: # a\n # b\n - {revision: \"1.0.0\"}\n"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got := Glance([]byte(text))
		if got == "" {
			return
		}
		d, _, found := manifest.Decode("x", "design.yaml", []byte(text), manifest.Context{})
		for _, x := range found { // what does not decode is not released
			if x.Code != "value-missing" && x.Level == finding.Error {
				return
			}
		}
		if d == nil || len(d.Changes) == 0 {
			return
		}
		if want := d.Revision().String(); got != want {
			t.Fatalf("%q: glance says %s, decoding %s", text, got, want)
		}
	})
}
