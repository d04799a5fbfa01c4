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

	"dropwright/examples"
	"dropwright/series/disk"
	"dropwright/series/ledger"
)

// wholeSeason writes a season of 104 designs, all of them out, with the ledger of their drops. Their
// manifests are those of the demo season; other files are not there, because a run with nothing due must not
// want them.
func wholeSeason(tb testing.TB, dir string) {
	tb.Helper()
	read := func(name string) string {
		data, err := fs.ReadFile(examples.Season, name)
		if err != nil {
			tb.Fatal(err)
		}
		return string(data)
	}
	write := func(name, text string) {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o777); err != nil {
			tb.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o666); err != nil {
			tb.Fatal(err)
		}
	}
	text, _, _ := strings.Cut(read("series.yaml"), "calendar:")
	_, house, _ := strings.Cut(read("series.yaml"), "printers:")
	house, _, _ = strings.Cut(house, "channels:")
	text += "calendar:\n  first: 2024-01-05\n  weeks: 104\n  at: \"17:00\"\n  zone: Europe/Lisbon\n  public_after: 3 weeks\n  designs:\n"
	if err := os.MkdirAll(dir, 0o777); err != nil {
		tb.Fatal(err)
	}
	l, err := ledger.Open(disk.OS(), filepath.Join(dir, "ledger.jsonl"), ledger.Options{Series: "allotment-instruments", Now: time.Date(2024, 1, 5, 17, 0, 0, 0, time.UTC)})
	if err != nil {
		tb.Fatal(err)
	}
	for week := 1; week <= 104; week++ {
		name := fmt.Sprintf("design-%03d", week)
		text += fmt.Sprintf("    %d: %s\n", week, name)
		write("designs/"+name+"/design.yaml", read("designs/"+[]string{"vent-minder", "seed-dryer", "rain-tipper", "soil-stake"}[week%4]+"/design.yaml"))
		for _, c := range [][2]string{{"supporters", "early"}, {"shelf", "public"}} {
			r := ledger.Record{Kind: ledger.Intent, At: time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC), Due: time.Date(2024, 2, 1, 0, 0, 0, 0, time.UTC), Design: name, Revision: "1.0.0", Channel: c[0], Audience: c[1],
				Objects: []ledger.Object{{Name: name + ".zip", SHA256: strings.Repeat("a", 64), Bytes: 1}}}
			e, err := l.Append(r)
			if err == nil {
				r = ledger.Record{Kind: ledger.Result, At: r.At, Of: e.Seq, Outcome: ledger.Done, Design: name, Revision: "1.0.0", Channel: c[0], Audience: c[1]}
				_, err = l.Append(r)
			}
			if err != nil {
				tb.Fatal(err)
			}
		}
	}
	if err := l.Close(); err != nil {
		tb.Fatal(err)
	}
	write("series.yaml", text+"printers:"+house+"channels:\n  - {name: supporters, audience: early, to: \"file:../place/supporters\"}\n  - {name: shelf, audience: public, to: \"file:../place/shelf\"}\n")
}

// due104 runs `release --due` on the season and returns what it said.
func due104(tb testing.TB, dir string) (status int, out, errs string) {
	tb.Helper()
	var stdout, stderr bytes.Buffer
	status = run(env{ctx: context.Background(), args: []string{"release", "--due"}, stdin: strings.NewReader(""), stdout: &stdout, stderr: &stderr,
		now: func() time.Time { return time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC) }, getenv: func(string) string { return "" }, dir: dir})
	return status, stdout.String(), stderr.String()
}

// With everything out, nothing is due: no file but the manifests' and the ledger's is wanted or written.
func TestNothingDueTouchesNothing(t *testing.T) {
	dir := os.Getenv("DROPWRIGHT_KEEP") // to time the whole program on it
	if dir == "" {
		dir = filepath.Join(t.TempDir(), "season")
	}
	wholeSeason(t, dir)
	status, out, errs := due104(t, dir)
	if status != exitDone || out != "" || errs != "nothing is due\n" {
		t.Errorf("status %d, %q, %q", status, out, errs)
	}
	if _, err := os.Stat(filepath.Join(dir, "store")); !os.IsNotExist(err) {
		t.Error("it made a store")
	}
}

// BenchmarkNothingDue is what a timer costs: `release --due` on a season of 104 designs, all out.
func BenchmarkNothingDue(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "season")
	wholeSeason(b, dir)
	for b.Loop() {
		if status, _, errs := due104(b, dir); status != exitDone {
			b.Fatal(errs)
		}
	}
}
