package shelf

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"html"
	"io/fs"
	"net/url"
	"path"
	"regexp"
	"strings"
	"testing"
	"time"

	"dropwright/series/feed"
	"dropwright/series/feed/feedtest"
	"dropwright/series/ledger"
)

// TestPlace: every page is there and says what its reader came for, what must be read first before anything else.
func TestPlace(t *testing.T) {
	pages := made(t, place(t))
	for _, name := range []string{"index.html", "feed.atom", "feed.json", "dates.ics", "coming/week-7.jpg", "soil-stake/index.html", "soil-stake/sheet-plain.html", "soil-stake/bom-plain.csv", "soil-stake/cover.jpg",
		"vent-minder/index.html", "vent-minder/sheet-ce.html", "vent-minder/sheet-stack.html", "vent-minder/picture-1.jpg"} {
		if pages[name] == nil {
			t.Errorf("there is no page %q", name)
		}
	}
	stake := flat(pages["soil-stake/index.html"])
	at := 0
	for _, want := range []string{"Soil Stake 1.0.0 is withdrawn", "the point &lt;i&gt;splinters&lt;/i&gt;.", "1.0.1 takes its place", "Soil Stake 1.0.1 corrects 1.0.0", "thicker, &lt;b&gt;&amp; stronger&lt;/b&gt;", "Printed <code>soil-stake</code>? <strong>Print it again</strong>: it differs by up to 1.08 mm",
		"<h2 id=\"pictures\">", "soil-stake-1.0.1-public.zip", "SHA256SUMS", "Assembly sheet", "To print", "Filament to have", "Printed 1.0.0? What to print again:", "<tr class=\"yes\">", "Out for everybody", "Older revisions", "soil-stake-1.0.0-public.zip"} {
		i := strings.Index(stake[at:], want)
		if i < 0 {
			t.Fatalf("soil-stake: %q is not there, or too early, after\n…%.1500s", want, stake[at:])
		}
		at += i
	}
	vent := flat(pages["vent-minder/index.html"])
	for _, want := range []string{"96Boards CE", "PC/104 stack", "of these 1 mirrored", "ISO 4762 - M3 x 12", "2 h 07 min", "<td class=\"right\" data-label=\"Grams each\">46.8</td>", "CC-BY-SA-4.0"} {
		if !strings.Contains(strings.ReplaceAll(vent, nbsp, " "), want) {
			t.Errorf("vent-minder: no %q", want)
		}
	}
	if strings.Contains(vent, "withdrawn") || strings.Contains(vent, "corrects") {
		t.Error("vent-minder is said to be withdrawn or corrected")
	}
	index := flat(pages["index.html"])
	at = 0
	for _, want := range []string{"Read this first", "Soil Stake 1.0.0", ">Vent Minder</a>", ">Soil Stake</a>", "What comes next", "a new design", "called off", "coming/week-7.jpg", "Rain Tipper", "feed.atom", "dates.ics"} {
		i := strings.Index(index[at:], want)
		if i < 0 {
			t.Fatalf("index: %q is not there, or too early", want)
		}
		at += i
	}
}

// TestSameBytes: the same ledger and bundles give the same bytes, whenever and in whatever order they were asked for.
func TestSameBytes(t *testing.T) {
	first := made(t, place(t))
	for range 2 {
		again := made(t, place(t))
		if len(again) != len(first) {
			t.Fatalf("%d pages, then %d", len(first), len(again))
		}
		for name, data := range first {
			if !bytes.Equal(again[name], data) {
				t.Errorf("%s has other bytes", name)
			}
		}
	}
}

