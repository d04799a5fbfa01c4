package desk

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"dropwright/bundle"
	"dropwright/bundle/board"
	"dropwright/bundle/check"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
	"dropwright/bundle/source"
	"dropwright/examples"
	"dropwright/series/catalogue"
	"dropwright/series/outlook"
	"dropwright/series/schedule"
	"dropwright/series/site"
)

// shelf is a Source of plain values.
type shelf struct {
	season  *Season
	designs map[string]*Design
	boards  []Board
}

func (s *shelf) Season(context.Context) (*Season, error) { return s.season, nil }
func (s *shelf) Boards(context.Context) ([]Board, error) { return s.boards, nil }
func (s *shelf) Design(_ context.Context, name string, _ bool) (*Design, error) {
	if x := s.designs[name]; x != nil {
		return x, nil
	}
	return nil, site.ErrNoPage
}

// measured is a design of the demo season.
func measured(t *testing.T, name string) *Design {
	t.Helper()
	s, err := catalogue.Open(examples.Season, ".", board.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	e, err := s.Load(name)
	if err != nil || e.Design == nil {
		t.Fatalf("%v %v", err, e.Findings)
	}
	w, err := bundle.Examine(bundle.Source{FS: e.FS, Manifest: e.Manifest, Design: e.Design, House: &s.Config.House}, check.Past{}, "", measure.Options{Topics: measure.Topics{Estimate: true}})
	if err != nil {
		t.Fatal(err)
	}
	return &Design{Name: name, Work: w, Found: w.Checked.Findings, Unjudged: w.Checked.NotChecked, Texts: Texts{}, BoardTitle: func(string) string { return "" }}
}

func page(t *testing.T, d *Desk, name, watch string) string {
	t.Helper()
	p, err := d.Page(t.Context(), name, watch)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return string(p.Data)
}

func says(t *testing.T, text string, wants ...string) {
	t.Helper()
	for _, w := range wants {
		if !strings.Contains(text, w) {
			t.Errorf("the page does not say %q", w)
		}
	}
}

func TestDesignPage(t *testing.T) {
	x := measured(t, "soil-stake")
	d := &Desk{Source: &shelf{season: &Season{Title: "Try", Names: []string{"soil-stake"}}, designs: map[string]*Design{"soil-stake": x}}}
	got := page(t, d, "designs/soil-stake/index.html", "")
	says(t, got, "<h1>Soil Stake</h1>", "solids/soil-stake.plain.solid", "pictures/render/public/plain/part/soil-stake.png", "Print table", "Bill of materials", "sheet-plain-public.html", "Nothing found.")
	if strings.Contains(got, "data-watch") || strings.Contains(got, "desk.js") {
		t.Error("a page that nobody watches asks for changes")
	}
	says(t, page(t, d, "designs/soil-stake/index.html", "run.1"), `data-watch="run.1"`, `src="../../desk.js"`)
	p, err := d.Page(t.Context(), "designs/soil-stake/pictures/render/public/plain/part/soil-stake.png", "")
	if err != nil || p.Type != "image/png" || string(p.Data[1:4]) != "PNG" {
		t.Errorf("the still picture: %v %s", err, p.Type)
	}
	if p, err = d.Page(t.Context(), "designs/soil-stake/solids/soil-stake.plain.solid", ""); err != nil {
		t.Fatal(err)
	}
	m, _ := x.Work.Facts.Mesh("meshes/soil-stake.stl")
	if s, err := decode(p.Data); err != nil || s.whole != m.Triangles || len(s.faces) != m.Triangles {
		t.Errorf("the mesh: %d of %d facets: %v", len(s.faces), m.Triangles, err)
	} else {
		low := s.points[0][2]
		for _, q := range s.points {
			low = min(low, q[2])
		}
		if low < -0.01 || low > 0.01 {
			t.Errorf("it stands %g mm over the bed", low)
		}
	}
}

// TestWatchedSheet: the sheet is the builder's own, but for the script that reloads it; its policy lets just that in.
func TestWatchedSheet(t *testing.T) {
	x := measured(t, "soil-stake")
	d := &Desk{Source: &shelf{season: &Season{}, designs: map[string]*Design{"soil-stake": x}}}
	const name = "designs/soil-stake/sheet-plain-public.html"
	plain, err := d.Page(t.Context(), name, "")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(plain.Data), sheetHead) || plain.Policy != site.WholePolicy {
		t.Fatal("the sheet's own policy is not where it was; see sheetHead")
	}
	var own bytes.Buffer
	if err := x.Work.SheetHTML(&own, "plain", "public", x.BoardTitle); err != nil || !bytes.Equal(own.Bytes(), plain.Data) {
		t.Errorf("it is not the builder's sheet: %v", err)
	}
	watched, err := d.Page(t.Context(), name, "run.2")
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(watched.Data), sheetHead) || watched.Policy != site.WatchedPolicy || !strings.Contains(string(watched.Data), `data-watch="run.2"`) {
		t.Error("a watched sheet does not reload")
	}
}

