// Package targettest is the conformance suite that every implementation of target.Target passes. It is
// imported by tests only.
package targettest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"sync"
	"testing"

	"dropwright/series/target"
)

// Run tests an implementation. fresh makes a new empty target for each part of the suite.
func Run(t *testing.T, fresh func(t *testing.T) target.Target) {
	for _, part := range []struct {
		name string
		test func(*testing.T, target.Target)
	}{
		{"CreateAndRead", createAndRead},
		{"CreateIsIdempotent", createIsIdempotent},
		{"CreateNeverOverwrites", createNeverOverwrites},
		{"ContentIsChecked", contentIsChecked},
		{"SourceFails", sourceFails},
		{"Replace", replace},
		{"Missing", missing},
		{"BadNames", badNames},
		{"Cancelled", cancelled},
		{"ManyWriters", manyWriters},
		{"Marker", marker},
		{"Large", large},
	} {
		t.Run(part.name, func(t *testing.T) { part.test(t, fresh(t)) })
	}
}

var ctx = context.Background()

func text(s string) target.Content { return target.Text([]byte(s)) }

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func holds(t *testing.T, at target.Target, name, want string) {
	t.Helper()
	got, err := target.Read(ctx, at, name, 1<<24)
	if err != nil || string(got) != want {
		t.Errorf("%q holds %.40q, %v, want %.40q", name, got, err, want)
	}
	info, err := at.Stat(ctx, name)
	if err != nil || info.Name != name || info.Bytes != int64(len(want)) {
		t.Errorf("%q: %+v, %v, want %d bytes", name, info, err, len(want))
	}
}

func lists(t *testing.T, at target.Target, want ...string) {
	t.Helper()
	objects, err := at.List(ctx)
	must(t, err)
	var got []string
	for _, o := range objects {
		got = append(got, o.Name)
	}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("it lists %v, want %v", got, want)
	}
}

func createAndRead(t *testing.T, at target.Target) {
	lists(t, at)
	must(t, at.Create(ctx, "b/two.txt", text("two")))
	must(t, at.Create(ctx, "a.txt", text("one")))
	must(t, at.Create(ctx, "b/deep/er/three.zip", text("")))
	lists(t, at, "a.txt", "b/deep/er/three.zip", "b/two.txt")
	holds(t, at, "a.txt", "one")
	holds(t, at, "b/two.txt", "two")
	holds(t, at, "b/deep/er/three.zip", "")
	if at.String() == "" {
		t.Error("the target has no name")
	}
}

func createIsIdempotent(t *testing.T, at target.Target) {
	for range 3 {
		must(t, at.Create(ctx, "a", text("same")))
	}
	lists(t, at, "a")
}

func createNeverOverwrites(t *testing.T, at target.Target) {
	must(t, at.Create(ctx, "a", text("first")))
	for _, other := range []string{"other", "first and longer", ""} {
		var conflict *target.Conflict
		err := at.Create(ctx, "a", text(other))
		if !errors.As(err, &conflict) || conflict.Name != "a" || conflict.Target != at.String() {
			t.Errorf("other bytes under the same name: %v", err)
		}
		holds(t, at, "a", "first")
	}
	lists(t, at, "a")
	if ok, err := target.Holds(ctx, at, "a", text("first")); !ok || err != nil {
		t.Errorf("Holds: %v, %v", ok, err)
	}
	if ok, err := target.Holds(ctx, at, "b", text("first")); ok || err != nil {
		t.Errorf("Holds of a missing object: %v, %v", ok, err)
	}
	if _, err := target.Holds(ctx, at, "a", text("fiRst")); err == nil {
		t.Error("Holds takes other bytes for the same")
	}
}

func contentIsChecked(t *testing.T, at target.Target) {
	for name, c := range map[string]target.Content{
		"shorter": {Bytes: 9, SHA256: text("short").SHA256, Open: text("short").Open},
		"longer":  {Bytes: 2, SHA256: text("lo").SHA256, Open: text("longer").Open},
		"other":   {Bytes: 5, SHA256: text("wanted"[:5]).SHA256, Open: text("other").Open},
		"endless": {Bytes: 5, SHA256: text("zzzzz").SHA256, Open: func() (io.ReadCloser, error) { return io.NopCloser(endless{}), nil }},
	} {
		var changed *target.Changed
		if err := at.Create(ctx, name, c); !errors.As(err, &changed) {
			t.Errorf("%s: %v", name, err)
		}
	}
	lists(t, at)
}

type endless struct{}

func (endless) Read(p []byte) (int, error) { return copy(p, bytes.Repeat([]byte("z"), len(p))), nil }

