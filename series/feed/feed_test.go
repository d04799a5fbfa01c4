package feed

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"dropwright/series/disk"
	"dropwright/series/disk/crash"
	"dropwright/series/ledger"
)

var t0 = time.Date(2027, 1, 8, 17, 0, 0, 0, time.UTC)

// logOf writes records into a ledger and reads it back.
func logOf(t testing.TB, records ...ledger.Record) *ledger.Log {
	t.Helper()
	const path = "/series/ledger.jsonl"
	d := crash.New()
	if err := disk.MkdirAll(d, filepath.Dir(path)); err != nil {
		t.Fatal(err)
	}
	l, err := ledger.Open(d, path, ledger.Options{Series: "allotment", Now: t0.AddDate(0, 0, -1), Lock: func(string) (func() error, error) { return func() error { return nil }, nil }})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range records {
		if _, err := l.Append(r); err != nil {
			t.Fatal(err)
		}
	}
	return l.Log
}

// day is a promised date n days after the first.
func day(audience string, n int) ledger.Date {
	at := t0.AddDate(0, 0, n)
	return ledger.Date{Audience: audience, Local: at.Format("2006-01-02 15:04"), Zone: "Europe/Lisbon", UTC: at}
}

const uid = "urn:uuid:0d4c6a34-52e1-4c11-9f6b-3c0b6a1f2a77"

func promise(design string, week int, uid string, at time.Time, dates ...ledger.Date) ledger.Record {
	return ledger.Record{Kind: ledger.Promise, At: at, Design: design, Week: week, UID: uid, Dates: dates}
}

func move(design string, week int, at time.Time, dates ...ledger.Date) ledger.Record {
	return ledger.Record{Kind: ledger.Move, At: at, Design: design, Week: week, Because: "the hinge cracked", Dates: dates}
}

// season is a feed with what makes trouble: markup, quotes, several bytes a character, control characters.
func season(base string) Feed {
	return Feed{ID: Derive(UUID{}, "feed").URN(), Title: "Allotment Instruments & Söhne", Subtitle: "for \"everybody\" <now>", Language: "en", Author: Person{"Hollow Lane Workshop", "https://hollow-lane.example"},
		Home: base + "index.html", Atom: base + "feed.atom", JSON: base + "feed.json", Items: []Item{
			{ID: uid, Title: "Vent Minder", Summary: "Tips a vent\nopen, 3 × a day", HTML: "<p>Reprint <code>case-ce</code> &amp; rest</p>", URL: base + "vent-minder/index.html", Image: base + "vent-minder/front.jpg",
				Published: t0, Updated: t0.AddDate(0, 0, 4), Files: []File{{base + "vent-minder/1.0.1/vent-minder-1.0.1-ce-public.zip", "96Boards CE", "application/zip", 212343}, {base + "vent-minder/1.0.1/b.zip", "", "application/zip", 7}}},
			{ID: "urn:uuid:1d4c6a34-52e1-4c11-9f6b-3c0b6a1f2a77", Title: "Seed\x00 Dryer ∅", Summary: "dries", URL: base + "seed-dryer/index.html", Published: t0.AddDate(0, 0, 7), Updated: t0.AddDate(0, 0, 7)},
		}}
}

// agenda is a calendar with what makes trouble.
func agenda() Calendar {
	return Calendar{UID: Derive(UUID{}, "calendar").String(), Name: "Allotment Instruments, public", Description: "When what comes out", URL: "https://shelf.example/index.html", Source: "https://shelf.example/dates.ics", Language: "en", Events: []Event{
		{UID: "b", Start: t0.AddDate(0, 0, 21), Created: t0, Modified: t0.AddDate(0, 0, 9), Sequence: 2, Summary: "Vent Minder: out, for everybody; really", Description: "First line\nsecond \\ line with a very long sentence of ümläuts öf mány bytes äöüßé " + strings.Repeat("∅x", 40), URL: "https://shelf.example/vent-minder/index.html?" + strings.Repeat("a", 90)},
		{UID: "a", Start: time.Date(2027, 3, 28, 1, 30, 0, 0, time.UTC), Modified: t0, Summary: "Week 9: a new design", Tentative: true}, // in the hour that Lisbon skips
		{UID: "c", Start: time.Date(2027, 10, 31, 0, 30, 0, 0, time.FixedZone("", 3600)), Created: t0, Modified: t0.AddDate(0, 0, 1), Sequence: 1, Summary: "Twine Hook", Cancelled: true},
	}}
}

