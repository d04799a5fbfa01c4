package measure

import (
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"testing/fstest"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/manifest"
	"dropwright/bundle/mesh"
)

const demoSeason = "../../examples/allotment-instruments/designs"

// demoFolder is a design of the demo season with some of its files changed.
func demoFolder(t *testing.T, name string, change map[string][]byte) (fs.FS, *design.Design, []byte) {
	t.Helper()
	files := fstest.MapFS{}
	root := filepath.Join(demoSeason, name)
	err := filepath.WalkDir(root, func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := os.ReadFile(p)
		rel, _ := filepath.Rel(root, p)
		files[filepath.ToSlash(rel)] = &fstest.MapFile{Data: data}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for n, data := range change {
		files[n] = &fstest.MapFile{Data: data}
	}
	text := files["design.yaml"].Data
	d, _, found := manifest.Decode(name, "design.yaml", text, manifest.Context{})
	if d == nil {
		t.Fatalf("%s: %v", name, found)
	}
	return files, d, text
}

// boardsOf works out the boards alone.
func boardsOf(t *testing.T, name string, change map[string][]byte) *facts.Boards {
	t.Helper()
	f, d, _ := demoFolder(t, name, change)
	return seats(f, d, &shapes{}, Options{})
}

func TestBoardsOfTheSeason(t *testing.T) {
	b := boardsOf(t, "vent-minder", nil)
	if len(b.Seats) != 2 || len(b.Profiles) != 2 || len(b.Wires) != 8 {
		t.Fatalf("%d seats, %d profiles, %d wires", len(b.Seats), len(b.Profiles), len(b.Wires))
	}
	for _, s := range b.Seats {
		if s.State != facts.SeatFound || len(s.Missing) > 0 || s.Part != "case" {
			t.Errorf("%s: %s, missing %q", s.Variant, s.State, s.Missing)
		}
	}
	if w := b.Wires[1]; w.From.Role != "supply" || w.To.Rail == nil || *w.To.Rail.Volts != 5 || len(w.To.Pins) != 1 || w.To.Pins[0] != "low-speed.37" {
		t.Errorf("the supply of the servo: %+v", w)
	}
	if w := b.Wires[2]; w.To.Kind != facts.EndPin || w.To.Signal != "GPIO-A" || w.To.Level == nil || *w.To.Level != 1.8 {
		t.Errorf("the signal of the servo: %+v", w)
	}
	// What is kept by the cache must come back the same.
	text, err := json.Marshal(b)
	if err != nil {
		t.Fatal(err)
	}
	var back facts.Boards
	if err := json.Unmarshal(text, &back); err != nil || !reflect.DeepEqual(*b, back) {
		t.Errorf("facts do not survive the cache: %v", err)
	}

	b = boardsOf(t, "seed-dryer", nil)
	if len(b.Fans) != 1 || b.Fans[0].Part != "box" || b.Fans[0].Pitch != 32 || b.Fans[0].Found != 32 || b.Fans[0].Opening == nil || b.Fans[0].Centred > 0.01 {
		t.Errorf("fan: %+v", b.Fans)
	}
	for _, name := range []string{"soil-stake", "rain-tipper"} {
		if b := boardsOf(t, name, nil); b != nil && len(b.Seats)+len(b.Fans) > 0 {
			t.Errorf("%s has neither board nor fan: %+v", name, b)
		}
	}
}

// A placement undone leaves every point where it was; turns go about x, then y, then z.
func TestPlacement(t *testing.T) {
	_, d, _ := demoFolder(t, "seed-dryer", nil)
	frame, _ := d.Part("filter-frame")
	m := placement(frame.Place[0]) // turned 90 about x, then -90 about z, then moved
	if got := m.Apply([3]float64{1, 2, 3}); got != [3]float64{154.4, -1, 34} {
		t.Errorf("placed at %v", got)
	}
	back := m.Then(inverse(m))
	for i := range 3 {
		for k := range 4 {
			if diff := back[i][k] - mesh.Identity[i][k]; diff > 1e-9 || diff < -1e-9 {
				t.Errorf("placed and taken back: %v", back)
			}
		}
	}
}