// TestEmbargo: what the ledger knows of designs that have not come to the place stands on no page, in no feed and in no
// calendar; and the judge finds a canary where there is one.
func TestEmbargo(t *testing.T) {
	leaks := func(pages map[string][]byte) (out []string) {
		for name, data := range pages {
			unfolded := bytes.ReplaceAll(data, []byte("\r\n "), nil)
			if bytes.Contains(bytes.ToLower(unfolded), []byte("canary")) || strings.Contains(strings.ToLower(name), "canary") {
				out = append(out, name)
			}
		}
		return out
	}
	if found := leaks(made(t, place(t))); len(found) > 0 {
		t.Errorf("told before its day in %q", found)
	}
	in := place(t)
	in.Coming[0].Title = "CANARY"
	if found := leaks(made(t, in)); len(found) != 2 {
		t.Errorf("a told title stands in %q, not on the first page and in the calendar", found)
	}
}

var addresses = regexp.MustCompile(`(?:href|src)="([^"]*)"`)

// broken lists the links of a place that lead nowhere, and those that would fetch something from elsewhere.
func broken(pages map[string][]byte, known map[string]bool) (out []string) {
	for name, data := range pages {
		if !strings.HasSuffix(name, ".html") {
			continue
		}
		text := string(data)
		for _, m := range addresses.FindAllStringSubmatch(text, -1) {
			to := html.UnescapeString(m[1])
			u, err := url.Parse(to)
			switch {
			case err != nil:
				out = append(out, name+": "+to)
			case u.Scheme == "data":
			case u.Scheme != "":
				// A person may follow an address; nothing may be fetched from one.
				if !strings.Contains(text, `<a href="`+m[1]+`"`) || u.Scheme != "https" {
					out = append(out, name+" fetches "+to)
				}
			case u.Path == "":
				if !strings.Contains(text, `id="`+u.Fragment+`"`) {
					out = append(out, name+": "+to)
				}
			default:
				full := path.Join(path.Dir(name), u.Path)
				if pages[full] == nil && !known[full] {
					out = append(out, name+": "+to)
				}
			}
		}
	}
	return out
}

// TestLinks: every link of every page leads to a page, a file of a release, or a place on the page; nothing is
// fetched from elsewhere.
func TestLinks(t *testing.T) {
	in := place(t)
	pages := made(t, in)
	known := map[string]bool{"release.json": true}
	for _, r := range in.Releases {
		known[path.Join(r.Design, r.Revision, "SHA256SUMS")] = true
		for _, o := range r.Objects {
			known[path.Join(r.Design, r.Revision, o.Name)] = true
		}
	}
	for _, b := range broken(pages, known) {
		t.Errorf("broken: %s", b)
	}
	for _, wrong := range []string{`<a href="vent-minder/none.html">x</a>`, `<img src="https://elsewhere.example/x.png" alt="">`, `<a href="#nowhere">x</a>`} {
		bad := map[string][]byte{"index.html": append(bytes.Clone(pages["index.html"]), wrong...)}
		for name, data := range pages {
			if name != "index.html" {
				bad[name] = data
			}
		}
		if len(broken(bad, known)) != 1 {
			t.Errorf("%s passes", wrong)
		}
	}
	for name, data := range pages {
		if strings.HasSuffix(name, ".html") && !bytes.Contains(data, []byte(`http-equiv="Content-Security-Policy" content="default-src 'none';`)) {
			t.Errorf("%s lets the browser fetch anything", name)
		}
	}
}

