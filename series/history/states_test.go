package history

import (
	"errors"
	"io/fs"
	"strconv"
	"strings"
	"testing"
)

// TestStatesAgainstGit compares with `git log --first-parent` and `git rev-parse` of the git program.
func TestStatesAgainstGit(t *testing.T) {
	r := newRepo(t)
	g, err := OpenGit(r.series)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := g.Head(); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a repository without a commit: %v", err)
	}
	const file = "designs/vent-minder/meshes/arm.stl"
	for i, text := range []string{"one", "two", "two", "one", "three"} {
		r.write(file, text)
		r.write("note.txt", strconv.Itoa(i)) // every commit has something to say
		r.git("add", "-A")
		r.commit("state " + strconv.Itoa(i))
	}
	r.write(file, "not committed")
	blobs := map[string]bool{}
	for _, c := range strings.Fields(r.git("log", "--first-parent", "--format=%H")) {
		blobs[r.git("rev-parse", c+":season/"+file)] = true
	}
	got, err := g.States([]string{file, "absent.stl"}, 100)
	if err != nil || got[file] != len(blobs) || len(got) != 1 || len(blobs) != 3 {
		t.Errorf("%v, %v; git knows %d states", got, err, len(blobs))
	}
	if got, _ := g.States([]string{file}, 2); got[file] != 2 {
		t.Errorf("the last two commits hold %d", got[file])
	}
	head, err := g.Head()
	if err != nil {
		t.Fatal(err)
	}
	data, err := fs.ReadFile(head, file)
	if want := r.git("show", "HEAD:season/"+file); err != nil || string(data) != want || want != "three" {
		t.Errorf("HEAD has %q, %v; git says %q", data, err, want)
	}
}