// TestNoOtherFiles: what the manifest does not name as a picture is not shown, however it is asked for.
func TestNoOtherFiles(t *testing.T) {
	x := measured(t, "vent-minder")
	d := &Desk{Source: &shelf{season: &Season{}, designs: map[string]*Design{"vent-minder": x}}}
	for _, name := range []string{
		"designs/vent-minder/design.yaml", "designs/vent-minder/pictures/design.yaml", "designs/vent-minder/pictures/story.md", "designs/vent-minder/pictures/meshes/arm.stl",
		"designs/vent-minder/pictures/../design.yaml", "designs/vent-minder/pictures/../../../series.yaml", "designs/vent-minder/pictures//etc/passwd",
		"designs/vent-minder/pictures/render/public/nope/part/case.png", "designs/vent-minder/pictures/render/team/ce/part/case.png", "designs/vent-minder/pictures/render/public/ce/part/nope.png",
		"designs/vent-minder/pictures/render/public/ce/step/99.png", "designs/vent-minder/pictures/render/public/ce/what/all.png", "designs/vent-minder/pictures/render/../x.png",
		"designs/vent-minder/solids/meshes/arm.stl", "designs/vent-minder/solids/nope.solid", "designs/vent-minder/solids/arm.ce.solid.js", "designs/vent-minder/sheet-nope-public.html",
		"designs/nope/index.html", "designs/../series.yaml", "boards/nope.html", "nothing", "",
	} {
		if p, err := d.Page(t.Context(), name, ""); !errors.Is(err, site.ErrNoPage) {
			t.Errorf("%q: %v, %d bytes", name, err, len(p.Data))
		}
	}
	if _, err := d.Page(t.Context(), "designs/vent-minder/pictures/photos/front.jpg", ""); err != nil {
		t.Errorf("a photo of the manifest: %v", err)
	}
}

// TestBrokenManifest: a page without a measured design shows what is wrong, with the line and a mark under it.
func TestBrokenManifest(t *testing.T) {
	text := source.NewText("designs/hook/design.yaml", []byte("title: Hook\ncolour: <b>red</b>\n"))
	f := finding.New("key-unknown", finding.Place{File: text.File, Line: 2, Column: 1, Width: 6}, "there is no key colour", "did you mean colours?")
	x := &Design{Name: "hook", Found: []finding.Finding{f}, Texts: Texts{}}
	x.Texts.Add(text)
	d := &Desk{Source: &shelf{season: &Season{Title: "Try"}, designs: map[string]*Design{"hook": x}}}
	got := page(t, d, "designs/hook/index.html", "")
	says(t, got, "designs/hook/design.yaml:2:1", "colour: &lt;b&gt;red&lt;/b&gt;\n^~~~~~", "did you mean colours?", "key-unknown", "Mend the manifest first")
	x.Found, x.Measuring = nil, true
	says(t, page(t, d, "designs/hook/index.html", ""), "being measured")
}

func TestMarked(t *testing.T) {
	long := strings.Repeat("a", 300)
	for _, x := range []struct {
		line          string
		column, width int
		want          string
	}{
		{"key: value", 6, 5, "key: value\n     ^~~~~"}, {"  key: ü", 8, 2, "key: ü\n     ^"}, {"\tx: y", 2, 1, "x: y\n^"}, {"x", 99, 3, "x\n ^"}, {"x", 0, 0, "x\n^"},
	} {
		if got := marked(x.line, finding.Place{Line: 1, Column: x.column, Width: x.width}); got != x.want {
			t.Errorf("%q at %d: %q, expected %q", x.line, x.column, got, x.want)
		}
	}
	got := strings.Split(marked(long+"X"+long, finding.Place{Line: 1, Column: 301, Width: 1}), "\n")
	if r := []rune(got[0]); len(r) > 102 || r[strings.Index(got[1], "^")] != 'X' {
		t.Errorf("a long line: %q", got)
	}
}

