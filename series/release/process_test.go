package release

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"

	"dropwright/series/disk"
)

// counting is the machine's own file system; operation stop never happens, because the process ends there as
// a killed one does.
type counting struct {
	disk.FS
	n    *atomic.Int64
	stop int64
}

func (c counting) step() {
	if c.n.Add(1) == c.stop {
		os.Exit(137)
	}
}

func (c counting) OpenFile(name string, flag int, perm fs.FileMode) (disk.File, error) {
	c.step()
	f, err := c.FS.OpenFile(name, flag, perm)
	if err != nil {
		return nil, err
	}
	return countingFile{f, c}, nil
}
func (c counting) Mkdir(name string, perm fs.FileMode) error  { c.step(); return c.FS.Mkdir(name, perm) }
func (c counting) Rename(from, to string) error               { c.step(); return c.FS.Rename(from, to) }
func (c counting) Link(from, to string) error                 { c.step(); return c.FS.Link(from, to) }
func (c counting) Remove(name string) error                   { c.step(); return c.FS.Remove(name) }
func (c counting) ReadDir(name string) ([]fs.DirEntry, error) { c.step(); return c.FS.ReadDir(name) }
func (c counting) SyncDir(name string) error                  { c.step(); return c.FS.SyncDir(name) }

type countingFile struct {
	disk.File
	c counting
}

func (f countingFile) Write(p []byte) (int, error) {
	f.c.step()
	return f.File.Write(p)
}
func (f countingFile) Sync() error { f.c.step(); return f.File.Sync() }

// TestChild is not a test: it is what the processes below run. It releases the short story in a folder of
// the real disk, and says how many operations that took.
func TestChild(t *testing.T) {
	root := os.Getenv("RELEASE_CHILD")
	if root == "" {
		t.Skip("run by other tests")
	}
	stop, _ := strconv.ParseInt(os.Getenv("RELEASE_STOP"), 10, 64)
	w := newWorld()
	count := &atomic.Int64{}
	w.disk, w.root = counting{disk.OS(), count, stop}, root
	if url := os.Getenv("RELEASE_STORE"); url != "" { // the places lie in a store of the parent's
		w.stores = &stores{w: w, url: url, exit: true}
		w.stores.id, _ = strconv.Atoi(os.Getenv("RELEASE_STORE_ID"))
	}
	w.boot()
	if k, _ := strconv.Atoi(os.Getenv("RELEASE_STOP_REQUEST")); k > 0 {
		w.stores.stopAt(k, os.Getenv("RELEASE_LATE") != "")
	}
	err := play(w, short, func(*world) {})
	if os.Getenv("RELEASE_FULL") != "" && errors.Is(err, syscall.ENOSPC) {
		fmt.Fprintln(os.Stderr, "FULL")
		err = nil
	}
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(os.Stderr, "OPERATIONS %d\n", count.Load())
	if w.stores != nil {
		fmt.Fprintf(os.Stderr, "REQUESTS %d\n", w.stores.requests)
	}
}

// child runs TestChild in a process of its own.
func child(t *testing.T, root string, stop int, env ...string) (status int, out string) {
	t.Helper()
	c := exec.Command(os.Args[0], "-test.run", "^TestChild$")
	c.Env = append(os.Environ(), append(env, "RELEASE_CHILD="+root, fmt.Sprint("RELEASE_STOP=", stop))...)
	text, err := c.CombinedOutput()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return c.ProcessState.ExitCode(), string(text)
}

