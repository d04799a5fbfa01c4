package blob

import (
	"context"
	"errors"
	"fmt"
	"log"
	"net/http"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"dropwright/series/target"
	"dropwright/series/target/storetest"
)

func TestMain(m *testing.M) {
	log.SetOutput(discarding{}) // the uploader prints what it also returns
	os.Exit(m.Run())
}

type discarding struct{}

func (discarding) Write(p []byte) (int, error) { return len(p), nil }

// once gives a fault to the first n requests of a kind for something else than the marker.
func once(n int, kind string, f storetest.Fault) (func(storetest.Op) storetest.Fault, *int) {
	hits := 0
	return func(op storetest.Op) storetest.Fault {
		if op.Kind == kind && hits < n && !strings.HasSuffix(op.Key, target.MarkerName) {
			hits++
			return f
		}
		return storetest.Fault{}
	}, &hits
}

func body(size int) target.Content {
	return target.Text([]byte(strings.Repeat("0123456789abcdef", size/16+1)[:size]))
}

// Release test 6: the network is cut at every stage of every kind of request, once and twice. Each time the object
// is there in the end, whole, and was stored once; the waits are bounded and on the clock that was handed in.
func TestRelease06NetworkCut(t *testing.T) {
	const small, large = 100_000, wholeSize + 3<<20
	runs := 0
	for _, c := range []struct {
		kind  string
		size  int
		fault storetest.Fault
	}{
		{"put", small, storetest.CutAt(0)}, {"put", small, storetest.CutAt(1)}, {"put", small, storetest.CutAt(small / 2)}, {"put", small, storetest.CutAt(small - 1)},
		{"put", small, storetest.CutAt(small)}, {"put", small, storetest.Fault{Lost: true}}, {"put", small, storetest.Fault{CutAnswer: 1}},
		{"head", small, storetest.CutAt(0)}, {"head", small, storetest.Fault{Lost: true}},
		{"get", small, storetest.CutAt(0)}, {"get", small, storetest.Fault{Lost: true}}, {"get", small, storetest.Fault{CutAnswer: 1}}, {"get", small, storetest.Fault{CutAnswer: 2}},
		{"get", small, storetest.Fault{CutAnswer: small / 2}}, {"get", small, storetest.Fault{CutAnswer: small}},
		{"begin", large, storetest.CutAt(0)}, {"begin", large, storetest.Fault{Lost: true}}, {"begin", large, storetest.Fault{CutAnswer: 20}},
		{"part", large, storetest.CutAt(0)}, {"part", large, storetest.CutAt(1)}, {"part", large, storetest.CutAt(partSize / 2)}, {"part", large, storetest.CutAt(3<<20 - 1)}, {"part", large, storetest.Fault{Lost: true}},
		{"complete", large, storetest.CutAt(0)}, {"complete", large, storetest.CutAt(10)}, {"complete", large, storetest.Fault{Lost: true}}, {"complete", large, storetest.Fault{CutAnswer: 30}},
		{"get", large, storetest.Fault{CutAnswer: large / 2}},
	} {
		for _, times := range []int{1, 2} {
			if times == 2 && c.size == large && testing.Short() {
				continue
			}
			name := fmt.Sprintf("%s %+v × %d", c.kind, c.fault, times)
			s := storetest.New(t, "drops")
			b, w := at(t, s, "drops", patient)
			faults, hits := once(times, c.kind, c.fault)
			s.Faults(faults)
			if err := b.Create(t.Context(), "a.zip", body(c.size)); err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			want := times
			if (c.kind == "put" || c.kind == "complete") && (c.fault.Lost || c.fault.CutAnswer > 0) {
				want = 1 // what was done and not heard of is found by looking
			}
			if *hits != want {
				t.Errorf("%s: the fault came %d times: the test shows nothing", name, *hits)
			}
			if s.Tree("drops")["a.zip"] != text(t, body(c.size)) {
				t.Errorf("%s: something else is there", name)
			}
			if n := s.Writes("drops/a.zip"); n != 1 {
				t.Errorf("%s: it was stored %d times", name, n)
			}
			if w.total() > time.Minute || len(w.all) > 2*attempts {
				t.Errorf("%s: it waited %v", name, w.all)
			}
			s.Faults(nil)
			if err := b.Sweep(t.Context()); err != nil || s.Uploads("drops") != 0 {
				t.Errorf("%s: after sweeping %d uploads are left: %v", name, s.Uploads("drops"), err)
			}
			runs++
		}
	}
	t.Logf("%d uploads with a cut", runs)
}

