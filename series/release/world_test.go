package release

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"dropwright/series/calendar"
	"dropwright/series/disk"
	"dropwright/series/disk/crash"
	"dropwright/series/history"
	"dropwright/series/ledger"
	"dropwright/series/schedule"
	"dropwright/series/target"
	"dropwright/series/target/dir"
)

// long makes the release tests try every point and seed instead of a sample: go test -long.
var long = flag.Bool("long", false, "try every crash point and all seeds")

// world is a season in memory: its files, its designs as the maker has them, its history, its clock.
type world struct {
	fs       *crash.FS
	disk     disk.FS // nil: fs
	root     string  // before every path
	clock    time.Time
	tick     func() time.Time // nil: the clock stands
	settings calendar.Settings
	sources  map[string]source // the designs as they lie there
	kept     map[string]source // "design revision"
	digests  map[string]string // of what is kept
	unclean  []string
	faults   map[string][]Fault
	channels []Channel
	said     []string
	despite  []Word
	pages    func(context.Context, Index) ([]Page, error)
	stores   *stores // nil: places are folders
	onBuild  func(design string)
	onPack   func(design string)
	locked   bool
}

// source is what a design is made from.
type source struct{ revision, text string }

var lisbon = mustZone("Europe/Lisbon")

func mustZone(name string) calendar.Zone {
	z, err := calendar.LoadZone(name)
	if err != nil {
		panic(err)
	}
	return z
}

