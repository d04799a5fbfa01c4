package release

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"dropwright/series/disk/crash"
	"dropwright/series/target"
	"dropwright/series/target/blob"
	"dropwright/series/target/storetest"
)

// stores are the places of a world that lie in a store: two buckets with a key each. The process that talks to them
// can be killed at a request.
type stores struct {
	w      *world
	server *storetest.Server // nil in a process of its own
	url    string
	id     int

	requests int  // of all processes of this world
	stop     int  // the process is killed at this request, counted from the last boot; 0 for none
	late     bool // after the request was carried out, before its answer
	down     bool // it was killed
	exit     bool // the kill is real: the process ends
}

var storeIDs atomic.Int64

// storeWorlds makes worlds whose places lie in one store on loopback.
func storeWorlds(t testing.TB) func() *world {
	t.Helper()
	server := storetest.New(t)
	return func() *world {
		w := newWorld()
		w.stores = newStores(w, server)
		w.boot()
		return w
	}
}

func newStores(w *world, server *storetest.Server) *stores {
	s := &stores{w: w, server: server, url: server.URL, id: int(storeIDs.Add(1))}
	for _, name := range []string{"club", "shelf"} {
		server.Bucket(s.bucket(name))
		server.Owner(s.bucket(name), keyOf(name))
	}
	return s
}

// eachPlace runs a test on folders and on a store.
func eachPlace(t *testing.T, test func(t *testing.T, fresh func() *world)) {
	t.Run("folder", func(t *testing.T) { test(t, newWorld) })
	t.Run("store", func(t *testing.T) { test(t, storeWorlds(t)) })
}

func (s *stores) bucket(name string) string { return fmt.Sprintf("%s-%d", name, s.id) }

func keyOf(name string) string { return "AKID" + strings.ToUpper(name) }

// open is a place, as a process opens it.
func (s *stores) open(name string) target.Target {
	b, err := blob.New(target.Store{Bucket: s.bucket(name), Endpoint: s.url, PathStyle: true}, blob.Options{
		Getenv: func(v string) string {
			return map[string]string{"AWS_ACCESS_KEY_ID": keyOf(name), "AWS_SECRET_ACCESS_KEY": "secret-of-" + name}[v]
		},
		Now: s.w.now, Transport: s, Private: name == "club",
		Sleep: func(ctx context.Context, _ time.Duration) error {
			if s.down {
				return crash.ErrDown
			}
			return ctx.Err()
		}})
	if err != nil {
		panic(err)
	}
	return b
}

// stopAt kills the process at its n-th request from now on.
func (s *stores) stopAt(n int, late bool) { s.stop, s.late = n, late }

// wire is what requests of all worlds go through: loopback.
var wire = &http.Transport{DisableCompression: true, MaxIdleConnsPerHost: 16, ResponseHeaderTimeout: 30 * time.Second}

// RoundTrip is http.RoundTripper's.
func (s *stores) RoundTrip(r *http.Request) (*http.Response, error) {
	if s.down {
		return nil, crash.ErrDown
	}
	s.requests++
	if s.stop > 0 {
		if s.stop--; s.stop == 0 {
			s.down = true
			if s.late {
				if answer, err := wire.RoundTrip(r); err == nil {
					_, _ = io.Copy(io.Discard, answer.Body)
					answer.Body.Close()
				}
			}
			if s.exit {
				os.Exit(137)
			}
			s.w.fs.StopAt(s.w.fs.Ops() + 1)
			return nil, crash.ErrDown
		}
	}
	return wire.RoundTrip(r)
}

// tree is every object of both places, named as in a folder.
func (s *stores) tree() map[string]string {
	out := map[string]string{}
	for _, name := range []string{"club", "shelf"} {
		for key, data := range s.server.Tree(s.bucket(name)) {
			out["/place/"+name+"/"+key] = data
		}
	}
	return out
}

// put stores or, with nil, removes an object, as a stranger would.
func (s *stores) put(name string, data []byte) {
	place, key, _ := strings.Cut(strings.TrimPrefix(name, "/place/"), "/")
	s.server.Put(s.bucket(place), key, data)
}

// clone is the same places once more, for another world.
func (s *stores) clone(w *world) *stores {
	c := newStores(w, s.server)
	for name, data := range s.tree() {
		c.put(name, []byte(data))
	}
	return c
}

// placesOf are a world's places without a leading slash, so that a folder's and a store's compare.
func placesOf(w *world) map[string]string {
	out := map[string]string{}
	for name, data := range below(w.tree(), "/place") {
		out[strings.TrimPrefix(name, "/")] = data
	}
	return out
}

