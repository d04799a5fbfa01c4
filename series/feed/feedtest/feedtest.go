// Package feedtest lets programs of others read our feeds and calendars, for tests: ical.js and node-ical for
// calendars, feedparser and @rowanmanning/feed-parser for Atom, all of npm (`npm ci` in .ci/npm).
package feedtest

import (
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

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

// Understood is an entry or event as a reader understood it.
type Understood struct {
	ID, Title, Text, URL, Status string
	At, Modified                 time.Time
	Sequence                     int
	Files                        []string
}

// Read lets all four readers read a calendar and a feed in a time zone. npmFolder is the way to .ci/npm. events and
// feeds are by reader; failed holds what a reader said when it refused.
func Read(t testing.TB, npmFolder, zone string, ics, atom []byte) (events, feeds map[string][]Understood, failed map[string]string) {
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
	events, feeds, failed = map[string][]Understood{}, map[string][]Understood{}, map[string]string{}
	for name, raw := range all {
		var list []Understood
		var feed struct {
			Error string
			Items []Understood
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

// Find is the entry or event with an id, empty if there is none.
func Find(list []Understood, id string) Understood {
	for _, x := range list {
		if x.ID == id {
			return x
		}
	}
	return Understood{}
}