// TestReadersOfOthers: four programs of others find the place's entries and days by the ledger's ids and instants, in
// three time zones.
func TestReadersOfOthers(t *testing.T) {
	in := place(t)
	pages := made(t, in)
	days := map[string]time.Time{"Soil Stake: out for everybody": day1.AddDate(0, 0, 21), "Vent Minder: out for everybody": day1.AddDate(0, 0, 42), "Week 5: a new design": day1.AddDate(0, 0, 49), "Week 6: a new design": day1.AddDate(0, 0, 56), "Week 7: Rain Tipper": day1.AddDate(0, 0, 63)}
	uids := map[string]string{}
	for _, d := range feed.Drops(in.Log) {
		if d.Audience == "public" {
			uids[d.UID.String()] = d.Design
		}
	}
	for _, zone := range []string{"America/New_York", "Europe/Lisbon", "Pacific/Auckland"} {
		events, feeds, failed := feedtest.Read(t, "../../../.ci/npm", zone, pages["dates.ics"], pages["feed.atom"])
		if len(events) != 2 || len(feeds) != 2 {
			t.Fatalf("%s: %v", zone, failed)
		}
		for name, list := range events {
			known := 0
			for _, e := range list {
				if !e.At.Equal(days[e.Title]) {
					t.Errorf("%s in %s: %q is at %s, not %s", name, zone, e.Title, e.At, days[e.Title])
				}
				if uids[e.ID] != "" {
					known++
				}
				if want := map[string]string{"Week 6: a new design": "CANCELLED", "Week 7: Rain Tipper": "TENTATIVE"}[e.Title]; want != "" && e.Status != want {
					t.Errorf("%s in %s: %q is %s", name, zone, e.Title, e.Status)
				}
				if strings.HasPrefix(e.Title, "Vent") && e.Sequence != 1 {
					t.Errorf("%s: the moved day has the number %d", name, e.Sequence)
				}
			}
			if len(list) != len(days) || known != 4 {
				t.Errorf("%s in %s: %d events, %d under UIDs of the ledger", name, zone, len(list), known)
			}
		}
		for name, list := range feeds {
			stake := feedtest.Find(list, "urn:uuid:0d4c6a34-52e1-4c11-9f6b-3c0b6a1f2a77")
			if len(list) != 2 || !stake.At.Equal(day1.AddDate(0, 0, 21)) || !stake.Modified.Equal(day1.AddDate(0, 0, 25)) || stake.URL != "https://shelf.example/allotment/soil-stake/index.html" || len(stake.Files) != 1 {
				t.Errorf("%s in %s: %+v", name, zone, stake)
			}
		}
	}
	var j struct{ Items []struct{ ID string } }
	if err := json.Unmarshal(pages["feed.json"], &j); err != nil || len(j.Items) != 2 || !bytes.Contains(pages["feed.atom"], []byte(j.Items[0].ID)) || !bytes.Contains(pages["feed.atom"], []byte(j.Items[1].ID)) {
		t.Errorf("the two feeds have other ids: %v %v", j, err)
	}
}

// TestIdsStay: a new address, title, channel order and language change no id.
func TestIdsStay(t *testing.T) {
	ids := regexp.MustCompile(`urn:uuid:[0-9a-f-]{36}|UID:[0-9a-f-]{36}`)
	in := place(t)
	want := ids.FindAllString(string(made(t, in)["feed.atom"])+string(made(t, in)["dates.ics"]), -1)
	in.Base, in.Series, in.Language, in.Maker = "", "Another title", "de", "Somebody"
	pages := made(t, in)
	if got := ids.FindAllString(string(pages["feed.atom"])+string(pages["dates.ics"]), -1); strings.Join(got, " ") != strings.Join(want, " ") || len(got) < 8 {
		t.Errorf("ids\n%v\nbecome\n%v", want, got)
	}
}

// TestGerman: every word of the pages has a German one with the same places, and no page shows a key.
func TestGerman(t *testing.T) {
	for key, w := range table {
		if w[0] == "" || w[1] == "" || strings.Count(w[0], "%s") != strings.Count(w[1], "%s") || strings.Count(w[0], "%d") != strings.Count(w[1], "%d") {
			t.Errorf("%s: %q", key, w)
		}
	}
	in := place(t)
	in.Language = "de"
	pages := made(t, in)
	for name, data := range pages {
		if !strings.HasSuffix(name, ".html") || strings.Contains(name, "sheet-") {
			continue
		}
		if !bytes.Contains(data, []byte(`<html lang="de">`)) || regexp.MustCompile(`[>"]\[[a-z ]+\][<"]`).Match(data) {
			t.Errorf("%s is no German page, or shows a key", name)
		}
	}
	if vent := string(pages["vent-minder/index.html"]); !strings.Contains(vent, "Zu drucken") || !strings.Contains(vent, "46,8") || !strings.Contains(vent, "19. Februar 2027") {
		t.Error("vent-minder in German lacks its words, figures or dates")
	}
}

