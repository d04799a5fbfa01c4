package main

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/go-git/go-git/v5"
	"github.com/go-git/go-git/v5/plumbing/object"

	"dropwright/examples"
)

// manyDesigns writes a season of n designs of six parts, one a week, all with their meshes, in a git repository
// with three commits a design. The meshes are those of the demo season; each design has copies of its own with
// another header, so that no two are one file.
func manyDesigns(tb testing.TB, dir string, n int) {
	tb.Helper()
	read := func(name string) []byte {
		data, err := fs.ReadFile(examples.Season, name)
		if err != nil {
			tb.Fatal(err)
		}
		return data
	}
	write := func(name string, data []byte) {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o777); err != nil {
			tb.Fatal(err)
		}
		if err := os.WriteFile(p, data, 0o666); err != nil {
			tb.Fatal(err)
		}
	}
	text, _, _ := strings.Cut(string(read("series.yaml")), "calendar:")
	_, house, _ := strings.Cut(string(read("series.yaml")), "printers:")
	text += fmt.Sprintf("calendar:\n  first: 2027-01-08\n  weeks: %d\n  at: \"17:00\"\n  zone: Europe/Lisbon\n  public_after: 3 weeks\n  designs:\n", n)
	for week := 1; week <= n; week++ {
		text += fmt.Sprintf("    %d: design-%03d\n", week, week)
	}
	write("series.yaml", []byte(text+"printers:"+house))
	repo, err := git.PlainInit(dir, false)
	if err != nil {
		tb.Fatal(err)
	}
	tree, err := repo.Worktree()
	if err != nil {
		tb.Fatal(err)
	}
	when := time.Date(2026, 1, 1, 9, 0, 0, 0, time.UTC)
	commit := func(folder string, days int) {
		when = when.AddDate(0, 0, days)
		if _, err := tree.Add(folder); err != nil {
			tb.Fatal(err)
		}
		if _, err := tree.Commit("work on "+folder, &git.CommitOptions{Author: &object.Signature{Name: "m", Email: "m@hollow-lane.example", When: when}}); err != nil {
			tb.Fatal(err)
		}
	}
	meshes := []string{"soil-stake/meshes/soil-stake", "light-plate/meshes/box", "light-plate/meshes/lid", "rain-tipper/meshes/base", "rain-tipper/meshes/bucket", "mist-valve/meshes/cap"}
	for week := 1; week <= n; week++ {
		name := fmt.Sprintf("design-%03d", week)
		folder := "designs/" + name + "/"
		manifest := fmt.Sprintf("title: Design %d\nsummary: Number %d of many, to be quick with.\nchanges: [{revision: 1.0.0, date: 2027-01-05, text: first release}]\ncolours: {body: clay}\nparts:\n", week, week)
		write(folder+"design.yaml", []byte(manifest+"  - {name: part-1, colour: body, mesh: meshes/part-1.stl}\n"))
		commit("designs/"+name, 1)
		for i, m := range meshes {
			data := bytes.Clone(read("designs/" + m + ".stl"))
			copy(data[:80], fmt.Sprintf("%-80s", fmt.Sprintf("%s part %d", name, i+1)))
			write(fmt.Sprintf("%smeshes/part-%d.stl", folder, i+1), data)
			manifest += fmt.Sprintf("  - {name: part-%d, colour: body, mesh: meshes/part-%d.stl}\n", i+1, i+1)
		}
		commit("designs/"+name, 2)
		manifest += "assembly:\n  - {title: Put it together, text: By hand., uses: {part-1: 1, part-2: 1, part-3: 1, part-4: 1, part-5: 1, part-6: 1}}\n"
		write(folder+"design.yaml", []byte(manifest))
		commit("designs/"+name, 1)
	}
}

// command runs the program once in a folder.
func command(tb testing.TB, dir string, args ...string) (status int, out, errs string) {
	tb.Helper()
	var stdout, stderr bytes.Buffer
	status = run(env{ctx: context.Background(), args: args, stdin: strings.NewReader(""), stdout: &stdout, stderr: &stderr,
		now: func() time.Time { return time.Date(2027, 1, 4, 9, 0, 0, 0, time.UTC) }, getenv: func(string) string { return "" }, dir: dir})
	return status, stdout.String(), stderr.String()
}

// BenchmarkOverview is a warm overview of 52 and of 104 designs of six parts: facts and history come from the cache.
// DROPWRIGHT_KEEP names a folder to keep the seasons in, to time the whole program on them.
func BenchmarkOverview(b *testing.B) {
	for _, n := range []int{52, 104} {
		base := os.Getenv("DROPWRIGHT_KEEP")
		if base == "" {
			base = b.TempDir()
		}
		dir := filepath.Join(base, fmt.Sprint("season", n))
		if _, err := os.Stat(dir); err != nil {
			manyDesigns(b, dir, n)
		}
		b.Setenv("XDG_CACHE_HOME", filepath.Join(dir, ".cache"))
		command(b, dir, "overview") // fills the cache
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				if status, _, errs := command(b, dir, "overview"); status != exitDone {
					b.Fatal(errs)
				}
			}
		})
	}
}
