package stl

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/mesh"
)

// The loader of the three library (npm package three, examples/jsm/loaders/STLLoader.js) is the outside source
// here: what browsers show of a mesh. `npm ci` in .ci/npm installs it.
const (
	npmFolder   = "../../../.ci/npm"
	threeLoader = "node_modules/three/examples/jsm/loaders/STLLoader.js"
)

// threeCounts asks the loader for the number of triangles of each file; -1 where it throws.
func threeCounts(t *testing.T, files []string) []int {
	t.Helper()
	node, err := exec.LookPath("node")
	if err == nil {
		_, err = os.Stat(filepath.Join(npmFolder, threeLoader))
	}
	if err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatalf("node and three are needed here (npm ci in .ci/npm): %v", err)
		}
		t.Skipf("NOT CHECKED: nothing outside but admesh confirms the facet counts, since node or three (npm ci in .ci/npm) is missing: %v", err)
	}
	const script = `
import { readFileSync } from "node:fs";
import { STLLoader } from "three/addons/loaders/STLLoader.js";
const counts = JSON.parse(readFileSync(0)).map(name => {
  const b = readFileSync(name);
  try {
    return new STLLoader().parse(b.buffer.slice(b.byteOffset, b.byteOffset + b.length)).getAttribute("position").count / 3;
  } catch { return -1; }
});
process.stdout.write(JSON.stringify(counts));`
	names, err := json.Marshal(files)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(node, "--input-type=module", "-e", script)
	cmd.Dir, cmd.Stdin = npmFolder, strings.NewReader(string(names))
	out, err := cmd.Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			t.Fatalf("node: %v\n%s", err, exit.Stderr)
		}
		t.Fatal(err)
	}
	var counts []int
	if err := json.Unmarshal(out, &counts); err != nil || len(counts) != len(files) {
		t.Fatalf("node printed %q: %v", out, err)
	}
	return counts
}

// Every example mesh that we read has as many facets for the loader, and in either form that we write.
func TestExamplesAgainstThree(t *testing.T) {
	var files []string
	var ours []int
	take := func(name string, data []byte) {
		t.Helper()
		m, _, err := Decode(data)
		if err != nil {
			return // refused, and tested elsewhere; the loader is more lenient
		}
		full, err := filepath.Abs(name)
		if err != nil {
			t.Fatal(err)
		}
		files, ours = append(files, full), append(ours, len(m.Triangles))
	}
	seen := map[string]bool{}
	err := filepath.WalkDir("../../../examples", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || !strings.EqualFold(filepath.Ext(name), ".stl") {
			return err
		}
		data, err := os.ReadFile(name)
		if err == nil && !seen[string(data)] {
			seen[string(data)] = true
			take(name, data)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(files) < 10 {
		t.Fatalf("only %d example meshes were found", len(files))
	}
	torus := mesh.Torus(30, 10, 40, 20)
	for name, data := range map[string][]byte{"binary.stl": binaryOf(t, torus), "ascii.stl": asciiOf(t, torus)} {
		full := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(full, data, 0o666); err != nil {
			t.Fatal(err)
		}
		take(full, data)
	}
	if three := threeCounts(t, files); !slices.Equal(three, ours) {
		for i := range files {
			if three[i] != ours[i] {
				t.Errorf("%s: %d facets, the loader counts %d", files[i], ours[i], three[i])
			}
		}
	}
}

// The check above would notice: a file of one facet fewer counts differently, and the loader throws at
// one that is cut short.
func TestThreeRejects(t *testing.T) {
	whole := binaryOf(t, mesh.Box(1, 2, 3))
	fewer := slices.Clone(whole[:len(whole)-facetSize])
	fewer[headerSize]--
	var files []string
	for name, data := range map[string][]byte{"fewer.stl": fewer, "short.stl": whole[:60]} {
		full := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(full, data, 0o666); err != nil {
			t.Fatal(err)
		}
		files = append(files, full)
	}
	slices.Sort(files)
	counts := threeCounts(t, files)
	m, _, err := Decode(whole)
	if err != nil {
		t.Fatal(err)
	}
	for i, n := range counts {
		if n == len(m.Triangles) {
			t.Errorf("%s counts %d facets like the whole", files[i], n)
		}
	}
}