func patient(o *Options) { o.Silence = 20 * time.Second }

func text(t testing.TB, c target.Content) string {
	t.Helper()
	var out strings.Builder
	if err := c.Copy(t.Context(), &out); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// Release test 7: what a store may answer. For a while: it is tried again and done. For ever: it ends, after a
// bounded number of attempts, with a message that names place and object, and holds no key.
func TestRelease07Answers(t *testing.T) {
	const size = 5000
	retry := http.Header{"Retry-After": {"7"}}
	for _, c := range []struct {
		name  string
		fault storetest.Fault
		mends bool   // another attempt helps
		says  string // of the failure
		waits time.Duration
	}{
		{"500", storetest.Fault{Status: 500, Code: "InternalError"}, true, "status 500", 15 * time.Second},
		{"502", storetest.Fault{Status: 502}, true, "status 502", 15 * time.Second},
		{"503", storetest.Fault{Status: 503, Code: "SlowDown"}, true, "status 503", 15 * time.Second},
		{"503, later", storetest.Fault{Status: 503, Code: "SlowDown", Header: retry}, true, "status 503", 29 * time.Second},
		{"429", storetest.Fault{Status: 429, Header: retry}, true, "status 429", 29 * time.Second},
		{"429, much later", storetest.Fault{Status: 429, Header: http.Header{"Retry-After": {"3600"}}}, false, "left alone for 1h0m0s", 0},
		{"409", storetest.Fault{Status: 409, Code: "ConditionalRequestConflict"}, true, "status 409", 15 * time.Second},
		{"400", storetest.Fault{Status: 400, Code: "InvalidRequest"}, false, "status 400", 0},
		{"403", storetest.Fault{Status: 403, Code: "AccessDenied"}, false, "the store refuses the key of the environment", 0},
		{"no bucket", storetest.Fault{Status: 404, Code: "NoSuchBucket"}, false, "no such bucket", 0},
		{"silence", storetest.Fault{Silent: true}, true, "", 15 * time.Second},
	} {
		for _, kind := range []string{"put", "get", "head"} {
			if c.name == "no bucket" && kind == "head" {
				continue // a HEAD has no body to say it in
			}
			for _, forever := range []bool{false, true} {
				name := fmt.Sprintf("%s to %s, for ever %v", c.name, kind, forever)
				times := 2
				if forever {
					times = 1000
				}
				s := storetest.New(t, "drops")
				b, w := at(t, s, "drops")
				faults, _ := once(times, kind, c.fault)
				s.Faults(faults)
				began := time.Now()
				err := b.Create(t.Context(), "hook/1.0.0/a.zip", body(size))
				if time.Since(began) > 20*time.Second {
					t.Errorf("%s: it took %s", name, time.Since(began))
				}
				if kind == "get" && c.name == "no bucket" && !forever && err != nil {
					continue // found out by reading back
				}
				switch {
				case c.mends && !forever:
					if err != nil {
						t.Errorf("%s: %v", name, err)
					}
					if n := s.Writes("drops/hook/1.0.0/a.zip"); n != 1 {
						t.Errorf("%s: stored %d times", name, n)
					}
					continue
				case err == nil:
					t.Errorf("%s: it counts as done", name)
					continue
				}
				if kind != "head" && !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "s3://drops") || !strings.Contains(err.Error(), "hook/1.0.0/a.zip") {
					t.Errorf("%s: %v", name, err)
				}
				if strings.Contains(err.Error(), exampleKey) || strings.Contains(err.Error(), exampleSecret) {
					t.Errorf("%s: the message holds a key: %v", name, err)
				}
				if n := len(w.all); n >= 2*attempts || w.total() > c.waits {
					t.Errorf("%s: it waited %v", name, w.all)
				}
				// The next run completes it.
				s.Faults(nil)
				if err := b.Create(t.Context(), "hook/1.0.0/a.zip", body(size)); err != nil || s.Writes("drops/hook/1.0.0/a.zip") != 1 {
					t.Errorf("%s: the next run: %v, stored %d times", name, err, s.Writes("drops/hook/1.0.0/a.zip"))
				}
			}
		}
	}
}