// realTree reads a folder of the real disk.
func realTree(t *testing.T, root string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(root, func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || disk.IsTemp(e.Name()) || strings.HasSuffix(p, ".torn") {
			return err
		}
		data, err := os.ReadFile(p)
		rel, _ := filepath.Rel(root, p)
		out[filepath.ToSlash(rel)] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestRelease01ProcessKilled is the first test with real processes on the real disk: killed at an operation,
// the next process completes the story.
func TestRelease01ProcessKilled(t *testing.T) {
	whole := t.TempDir()
	status, text := child(t, whole, 0)
	if status != 0 {
		t.Fatal(text)
	}
	var n int
	if _, err := fmt.Sscanf(text[strings.Index(text, "OPERATIONS"):], "OPERATIONS %d", &n); err != nil || n < 100 {
		t.Fatalf("%d operations: %v", n, err)
	}
	want := realTree(t, whole)
	stride := max(1, n/8)
	if *long {
		stride = 1
	}
	kills := 0
	for k := 1; k <= n; k += stride {
		root := filepath.Join(t.TempDir(), "again")
		if status, text := child(t, root, k); status != 137 {
			t.Fatalf("killed at %d: status %d\n%s", k, status, text)
		}
		if status, text := child(t, root, 0); status != 0 {
			t.Fatalf("after a kill at %d: %s", k, text)
		}
		if d := differ(below(realTree(t, root), "/place"), below(want, "/place")); d != "" {
			t.Fatalf("killed at %d: %s", k, d)
		}
		kills++
	}
	t.Logf("%d processes killed over %d operations", kills, n)
}

// TestRelease01ProcessKilledOnStore is the same with the places in a store: the process is killed at an operation, or
// at a request, before the store hears of it and after.
func TestRelease01ProcessKilledOnStore(t *testing.T) {
	fresh := storeWorlds(t)
	want := undisturbed(t, fresh, short)
	run := func(at *world, root string, stop int, env ...string) (int, string) {
		return child(t, root, stop, append(env, "RELEASE_STORE="+at.stores.url, fmt.Sprint("RELEASE_STORE_ID=", at.stores.id))...)
	}
	status, text := run(fresh(), t.TempDir(), 0)
	if status != 0 {
		t.Fatal(text)
	}
	count := func(what string) (n int) {
		if _, err := fmt.Sscanf(text[strings.Index(text, what):], what+" %d", &n); err != nil || n < 20 {
			t.Fatalf("%s %d: %v", what, n, err)
		}
		return n
	}
	operations, requests := count("OPERATIONS"), count("REQUESTS")
	kills := 0
	kill := func(what string, stop int, env ...string) {
		w, root := fresh(), t.TempDir()
		if status, text := run(w, root, stop, env...); status != 137 {
			t.Fatalf("%s: status %d\n%s", what, status, text)
		}
		if status, text := run(w, root, 0); status != 0 {
			t.Fatalf("after %s: %s", what, text)
		}
		if d := differ(placesOf(w), placesOf(want)); d != "" {
			t.Fatalf("%s: %s", what, d)
		}
		kills++
	}
	every := 6
	if *long {
		every = 1000
	}
	for k := 1; k <= operations; k += max(1, operations/every) {
		kill(fmt.Sprint("a kill at operation ", k), k)
	}
	for k := 2; k <= requests; k += max(1, requests/every) {
		kill(fmt.Sprint("a kill at request ", k), 0, fmt.Sprint("RELEASE_STOP_REQUEST=", k))
		kill(fmt.Sprint("a late kill at request ", k), 0, fmt.Sprint("RELEASE_STOP_REQUEST=", k), "RELEASE_LATE=1")
	}
	t.Logf("%d processes killed over %d operations and %d requests", kills, operations, requests)
}

// TestRelease04RealDiskFull releases on a memory disk of 64 KiB that is full but for a few pages: the release
// fails and says so, and is completed once there is room.
func TestRelease04RealDiskFull(t *testing.T) {
	if _, err := exec.LookPath("unshare"); err != nil || exec.Command("unshare", "-rm", "true").Run() != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatal("unshare -rm does not work here, and this is CI")
		}
		t.Skip("SKIPPED: unshare -rm does not work here: no disk of one MiB can be mounted")
	}
	want := below(undisturbed(t, newWorld, short).tree(), "/place")
	full, room := 0, 0
	for free := 0; free <= 160; free += 16 { // KiB; a page is 4 KiB
		script := fmt.Sprintf(`set -e
mount -t tmpfs -o size=1m tmpfs "$DISK"
head -c %dk /dev/zero > "$DISK/fill" || true
"$0" -test.run '^TestChild$'
rm "$DISK/fill"
"$0" -test.run '^TestChild$'
cp -R "$DISK/place" "$OUT"
`, 1024-free)
		d, out := t.TempDir(), t.TempDir()
		c := exec.Command("unshare", "-rm", "sh", "-c", script, os.Args[0])
		c.Env = append(os.Environ(), "DISK="+d, "OUT="+out, "RELEASE_CHILD="+d, "RELEASE_FULL=1")
		text, err := c.CombinedOutput()
		if err != nil {
			t.Fatalf("with %d KiB: %v\n%s", free, err, text)
		}
		switch strings.Count(string(text), "FULL") {
		case 0:
			room++
		case 1:
			full++
		default:
			t.Fatalf("with %d KiB: still full\n%s", free, text)
		}
		if d := differ(realTree(t, out), want); d != "" {
			t.Fatalf("with %d KiB: %s", free, d)
		}
	}
	if full == 0 || room == 0 {
		t.Errorf("full %d times, room enough %d times: the sizes show nothing", full, room)
	}
	t.Logf("full %d times, room enough %d times", full, room)
}