func sourceFails(t *testing.T, at target.Target) {
	broken := errors.New("the source broke")
	c := text("0123456789")
	c.Open = func() (io.ReadCloser, error) {
		return io.NopCloser(io.MultiReader(strings.NewReader("01234"), failing{broken})), nil
	}
	if err := at.Create(ctx, "a", c); !errors.Is(err, broken) {
		t.Errorf("breaking in the middle: %v", err)
	}
	c.Open = func() (io.ReadCloser, error) { return nil, broken }
	if err := at.Create(ctx, "a", c); !errors.Is(err, broken) {
		t.Errorf("not opening: %v", err)
	}
	lists(t, at)
	must(t, at.Create(ctx, "a", text("0123456789")))
	holds(t, at, "a", "0123456789")
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

func replace(t *testing.T, at target.Target) {
	must(t, at.Replace(ctx, "index/release.json", []byte("one")))
	holds(t, at, "index/release.json", "one")
	must(t, at.Replace(ctx, "index/release.json", []byte("two, longer")))
	must(t, at.Replace(ctx, "index/release.json", []byte("3")))
	holds(t, at, "index/release.json", "3")
	lists(t, at, "index/release.json")
}

func missing(t *testing.T, at target.Target) {
	if _, err := at.Stat(ctx, "nothing"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("Stat: %v", err)
	}
	if _, err := at.Open(ctx, "a/b/nothing"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("Open: %v", err)
	}
	must(t, at.Sweep(ctx))
}

func badNames(t *testing.T, at target.Target) {
	for _, name := range []string{"", "/a", "a/", "../a", "a/../b", "a//b", `a\b`, ".hidden", "a/.dropwright-tmp-1", "-rf", "a b", "ä", "a:b", "a\x00b", "end.", strings.Repeat("x", 201)} {
		if err := at.Create(ctx, name, text("x")); err == nil {
			t.Errorf("Create takes the name %q", name)
		}
		if err := at.Replace(ctx, name, nil); err == nil {
			t.Errorf("Replace takes the name %q", name)
		}
		if _, err := at.Open(ctx, name); err == nil {
			t.Errorf("Open takes the name %q", name)
		}
	}
	lists(t, at)
}

func cancelled(t *testing.T, at target.Target) {
	stopped, stop := context.WithCancel(ctx)
	c := text("0123456789")
	c.Open = func() (io.ReadCloser, error) { stop(); return text("0123456789").Open() }
	if err := at.Create(stopped, "a", c); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled in the middle: %v", err)
	}
	if err := at.Create(stopped, "a", text("x")); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled before: %v", err)
	}
	if err := at.Replace(stopped, "a", nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled before: %v", err)
	}
	lists(t, at)
}

// manyWriters has twenty writers with twenty contents and no lock.
func manyWriters(t *testing.T, at target.Target) {
	var wg sync.WaitGroup
	results := make([]error, 20)
	content := func(i int) string { return strings.Repeat(fmt.Sprint(i%10), 10000+i) }
	for i := range results {
		wg.Go(func() { results[i] = at.Create(ctx, "the/one", text(content(i))) })
	}
	wg.Wait()
	winner := -1
	for i, err := range results {
		var conflict *target.Conflict
		switch {
		case err == nil && winner >= 0:
			t.Errorf("writers %d and %d both won", winner, i)
		case err == nil:
			winner = i
		case !errors.As(err, &conflict):
			t.Errorf("writer %d: %v", i, err)
		}
	}
	if winner < 0 {
		t.Fatal("no writer won")
	}
	holds(t, at, "the/one", content(winner))
	must(t, at.Sweep(ctx))
	lists(t, at, "the/one")
	// And with one content, all succeed.
	for i := range results {
		wg.Go(func() { results[i] = at.Create(ctx, "the/other", text("same")) })
	}
	wg.Wait()
	for i, err := range results {
		if err != nil {
			t.Errorf("writer %d of the same bytes: %v", i, err)
		}
	}
}

func marker(t *testing.T, at target.Target) {
	ours := target.Marker{Series: "s", Audience: "public"}
	if claimed, err := target.Check(ctx, at, ours); claimed || err != nil {
		t.Errorf("an empty target: %v, %v", claimed, err)
	}
	lists(t, at)
	for range 2 {
		must(t, target.Claim(ctx, at, ours))
	}
	lists(t, at, target.MarkerName)
	if claimed, err := target.Check(ctx, at, ours); !claimed || err != nil {
		t.Errorf("a claimed target: %v, %v", claimed, err)
	}
	for _, other := range []target.Marker{{Series: "s", Audience: "early"}, {Series: "z", Audience: "public"}, {Series: "s", Audience: "public", Rehearsal: true}, {}} {
		var stranger *target.Stranger
		if err := target.Claim(ctx, at, other); !errors.As(err, &stranger) {
			t.Errorf("%+v: %v", other, err)
		}
	}
	must(t, at.Replace(ctx, target.MarkerName, []byte(`{"format":2,"series":"s","audience":"public","rehearsal":false}`)))
	var stranger *target.Stranger
	if err := target.Claim(ctx, at, ours); !errors.As(err, &stranger) {
		t.Errorf("a newer marker: %v", err)
	}
}

func large(t *testing.T, at target.Target) {
	data := strings.Repeat("0123456789abcdef", 3<<20/16)
	must(t, at.Create(ctx, "large.zip", text(data)))
	holds(t, at, "large.zip", data)
	if _, err := target.Read(ctx, at, "large.zip", 1000); err == nil {
		t.Error("Read passes over its limit")
	}
}
