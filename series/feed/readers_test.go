package feed

import (
	"bytes"
	"encoding/json"
	"errors"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The readers of npm (`npm ci` in .ci/npm) are the outside sources here: ical.js and node-ical for calendars,
// feedparser and @rowanmanning/feed-parser for Atom.
const npmFolder = "../../.ci/npm"

// readers is a program that reads files with all four and prints what they understood. What a reader throws stands
// in its place as {error}.
const readers = `
import { readFileSync } from "node:fs";
import { Readable } from "node:stream";
import ICAL from "ical.js";
import nodeIcal from "node-ical";
import FeedParser from "feedparser";
import { parseFeed } from "@rowanmanning/feed-parser";
const [ics, atom] = process.argv.slice(1).map(f => readFileSync(f, "utf8"));
const out = {};
const attempt = async (name, read) => { try { out[name] = await read(); } catch (e) { out[name] = { error: String(e.message ?? e) }; } };
await attempt("ical.js", () => {
  const calendar = new ICAL.Component(ICAL.parse(ics));
  if (calendar.name !== "vcalendar" || calendar.getFirstPropertyValue("version") !== "2.0") throw new Error("no calendar");
  return calendar.getAllSubcomponents("vevent").map(c => {
    const e = new ICAL.Event(c);
    for (const need of ["uid", "dtstamp"]) if (!c.hasProperty(need)) throw new Error("an event without " + need);
    return { id: e.uid, at: e.startDate.toJSDate().toISOString(), modified: c.getFirstPropertyValue("dtstamp").toJSDate().toISOString(), title: e.summary, text: e.description ?? "",
      sequence: e.sequence ?? 0, status: c.getFirstPropertyValue("status") };
  });
});
await attempt("node-ical", () => {
  const found = Object.values(nodeIcal.sync.parseICS(ics)).filter(e => e.type === "VEVENT");
  const text = v => typeof v === "object" && v !== null ? v.val : v ?? "";
  if (found.length === 0) throw new Error("no events");
  return found.map(e => ({ id: e.uid, at: e.start.toISOString(), modified: e.dtstamp.toISOString(), title: text(e.summary), text: text(e.description), sequence: Number(e.sequence), status: e.status }));
});
await attempt("feedparser", () => new Promise((done, fail) => {
  const items = [], parser = new FeedParser({ feedurl: "https://shelf.example/feed.atom" });
  parser.on("error", fail);
  parser.on("readable", () => { for (let i; (i = parser.read());) items.push({ id: i.guid, at: i.pubdate.toISOString(), modified: i.date.toISOString(), title: i.title, text: i.description, url: i.link,
    files: i.enclosures.map(f => f.url + " " + f.type + " " + f.length) }); });
  parser.on("end", () => done({ title: parser.meta.title, id: parser.meta["atom:id"]?.["#"], items }));
  Readable.from([atom]).pipe(parser);
}));
await attempt("feed-parser", () => {
  const f = parseFeed(atom);
  return { title: f.title, items: f.items.map(i => ({ id: i.id, at: i.published.toISOString(), modified: i.updated.toISOString(), title: i.title, text: i.content, url: i.url,
    files: i.media.map(m => m.url + " " + m.mimeType + " " + m.length) })) };
});
process.stdout.write(JSON.stringify(out));`

// understood is an entry or event as a reader understood it.
type understood struct {
	ID, Title, Text, URL, Status string
	At, Modified                 time.Time
	Sequence                     int
	Files                        []string
}

// ask lets all four readers read a calendar and a feed in a time zone. events and feeds are by reader; failed holds
// what a reader said when it refused.
func ask(t *testing.T, zone string, ics, atom []byte) (events, feeds map[string][]understood, failed map[string]string) {
	t.Helper()
	node, err := exec.LookPath("node")
	if err == nil {
		_, err = os.Stat(filepath.Join(npmFolder, "node_modules", "node-ical"))
	}
	if err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatalf("node and the readers are needed here (npm ci in .ci/npm): %v", err)
		}
		t.Skipf("SKIPPED LOUDLY: no outside reader has read our feeds and calendars, since node or its packages (npm ci in .ci/npm) are missing: %v", err)
	}
	dir := t.TempDir()
	files := []string{filepath.Join(dir, "dates.ics"), filepath.Join(dir, "feed.atom")}
	for i, data := range [][]byte{ics, atom} {
		if err := os.WriteFile(files[i], data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command(node, append([]string{"--input-type=module", "-e", readers, "--"}, files...)...)
	cmd.Dir, cmd.Env = npmFolder, append(os.Environ(), "TZ="+zone)
	out, err := cmd.Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			t.Fatalf("node: %v\n%s", err, exit.Stderr)
		}
		t.Fatal(err)
	}
	var all map[string]json.RawMessage
	if err := json.Unmarshal(out, &all); err != nil || len(all) != 4 {
		t.Fatalf("node printed %q: %v", out, err)
	}
	events, feeds, failed = map[string][]understood{}, map[string][]understood{}, map[string]string{}
	for name, raw := range all {
		var list []understood
		var feed struct {
			Error string
			Items []understood
		}
		if json.Unmarshal(raw, &list) == nil {
			events[name] = list
		} else if err := json.Unmarshal(raw, &feed); err != nil {
			t.Fatalf("%s: %v: %s", name, err, raw)
		} else if feed.Error != "" {
			failed[name] = feed.Error
		} else {
			feeds[name] = feed.Items
		}
	}
	return events, feeds, failed
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
				at := find(list, e.UID)
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
				at := find(list, x.ID)
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
		if at := find(list, "b"); at.At.Equal(c.Events[0].Start) {
			t.Errorf("%s reads a floating time as ours", name)
		}
	}
	for name, list := range feeds {
		if at := find(list, uid); at.At.Equal(t0) {
			t.Errorf("%s does not see the other offset", name)
		}
	}
	if len(events) != 2 || len(feeds) != 2 {
		t.Errorf("read: %d calendars, %d feeds", len(events), len(feeds))
	}
}

func find(list []understood, id string) understood {
	for _, x := range list {
		if x.ID == id {
			return x
		}
	}
	return understood{}
}