// demoSeason is an outlook with something in every part of it.
func demoSeason() *outlook.Season {
	at := time.Date(2027, 1, 19, 9, 0, 0, 0, time.UTC)
	week := func(n int) time.Time { return at.AddDate(0, 0, 7*(n-2)) }
	half, all, ninety, price := 0.5, 0.93, 3, 24.0
	return &outlook.Season{Title: "Try <this>", Now: at, Week: 2, Currency: "EUR",
		Weeks: []outlook.Week{
			{Week: 1, Design: "hook", Title: "Twine & Hook", State: schedule.PublicOut, Out: true, Early: week(1), Public: week(4)},
			{Week: 2, Design: "stake", State: schedule.Late, Early: week(2), Public: week(5), Missing: []outlook.Missing{{What: "a mesh", Command: "dropwright check stake"}, {What: "photos"}}, Findings: &outlook.Findings{Errors: 2, Warnings: 1}, Reports: 1},
			{Week: 3, State: schedule.Free, Early: week(3), Public: week(6), Chance: &half},
		},
		Waiting: []outlook.Week{{Design: "spare", State: schedule.Started}},
		Reserve: outlook.Reserve{Weeks: 0, Breaks: week(3), BreaksWeek: 3, Late: []int{2}, ThisWeek: []int{2, 3}},
		Odds: outlook.Odds{Runs: 10000, Basis: "history", Says: "Five designs took 4 to 9 days", Finest: 1, All: &all, ReserveFor90: &ninety,
			Taken: []outlook.Took{{Design: "hook", From: week(0), To: week(1), Days: 7}}},
		Printers: []outlook.Printer{{Name: "bench", HoursPerWeek: 60, Load: []outlook.WeekLoad{{Week: 2, Need: 70, Have: 60, Over: 10}, {Week: 3, Need: 5, Have: 60}}}},
		Queue:    outlook.Queue{Verdict: "impossible", Why: "no order keeps every day", Jobs: []outlook.QueuedJob{{Printer: "bench", Week: 2, Design: "stake", Part: "stake", Prints: 2, For: "trial", Hours: 7.25, Starts: at, Ends: at.Add(8 * time.Hour), Due: week(2), Late: true}}},
		Stock: outlook.Shelf{Kept: true, Needs: []outlook.Need{{Kind: "filament", Item: "clay", Need: 900, Have: 400, Short: 500, ByWeek: 3, By: week(3)}}, Orders: []outlook.Order{{Kind: "filament", Item: "clay", Short: 500, Unit: "g", Packs: 1, Of: 1000, Word: "spool", Price: &price, Cost: &price, By: week(2), Week: 3}}, Cost: 24,
			NoSpool: []outlook.Tight{{Week: 2, Design: "stake", Part: "stake", Filament: "clay", Grams: 480, Fullest: 400}}},
		Ideas:   []outlook.Idea{{Name: "tap", Title: "Tap", Asked: 4, Note: "by mail"}},
		Reports: []outlook.Report{{Design: "stake", ID: "r1", Part: "stake", Revision: "1.0.0", Text: "the tip breaks", At: week(1)}},
		Notes:   []string{"the ledger of rehearsals is left out"},
	}
}