func date(text string) calendar.Date {
	d, err := calendar.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

func instant(text string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", text)
	if err != nil {
		panic(err)
	}
	return t
}

const (
	earlyDay  = "2027-03-12 17:00" // Lisbon is at UTC until 28 March
	publicDay = "2027-03-26 17:00"
)

// newWorld is a season of a few weeks whose first design is hook.
func newWorld() *world {
	w := &world{
		fs: crash.New(), clock: instant(earlyDay),
		settings: calendar.Settings{First: date("2027-03-12"), Weeks: 6, At: calendar.Clock{Hour: 17}, Zone: lisbon, PublicAfter: 14,
			Designs: map[int]string{1: "hook"}, Overrides: map[string]calendar.Override{}},
		sources: map[string]source{"hook": {"1.0.0", "a hook"}, "stake": {"1.0.0", "a stake"}, "tray": {"1.0.0", "a tray"}},
		kept:    map[string]source{}, digests: map[string]string{}, faults: map[string][]Fault{},
	}
	w.boot()
	return w
}

// boot makes the objects that live in a process.
func (w *world) boot() {
	w.locked = false
	place := func(name string) target.Target { return dir.New(w.files(), "file", w.root+"/place/"+name) }
	if w.stores != nil {
		w.stores.down, w.stores.stop = false, 0
		place = w.stores.open
	}
	w.channels = []Channel{{Name: "club", Audience: "early", Target: place("club")}, {Name: "shelf", Audience: "public", Target: place("shelf")}}
}

// files is the disk that the world lies on.
func (w *world) files() disk.FS {
	if w.disk != nil {
		return w.disk
	}
	return w.fs
}

// restart is the next boot after a stop.
func (w *world) restart(loss crash.Loss, seed uint64) {
	w.fs = w.fs.Restart(loss, seed)
	w.boot()
}

func (w *world) now() time.Time {
	if w.tick != nil {
		return w.tick()
	}
	return w.clock
}

const ledgerPath = "/series/ledger.jsonl"

// open makes a runner; the caller closes its ledger.
func (w *world) open() (*Runner, error) {
	if err := disk.MkdirAll(w.files(), w.root+"/series"); err != nil {
		return nil, err
	}
	l, err := ledger.Open(w.files(), w.root+ledgerPath, ledger.Options{Series: "tools", Now: w.now(), Lock: func(string) (func() error, error) {
		if w.locked {
			return nil, ledger.ErrBusy
		}
		w.locked = true
		return func() error { w.locked = false; return nil }, nil
	}})
	if err != nil {
		return nil, err
	}
	cal, problems := calendar.New(w.settings)
	if len(problems) > 0 {
		return nil, fmt.Errorf("calendar: %v", problems)
	}
	return &Runner{Series: "tools", Ledger: l, Store: OpenStore(w.files(), w.root+"/series/store"), Channels: w.channels, Calendar: cal,
		Has: func(d string) bool { return w.sources[d].revision != "" }, Present: func(d string) string { return w.sources[d].revision },
		Builder: w, Keeper: w, Now: w.now, UID: func() string { return "urn:uuid:0" }, Tool: "test", Go: "go", Despite: w.despite, Pages: w.pages,
		Say: func(format string, args ...any) { w.said = append(w.said, fmt.Sprintf(format, args...)) }}, nil
}

func every(schedule.Action) bool { return true }

// run is one `release --due`.
func (w *world) run() error { return w.runIn(context.Background()) }

func (w *world) runIn(ctx context.Context) error {
	r, err := w.open()
	if err != nil {
		return err
	}
	rep, err := r.Run(ctx, every)
	return errors.Join(err, rep.Err(), r.Ledger.Close())
}

// with opens a runner for another command.
func (w *world) with(do func(*Runner) error) error {
	r, err := w.open()
	if err != nil {
		return err
	}
	return errors.Join(do(r), r.Ledger.Close())
}

// Build is Builder's: bundles are the text of the design between marks, so that a search finds them.
func (w *world) Build(_ context.Context, design string, at fs.FS, _ []Word) (*Built, error) {
	s := w.sources[design]
	if at != nil {
		data, err := fs.ReadFile(at, "source")
		if err != nil {
			return nil, err
		}
		s.revision, s.text, _ = strings.Cut(string(data), "\n")
	}
	if w.onBuild != nil {
		w.onBuild(design)
	}
	b := &Built{Revision: s.revision, Content: s.text, Files: []string{"designs/" + design + "/design.yaml"}, Faults: w.faults[design]}
	for _, kind := range []string{"early", "public"} {
		text := fmt.Sprintf("%s %s %s: %s", design, s.revision, kind, s.text)
		b.Bundles = append(b.Bundles, Bundle{kind, []Item{
			{fmt.Sprintf("%s-%s-%s.zip", design, s.revision, kind), func(_ context.Context, out io.Writer) (string, error) {
				if w.onPack != nil {
					w.onPack(design)
				}
				_, err := io.WriteString(out, strings.Repeat(text+"\n", 20))
				return "", err
			}},
			{AnnouncementName, func(_ context.Context, out io.Writer) (string, error) {
				_, err := io.WriteString(out, "news: "+text)
				return "", err
			}},
		}})
	}
	return b, nil
}

// Content is Builder's.
func (w *world) Content(_ context.Context, design string, _ fs.FS) (string, error) {
	return w.sources[design].text, nil
}

// Revisions is history.Keeper's.
func (w *world) Revisions(design string) ([]string, error) {
	var out []string
	for k := range w.kept {
		if d, r, _ := strings.Cut(k, " "); d == design {
			out = append(out, r)
		}
	}
	return out, nil
}

// At is history.Keeper's.
func (w *world) At(design, revision string) (fs.FS, error) {
	s, ok := w.kept[design+" "+revision]
	if !ok {
		return nil, fs.ErrNotExist
	}
	return fstest.MapFS{"source": {Data: []byte(s.revision + "\n" + s.text)}}, nil
}

// Unclean is history.Keeper's.
func (w *world) Unclean([]string) ([]history.Unclean, error) {
	var out []history.Unclean
	for _, u := range w.unclean {
		out = append(out, history.Unclean{Path: u, Why: "it is not committed"})
	}
	return out, nil
}

// Commit is Committer's.
func (w *world) Commit([]string, string, time.Time) (string, error) {
	w.unclean = nil
	return "0123456789abcdef", nil
}

// Changed is history.Keeper's.
func (w *world) Changed([]string) (map[string]time.Time, error) { return nil, nil }

// Freeze is history.Keeper's.
func (w *world) Freeze(r history.Request) (history.Frozen, error) {
	k := r.Design + " " + r.Revision
	if d, ok := w.digests[k]; ok && d != r.Digest {
		return history.Frozen{}, &history.Taken{Design: r.Design, Revision: r.Revision, Why: "with another digest"}
	}
	if _, ok := w.kept[k]; !ok {
		w.kept[k], w.digests[k] = w.sources[r.Design], r.Digest
	}
	return history.Frozen{Source: r.Design + "/v" + r.Revision, Commit: "0123", Signed: true}, nil
}

// tree is every file without what crashes may leave (locks, torn lines, temporary files) and what a store's own times
// go into.
func (w *world) tree() map[string]string {
	t := w.all()
	maps.DeleteFunc(t, func(name, _ string) bool {
		return strings.HasSuffix(name, ".torn") || disk.IsTemp(path.Base(name)) || strings.HasPrefix(path.Base(name), "seen-")
	})
	return t
}

// all is every file, those at places in the network too.
func (w *world) all() map[string]string {
	t := w.fs.Tree()
	if w.stores != nil {
		maps.Copy(t, w.stores.tree())
	}
	return t
}

// below are the files of a tree under a folder.
func below(t map[string]string, folder string) map[string]string {
	out := map[string]string{}
	for name, data := range t {
		if strings.HasPrefix(strings.TrimPrefix(name, "/"), strings.TrimPrefix(folder, "/")+"/") {
			out[name] = data
		}
	}
	return out
}

// file is the content of one file.
func (w *world) file(name string) string {
	t := w.all()
	if data, ok := t[name]; ok {
		return data
	}
	return t[strings.TrimPrefix(name, "/")]
}

// temps lists leftovers.
func (w *world) temps() []string {
	var out []string
	for name := range w.fs.Tree() {
		if disk.IsTemp(path.Base(name)) {
			out = append(out, name)
		}
	}
	return out
}

// differ tells the first difference of two trees.
func differ(got, want map[string]string) string {
	for _, name := range slices.Sorted(maps.Keys(want)) {
		if g, ok := got[name]; !ok {
			return name + " is missing"
		} else if g != want[name] {
			return fmt.Sprintf("%s differs:\n%s\nwant\n%s", name, g, want[name])
		}
	}
	for _, name := range slices.Sorted(maps.Keys(got)) {
		if _, ok := want[name]; !ok {
			return name + " is too many"
		}
	}
	return ""
}

// step is one thing that happens in a story.
type step func(*world) error

// at moves the clock and releases what is due.
func at(clock string) step {
	return func(w *world) error {
		w.clock = instant(clock)
		return w.run()
	}
}

// play carries a story out; after a stop each step is begun again on the next boot.
func play(w *world, story []step, onStop func(*world)) error {
	for i, s := range story {
		for try := 0; ; try++ {
			err := s(w)
			if err == nil {
				break
			}
			if !errors.Is(err, crash.ErrDown) || try > 50 {
				return fmt.Errorf("step %d: %w", i, err)
			}
			onStop(w)
		}
	}
	return nil
}

// short is the story of one design: early drop, nothing due, public drop.
var short = []step{at(earlyDay), at("2027-03-20 12:00"), at(publicDay)}

// undisturbed plays a story without faults and gives its world.
func undisturbed(t testing.TB, fresh func() *world, story []step) *world {
	t.Helper()
	w := fresh()
	if err := play(w, story, func(*world) { t.Fatal("stopped") }); err != nil {
		t.Fatal(err)
	}
	return w
}

// audit reads every place with the ledger beside it.
func (w *world) audit(t testing.TB) {
	t.Helper()
	err := w.with(func(r *Runner) error {
		for _, c := range w.channels {
			problems, err := r.Audit(context.Background(), c.Name)
			if err != nil {
				return err
			}
			if len(problems) > 0 {
				return &Unsound{Problems: problems}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// quiet makes sure that a further run changes nothing.
func (w *world) quiet(t testing.TB) {
	t.Helper()
	before := w.tree()
	if err := w.run(); err != nil {
		t.Fatal(err)
	}
	if d := differ(w.tree(), before); d != "" {
		t.Fatalf("a further run changed something: %s", d)
	}
}
