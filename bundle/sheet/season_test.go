package sheet

import (
	"fmt"
	"io/fs"
	"os"
	"path"
	"strings"
	"sync"
	"testing"

	"dropwright/bundle/board"
	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/manifest"
	"dropwright/bundle/measure"
	"dropwright/bundle/source"
)

// demoDesigns are all designs of the demo season.
var demoDesigns = []string{"soil-stake", "vent-minder", "seed-dryer", "rain-tipper", "light-plate", "mist-valve"}

const season = "../../examples/allotment-instruments"

// measured is one design of the demo season, read and measured once for all tests.
type measured struct {
	fs    fs.FS
	d     *design.Design
	facts *facts.Design
	house *design.House
}

var loaded = sync.OnceValues(func() (map[string]measured, error) {
	data, err := os.ReadFile(season + "/series.yaml")
	if err != nil {
		return nil, err
	}
	root, _, _ := source.Parse("series.yaml", data)
	house := &design.House{}
	source.Decode(root, house) // the keys of the calendar are unknown to a house, and rightly so
	out := map[string]measured{}
	for _, name := range demoDesigns {
		folder := os.DirFS(path.Join(season, "designs", name))
		text, err := fs.ReadFile(folder, "design.yaml")
		if err != nil {
			return nil, err
		}
		d, _, found := manifest.Decode(name, "design.yaml", text, manifest.Context{})
		if d == nil {
			return nil, fmt.Errorf("%s: %v", name, found)
		}
		f, err := measure.Design(folder, d, text, house, measure.Options{Topics: measure.Topics{Estimate: os.Getenv("SHEET_LOOK") != ""}})
		if err != nil {
			return nil, err
		}
		out[name] = measured{folder, d, f, house}
	}
	return out, nil
})

// demo gives the input of a sheet of the demo season in a language, and the pictures as they lie in the folder.
func demo(t testing.TB, name, variant, language string) (Input, Images) {
	t.Helper()
	all, err := loaded()
	if err != nil {
		t.Fatal(err)
	}
	m, ok := all[name]
	if !ok {
		t.Fatalf("no demo design %q", name)
	}
	house := *m.house
	house.Language.V = design.Language(language)
	title := func(profile string) string {
		b, _ := boardOf(m.fs, profile)
		return b.Title
	}
	in := Input{Design: m.d, Facts: m.facts, House: &house, Variant: variant, Audience: "public", Licence: string(house.Licence.V), Content: m.facts.Content,
		BoardTitle: title, Board: func(profile string) (Board, bool) { return boardOf(m.fs, profile) }, BOM: bom.Compute(m.d, m.facts, &house, []string{variant}, 1, title), Beside: bom.Compute(m.d, m.facts, &house, m.d.VariantNames(), 1, title).Beside()}
	return in, func(file string) ([]byte, string, error) {
		data, err := fs.ReadFile(m.fs, file)
		mime := "image/jpeg"
		if strings.HasSuffix(file, ".png") {
			mime = "image/png"
		}
		return data, mime, err
	}
}

// boardOf is what a caller hands in for a board: a built-in one, or a file of the design.
func boardOf(folder fs.FS, profile string) (Board, bool) {
	p, err := board.Load(profile)
	if data, wrong := fs.ReadFile(folder, profile); wrong == nil {
		p, _ = board.Parse(profile, data)
	} else if err != nil {
		return Board{}, false
	}
	b := Board{Title: p.Title.S, Length: p.Outline.Length.MM, Width: p.Outline.Width.MM}
	b.Pins = func(where string) []Pin {
		t, err := p.Resolve(where)
		if err != nil {
			return nil
		}
		var out []Pin
		for _, x := range t.Pins {
			pin := Pin{Header: x.Header.ID.S, Number: x.Name, Signal: x.Signal}
			pin.X, pin.Y, pin.Placed = x.Header.PinAt(x.Name)
			out = append(out, pin)
		}
		return out
	}
	return b, true
}

// everyVariant calls f for each design and variant of the demo season.
func everyVariant(t *testing.T, f func(t *testing.T, name, variant string)) {
	t.Helper()
	all, err := loaded()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range demoDesigns {
		for _, v := range all[name].d.VariantNames() {
			t.Run(name+"/"+v, func(t *testing.T) { f(t, name, v) })
		}
	}
}
