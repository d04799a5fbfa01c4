package dir

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"dropwright/series/disk"
	"dropwright/series/disk/crash"
	"dropwright/series/target"
	"dropwright/series/target/targettest"
)

func TestConformance(t *testing.T) {
	t.Run("Machine", func(t *testing.T) {
		targettest.Run(t, func(t *testing.T) target.Target { return New(disk.OS(), "file", filepath.Join(t.TempDir(), "a", "b")) })
	})
	t.Run("Memory", func(t *testing.T) {
		targettest.Run(t, func(t *testing.T) target.Target { return New(crash.New(), "file", "/place") })
	})
}

func TestWithoutHardLinks(t *testing.T) {
	for _, refusal := range []error{syscall.EPERM, syscall.ENOTSUP} {
		f := crash.New()
		f.Fault = func(op crash.Op) error {
			if op.Kind == "link" {
				return refusal
			}
			return nil
		}
		d := New(f, "file", "/place")
		ctx := context.Background()
		if err := d.Create(ctx, "a", target.Text([]byte("one"))); err != nil {
			t.Fatal(err)
		}
		var conflict *target.Conflict
		if err := d.Create(ctx, "a", target.Text([]byte("two"))); !errors.As(err, &conflict) {
			t.Error(err)
		}
		if tree := f.Tree(); len(tree) != 1 || tree["place/a"] != "one" {
			t.Error(tree)
		}
	}
}

func TestSymbolicLinksAreNotFollowed(t *testing.T) {
	root := t.TempDir()
	secret := filepath.Join(t.TempDir(), "secret")
	os.WriteFile(secret, []byte("one"), 0o600)
	if err := os.Symlink(secret, filepath.Join(root, "a")); err != nil {
		t.Skip("no symbolic links here")
	}
	d := New(disk.OS(), "file", root)
	if err := d.Create(context.Background(), "a", target.Text([]byte("one"))); err == nil {
		t.Error("a symbolic link passes for an object")
	}
	if _, err := d.Open(context.Background(), "a"); err == nil {
		t.Error("a symbolic link is opened")
	}
}

func TestForeignFolderIsNotEmpty(t *testing.T) {
	root := t.TempDir()
	os.WriteFile(filepath.Join(root, "my holiday.jpg"), nil, 0o600)
	var stranger *target.Stranger
	err := target.Claim(context.Background(), New(disk.OS(), "file", root), target.Marker{Series: "s", Audience: "early"})
	if !errors.As(err, &stranger) || !strings.Contains(err.Error(), "my holiday.jpg") {
		t.Error(err)
	}
}

// deliver is a small release: marker, two objects, index.
func deliver(f disk.FS) (done []string, err error) {
	ctx := context.Background()
	d := New(f, "file", "/out/public")
	if err := d.Sweep(ctx); err != nil {
		return nil, err
	}
	if err := target.Claim(ctx, d, target.Marker{Series: "s", Audience: "public"}); err != nil {
		return nil, err
	}
	for _, name := range []string{"vent/1.0.0/a.zip", "vent/1.0.0/b.zip"} {
		if err := d.Create(ctx, name, target.Text([]byte("content of "+name))); err != nil {
			return done, err
		}
		done = append(done, name)
	}
	for _, text := range []string{"index 1", "index 2"} {
		if err := d.Replace(ctx, "index.json", []byte(text)); err != nil {
			return done, err
		}
		done = append(done, text)
	}
	return done, nil
}

// judge says what is wrong with what a crash left.
func judge(f *crash.FS, done []string) error {
	for name, data := range f.Tree() {
		base := name[strings.LastIndex(name, "/")+1:]
		switch {
		case disk.IsTemp(base) || base == target.MarkerName && strings.HasSuffix(data, "}\n"):
		case strings.HasSuffix(name, ".zip") && data == "content of "+strings.TrimPrefix(name, "out/public/"):
		case base == "index.json" && (data == "index 1" || data == "index 2"):
			// The index came last: everything that it names must be there.
			if len(f.Tree()) < 4 {
				return fmt.Errorf("the index is there before what it names")
			}
		default:
			return fmt.Errorf("%q holds %q", name, data)
		}
	}
	for _, d := range done {
		switch {
		case d == "index 2" && f.Tree()["out/public/index.json"] != "index 2", d == "index 1" && f.Tree()["out/public/index.json"] == "",
			strings.HasSuffix(d, ".zip") && f.Tree()["out/public/"+d] == "":
			return fmt.Errorf("%q was reported done and is gone", d)
		}
	}
	return nil
}

