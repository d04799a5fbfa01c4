package release

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"dropwright/series/disk/crash"
	"dropwright/series/target"
	"dropwright/series/target/mem"
)

// listing makes pages as a site would: one for the place, one a design, a feed.
func listing(_ context.Context, x Index) ([]Page, error) {
	var all strings.Builder
	seen := map[string]bool{}
	pages := []Page{}
	for _, e := range x.Releases {
		fmt.Fprintf(&all, "%s %s\n", e.Design, e.Revision)
		if !seen[e.Design] {
			seen[e.Design] = true
			pages = append(pages, Page{Name: e.Design + "/index.html", Data: []byte("<h1>" + e.Design + "</h1>")})
		}
	}
	return append(pages, Page{Name: "feed.atom", Data: []byte("feed of " + x.Channel + "\n" + all.String())}, Page{Name: "index.html", Data: []byte(all.String())}), nil
}

// Pages follow a crash at every write: the run after it leaves the same place as one without.
func TestPagesAreMended(t *testing.T) {
	fresh := func() *world {
		w := newWorld()
		w.pages = listing
		return w
	}
	want := undisturbed(t, fresh, short)
	shelf := below(want.tree(), "/place/shelf")
	if got := want.file("/place/shelf/feed.atom"); got != "feed of shelf\nhook 1.0.0\n" || len(shelf) != 9 {
		t.Fatalf("the feed says %q, %d files", got, len(shelf))
	}
	n := want.fs.Ops()
	for _, k := range points(n) {
		w := fresh()
		w.fs.StopAt(k)
		if err := play(w, short, func(w *world) { w.restart(crash.KeepAll, 0) }); err != nil {
			t.Fatalf("stopped at %d of %d: %v", k, n, err)
		}
		if d := differ(w.tree(), want.tree()); d != "" {
			t.Fatalf("stopped at %d of %d: %s", k, n, d)
		}
	}
}

// What a page says comes after what it names, and the index after the page; a page that is the same is not
// written again; an outbox gets none.
func TestPagesOrder(t *testing.T) {
	w := newWorld()
	place := mem.New("shelf")
	var order []string
	place.Fault = func(op mem.Op) error {
		if (op.Kind == "replace" || op.Kind == "create") && !op.Late {
			order = append(order, op.Name)
		}
		return nil
	}
	w.pages = listing
	w.channels = []Channel{{Name: "shelf", Audience: "early", Target: place}}
	if err := w.run(); err != nil {
		t.Fatal(err)
	}
	want := "dropwright-target.json hook/1.0.0/hook-1.0.0-early.zip hook/1.0.0/announcement.txt hook/1.0.0/SHA256SUMS hook/index.html feed.atom index.html RELEASES.txt release.json"
	if got := strings.Join(order, " "); got != want {
		t.Fatalf("written in the order\n%s\nwant\n%s", got, want)
	}
	if err := revise("hook", "1.0.1", "corrected")(w); err != nil {
		t.Fatal(err)
	}
	if place.Writes("hook/index.html") != 1 || place.Writes("index.html") != 2 {
		t.Errorf("the same page was written %d times, the changed one %d times", place.Writes("hook/index.html"), place.Writes("index.html"))
	}
	w = newWorld()
	w.pages = func(context.Context, Index) ([]Page, error) { t.Error("an outbox is asked for pages"); return nil, nil }
	w.channels[0].Post = silent{}
	w.channels = w.channels[:1]
	if err := w.run(); err != nil {
		t.Fatal(err)
	}
}

type silent struct{}

func (silent) LayOut(context.Context, string, string, []File, []Text, []string) error { return nil }

func TestPageNames(t *testing.T) {
	for _, name := range []string{IndexName, PageName, target.MarkerName, "hook/1.0.0/hook.zip", "hook/1.0.0/index.html", "../index.html", ""} {
		w := newWorld()
		w.pages = func(context.Context, Index) ([]Page, error) { return []Page{{Name: name, Data: []byte("x")}}, nil }
		if err := w.run(); err == nil || strings.Contains(w.file("/place/club/"+IndexName), "hook") {
			t.Errorf("a page may be called %q: %v", name, err)
		}
	}
	w := newWorld()
	w.pages = func(context.Context, Index) ([]Page, error) { return []Page{{Name: "a"}, {Name: "a"}}, nil }
	if err := w.run(); err == nil {
		t.Error("two pages have one name")
	}
}

// Every kind of file that is released or generated has a type; what is unknown is bytes.
func TestMediaTypes(t *testing.T) {
	for name, want := range map[string]string{
		"hook/1.0.0/hook-1.0.0-ce-early.zip": "application/zip",
		"hook/1.0.0/SHA256SUMS":              "text/plain; charset=utf-8",
		"index.html":                         "text/html; charset=utf-8",
		"feed.atom":                          "application/atom+xml; charset=utf-8",
		"feed.json":                          "application/feed+json",
		"release.json":                       "application/json",
		"calendar.ics":                       "text/calendar; charset=utf-8",
		"hook/front.PNG":                     "image/png",
		"hook/views.svg":                     "image/svg+xml",
		"RELEASES.txt":                       "text/plain; charset=utf-8",
		"hook/anything.exe":                  "application/octet-stream",
	} {
		if got := target.MediaType(name); got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
	}
}