func TestOverview(t *testing.T) {
	s := &Season{Title: "Try <this>", Names: []string{"hook", "spare", "stake"}, Outlook: demoSeason()}
	d := &Desk{Source: &shelf{season: s}}
	got := page(t, d, "index.html", "")
	says(t, got, "Try &lt;this&gt;", "week 2 of 3", "Week 2, stake, was due", "dropwright check stake", "2 errors, 1 warning", "1 open report", "50 %", "93 %", "70.0", "No order keeps every day.", "none", "480 g of clay",
		"1 spool of 1000 g", "24.00 EUR", "the tip breaks", "4 ×", "left out", `href="designs/hook/index.html"`, "Twine &amp; Hook", "weeks 2, 3")
	for _, wrong := range []string{"<this>", "ZgotmplZ", "%!"} {
		if strings.Contains(strings.ReplaceAll(got, "<title>", ""), wrong) {
			t.Errorf("the page holds %q", wrong)
		}
	}
	s.Outlook, s.Told = nil, []finding.Finding{finding.New("key-unknown", finding.Place{File: "series.yaml", Line: 3, Column: 1}, "there is no key zeppelin", "")}
	says(t, page(t, d, "index.html", ""), "cannot be read as meant", `href="designs/hook/index.html"`)
	s.Trouble = []string{"ledger.jsonl:3 is damaged"}
	if got := page(t, d, "index.html", ""); !strings.Contains(got, "ledger.jsonl:3") || strings.Contains(got, "cannot be read as meant") {
		t.Error("a damaged record is not said, or series.yaml is blamed for it")
	}
}

// TestTrouble: a design that is gone, and a failure, leave a page with a way on that still watches.
func TestTrouble(t *testing.T) {
	d := &Desk{Source: &shelf{season: &Season{Title: "Try", Names: []string{"hook"}}}}
	p, err := d.Trouble(t.Context(), "designs/gone/index.html", "run.3", site.ErrNoPage)
	if err != nil {
		t.Fatal(err)
	}
	says(t, string(p.Data), "There is no design gone", `href="../../designs/hook/index.html"`, `data-watch="run.3"`)
	p, err = d.Trouble(t.Context(), "index.html", "", fs.ErrPermission)
	if err != nil {
		t.Fatal(err)
	}
	says(t, string(p.Data), "permission denied")
}

// TestAccent: only a colour gets into the style.
func TestAccent(t *testing.T) {
	for accent, want := range map[string]bool{"#123abc": true, "": false, "red": false, "#12345g": false, "#123456;}body{": false} {
		d := &Desk{Source: &shelf{season: &Season{Accent: accent}}}
		if got := strings.Contains(page(t, d, "desk.css", ""), "--accent: "+accent+";"); got != want && accent != "" {
			t.Errorf("%q: %v", accent, got)
		}
	}
}

// TestPaths: every listed file can be made, every link and picture of a page leads to one of them, and the first page
// comes last.
func TestPaths(t *testing.T) {
	names := []string{"soil-stake", "rain-tipper"}
	s := &shelf{season: &Season{Title: "Try", Names: names, Outlook: demoSeason()}, designs: map[string]*Design{}, boards: []Board{{Key: "pc104", ID: "pc104", Title: "a board", Drawing: func() string { return "<svg/>" }}}}
	for _, n := range names {
		s.designs[n] = measured(t, n)
	}
	d := &Desk{Source: s, Folder: true}
	paths, err := d.Paths(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	out := fstest.MapFS{}
	for _, p := range paths {
		if out[p] != nil {
			t.Errorf("%s is listed twice", p)
		}
		f, err := d.Page(t.Context(), p, "")
		if err != nil {
			t.Fatalf("%s: %v", p, err)
		}
		out[p] = &fstest.MapFile{Data: f.Data}
	}
	if paths[len(paths)-1] != "index.html" {
		t.Error("the first page is not the last to be written")
	}
	links := 0
	for p, f := range out {
		if !strings.HasSuffix(p, ".html") || strings.Contains(p, "/sheet-") {
			continue
		}
		for _, part := range strings.FieldsFunc(string(f.Data), func(r rune) bool { return r == ' ' || r == '>' }) {
			for _, key := range []string{`href="`, `src="`, `data-solid="`} {
				to, ok := strings.CutPrefix(part, key)
				if to, _, _ = strings.Cut(to, `"`); !ok || strings.HasPrefix(to, "#") {
					continue
				}
				links++
				if at := filepath.ToSlash(filepath.Join(filepath.Dir(p), to)); out[at] == nil {
					t.Errorf("%s leads to %s, which is not written", p, at)
				}
			}
		}
	}
	if links < 30 {
		t.Errorf("only %d links found: the walk is broken", links)
	}
	if dir := os.Getenv("DESK_LOOK"); dir != "" { // for looking at the pages
		if err := os.CopyFS(dir, out); err != nil {
			t.Fatal(err)
		}
	}
}
