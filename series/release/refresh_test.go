package release

import (
	"context"
	"errors"
	"testing"

	"dropwright/series/disk"
)

// Refresh replaces pages between drops: before the first one, after one, and not over a place that is not as the
// ledger says. It sends nothing.
func TestRefresh(t *testing.T) {
	w := newWorld()
	words := "a new design"
	w.pages = func(context.Context, Index) ([]Page, error) {
		return []Page{{Name: "index.html", Data: []byte(words)}}, nil
	}
	refresh := func() error {
		return w.with(func(r *Runner) error { return r.Refresh(context.Background(), "shelf") })
	}
	if err := refresh(); err != nil {
		t.Fatal(err)
	}
	if w.file("/place/shelf/index.html") != words || w.file("/place/shelf/"+IndexName) == "" {
		t.Errorf("an empty place has %v", below(w.tree(), "/place/shelf"))
	}
	if got := below(w.tree(), "/place/club"); len(got) != 0 {
		t.Errorf("another place has %v", got)
	}
	if err := play(w, short, func(*world) {}); err != nil {
		t.Fatal(err)
	}
	before := len(below(w.tree(), "/place/shelf"))
	words = "its title"
	if err := refresh(); err != nil {
		t.Fatal(err)
	}
	if w.file("/place/shelf/index.html") != words || len(below(w.tree(), "/place/shelf")) != before {
		t.Errorf("after a drop the place has %v", below(w.tree(), "/place/shelf"))
	}
	// What differs from the ledger is refused before a page is written.
	if err := disk.Replace(w.files(), "/place/shelf/"+IndexName, []byte("{}")); err != nil {
		t.Fatal(err)
	}
	words = "over a damaged index"
	var unsound *Unsound
	if err := refresh(); !errors.As(err, &unsound) || w.file("/place/shelf/index.html") == words {
		t.Errorf("over a damaged index: %v", err)
	}
}
