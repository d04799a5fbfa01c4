//go:build linux

package stl

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

var (
	benchOurs  = flag.String("bench-ours", "", "command line of ours that .ci/bench times, without the file")
	benchRuns  = flag.Int("bench-runs", 9, "runs of each command")
	benchTable = flag.String("bench-table", "", "file to write the table into")
)

// timing is what the runs of one command took.
type timing struct {
	wall, cpu []time.Duration
	rss       int64 // the most of any run, bytes
}

func (t timing) wallMedian() float64 { return median(t.wall) }

// median is in milliseconds.
func median(d []time.Duration) float64 {
	s := slices.Sorted(slices.Values(d))
	return float64(s[len(s)/2].Microseconds()) / 1e3
}

// interleave runs the commands in turn, so that all meet the same moods of the machine.
func interleave(t *testing.T, runs int, commands ...[]string) []timing {
	t.Helper()
	out := make([]timing, len(commands))
	for range runs {
		for k, c := range commands {
			if c == nil {
				continue
			}
			cmd := exec.Command(c[0], c[1:]...)
			start := time.Now()
			if text, err := cmd.CombinedOutput(); err != nil {
				t.Fatalf("%s: %v\n%s", strings.Join(c[:min(len(c), 5)], " "), err, text)
			}
			out[k].wall = append(out[k].wall, time.Since(start))
			out[k].cpu = append(out[k].cpu, cmd.ProcessState.UserTime()+cmd.ProcessState.SystemTime())
			if u, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
				out[k].rss = max(out[k].rss, u.Maxrss<<10)
			}
		}
	}
	return out
}

// TestBenchTable times ours against other programs for .ci/bench; it is skipped otherwise. Nothing is
// judged here: the figures are for people.
func TestBenchTable(t *testing.T) {
	if *benchTable == "" {
		t.Skip("no -bench-table file")
	}
	file := func(name string) string { return filepath.Join(*benchMeshes, name) }
	ours := func(names ...string) []string {
		c := strings.Fields(*benchOurs)
		for _, n := range names {
			c = append(c, file(n))
		}
		return c
	}
	// other is nil where the program is not installed.
	other := func(program string, args ...string) []string {
		path, err := exec.LookPath(program)
		if err != nil {
			return nil
		}
		return append([]string{path}, args...)
	}
	var rows []string
	row := func(task, own, reference, ratio, must, stretch string) {
		rows = append(rows, fmt.Sprintf("| %s | %s | %s | %s | %s | %s |", task, own, reference, ratio, must, stretch))
		t.Log(rows[len(rows)-1])
	}
	versus := func(task, name string, own []string, reference []string, runs int, must, stretch string) timing {
		r := interleave(t, runs, own, reference)
		text, ratio := "not installed", "-"
		if reference != nil {
			text = fmt.Sprintf("%s %.0f ms", name, r[1].wallMedian())
			ratio = fmt.Sprintf("%.1f x faster (CPU %.1f x)", r[1].wallMedian()/r[0].wallMedian(), median(r[1].cpu)/median(r[0].cpu))
		}
		row(task, fmt.Sprintf("%.0f ms", r[0].wallMedian()), text, ratio, must, stretch)
		return r[0]
	}

	million := versus("1 M triangles, faults, sums, SHA-256", "admesh", ours("torus-1m.stl"), other("admesh", file("torus-1m.stl")), *benchRuns, ">= 3.5 x", "6 x")
	if hash := other("openssl", "dgst", "-sha256", file("torus-1m.stl")); hash != nil {
		r := interleave(t, *benchRuns, ours("torus-1m.stl"), hash)
		row("the same", fmt.Sprintf("%.0f ms", r[0].wallMedian()), fmt.Sprintf("openssl dgst %.0f ms", r[1].wallMedian()),
			fmt.Sprintf("%.2f x its time", r[0].wallMedian()/r[1].wallMedian()), "<= 3.0 x", "1.6 x")
	}
	few := max(3, *benchRuns/3)
	versus("5 M triangles", "admesh", ours("torus-5m.stl"), other("admesh", file("torus-5m.stl")), few, ">= 3.5 x", "5 x")
	mixed := versus("1 M shuffled", "admesh", ours("torus-1m-shuffled.stl"), other("admesh", file("torus-1m-shuffled.stl")), few, ">= 5 x", "8 x")
	versus("1 M in ASCII", "admesh -c", ours("torus-1m-ascii.stl"), other("admesh", "-c", file("torus-1m-ascii.stl")), few, ">= 7 x", "14 x")

	sizes := []string{"250k", "500k", "1m", "2m", "4m"}
	var commands [][]string
	for _, s := range sizes {
		commands = append(commands, ours("torus-"+s+".stl"))
	}
	grown := interleave(t, *benchRuns, commands...)
	worst, list := 0.0, ""
	for i, g := range grown {
		list += fmt.Sprintf("%s %.0f ", sizes[i], g.wallMedian())
		if i > 0 {
			worst = max(worst, g.wallMedian()/grown[i-1].wallMedian())
		}
	}
	row("growth per doubling, 250 k to 4 M", list+"ms", "-", fmt.Sprintf("at most %.2f x", worst), "<= 2.3 x", "2.0 x")

	bytesOver := func(x timing, name string) float64 {
		info, err := os.Stat(file(name))
		if err != nil {
			t.Fatal(err)
		}
		return float64(x.rss-info.Size()) / 1e6
	}
	own := interleave(t, 1, ours("small-000.stl"))[0]
	row(fmt.Sprintf("memory beyond the mapped file, 1 M (%.0f MB of it is the program itself)", bytesOver(own, "small-000.stl")), fmt.Sprintf("%.0f MB (shuffled %.0f)", bytesOver(million, "torus-1m.stl"), bytesOver(mixed, "torus-1m-shuffled.stl")),
		"-", fmt.Sprintf("%.0f B a triangle (shuffled %.0f)", bytesOver(million, "torus-1m.stl"), bytesOver(mixed, "torus-1m-shuffled.stl")), "<= 60", "40")

	var small []string
	for i := range 200 {
		small = append(small, fmt.Sprintf("small-%03d.stl", i))
	}
	r := interleave(t, *benchRuns, ours(small...))
	row("200 small parts in one process", fmt.Sprintf("%.0f ms", r[0].wallMedian()), "-", fmt.Sprintf("%.2f ms each", r[0].wallMedian()/200), "<= 10 ms", "3 ms")

	text := fmt.Sprintf("Medians of interleaved runs; %d processors, %s/%s, %s.\n\n| task | ours | reference | result | must | stretch |\n| --- | --- | --- | --- | --- | --- |\n%s\n",
		runtime.NumCPU(), runtime.GOOS, runtime.GOARCH, runtime.Version(), strings.Join(rows, "\n"))
	if err := os.WriteFile(*benchTable, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
}