// Release test 1 on a store: killed at every operation on the disk and at every request, before the store hears of it
// and after. Both kinds of place hold the same in the end, and nothing was stored twice.
func TestRelease01StoreCrashAtEveryWrite(t *testing.T) {
	fresh := storeWorlds(t)
	want := undisturbed(t, fresh, short)
	if d := differ(placesOf(want), placesOf(undisturbed(t, newWorld, short))); d != "" {
		t.Fatalf("a store holds something else than a folder: %s", d)
	}
	ops, requests := want.fs.Ops(), want.stores.requests
	kill := func(what string, stop func(*world)) {
		w := fresh()
		stop(w)
		stops := 0
		if err := play(w, short, func(w *world) { stops++; w.restart(crash.KeepAll, 0) }); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		if stops != 1 {
			t.Fatalf("%s: stopped %d times", what, stops)
		}
		if d := differ(w.tree(), want.tree()); d != "" {
			t.Fatalf("%s: %s", what, d)
		}
		for name := range w.stores.tree() {
			if place, key, _ := strings.Cut(strings.TrimPrefix(name, "/place/"), "/"); strings.HasPrefix(key, "hook/") {
				if n := w.stores.server.Writes(w.stores.bucket(place) + "/" + key); n != 1 {
					t.Fatalf("%s: %s was stored %d times", what, name, n)
				}
			}
		}
		w.audit(t)
		w.quiet(t)
	}
	tried := 0
	for _, k := range points(ops) {
		kill(fmt.Sprintf("killed at operation %d of %d", k, ops), func(w *world) { w.fs.StopAt(k) })
		tried++
	}
	for _, k := range points(requests) {
		for _, late := range []bool{false, true} {
			kill(fmt.Sprintf("killed at request %d of %d, late %v", k, requests, late), func(w *world) { w.stores.stopAt(k, late) })
			tried++
		}
	}
	t.Logf("killed at %d points of %d operations and %d requests", tried, ops, requests)
}

// Release tests 6 and 7 through a whole release: every single request meets every kind of fault once; the release
// ends as without, or fails with a message and is completed by the next run.
func TestRelease06StoreFaultsAtEveryRequest(t *testing.T) {
	fresh := storeWorlds(t)
	want := undisturbed(t, fresh, short)
	n := want.stores.requests
	faults := map[string]storetest.Fault{
		"cut": storetest.CutAt(0), "cut after a byte": storetest.CutAt(1), "lost answer": {Lost: true}, "cut answer": {CutAnswer: 8}, "500": {Status: 500, Code: "InternalError"},
		"503": {Status: 503, Code: "SlowDown", Header: http.Header{"Retry-After": {"20"}}}, "403": {Status: 403, Code: "AccessDenied"}, "wrong ETag": {ETag: `"0123456789abcdef0123456789abcdef"`},
		"redirect": {Status: 307, Code: "TemporaryRedirect", Header: http.Header{"Location": {"http://localhost:1/"}}},
	}
	runs, failed := 0, 0
	for kind, name := range slices.Sorted(maps.Keys(faults)) {
		f := faults[name]
		for i, k := range points(n) {
			if testing.Short() && !*long && (i+kind)%3 != 0 { // a third of the points for each kind
				continue
			}
			w := fresh()
			base := w.stores.server.Ops()
			hit := false
			w.stores.server.Faults(func(op storetest.Op) storetest.Fault {
				if op.N == base+k {
					hit = true
					return f
				}
				return storetest.Fault{}
			})
			for _, s := range short {
				if err := s(w); err != nil {
					failed++
					if !strings.Contains(err.Error(), "s3://") || strings.Contains(err.Error(), "AKID") || strings.Contains(err.Error(), "secret-of") {
						t.Fatalf("%s at request %d: %v", name, k, err)
					}
					w.boot()
					if err := s(w); err != nil {
						t.Fatalf("%s at request %d, the next run: %v", name, k, err)
					}
				}
			}
			w.stores.server.Faults(nil)
			if !hit {
				t.Fatalf("%s at request %d of %d never came", name, k, n)
			}
			if d := differ(placesOf(w), placesOf(want)); d != "" {
				t.Fatalf("%s at request %d: %s", name, k, d)
			}
			w.audit(t)
			runs++
		}
	}
	if failed == 0 {
		t.Error("no fault was ever told: the test shows nothing")
	}
	t.Logf("%d releases with a fault in one of %d requests; %d runs failed and were completed by the next", runs, n, failed)
}

