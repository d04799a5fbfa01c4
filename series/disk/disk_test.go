package disk_test

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"dropwright/series/disk"
	"dropwright/series/disk/crash"
)

// replaceWrongly is the mistake that the crash file system must find out: no sync before the rename.
func replaceWrongly(d disk.FS, name string, data []byte) error {
	f, err := d.OpenFile(name+".new", os.O_WRONLY|os.O_CREATE, 0o666)
	if err != nil {
		return err
	}
	if _, err := f.Write(data); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := d.Rename(name+".new", name); err != nil {
		return err
	}
	return d.SyncDir(filepath.Dir(name))
}

// cutEverywhere cuts the power at every operation of a replacement and tells how often the file was
// neither old nor new afterwards, or old although the replacement had reported success.
func cutEverywhere(t *testing.T, replace func(disk.FS, string, []byte) error) (bad, runs int) {
	t.Helper()
	for stop := 1; ; stop++ {
		finished := false
		for seed := range uint64(20) {
			f := crash.New()
			if err := disk.MkdirAll(f, "/a/b"); err != nil {
				t.Fatal(err)
			}
			if err := disk.Replace(f, "/a/b/file", []byte("old content")); err != nil {
				t.Fatal(err)
			}
			f.StopAt(f.Ops() + stop)
			err := replace(f, "/a/b/file", []byte("new"))
			loss := crash.Random
			if seed == 0 {
				loss = crash.DropAll
			}
			after := f.Restart(loss, seed)
			got, readErr := disk.ReadFile(after, "/a/b/file", 100)
			runs++
			if readErr != nil || string(got) != "old content" && string(got) != "new" || err == nil && string(got) != "new" {
				bad++
			}
			if err := disk.Sweep(after, "/a"); err != nil {
				t.Fatal(err)
			}
			finished = err == nil
		}
		if finished {
			return bad, runs
		}
	}
}

func TestReplaceSurvivesPowerCuts(t *testing.T) {
	bad, runs := cutEverywhere(t, disk.Replace)
	if bad > 0 {
		t.Errorf("%d of %d power cuts left neither the old file nor the new", bad, runs)
	}
	t.Logf("%d power cuts", runs)
	if bad, _ := cutEverywhere(t, replaceWrongly); bad == 0 {
		t.Error("the crash file system does not find a missing sync")
	}
}

func TestFailuresLeaveNoTemporaryFile(t *testing.T) {
	for _, fault := range []error{syscall.EIO, syscall.ENOSPC, syscall.EACCES} {
		for n := 1; ; n++ {
			f := crash.New()
			if err := disk.Replace(f, "/file", []byte("old")); err != nil {
				t.Fatal(err)
			}
			f.FailAt(f.Ops()+n, fault, false)
			err := disk.Replace(f, "/file", []byte("new"))
			if err == nil {
				break
			}
			if !errors.Is(err, fault) {
				t.Errorf("operation %d: %v hides %v", n, err, fault)
			}
			if tree := f.Tree(); len(tree) != 1 {
				t.Errorf("operation %d with %v leaves %v", n, fault, tree)
			}
		}
	}
}

func TestFailedSyncLosesDataForGood(t *testing.T) {
	f := crash.New()
	file, _ := f.OpenFile("/x", os.O_WRONLY|os.O_CREATE, 0o666)
	io.WriteString(file, "abc")
	f.FailAt(f.Ops()+1, syscall.EIO, false)
	if file.Sync() == nil {
		t.Fatal("the sync did not fail")
	}
	f.Fault = nil
	if err := errors.Join(file.Sync(), f.SyncDir("/")); err != nil {
		t.Fatal(err)
	}
	if got := f.Restart(crash.DropAll, 0).Tree()["x"]; got == "abc" {
		t.Error("repeating a failed sync saved the data; real systems need not do so")
	}
}

func TestOnTheMachine(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a", "b")
	d := disk.OS()
	if err := disk.MkdirAll(d, dir); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(dir, "file")
	for _, text := range []string{"one", "two"} {
		if err := disk.Replace(d, name, []byte(text)); err != nil {
			t.Fatal(err)
		}
		if got, err := disk.ReadFile(d, name, 3); err != nil || string(got) != text {
			t.Errorf("%q, %v", got, err)
		}
	}
	if _, err := disk.ReadFile(d, name, 2); err == nil {
		t.Error("a file over the limit is read")
	}
	if err := os.WriteFile(filepath.Join(dir, disk.TempPrefix+"left"), nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := disk.Sweep(d, filepath.Dir(dir)); err != nil {
		t.Fatal(err)
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 1 {
		t.Errorf("after sweeping: %v", entries)
	}
	if err := disk.MkdirAll(d, name); err == nil {
		t.Error("a file in the way of a folder is no error")
	}
}
