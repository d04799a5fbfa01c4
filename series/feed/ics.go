package feed

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// Calendar is a list of days to subscribe to.
type Calendar struct {
	UID         string // permanent
	Name        string
	Description string
	URL         string // of the page it belongs to, absolute or ""
	Source      string // its own address, absolute or ""
	Language    string // BCP 47, "" for not said
	Events      []Event
}

// Event is one instant of a calendar. It takes no time of anybody's day.
type Event struct {
	UID         string
	Start       time.Time
	Created     time.Time // zero: not said
	Modified    time.Time // when it was last revised, as the ledger has it: DTSTAMP and LAST-MODIFIED
	Sequence    int       // how often its instant changed (RFC 5545 section 3.8.7.4)
	Summary     string
	Description string
	URL         string // absolute or ""
	Cancelled   bool   // it will not take place: it stays in the calendar, so that readers take it out of theirs
	Tentative   bool   // nobody was promised it yet
}

// ErrNoEvents says that a calendar holds nothing: RFC 5545 section 3.6 has no such calendar.
var ErrNoEvents = errors.New("a calendar without events cannot be written (RFC 5545 section 3.6)")

// refresh is how often readers of a calendar are asked to look again (RFC 7986 section 5.7): a correction of a date
// should be known the same day, and a store that is billed by requests should not mind.
const refresh = "PT6H"

// WriteICS writes a calendar (RFC 5545, with the properties of RFC 7986): lines end with CRLF and are folded at
// 75 octets, never within a character; instants are in UTC. Without a METHOD, DTSTAMP is when an event was last
// revised (section 3.8.7.2). Errors: ErrNoEvents, or what breaks a rule of the standard; then nothing is given.
func WriteICS(c Calendar) ([]byte, error) {
	if len(c.Events) == 0 {
		return nil, ErrNoEvents
	}
	events := slices.Clone(c.Events)
	slices.SortFunc(events, func(a, b Event) int {
		if d := a.Start.Compare(b.Start); d != 0 {
			return d
		}
		return strings.Compare(a.UID, b.UID)
	})
	seen := map[string]bool{c.UID: true}
	var last time.Time
	for _, e := range events {
		switch {
		case e.UID == "" || strings.ContainsFunc(e.UID, func(r rune) bool { return r < ' ' || r == 127 }):
			return nil, fmt.Errorf("the event %q has the UID %q", e.Summary, e.UID)
		case seen[e.UID]:
			return nil, fmt.Errorf("two things have the UID %q", e.UID)
		case e.Sequence < 0:
			return nil, fmt.Errorf("the event %q has the sequence number %d", e.Summary, e.Sequence)
		case !writable(e.Start) || !writable(e.Modified) || !e.Created.IsZero() && !writable(e.Created):
			return nil, fmt.Errorf("the event %q has no time that a calendar can hold", e.Summary)
		}
		seen[e.UID] = true
		if e.Modified.After(last) {
			last = e.Modified
		}
	}
	w := &icsWriter{}
	w.raw("BEGIN", "VCALENDAR")
	w.raw("VERSION", "2.0")
	w.raw("PRODID", "-//dropwright//calendar 1//EN")
	w.raw("CALSCALE", "GREGORIAN")
	w.text("UID", c.UID)
	w.raw("LAST-MODIFIED", instant(last))
	w.text("NAME", c.Name)
	w.text("X-WR-CALNAME", c.Name) // what readers knew before RFC 7986
	w.text("DESCRIPTION", c.Description)
	w.uri("URL", c.URL)
	w.raw("REFRESH-INTERVAL;VALUE=DURATION", refresh)
	w.uri("SOURCE;VALUE=URI", c.Source)
	lang := ""
	if c.Language != "" && !strings.ContainsAny(c.Language, "\";:,\r\n") {
		lang = ";LANGUAGE=" + c.Language
	}
	for _, e := range events {
		w.raw("BEGIN", "VEVENT")
		w.text("UID", e.UID)
		w.raw("DTSTAMP", instant(e.Modified))
		w.raw("DTSTART", instant(e.Start))
		if !e.Created.IsZero() {
			w.raw("CREATED", instant(e.Created))
		}
		w.raw("LAST-MODIFIED", instant(e.Modified))
		w.raw("SEQUENCE", fmt.Sprint(e.Sequence))
		w.text("SUMMARY"+lang, e.Summary)
		w.text("DESCRIPTION"+lang, e.Description)
		w.uri("URL", e.URL)
		switch {
		case e.Cancelled:
			w.raw("STATUS", "CANCELLED")
		case e.Tentative:
			w.raw("STATUS", "TENTATIVE")
		default:
			w.raw("STATUS", "CONFIRMED")
		}
		w.raw("TRANSP", "TRANSPARENT")
		w.raw("END", "VEVENT")
	}
	w.raw("END", "VCALENDAR")
	if w.err != nil {
		return nil, w.err
	}
	return w.out.Bytes(), nil
}

// writable says whether an instant has four digits of a year (RFC 5545 section 3.3.4).
func writable(t time.Time) bool { y := t.UTC().Year(); return !t.IsZero() && y >= 1 && y <= 9999 }

// instant writes an instant in UTC (RFC 5545 section 3.3.5, form 2).
func instant(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

type icsWriter struct {
	out bytes.Buffer
	err error
}

// raw writes a line whose value holds nothing to be escaped.
func (w *icsWriter) raw(name, value string) { w.fold(name + ":" + value) }

// text writes a text, escaped (RFC 5545 section 3.3.11, the backslash first); none for an empty one.
func (w *icsWriter) text(name, value string) {
	if value = strings.TrimSpace(value); value == "" {
		return
	}
	value = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(strings.ToValidUTF8(value, "\ufffd"))
	value = strings.Map(func(r rune) rune {
		if r < ' ' && r != '\n' && r != '\t' || r == 127 { // CONTROL, section 3.1
			return -1
		}
		return r
	}, value)
	w.fold(name + ":" + strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\n", `\n`).Replace(value))
}

// uri writes an address (RFC 5545 section 3.3.13); none for an empty one.
func (w *icsWriter) uri(name, value string) {
	if value == "" {
		return
	}
	if !absolute(value) || strings.ContainsFunc(value, func(r rune) bool { return r <= ' ' || r == 127 }) {
		w.err = errors.Join(w.err, fmt.Errorf("%q is no absolute address", value))
		return
	}
	w.fold(name + ":" + value)
}

// fold writes a line of at most 75 octets, and what is left on lines that begin with a space (RFC 5545 section 3.1).
// A character is never cut in two.
func (w *icsWriter) fold(line string) {
	room := 75
	for len(line) > room {
		cut := room
		for cut > 0 && !utf8.RuneStart(line[cut]) {
			cut--
		}
		if cut == 0 { // no text: it is cut anywhere rather than never
			cut = room
		}
		w.out.WriteString(line[:cut] + "\r\n ")
		line, room = line[cut:], 74 // the space counts
	}
	w.out.WriteString(line + "\r\n")
}