// The season of twelve weeks into a store: the same places as into folders, and the same when the process is killed
// at fifty random points, on the disk and in the network.
func TestTwelveWeeksInStores(t *testing.T) {
	folders, story := twelveWeeks()
	want := undisturbed(t, folders, story)
	base := storeWorlds(t)
	fresh := func() *world {
		w := folders()
		w.stores = newStores(w, base().stores.server)
		w.boot()
		return w
	}
	whole := undisturbed(t, fresh, story)
	if d := differ(placesOf(whole), placesOf(want)); d != "" {
		t.Fatalf("the store differs from the folders: %s", d)
	}
	whole.audit(t)
	whole.inTime(t)
	random := rand.New(rand.NewPCG(12, 51))
	ops, requests := whole.fs.Ops(), whole.stores.requests
	w := fresh()
	disk, net := 0, 0
	arm := func() {
		if random.IntN(2) == 0 {
			w.fs.StopAt(w.fs.Ops() + 1 + random.IntN(ops/50))
			return
		}
		w.stores.stopAt(1+random.IntN(requests/50), random.IntN(2) == 0)
	}
	arm()
	err := play(w, story, func(w *world) {
		if w.stores.down {
			net++
		} else {
			disk++
		}
		w.restart(crash.KeepAll, 0)
		if disk+net < 50 {
			arm()
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if disk+net != 50 || net < 10 || disk < 10 {
		t.Fatalf("killed %d times on the disk and %d in the network", disk, net)
	}
	if d := differ(w.tree(), whole.tree()); d != "" {
		t.Fatal(d)
	}
	w.audit(t)
	w.quiet(t)
	t.Logf("%d steps, %d operations, %d requests; killed %d times on the disk and %d in the network", len(story), ops, requests, disk, net)
}

// A bucket of paying readers that strangers can read gets nothing but its mark; the public's may be open.
func TestOpenBucket(t *testing.T) {
	w := storeWorlds(t)()
	w.stores.server.Open(w.stores.bucket("club"))
	w.stores.server.Open(w.stores.bucket("shelf"))
	err := w.run()
	var refusal *Refusal
	if !errors.As(err, &refusal) || !strings.Contains(err.Error(), "anybody can read it without a key") || len(w.stores.tree()) != 1 {
		t.Fatalf("%v; %d objects", err, len(w.stores.tree()))
	}
	w = storeWorlds(t)()
	w.stores.server.Open(w.stores.bucket("shelf"))
	if err := play(w, short, nil); err != nil {
		t.Fatal(err)
	}
	if d := differ(placesOf(w), placesOf(undisturbed(t, newWorld, short))); d != "" {
		t.Fatal(d)
	}
}

// What went out is fetched once more to be compared, and not again at each drop, as long as it bears the same mark; a
// lost or damaged memory costs a reading and nothing else.
func TestFetchedOnce(t *testing.T) {
	w := storeWorlds(t)()
	w.settings.Designs = map[int]string{1: "hook", 2: "stake", 3: "tray"}
	zip := "get " + w.stores.bucket("club") + "/hook/1.0.0/hook-1.0.0-early.zip"
	fetched := func() (n int) {
		for _, l := range w.stores.server.Log() {
			if l == zip {
				n++
			}
		}
		return n
	}
	drops := []step{at(earlyDay), at("2027-03-19 17:00"), at("2027-03-26 17:00")}
	for i, want := range []int{1, 2, 2} { // read back when it was written; compared at the next drop; known at the one after
		if err := drops[i](w); err != nil {
			t.Fatal(err)
		}
		if got := fetched(); got != want {
			t.Errorf("after drop %d it was fetched %d times, want %d", i+1, got, want)
		}
	}
	const memory = "/series/store/seen-club.json"
	if w.file(memory) == "" {
		t.Fatal("nothing was kept")
	}
	for i, damage := range []string{"{", `{"objects":null}`, `[]`, `{"objects":{"hook/1.0.0/hook-1.0.0-early.zip":{"mark":"x","sha256":"y"}}}`} {
		w.write(t, memory, damage)
		before := fetched()
		if err := revise("hook", fmt.Sprintf("1.0.%d", i+1), "again")(w); err != nil {
			t.Fatal(err)
		}
		if fetched() != before+1 {
			t.Errorf("with a memory of %s it was fetched %d times more", damage, fetched()-before)
		}
	}
	// Exchanged behind our back: found, memory or not.
	w.stores.put("/place/club/hook/1.0.0/hook-1.0.0-early.zip", []byte("something else"))
	var unsound *Unsound
	if err := revise("hook", "1.1.0", "again")(w); !errors.As(err, &unsound) {
		t.Errorf("an exchanged file: %v", err)
	}
	// A whole audit reads all.
	before := fetched()
	_ = w.with(func(r *Runner) error { _, err := r.Audit(t.Context(), "club"); return err })
	if fetched() != before+1 {
		t.Error("an audit does not read")
	}
}