// Answers that lie or stop, for a while and for ever.
func TestRelease07Bodies(t *testing.T) {
	const size = 200_000
	// A store that names another ETag is believed for nothing: the bytes are right.
	s := storetest.New(t, "drops")
	b, _ := at(t, s, "drops")
	s.Faults(func(op storetest.Op) storetest.Fault {
		if op.Kind == "put" {
			return storetest.Fault{ETag: `"d41d8cd98f00b204e9800998ecf8427e"`}
		}
		return storetest.Fault{}
	})
	if err := b.Create(t.Context(), "a", body(size)); err != nil || s.Writes("drops/a") != 1 {
		t.Errorf("a wrong ETag: %v", err)
	}
	// A store that keeps other bytes is found out by reading back, and is not tried again.
	s = storetest.New(t, "drops")
	b, _ = at(t, s, "drops")
	s.Faults(func(op storetest.Op) storetest.Fault { return storetest.Fault{Spoil: op.Kind == "put"} })
	var damaged *Damaged
	if err := b.Create(t.Context(), "a", body(size)); !errors.As(err, &damaged) || damaged.Name != "a" {
		t.Errorf("other bytes: %v", err)
	}
	var conflict *target.Conflict
	if err := b.Create(t.Context(), "a", body(size)); !errors.As(err, &conflict) {
		t.Errorf("other bytes, the next run: %v", err)
	}
	if err := b.Replace(t.Context(), "index.html", []byte("a page")); !errors.As(err, &damaged) {
		t.Errorf("other bytes of a page: %v", err)
	}
	// Answers to a read that are short by their own word, stop, or drip.
	for name, f := range map[string]storetest.Fault{"short": {Short: true}, "silent in the middle": {SilentBody: true}, "dripping": {Drip: 50 * time.Millisecond}} {
		s := storetest.New(t, "drops")
		b, w := at(t, s, "drops")
		faults, hits := once(1, "get", f)
		s.Faults(faults)
		err := b.Create(t.Context(), "a", body(size))
		if name == "short" {
			if !errors.As(err, &damaged) { // by its own word it is the whole object
				t.Errorf("%s: %v", name, err)
			}
			err = b.Create(t.Context(), "a", body(size)) // the next run reads it again
		}
		if err != nil || *hits != 1 || s.Writes("drops/a") != 1 || w.total() > 5*time.Second {
			t.Errorf("%s: %v; %d faults, stored %d times, waited %v", name, err, *hits, s.Writes("drops/a"), w.all)
		}
	}
	// For ever.
	s = storetest.New(t, "drops")
	b, w := at(t, s, "drops", func(o *Options) { o.Silence = 100 * time.Millisecond })
	s.Faults(func(op storetest.Op) storetest.Fault { return storetest.Fault{SilentBody: op.Kind == "get"} })
	if err := b.Create(t.Context(), "a", body(50)); err == nil || w.total() > time.Minute {
		t.Errorf("silent for ever: %v, waited %v", err, w.all)
	}
}

