package archive

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// failing is an FS whose n-th step fails; steps counts them. With power set nothing more works
// afterwards, as after a kill.
type failing struct {
	OS
	n, steps int
	power    bool
	dead     bool
	noLinks  bool
}

var errStep = errors.New("step failed")

func (f *failing) step() error {
	f.steps++
	if f.dead {
		return errStep
	}
	if f.steps == f.n {
		f.dead = f.power
		return errStep
	}
	return nil
}

func (f *failing) Create(name string) (OutFile, error) {
	if err := f.step(); err != nil {
		return nil, err
	}
	w, err := f.OS.Create(name)
	return &failingFile{f, w}, err
}

func (f *failing) Open(name string) (io.ReadCloser, error) {
	if err := f.step(); err != nil {
		return nil, err
	}
	return f.OS.Open(name)
}

func (f *failing) Lstat(name string) (fs.FileInfo, error) {
	if err := f.step(); err != nil {
		return nil, err
	}
	return f.OS.Lstat(name)
}

func (f *failing) Link(a, b string) error {
	if err := f.step(); err != nil {
		return err
	}
	if f.noLinks {
		return errors.ErrUnsupported
	}
	return f.OS.Link(a, b)
}

func (f *failing) Rename(a, b string) error {
	if err := f.step(); err != nil {
		return err
	}
	return f.OS.Rename(a, b)
}

func (f *failing) Remove(name string) error {
	if err := f.step(); err != nil {
		return err
	}
	return f.OS.Remove(name)
}

func (f *failing) SyncDir(name string) error {
	if err := f.step(); err != nil {
		return err
	}
	return f.OS.SyncDir(name)
}

type failingFile struct {
	fs *failing
	OutFile
}

func (f *failingFile) Write(p []byte) (int, error) {
	if err := f.fs.step(); err != nil {
		return f.half(p), err
	}
	return f.OutFile.Write(p)
}

// half writes half, as a full disk does.
func (f *failingFile) half(p []byte) int {
	n, err := f.OutFile.Write(p[:len(p)/2])
	if err != nil {
		return 0
	}
	return n
}

func (f *failingFile) Sync() error {
	if err := f.fs.step(); err != nil {
		return err
	}
	return f.OutFile.Sync()
}

func (f *failingFile) Close() error {
	err := f.fs.step()
	return errors.Join(err, f.OutFile.Close())
}

func put(text string) func(io.Writer) error {
	return func(w io.Writer) error {
		for _, part := range []string{text[:len(text)/2], text[len(text)/2:]} {
			if _, err := io.WriteString(w, part); err != nil {
				return err
			}
		}
		return nil
	}
}

// TestEveryStepFails lets each step fail once, and each step be the last: the file is then as it
// was or complete, an error is told, and a second run finishes.
func TestEveryStepFails(t *testing.T) {
	for _, before := range []string{"", "old text"} {
		for _, power := range []bool{false, true} {
			for _, noLinks := range []bool{false, true} {
				for n := 1; ; n++ {
					dir := t.TempDir()
					path := filepath.Join(dir, "ledger.jsonl")
					if before != "" {
						if err := os.WriteFile(path, []byte(before), 0o644); err != nil {
							t.Fatal(err)
						}
					}
					name := fmt.Sprintf("before %q, power %v, no links %v, step %d", before, power, noLinks, n)
					f := &failing{n: n, power: power, noLinks: noLinks}
					_, err := WriteFile(path, FileOptions{Replace: before != "", FS: f}, put("new text"))
					got, rerr := os.ReadFile(path)
					if rerr != nil && !errors.Is(rerr, fs.ErrNotExist) {
						t.Fatal(rerr)
					}
					if string(got) != before && string(got) != "new text" {
						t.Fatalf("%s: half a file: %q", name, got)
					}
					if f.steps < n { // nothing failed: all steps have had their turn
						if err != nil || string(got) != "new text" {
							t.Fatalf("%s: %v %q", name, err, got)
						}
						if n < 8 {
							t.Fatalf("only %d steps", n)
						}
						break
					}
					if err == nil && string(got) != "new text" {
						t.Fatalf("%s: success without the text", name)
					}
					left, lerr := Leftovers(dir)
					if lerr != nil || (!power && err != nil && len(left) > 0) {
						t.Fatalf("%s: left %q behind (%v), %v", name, left, lerr, err)
					}
					for _, l := range left {
						os.Remove(l)
					}
					if _, err := WriteFile(path, FileOptions{Replace: true}, put("new text")); err != nil {
						t.Fatalf("%s: second run: %v", name, err)
					}
					list, err := os.ReadDir(dir)
					if err != nil || len(list) != 1 {
						t.Fatalf("%s: %v %v", name, list, err)
					}
				}
			}
		}
	}
}

