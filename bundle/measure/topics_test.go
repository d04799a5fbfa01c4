package measure

import (
	"encoding/json"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/measure/cache"
)

// What is measured does not depend on which topics were asked for before, nor on what was kept of them.
func TestTopicsAfterOneAnother(t *testing.T) {
	everything := Topics{Holes: true, Walls: true, Estimate: true}
	fsys, d, text := demoFolder(t, "light-plate", nil)
	measured := func(opt Options) string {
		out, err := Design(fsys, d, text, &design.House{}, opt)
		if err != nil {
			t.Fatal(err)
		}
		line, err := json.Marshal(out)
		if err != nil {
			t.Fatal(err)
		}
		return string(line)
	}
	alone := map[Topics]string{}
	for _, topics := range []Topics{{}, {Estimate: true}, everything} {
		alone[topics] = measured(Options{Topics: topics})
	}
	orders := [][]Topics{{{}, everything}, {{Estimate: true}, {}, everything}, {everything, {}}}
	for _, order := range orders {
		kept := cache.New(t.TempDir(), "test", 0)
		for range 2 { // measured, then kept
			for _, topics := range order {
				if got := measured(Options{Topics: topics, Cache: kept}); got != alone[topics] {
					t.Errorf("%+v in the order %+v:\n%s\nalone:\n%s", topics, order, got, alone[topics])
				}
			}
		}
	}
	if alone[everything] == alone[Topics{}] {
		t.Error("the topics add nothing: the comparison above shows nothing")
	}
}

// A second look with more topics does not look at pictures, joints and seats again.
func TestTopicsKeepTheRest(t *testing.T) {
	fsys, d, text := demoFolder(t, "light-plate", nil)
	kept := cache.New(t.TempDir(), "test", 0)
	files := func(topics Topics) map[string]int {
		seen := map[string]int{}
		opt := Options{Topics: topics, Cache: kept, Workers: 1, Progress: func(_, _ int, file string) { seen[file]++ }}
		if _, err := Design(fsys, d, text, &design.House{}, opt); err != nil {
			t.Fatal(err)
		}
		return seen
	}
	all, again := files(Topics{}), files(Topics{Estimate: true})
	var meshes, others int
	for f := range all {
		if isMesh := again[f] > 0; isMesh {
			meshes++
		} else {
			others++
		}
	}
	if meshes == 0 || others == 0 || len(again) != meshes {
		t.Errorf("first %v, then %v", all, again)
	}
}
