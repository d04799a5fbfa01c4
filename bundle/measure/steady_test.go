package measure

import (
	"bytes"
	"encoding/json"
	"io/fs"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"
	"testing/fstest"

	"dropwright/bundle/estimate"
	"dropwright/bundle/mesh/stl"
	"dropwright/examples"
)

// Everything that measure prints of a mesh is the same, byte for byte, for one worker and several, and but for
// the hash of the file in whatever order its facets stand.
func TestOutputIndependentOfWorkersAndOrder(t *testing.T) {
	names := []string{
		"designs/light-plate/meshes/lid.stl",
		"designs/mist-valve/meshes/jet.stl",
		"designs/soil-stake/meshes/soil-stake.stl",
	}
	if testing.Short() {
		names = names[1:2]
	}
	opt := Options{
		Topics: Topics{Holes: true, Walls: true, Estimate: true}, Bed: [3]float64{220, 220, 250},
		Print: Printing{Settings: estimate.Defaults(), Machine: estimate.DefaultMachine()},
	}
	opt.Print.Settings.Material = "PLA"
	printed := func(data []byte, workers int, keepHash bool) string {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(workers))
		f := Mesh(fstest.MapFS{"part.stl": {Data: data}}, "part.stl", opt)
		if !keepHash {
			f.SHA256 = ""
		}
		var b bytes.Buffer
		enc := json.NewEncoder(&b)
		enc.SetIndent("", " ")
		if err := enc.Encode(f); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	for _, name := range names {
		data, err := fs.ReadFile(examples.Season, name)
		if err != nil {
			t.Fatal(err)
		}
		one := printed(data, 1, true)
		for _, key := range []string{`"volume_mm3"`, `"thinnest_wall_mm"`, `"estimate"`, `"fits_bed"`} {
			if !strings.Contains(one, key) {
				t.Fatalf("%s: nothing of %s was measured:\n%s", name, key, one)
			}
		}
		if two := printed(data, 2, true); two != one {
			t.Errorf("%s: the number of workers shows:\n%s", name, firstDifference(one, two))
		}
		mixed := shuffledFacets(t, data)
		if m := printed(mixed, 2, false); m != printed(data, 1, false) {
			t.Errorf("%s: the order of facets shows:\n%s", name, firstDifference(printed(data, 1, false), m))
		}
	}
}

// shuffledFacets puts the facets of a binary STL file into another order.
func shuffledFacets(t *testing.T, data []byte) []byte {
	t.Helper()
	if _, info, err := stl.Decode(data); err != nil || info.Format != stl.Binary {
		t.Fatalf("an example is no binary STL: %v, %v", info.Format, err)
	}
	const head, facet = 84, 50 // of the format: header and count, then facets
	out := bytes.Clone(data)
	var tmp [facet]byte
	rand.New(rand.NewPCG(7, 8)).Shuffle((len(out)-head)/facet, func(i, j int) {
		a, b := out[head+i*facet:][:facet], out[head+j*facet:][:facet]
		copy(tmp[:], a)
		copy(a, b)
		copy(b, tmp[:])
	})
	if bytes.Equal(out, data) {
		t.Fatal("nothing was shuffled")
	}
	return out
}

func firstDifference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	var out []string
	for i := range min(len(x), len(y)) {
		if x[i] != y[i] && len(out) < 24 {
			out = append(out, "- "+x[i], "+ "+y[i])
		}
	}
	return strings.Join(out, "\n")
}
