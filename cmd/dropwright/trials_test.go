package main

import (
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"dropwright/bundle/trial"
)

// logOf is an opened series of nothing but a folder.
func logOf(t *testing.T) *season {
	t.Helper()
	dir := t.TempDir()
	root, err := os.OpenRoot(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { root.Close() })
	return &season{dir: dir, root: root}
}

// Runs that log at the same moment leave whole lines, none lost.
func TestTrialsLoggedAtOnce(t *testing.T) {
	s := logOf(t)
	const runs, each = 8, 25
	var wg sync.WaitGroup
	for k := range runs {
		wg.Go(func() {
			for i := range each {
				r := trial.Record{At: time.Unix(int64(i), 0).UTC(), Part: fmt.Sprintf("part-%d-%d", k, i), Outcome: trial.OK, Grams: 1}
				if err := appendTrial(s, nil, r); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	log, _, err := readTrials(s)
	if err != nil || len(log) != runs*each {
		t.Fatalf("%d records, %v", len(log), err)
	}
	seen := map[string]bool{}
	for _, r := range log {
		seen[r.Part] = true
	}
	if len(seen) != runs*each {
		t.Errorf("%d different records", len(seen))
	}
}

// A record that cannot be is refused before the file is touched.
func TestTrialThatCannotBe(t *testing.T) {
	s := logOf(t)
	if err := appendTrial(s, nil, trial.Record{Part: "base", Grams: -1}); err == nil {
		t.Error("a negative mass was logged")
	}
	if _, err := os.Stat(filepath.Join(s.dir, trialsFile)); err == nil {
		t.Error("the log was made for nothing")
	}
	if log, data, err := readTrials(s); log != nil || data != nil || err != nil {
		t.Errorf("a series without a log: %v %q %v", log, data, err)
	}
}

func TestWithoutEmptyColumns(t *testing.T) {
	got := withoutEmpty([][]string{{"day", "\tgrams", "note"}, {"a", "\t", ""}, {"b", "\t", "x"}})
	if want := "[[day note] [a ] [b x]]"; fmt.Sprint(got) != want {
		t.Errorf("%v, want %s", got, want)
	}
}
