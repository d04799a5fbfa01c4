package history

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestTouchedAgainstGit compares with `git log` over a history with a merge, a revert and a rename.
func TestTouchedAgainstGit(t *testing.T) {
	r := season(t)
	r.write(manifestFile, "title: two\n")
	r.commit("two")
	r.git("checkout", "-q", "-b", "side")
	r.write("designs/twine-hook/design.yaml", "title: Hook\n")
	r.commit("on the side")
	r.git("checkout", "-q", "main")
	r.write("series.yaml", "series: changed\n")
	r.commit("on main")
	r.clock += 3600
	r.git("merge", "-q", "--no-ff", "-m", "merge", "side")
	r.write(manifestFile, "title: Vent Minder\n")
	r.commit("back again")
	r.git("mv", "season/designs/vent-minder/meshes/arm.stl", "season/designs/vent-minder/meshes/lever.stl")
	r.commit("renamed")
	folders := []string{"designs/vent-minder", "designs/twine-hook", "designs/none", "designs"}
	g := r.open()
	got, err := g.Touched(folders)
	if err != nil {
		t.Fatal(err)
	}
	judge := func(f string, times []time.Time) bool {
		want := strings.Fields(r.git("log", "--full-history", "--no-merges", "--format=%ct", "--", "season/"+f))
		slices.Sort(want)
		var have []string
		for _, x := range times {
			have = append(have, strconv.FormatInt(x.Unix(), 10))
		}
		return slices.Equal(want, have)
	}
	for _, f := range folders[:3] {
		if !judge(f, got[f]) {
			t.Errorf("%s: %v", f, got[f])
		}
	}
	if len(got["designs/vent-minder"]) != 4 || len(got["designs/twine-hook"]) != 1 || len(got["designs/none"]) != 0 {
		t.Errorf("%v", got)
	}
	if judge("designs/vent-minder", got["designs/vent-minder"][1:]) {
		t.Error("the judge passes a list with one missing")
	}
	was, err := g.Present()
	if err != nil || was != strings.TrimSpace(r.git("rev-parse", "HEAD")) {
		t.Errorf("%s, %v", was, err)
	}
}

func BenchmarkTouched(b *testing.B) {
	r := season(b)
	var folders []string
	for i := range 104 {
		f := fmt.Sprintf("designs/d%03d", i)
		folders = append(folders, f)
		r.write(f+"/design.yaml", "x")
		if i%2 == 0 {
			r.commit("another")
		}
	}
	r.commit("last")
	g := r.open()
	for b.Loop() {
		if _, err := g.Touched(folders); err != nil {
			b.Fatal(err)
		}
	}
}