// A redirect, to the same machine or another, is never followed: the other host sees no request.
func TestRelease07Redirect(t *testing.T) {
	for _, status := range []int{301, 302, 303, 307, 308} {
		other := storetest.New(t, "drops")
		s := storetest.New(t, "drops")
		b, _ := at(t, s, "drops")
		s.Faults(func(op storetest.Op) storetest.Fault {
			return storetest.Fault{Status: status, Code: "TemporaryRedirect", Header: http.Header{"Location": {strings.Replace(other.URL, "127.0.0.1", "localhost", 1) + "/" + op.Key}}}
		})
		ctx := t.Context()
		_, statErr := b.Stat(ctx, "a")
		_, openErr := b.Open(ctx, "a")
		_, listErr := b.List(ctx)
		for doing, err := range map[string]error{"create": b.Create(ctx, "a", body(10)), "replace": b.Replace(ctx, "a", nil), "stat": statErr, "open": openErr, "list": listErr, "sweep": b.Sweep(ctx)} {
			var f *Failure
			if !errors.As(err, &f) || f.Status != status || !strings.Contains(err.Error(), "localhost:") || !strings.Contains(err.Error(), "keys are not carried there") {
				t.Errorf("%s, %d: %v", doing, status, err)
			}
		}
		if n := other.Ops(); n != 0 {
			t.Errorf("%d: the other host got %d requests", status, n)
		}
	}
}

// Stores that do not know conditional writes, or say they do and overwrite, are refused before anything is sent;
// look-first is the way forward.
func TestUnconditionalStores(t *testing.T) {
	for name, f := range map[string]storetest.Fault{"501": {Status: 501, Code: "NotImplemented"}, "ignored": {Unconditional: true}} {
		s := storetest.New(t, "drops")
		s.Faults(func(op storetest.Op) storetest.Fault {
			if op.Kind == "put" {
				return f
			}
			return storetest.Fault{}
		})
		b, _ := at(t, s, "drops")
		// The marker's first writing cannot tell a store that ignores the condition; the next writing does.
		err := target.Claim(t.Context(), b, target.Marker{Series: "s", Audience: "public"})
		var refused *Unconditional
		if name == "501" {
			if !errors.As(err, &refused) || len(s.Tree("drops")) > 0 {
				t.Errorf("%s: %v", name, err)
			}
		} else if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if err := b.Create(t.Context(), "a", body(10)); !errors.As(err, &refused) || !strings.Contains(refused.Hint(), "create=look-first") || s.Writes("drops/a") > 0 {
			t.Errorf("%s: %v, stored %d times", name, err, s.Writes("drops/a"))
		}
		s = storetest.New(t, "drops")
		s.Faults(func(op storetest.Op) storetest.Fault { return storetest.Fault{Unconditional: op.Kind == "put"} })
		b, _ = at(t, s, "drops?create=look-first")
		for range 2 {
			if err := b.Create(t.Context(), "a", body(10)); err != nil || s.Writes("drops/a") != 1 {
				t.Errorf("look-first: %v, stored %d times", err, s.Writes("drops/a"))
			}
		}
		var conflict *target.Conflict
		if err := b.Create(t.Context(), "a", body(11)); !errors.As(err, &conflict) {
			t.Errorf("look-first, other bytes: %v", err)
		}
	}
}

// A store that says an object is not there although it was just written, as some do for a while.
func TestSlowToShow(t *testing.T) {
	s := storetest.New(t, "drops")
	b, w := at(t, s, "drops")
	hidden := 0
	s.Faults(func(op storetest.Op) storetest.Fault {
		if op.Kind == "get" && hidden < 2 {
			hidden++
			return storetest.Fault{Status: 404, Code: "NoSuchKey"}
		}
		return storetest.Fault{}
	})
	if err := b.Create(t.Context(), "a", body(10)); err != nil || s.Writes("drops/a") != 1 || w.total() > time.Minute {
		t.Errorf("%v, stored %d times, waited %v", err, s.Writes("drops/a"), w.all)
	}
}