// TestAllWithdrawn: a design of which nothing may be built offers no sheet and nothing to print; its files stay.
func TestAllWithdrawn(t *testing.T) {
	in := place(t)
	in.Releases = in.Releases[:1]
	pages := made(t, in)
	page := string(pages["soil-stake/index.html"])
	for _, no := range []string{"To print", "Assembly sheet", "takes its place"} {
		if strings.Contains(page, no) {
			t.Errorf("it says %q", no)
		}
	}
	if !strings.Contains(page, "There is no correction yet") || !strings.Contains(page, "soil-stake-1.0.0-public.zip") || !strings.Contains(string(pages["index.html"]), "Withdrawn: do not build") {
		t.Error("it does not say that it is withdrawn, or its files are gone")
	}
	if sheet := string(pages["soil-stake/sheet-plain.html"]); !strings.Contains(sheet, "splinters") || len(sheet) > 20_000 {
		t.Error("the sheet is still there")
	}
	if bytes.Contains(pages["feed.atom"], []byte("enclosure")) {
		t.Error("the feed offers it")
	}
}

// TestEmpty: a place before its first drop has a page and feeds; without anything to come it has no calendar.
func TestEmpty(t *testing.T) {
	in := place(t)
	in.Releases, in.Coming = nil, nil
	pages := made(t, in)
	if len(pages) != 3 || pages["dates.ics"] != nil || bytes.Contains(pages["index.html"], []byte("dates.ics")) {
		t.Errorf("%d pages, calendar %t", len(pages), pages["dates.ics"] != nil)
	}
}

// TestRefusals: a bundle that is not what the ledger says gives an error with its name, and no pages.
func TestRefusals(t *testing.T) {
	if testing.Short() {
		t.Skip("packs bundles")
	}
	cut := func(in *Input, change func([]byte) []byte) {
		open := in.Open
		in.Open = func(ctx context.Context, r Release, o ledger.Object) (File, error) {
			f, err := open(ctx, r, o)
			if err != nil || o.Name != "soil-stake-1.0.1-public.zip" {
				return f, err
			}
			data := make([]byte, o.Bytes)
			if _, err := f.ReadAt(data, 0); err != nil {
				return nil, err
			}
			return memFile{bytes.NewReader(change(data)), size{o.Name, o.Bytes}}, nil
		}
	}
	for name, change := range map[string]func(*Input){
		"cut short": func(in *Input) { cut(in, func(b []byte) []byte { return b[:len(b)/2] }) },
		"empty":     func(in *Input) { cut(in, func([]byte) []byte { return nil }) },
		"noise":     func(in *Input) { cut(in, func(b []byte) []byte { return bytes.Repeat([]byte("x"), len(b)) }) },
		"another revision": func(in *Input) {
			in.Releases[1].Revision = "1.0.2"
		},
		"no bundle": func(in *Input) { in.Releases[1].Objects = in.Releases[1].Objects[1:] },
		"lost": func(in *Input) {
			in.Open = func(context.Context, Release, ledger.Object) (File, error) { return nil, fs.ErrNotExist }
		},
	} {
		in := place(t)
		change(&in)
		pages, err := Pages(t.Context(), in)
		if err == nil || pages != nil || !strings.Contains(err.Error(), "soil-stake") {
			t.Errorf("%s: %d pages, %v", name, len(pages), err)
		}
		if name == "lost" && !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("lost: %v", err)
		}
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, err := Pages(ctx, place(t)); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}

// TestPlainLinks: links of a sheet that lead into its bundle are plain words on a page.
func TestPlainLinks(t *testing.T) {
	got := string(plainLinks([]byte(`<a class="skip" href="#main">x</a><a href="#a">a</a> <a href="meshes/b.stl">b <em>c</em></a> <a href="https://d.example" rel="x">d</a> <a href="javascript:1">e</a>`)))
	if got != `<a class="skip" href="#main">x</a><a href="#a">a</a> b <em>c</em> <a href="https://d.example" rel="x">d</a> e` {
		t.Error(got)
	}
}
