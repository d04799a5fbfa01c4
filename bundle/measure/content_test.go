package measure

import (
	"testing"
	"testing/fstest"

	"dropwright/bundle/design"
	"dropwright/bundle/manifest"
)

// The short way gives the digest that measuring gives, and sees a changed byte of a named file, but not of
// one that is not named.
func TestContent(t *testing.T) {
	text := []byte("title: Peg\nsummary: A peg.\nchanges: [{revision: 1.0.0, date: 2027-01-05, text: first}]\nstory: story.md\ncolours: {body: clay}\nparts: [{name: peg, colour: body, mesh: meshes/peg.stl}]\n")
	files := fstest.MapFS{"story.md": {Data: []byte("A peg.")}, "meshes/peg.stl": {Data: []byte("solid\nendsolid\n")}, "notes.txt": {Data: []byte("a")}}
	d, _, found := manifest.Decode("peg", "design.yaml", text, manifest.Context{Filaments: []string{"clay"}})
	if d == nil {
		t.Fatal(found)
	}
	short := func() string {
		t.Helper()
		c, err := Content(files, d, text)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	whole, err := Design(files, d, text, &design.House{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	before := short()
	if before != whole.Content {
		t.Errorf("%s, measured %s", before, whole.Content)
	}
	files["notes.txt"].Data = []byte("b")
	if short() != before {
		t.Error("a file that is not named counts")
	}
	files["story.md"].Data = []byte("B peg.")
	if short() == before {
		t.Error("a changed file does not count")
	}
}