func TestWriteFileExisting(t *testing.T) {
	for _, noLinks := range []bool{false, true} {
		path := filepath.Join(t.TempDir(), "bundle.zip")
		opt := FileOptions{FS: &failing{noLinks: noLinks}}
		if changed, err := WriteFile(path, opt, put("one")); err != nil || !changed {
			t.Fatal(changed, err)
		}
		if changed, err := WriteFile(path, opt, put("one")); err != nil || changed {
			t.Errorf("same bytes: %v %v", changed, err)
		}
		var exists *ExistsError
		if changed, err := WriteFile(path, opt, put("two")); changed || !errors.As(err, &exists) {
			t.Errorf("other bytes: %v %v", changed, err)
		}
		if got, _ := os.ReadFile(path); string(got) != "one" {
			t.Errorf("was overwritten: %q", got)
		}
		opt.Replace = true
		if changed, err := WriteFile(path, opt, put("three")); !changed || err != nil {
			t.Errorf("replacing: %v %v", changed, err)
		}
		stop := errors.New("the writer gives up")
		if _, err := WriteFile(path, opt, func(w io.Writer) error { io.WriteString(w, "half"); return stop }); !errors.Is(err, stop) {
			t.Errorf("writer failed: %v", err)
		}
		if got, _ := os.ReadFile(path); string(got) != "three" {
			t.Errorf("got %q", got)
		}
		if list, _ := os.ReadDir(filepath.Dir(path)); len(list) != 1 {
			t.Errorf("left behind: %v", list)
		}
	}
}

func TestWriteFileRefuses(t *testing.T) {
	dir := t.TempDir()
	if _, err := WriteFile(dir, FileOptions{Replace: true}, put("xx")); err == nil {
		t.Error("wrote over a folder")
	}
	if _, err := WriteFile(filepath.Join(dir, "none", "a"), FileOptions{}, put("xx")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("folder not there: %v", err)
	}
	if runtime.GOOS == "windows" {
		t.Skip("symbolic links need a privilege on Windows")
	}
	link := filepath.Join(dir, "link")
	if err := os.Symlink(filepath.Join(dir, "target"), link); err != nil {
		t.Fatal(err)
	}
	if _, err := WriteFile(link, FileOptions{Replace: true}, put("xx")); err == nil {
		t.Error("replaced a symbolic link")
	}
	if _, err := os.Stat(filepath.Join(dir, "target")); !errors.Is(err, fs.ErrNotExist) {
		t.Error("wrote through a symbolic link")
	}
}

// TestWriteFileRace lets twenty write different texts to one name: one wins, whole.
func TestWriteFileRace(t *testing.T) {
	path := filepath.Join(t.TempDir(), "release.json")
	wins := make(chan int, 20)
	for i := range 20 {
		go func() {
			text := bytes.Repeat([]byte{'a' + byte(i)}, 10_000)
			changed, err := WriteFile(path, FileOptions{}, func(w io.Writer) error { _, err := w.Write(text); return err })
			var exists *ExistsError
			switch {
			case changed && err == nil:
				wins <- i
			case errors.As(err, &exists):
				wins <- -1
			default:
				t.Error(changed, err)
				wins <- -1
			}
		}()
	}
	winner, count := -1, 0
	for range 20 {
		if i := <-wins; i >= 0 {
			winner = i
			count++
		}
	}
	got, err := os.ReadFile(path)
	if err != nil || count != 1 || !bytes.Equal(got, bytes.Repeat([]byte{'a' + byte(winner)}, 10_000)) {
		t.Errorf("%d winners, file of %d bytes, %v", count, len(got), err)
	}
}