// TestSameBytes: made again, with the entries in another order and in another zone, a feed and a calendar are the
// same bytes.
func TestSameBytes(t *testing.T) {
	zone := time.FixedZone("elsewhere", -9*3600)
	var first [3][]byte
	for n := range 6 {
		f, c := season("https://shelf.example/"), agenda()
		rand.Shuffle(len(f.Items), func(i, j int) { f.Items[i], f.Items[j] = f.Items[j], f.Items[i] })
		rand.Shuffle(len(c.Events), func(i, j int) { c.Events[i], c.Events[j] = c.Events[j], c.Events[i] })
		if n%2 == 1 {
			for i := range f.Items {
				f.Items[i].Published, f.Items[i].Updated = f.Items[i].Published.In(zone), f.Items[i].Updated.In(zone)
			}
			for i := range c.Events {
				c.Events[i].Start, c.Events[i].Modified = c.Events[i].Start.In(zone), c.Events[i].Modified.In(zone)
			}
		}
		for i, got := range [3][]byte{must(t)(WriteAtom(f)), must(t)(WriteJSON(f)), must(t)(WriteICS(c))} {
			if n == 0 {
				first[i] = got
			} else if !bytes.Equal(first[i], got) {
				t.Errorf("run %d, document %d: other bytes", n, i)
			}
		}
	}
}