// TestCrashAtEveryWrite is release tests 1 and 2 for a folder: a stop at every operation, as a killed
// process and as a power cut, then the next run.
func TestCrashAtEveryWrite(t *testing.T) {
	whole := crash.New()
	if _, err := deliver(whole); err != nil {
		t.Fatal(err)
	}
	ops, want := whole.Ops(), whole.Tree()
	seeds := uint64(12)
	if testing.Short() {
		seeds = 3
	}
	runs := 0
	for stop := 1; stop <= ops; stop++ {
		for seed := range seeds {
			f := crash.New()
			f.StopAt(stop)
			done, _ := deliver(f)
			loss := crash.Random
			if seed < 2 {
				loss = []crash.Loss{crash.KeepAll, crash.DropAll}[seed]
			}
			after := f.Restart(loss, seed)
			if err := judge(after, done); err != nil {
				t.Fatalf("stop at %d, loss %d, seed %d: %v", stop, loss, seed, err)
			}
			done, err := deliver(after)
			if err != nil {
				t.Fatalf("stop at %d, loss %d, seed %d, next run: %v", stop, loss, seed, err)
			}
			if err := judge(after.Restart(crash.DropAll, 0), done); err != nil {
				t.Fatalf("stop at %d, loss %d, seed %d, next run, then no power: %v", stop, loss, seed, err)
			}
			if !maps.Equal(after.Tree(), want) {
				t.Fatalf("stop at %d, loss %d, seed %d: the next run ended with %q", stop, loss, seed, after.Tree())
			}
			runs++
		}
	}
	t.Logf("%d operations, %d crashes", ops, runs)
}

// TestEveryOperationFails is release tests 3 and 5 for a folder; the power goes afterwards, because what a
// failed sync lost must not be believed by the next run.
func TestEveryOperationFails(t *testing.T) {
	whole := crash.New()
	if _, err := deliver(whole); err != nil {
		t.Fatal(err)
	}
	ops, want, faults := whole.Ops(), whole.Tree(), 0
	for n := 1; n <= ops; n++ {
		for _, fault := range []error{syscall.EIO, syscall.EACCES, syscall.ENOSPC} {
			for _, forever := range []bool{false, true} {
				f := crash.New()
				f.FailAt(n, fault, forever)
				done, err := deliver(f)
				f.Fault = nil
				if err != nil && !(errors.Is(err, fault) && strings.Contains(err.Error(), "file:/out/public")) {
					t.Fatalf("operation %d with %v: %v", n, fault, err)
				}
				if err := judge(f.Restart(crash.DropAll, 0), done); err != nil {
					t.Fatalf("operation %d with %v, then no power: %v", n, fault, err)
				}
				for _, f := range []*crash.FS{f, f.Restart(crash.DropAll, 0)} {
					done, err := deliver(f)
					if err != nil {
						t.Fatalf("operation %d with %v, next run: %v", n, fault, err)
					}
					// Where removing failed as well, nothing on the disk tells the next run of the failed sync.
					if err := judge(f.Restart(crash.DropAll, 0), done); err != nil && !forever {
						t.Fatalf("operation %d with %v, next run, then no power: %v", n, fault, err)
					}
					if !maps.Equal(f.Tree(), want) {
						t.Fatalf("operation %d with %v: the next run ended with %q", n, fault, f.Tree())
					}
				}
				faults++
			}
		}
	}
	t.Logf("%d operations, %d faults", ops, faults)
}
