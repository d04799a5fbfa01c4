package history

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

func TestFolder(t *testing.T) {
	series := t.TempDir()
	write := func(name, text string) {
		full := filepath.Join(series, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(full), 0o777), os.WriteFile(full, []byte(text), 0o666)); err != nil {
			t.Fatal(err)
		}
	}
	write("series.yaml", "series: s\n")
	write(manifestFile, "title: one\n")
	write(meshFile, "mesh one")
	write("designs/vent-minder/refs/secret.txt", "not listed")
	f := OpenFolder(series)
	if got, err := f.Revisions("vent-minder"); err != nil || len(got) > 0 {
		t.Errorf("%v, %v", got, err)
	}
	request := Request{Design: "vent-minder", Revision: "1.0.0", Digest: "d1", Files: []string{"series.yaml", manifestFile, meshFile}}
	left := filepath.Join(series, FolderName, "vent-minder", tempPrefix+"left")
	if err := os.MkdirAll(left, 0o777); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		got, err := f.Freeze(request)
		if err != nil || got != (Frozen{Source: "history/vent-minder/v1.0.0"}) {
			t.Fatalf("%+v, %v", got, err)
		}
		write(meshFile, "mesh two")
	}
	if _, err := os.Lstat(left); !errors.Is(err, fs.ErrNotExist) {
		t.Error("what a crash left is still there")
	}
	old, err := f.At("vent-minder", "1.0.0")
	if err != nil {
		t.Fatal(err)
	}
	if data, err := fs.ReadFile(old, meshFile); err != nil || string(data) != "mesh one" {
		t.Errorf("the mesh of 1.0.0 is %q, %v", data, err)
	}
	if _, err := fs.Stat(old, "designs/vent-minder/refs/secret.txt"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a file that was not listed is kept: %v", err)
	}
	request.Digest = "d2"
	var taken *Taken
	if _, err := f.Freeze(request); !errors.As(err, &taken) {
		t.Errorf("another digest under the same revision: %v", err)
	}
	request.Revision = "1.0.1"
	if _, err := f.Freeze(request); err != nil {
		t.Fatal(err)
	}
	if got, err := f.Revisions("vent-minder"); err != nil || !slices.Equal(got, []string{"1.0.0", "1.0.1"}) {
		t.Errorf("%v, %v", got, err)
	}
	request.Revision = "1.0.2"
	for _, bad := range []string{"nothing", "../outside", "/etc/passwd", "link"} {
		os.Symlink("/etc/passwd", filepath.Join(series, "link"))
		request.Files = []string{"series.yaml", bad}
		if _, err := f.Freeze(request); err == nil {
			t.Errorf("%q is kept", bad)
		}
	}
	if _, err := f.At("vent-minder", "1.0.2"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a revision that failed is there: %v", err)
	}
	if entries, _ := os.ReadDir(filepath.Join(series, FolderName, "vent-minder")); len(entries) != 2 {
		t.Errorf("left behind: %v", entries)
	}
}
