package measure

import (
	"context"
	"fmt"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"dropwright/bundle/facts"
	"dropwright/examples"
)

// admesh is what `admesh -c` says of a file.
type admeshSays struct {
	facets int
	volume float64
}

var (
	facetsLine = regexp.MustCompile(`Number of facets\s*:\s*(\d+)`)
	volumeLine = regexp.MustCompile(`Volume\s*:\s*(-?[0-9.]+)`)
)

func askAdmesh(t *testing.T, path string) admeshSays {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second) // it hangs on some tiny binary files
	defer cancel()
	out, err := exec.CommandContext(ctx, "admesh", "-c", path).CombinedOutput()
	if err != nil {
		t.Fatalf("admesh %s: %v\n%s", path, err, out)
	}
	f, v := facetsLine.FindSubmatch(out), volumeLine.FindSubmatch(out)
	if f == nil || v == nil {
		t.Fatalf("admesh said something else:\n%s", out)
	}
	var a admeshSays
	a.facets, _ = strconv.Atoi(string(f[1]))
	a.volume, _ = strconv.ParseFloat(string(v[1]), 64)
	return a
}

// disagree says in what our figures differ from admesh's. Its sums are float32, hence 5e-4.
func disagree(f facts.Mesh, a admeshSays) string {
	const tol = 5e-4
	switch {
	case f.Error != "":
		return "ours: " + f.Error
	case f.Triangles != a.facets:
		return fmt.Sprintf("%d facets, admesh counts %d", f.Triangles, a.facets)
	case f.Volume == nil:
		return "ours gives no volume"
	case math.Abs(*f.Volume-a.volume) > tol*math.Abs(a.volume):
		return fmt.Sprintf("volume %.3f mm3, admesh finds %.3f", *f.Volume, a.volume)
	}
	return ""
}

// TestDemoMeshesAgainstAdmesh holds facet count and volume of every mesh of the demo season against admesh
// (Debian package admesh, 0.98.4).
func TestDemoMeshesAgainstAdmesh(t *testing.T) {
	if _, err := exec.LookPath("admesh"); err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatal("admesh is not installed, and this is CI")
		}
		fmt.Fprintln(os.Stderr, "SKIPPED: the demo meshes were not held against admesh, which is not installed")
		t.Skip("admesh is not installed")
	}
	n := 0
	err := fs.WalkDir(examples.Season, ".", func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || !strings.HasSuffix(p, ".stl") {
			return err
		}
		data, err := fs.ReadFile(examples.Season, p)
		if err != nil {
			return err
		}
		path := filepath.Join(t.TempDir(), "m.stl")
		if err := os.WriteFile(path, data, 0o600); err != nil {
			return err
		}
		says := askAdmesh(t, path)
		f := Mesh(examples.Season, p, Options{})
		if d := disagree(f, says); d != "" {
			t.Errorf("%s: %s", p, d)
		}
		// the judge must reject: a volume a thousandth off, and a facet too many
		off := *f.Volume * 1.001
		wrong := f
		wrong.Volume = &off
		if disagree(wrong, says) == "" {
			t.Errorf("%s: a volume 0.1 %% off passes", p)
		}
		wrong = f
		wrong.Triangles++
		if disagree(wrong, says) == "" {
			t.Errorf("%s: a facet too many passes", p)
		}
		n++
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if n < 10 {
		t.Errorf("only %d meshes were compared", n)
	}
}
