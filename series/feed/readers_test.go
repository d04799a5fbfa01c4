package feed

import (
	"bytes"
	"html"
	"strings"
	"testing"

	"dropwright/series/feed/feedtest"
)

// npmFolder holds the readers of others, which are the outside sources here (package feedtest).
const npmFolder = "../../.ci/npm"

func ask(t *testing.T, zone string, ics, atom []byte) (events, feeds map[string][]feedtest.Understood, failed map[string]string) {
	t.Helper()
	return feedtest.Read(t, npmFolder, zone, ics, atom)
}

// TestReaders: two readers of calendars and two of feeds find our instants and ids, wherever they are.
func TestReaders(t *testing.T) {
	if testing.Short() {
		t.Skip("starts node")
	}
	c, f := agenda(), season("https://shelf.example/")
	ics, atom := must(t)(WriteICS(c)), must(t)(WriteAtom(f))
	for _, zone := range []string{"America/New_York", "Europe/Lisbon", "Pacific/Auckland"} {
		events, feeds, failed := ask(t, zone, ics, atom)
		if len(events) != 2 || len(feeds) != 2 {
			t.Fatalf("%s: %d calendars and %d feeds were read: %v", zone, len(events), len(feeds), failed)
		}
		for name, list := range events {
			if len(list) != len(c.Events) {
				t.Errorf("%s in %s: %d events", name, zone, len(list))
			}
			for _, e := range c.Events {
				at := feedtest.Find(list, e.UID)
				status := map[bool]string{true: "CANCELLED", false: map[bool]string{true: "TENTATIVE", false: "CONFIRMED"}[e.Tentative]}[e.Cancelled]
				if !at.At.Equal(e.Start) || !at.Modified.Equal(e.Modified) || at.Sequence != e.Sequence || at.Title != e.Summary || at.Text != e.Description || at.Status != status {
					t.Errorf("%s in %s reads\n%+v, not\n%+v", name, zone, at, e)
				}
			}
		}
		for name, list := range feeds {
			if len(list) != len(f.Items) {
				t.Errorf("%s in %s: %d entries", name, zone, len(list))
			}
			for _, x := range f.Items {
				at := feedtest.Find(list, x.ID)
				if !at.At.Equal(x.Published) || !at.Modified.Equal(x.Updated) || at.Title != strings.ReplaceAll(x.Title, "\x00", "\ufffd") || at.URL != x.URL {
					t.Errorf("%s in %s reads\n%+v, not\n%+v", name, zone, at, x)
				}
				if html.UnescapeString(at.Text) != html.UnescapeString(x.HTML) && x.HTML != "" { // feed-parser decodes once more than it should
					t.Errorf("%s in %s reads the text %q", name, zone, at.Text)
				}
				if len(x.Files) > 0 && (len(at.Files) != len(x.Files) || at.Files[0] != x.Files[0].URL+" application/zip 212343") {
					t.Errorf("%s in %s reads the files %q", name, zone, at.Files)
				}
			}
		}
	}
}

// TestReadersRefuse: the same readers tell wrong input, so that their agreement above means something.
func TestReadersRefuse(t *testing.T) {
	if testing.Short() {
		t.Skip("starts node")
	}
	c, f := agenda(), season("https://shelf.example/")
	ics, atom := must(t)(WriteICS(c)), must(t)(WriteAtom(f))
	_, _, failed := ask(t, "UTC", bytes.Replace(ics, []byte("END:VEVENT"), []byte("VEVENT"), 3), bytes.Replace(atom, []byte("<feed"), []byte("<food"), 1))
	if len(failed) < 3 || failed["ical.js"] == "" || failed["feedparser"] == "" || failed["feed-parser"] == "" {
		t.Errorf("damaged input passes; refused: %v", failed)
	}
	// An instant without its Z is the reader's own wall clock: both must see another instant than ours.
	events, feeds, _ := ask(t, "America/New_York", bytes.ReplaceAll(ics, []byte("170000Z"), []byte("170000")), bytes.ReplaceAll(atom, []byte("T17:00:00Z"), []byte("T17:00:00+03:00")))
	for name, list := range events {
		if at := feedtest.Find(list, "b"); at.At.Equal(c.Events[0].Start) {
			t.Errorf("%s reads a floating time as ours", name)
		}
	}
	for name, list := range feeds {
		if at := feedtest.Find(list, uid); at.At.Equal(t0) {
			t.Errorf("%s does not see the other offset", name)
		}
	}
	if len(events) != 2 || len(feeds) != 2 {
		t.Errorf("read: %d calendars, %d feeds", len(events), len(feeds))
	}
}