func must(t testing.TB) func([]byte, error) []byte {
	return func(data []byte, err error) []byte {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
}

// TestAtom reads the document back with the standard library and holds it to RFC 4287 sections 4.1.1 and 4.1.2.
func TestAtom(t *testing.T) {
	var got struct {
		XMLName xml.Name  `xml:"http://www.w3.org/2005/Atom feed"`
		ID      string    `xml:"id"`
		Title   string    `xml:"title"`
		Updated time.Time `xml:"updated"`
		Author  []string  `xml:"author>name"`
		Links   []struct {
			Rel  string `xml:"rel,attr"`
			Href string `xml:"href,attr"`
		} `xml:"link"`
		Entries []struct {
			ID        string    `xml:"id"`
			Title     string    `xml:"title"`
			Published time.Time `xml:"published"`
			Updated   time.Time `xml:"updated"`
			Content   struct {
				Type string `xml:"type,attr"`
				Body string `xml:",chardata"`
			} `xml:"content"`
			Links []struct {
				Rel    string `xml:"rel,attr"`
				Length int64  `xml:"length,attr"`
			} `xml:"link"`
		} `xml:"entry"`
	}
	data := must(t)(WriteAtom(season("https://shelf.example/")))
	if err := xml.Unmarshal(data, &got); err != nil {
		t.Fatalf("%v\n%s", err, data)
	}
	if !got.Updated.Equal(t0.AddDate(0, 0, 7)) || len(got.Author) != 1 || got.Title != "Allotment Instruments & Söhne" || len(got.Links) != 2 || got.Links[0].Rel != "self" {
		t.Errorf("head: %+v", got)
	}
	if len(got.Entries) != 2 || got.Entries[0].Title != "Seed\ufffd Dryer ∅" || got.Entries[1].ID != uid {
		t.Fatalf("entries: %+v", got.Entries)
	}
	e := got.Entries[1]
	if e.Content.Type != "html" || e.Content.Body != "<p>Reprint <code>case-ce</code> &amp; rest</p>" || e.Links[1].Rel != "enclosure" || e.Links[1].Length != 212343 {
		t.Errorf("entry: %+v", e)
	}
}

// TestJSONFeed: the objects of JSON Feed 1.1, and no relative address.
func TestJSONFeed(t *testing.T) {
	var got map[string]any
	if err := json.Unmarshal(must(t)(WriteJSON(season("https://shelf.example/"))), &got); err != nil {
		t.Fatal(err)
	}
	if got["version"] != "https://jsonfeed.org/version/1.1" || got["feed_url"] != "https://shelf.example/feed.json" {
		t.Errorf("%v", got)
	}
	item := got["items"].([]any)[1].(map[string]any)
	if item["id"] != uid || item["date_modified"] != "2027-01-12T17:00:00Z" || len(item["attachments"].([]any)) != 2 || item["content_html"] == nil || item["content_text"] != nil {
		t.Errorf("%v", item)
	}
	relative := string(must(t)(WriteJSON(season(""))))
	for _, key := range []string{`"url": "vent`, `"attachments"`, `"image"`, `"feed_url"`, `"home_page_url"`} {
		if strings.Contains(relative, key) {
			t.Errorf("without an address of the place there is %s in\n%s", key, relative)
		}
	}
}

// TestFeedRules: what a standard forbids is refused, with the entry's name.
func TestFeedRules(t *testing.T) {
	for name, change := range map[string]func(*Feed){
		"has the id":        func(f *Feed) { f.Items[0].ID = "vent-minder" },
		"two things":        func(f *Feed) { f.Items[0].ID = f.Items[1].ID },
		"no title":          func(f *Feed) { f.Items[0].Title = " " },
		"was published":     func(f *Feed) { f.Items[0].Updated = f.Items[0].Published.Add(-time.Second) },
		"title and an auth": func(f *Feed) { f.Author.Name = "" },
		"last change":       func(f *Feed) { f.Items = nil },
	} {
		f := season("")
		change(&f)
		for i, write := range []func(Feed) ([]byte, error){WriteAtom, WriteJSON} {
			if data, err := write(f); err == nil || !strings.Contains(err.Error(), name) || data != nil {
				t.Errorf("%s (%d): %v", name, i, err)
			}
		}
	}
	f := season("")
	for i := range 100 {
		x := f.Items[0]
		x.ID, x.Published = fmt.Sprintf("urn:x:%03d", i), x.Published.AddDate(0, 0, i)
		x.Updated = x.Published
		f.Items = append(f.Items, x)
	}
	if data := must(t)(WriteAtom(f)); bytes.Count(data, []byte("<entry>")) != MaxItems || !bytes.Contains(data, []byte("urn:x:099")) || bytes.Contains(data, []byte(uid)) {
		t.Error("a long feed does not keep the newest entries")
	}
}

// TestICS holds the calendar to RFC 5545: CRLF, 75 octets, whole characters, escapes, one UID each.
func TestICS(t *testing.T) {
	data := must(t)(WriteICS(agenda()))
	if !bytes.HasSuffix(data, []byte("END:VCALENDAR\r\n")) || bytes.Contains(bytes.ReplaceAll(data, []byte("\r\n"), nil), []byte("\n")) {
		t.Error("a line does not end with CRLF")
	}
	folded := 0
	for l := range strings.SplitSeq(string(data), "\r\n") {
		if len(l) > 75 || strings.ToValidUTF8(l, "") != l {
			t.Errorf("%d octets, or half a character: %q", len(l), l)
		}
		if strings.HasPrefix(l, " ") {
			folded++
		}
	}
	if folded < 4 {
		t.Errorf("only %d lines were folded", folded)
	}
	whole := strings.ReplaceAll(string(data), "\r\n ", "")
	for _, want := range []string{
		"DTSTART:20270129T170000Z", "DTSTART:20270328T013000Z", "DTSTART:20271030T233000Z", "DTSTAMP:20270117T170000Z", "LAST-MODIFIED:20270117T170000Z",
		`SUMMARY;LANGUAGE=en:Vent Minder: out\, for everybody\; really`, `DESCRIPTION;LANGUAGE=en:First line\nsecond \\ line`, "STATUS:CANCELLED", "STATUS:TENTATIVE", "SEQUENCE:2", "VERSION:2.0", "REFRESH-INTERVAL;VALUE=DURATION:PT6H",
	} {
		if !strings.Contains(whole, want) {
			t.Errorf("no %q in\n%s", want, whole)
		}
	}
	for _, no := range []string{"TZID", "METHOD", "VALARM", "VTIMEZONE"} {
		if strings.Contains(whole, no) {
			t.Errorf("there is a %s", no)
		}
	}
}

// TestICSRules: what no calendar can hold is refused.
func TestICSRules(t *testing.T) {
	if _, err := WriteICS(Calendar{UID: "x", Name: "empty"}); !errors.Is(err, ErrNoEvents) {
		t.Errorf("an empty calendar: %v", err)
	}
	for name, change := range map[string]func(*Calendar){
		"two things":          func(c *Calendar) { c.Events[0].UID = c.Events[1].UID },
		"has the UID":         func(c *Calendar) { c.Events[0].UID = "a\r\nEND:VEVENT" },
		"no time":             func(c *Calendar) { c.Events[0].Start = time.Time{} },
		"that a calendar can": func(c *Calendar) { c.Events[0].Start = time.Date(12027, 1, 1, 0, 0, 0, 0, time.UTC) },
		"sequence":            func(c *Calendar) { c.Events[0].Sequence = -1 },
		"absolute":            func(c *Calendar) { c.Events[0].URL = "index.html" },
		"no absolute":         func(c *Calendar) { c.Source = "https://x.example/\r\nEND:VCALENDAR" },
	} {
		c := agenda()
		c.Events = slices.Clone(c.Events)
		change(&c)
		if data, err := WriteICS(c); err == nil || !strings.Contains(err.Error(), name) || data != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// FuzzICS: whatever a text holds, no line is too long, none is added, and no character is cut.
func FuzzICS(f *testing.F) {
	f.Add("Vent Minder", "line\nEND:VEVENT\r\nBEGIN:VEVENT")
	f.Add(strings.Repeat("é", 80), "\xff\xfe\x00;,\\")
	f.Add("\u2028\u2029", strings.Repeat("\x80", 200))
	f.Fuzz(func(t *testing.T, summary, description string) {
		c := agenda()
		c.Events[0].Summary, c.Events[0].Description = summary, description
		data, err := WriteICS(c)
		if err != nil {
			t.Fatal(err)
		}
		for l := range strings.SplitSeq(string(data), "\r\n") {
			if len(l) > 75 || strings.ToValidUTF8(l, "") != l || strings.ContainsAny(l, "\r\n") {
				t.Fatalf("%q", l)
			}
		}
		if n := strings.Count(string(data), "\r\nEND:VEVENT\r\n"); n != 3 {
			t.Fatalf("%d events", n)
		}
		item := season("")
		item.Items[0].Title, item.Items[0].HTML = "x"+summary, description
		atom, err := WriteAtom(item)
		if err != nil {
			t.Fatal(err)
		}
		dec := xml.NewDecoder(bytes.NewReader(atom))
		for {
			if _, err := dec.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("%v\n%s", err, atom)
			}
		}
	})
}