// Left-overs of an upload that was killed are removed, those of others are not touched.
func TestSweep(t *testing.T) {
	s := storetest.New(t, "drops")
	b, _ := at(t, s, "drops/mine", patient)
	stranger, _ := at(t, s, "drops/theirs", patient)
	// Killed: the parts were sent, and neither completion nor removal came through.
	s.Faults(func(op storetest.Op) storetest.Fault {
		if op.Kind == "complete" || op.Kind == "abort" {
			return storetest.CutAt(0)
		}
		return storetest.Fault{}
	})
	for _, x := range []*Target{b, stranger} {
		if err := x.Create(t.Context(), "big.zip", body(wholeSize+1)); err == nil {
			t.Error("it counts as done")
		}
	}
	if n := s.Uploads("drops"); n != 2*attempts {
		t.Fatalf("%d uploads are left over", n)
	}
	s.Faults(nil)
	if err := b.Sweep(t.Context()); err != nil || s.Uploads("drops") != attempts {
		t.Errorf("%v, %d uploads are left", err, s.Uploads("drops"))
	}
	// A key that may not list them leaves them to the store's rules.
	s.Faults(func(op storetest.Op) storetest.Fault {
		if op.Kind == "uploads" {
			return storetest.Fault{Status: 403, Code: "AccessDenied"}
		}
		return storetest.Fault{}
	})
	if err := stranger.Sweep(t.Context()); err != nil {
		t.Error(err)
	}
}

// An interruption ends a wait at once.
func TestInterrupted(t *testing.T) {
	s := storetest.New(t, "drops")
	ctx, stop := context.WithCancel(t.Context())
	b, _ := at(t, s, "drops", func(o *Options) {
		o.Sleep = func(ctx context.Context, _ time.Duration) error { stop(); <-ctx.Done(); return ctx.Err() }
	})
	s.Faults(func(storetest.Op) storetest.Fault { return storetest.Fault{Status: 503} })
	if err := b.Create(ctx, "a", body(10)); !errors.Is(err, context.Canceled) || s.Ops() > 2 {
		t.Errorf("%v after %d requests", err, s.Ops())
	}
}

// A stranger's answer may hold our key: it does not get into a message.
func TestMessagesAreClean(t *testing.T) {
	s := storetest.New(t, "drops")
	b, _ := at(t, s, "drops")
	s.Faults(func(storetest.Op) storetest.Fault {
		return storetest.Fault{Status: 400, Code: "No" + exampleSecret + "\x1b[31m" + exampleKey + strings.Repeat("x", 5000)}
	})
	err := b.Create(t.Context(), "a", body(10))
	if err == nil || strings.Contains(err.Error(), exampleSecret) || strings.Contains(err.Error(), exampleKey) || strings.ContainsRune(err.Error(), 0x1b) || len(err.Error()) > 500 {
		t.Errorf("%v", err)
	}
	text := fmt.Sprintf("%v %+v %#v %s", b.keys, b.keys, b.keys, b)
	if strings.Contains(text, exampleKey) || strings.Contains(text, exampleSecret) {
		t.Errorf("keys print as %s", text)
	}
}

// Nothing listens, and no name is known: a clear end, without the clock of the machine.
func TestNobodyThere(t *testing.T) {
	store, err := target.ParseStore("s3://drops?endpoint=http://127.0.0.1:1")
	if err != nil {
		t.Fatal(err)
	}
	w := &waits{}
	b, err := New(store, Options{Getenv: environment, Sleep: w.sleep})
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	wg.Go(func() {
		if _, err := b.List(t.Context()); err == nil || !strings.Contains(err.Error(), "refused") || w.total() != 15*time.Second {
			t.Errorf("%v, waited %v", err, w.all)
		}
	})
	wg.Wait()
}
