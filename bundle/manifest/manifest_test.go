package manifest

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
)

var known = Context{Filaments: []string{"clay", "straw", "clear"}, Boards: []string{"96boards-ce", "pc104"}}

func read(t *testing.T, name string) *design.Design {
	t.Helper()
	data, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	d, _, found := Decode("x", name, data, known)
	for _, f := range found {
		t.Errorf("%s: %s: %s", f.At, f.Code, f.Text)
	}
	if d == nil {
		t.Fatal("no design")
	}
	return d
}

func TestTheWholeVocabularyDecodes(t *testing.T) {
	d := read(t, "vent-minder.yaml")
	if m, ok := d.Parts[0].Mesh.For("stack"); !ok || m.V != "meshes/case-stack.stl" || m.At.Line != 15 || m.At.Column != 43 {
		t.Errorf("mesh of the stack: %+v", m)
	}
	if h := d.Fasteners[2].Into.Held; h == nil || h.Insert == nil || h.Insert.Outer.V != 4.6 || h.In.V != "case" {
		t.Errorf("insert: %+v", h)
	}
	if r := d.Revision(); r != (design.Revision{Major: 1}) || d.Dated().String() != "2027-01-20" {
		t.Errorf("revision %s of %s", r, d.Dated())
	}
	o := read(t, "other-forms.yaml")
	if b := o.Variants[0].BoardList(); len(b) != 2 || b[0].Seat.At[2].V != 7 || b[1].Profile.V != "boards/relay.yaml" {
		t.Errorf("boards of duo: %+v", b)
	}
	if got := o.Parts[6]; got.Role.V != "jig" || len(got.Place) != 1 || got.Place[0].Turn[2].V != 90 {
		t.Errorf("jig: %+v", got)
	}
	if got := o.Bought[1].Threads.Entries[0]; got.Key != "M3" || got.Value.V != 4.5 {
		t.Errorf("thread of the motor: %+v", got)
	}
}

func TestTallyOfEveryForm(t *testing.T) {
	// Counted by hand from the file: three fingers of two links and one mirrored cheek each; the four nuts
	// of foot-screw are taken by name one step before the screws; two washers a rail screw.
	d := read(t, "other-forms.yaml")
	want := map[string][2]float64{
		"base": {1, 1}, "lid": {2, 2}, "bracket": {1, 1}, "foot": {4, 4}, "link": {6, 6}, "cheek": {1, 0}, "cheek.mirrored": {3, 3}, "jig": {1, 0},
		"main": {1, 1}, "relay": {1, 1}, "magnet": {8, 8}, "motor": {1, 1}, "rail": {1, 1}, "wire": {0.6, 0},
		"foot-screw": {4, 4}, "foot-screw.nut": {4, 4}, "rail-screw": {2, 2}, "rail-screw.nut": {2, 2}, "rail-screw.washer": {4, 4},
		"motor-screw": {4, 4}, "post": {4, 4}, "relay-screw": {4, 4}, "finger": {3, 3},
	}
	items, unknown := d.Tally("duo")
	if len(unknown) != 0 {
		t.Errorf("unknown: %+v", unknown)
	}
	if len(items) != len(want) {
		t.Errorf("%d items, want %d", len(items), len(want))
	}
	for _, it := range items {
		if w, ok := want[it.Name]; !ok || it.Listed != w[0] || it.Used != w[1] {
			t.Errorf("%s: listed %v used %v, want %v", it.Name, it.Listed, it.Used, w)
		}
	}
	items, unknown = d.Tally("ce")
	if len(unknown) != 0 {
		t.Errorf("unknown in ce: %+v", unknown)
	}
	for _, it := range items {
		if it.Name == "lid" && (it.Listed != 1 || it.Used != 1) || it.Name == "relay-screw" {
			t.Errorf("ce: %+v", it)
		}
	}
}

// base is a clean manifest; each case below changes one thing and names the finding it must give.
const base = `title: Twine Hook
summary: Holds a ball of twine.
changes: [{revision: 1.0.0, date: 2027-01-05, text: first release}]
colours: {body: clay}
parts: [{name: hook, colour: body, mesh: meshes/hook.stl}]
`

func TestMistakes(t *testing.T) {
	cases := []struct{ name, old, new, code, at, text, hint string }{
		{"unknown key", "summary:", "sumary:", "key-unknown", "2:1", `unknown key "sumary"`, "did you mean summary?"},
		{"missing key", "summary: Holds a ball of twine.\n", "", "value-missing", "1:1", `"summary" is missing`, "add summary"},
		{"key twice", "colours: {body: clay}", "colours: {body: clay}\ntitle: Again", "key-twice", "5:1", "second time", "keep one"},
		{"nothing there", "title: Twine Hook", "title:", "value-missing", "1:1", "nothing stands here", "quotes"},
		{"comment by accident", "title: Twine Hook", "title: #8 hook", "value-missing", "1:1", "nothing stands here", "starts with #"},
		{"list for text", "title: Twine Hook", "title: [a, b]", "value-wrong", "1:8", "expected one value, found a list", ""},
		{"text for list", "parts: [{name: hook, colour: body, mesh: meshes/hook.stl}]", "parts: hook", "value-wrong", "5:8", "expected a list, found a text", ""},
		{"fraction", "mesh: meshes/hook.stl", "mesh: meshes/hook.stl, copies: 2.5", "value-wrong", "5:67", `found "2.5"`, "digits"},
		{"quoted number", "mesh: meshes/hook.stl", `mesh: meshes/hook.stl, copies: "2"`, "value-wrong", "5:67", "in quotes", "remove the quotes"},
		{"octal", "mesh: meshes/hook.stl", "mesh: meshes/hook.stl, copies: 012", "value-wrong", "5:67", `found "012"`, "digits"},
		{"unit", "mesh: meshes/hook.stl", "mesh: meshes/hook.stl, print: {layer: 0.2 furlong}", "value-wrong", "5:74", "furlong", ""},
		{"range", "mesh: meshes/hook.stl", "mesh: meshes/hook.stl, print: {layer: 20}", "value-wrong", "5:74", "0.04 mm to 1.2 mm, found 20 mm", "decimal point"},
		{"share without sign", "mesh: meshes/hook.stl", "mesh: meshes/hook.stl, print: {infill: 15}", "value-wrong", "5:75", "with the % sign", ""},
		{"decimal comma", "mesh: meshes/hook.stl", `mesh: meshes/hook.stl, print: {layer: "0,2"}`, "value-wrong", "5:74", "0.2", ""},
		{"yes is no boolean", "mesh: meshes/hook.stl", "mesh: meshes/hook.stl, optional: yes", "value-wrong", "5:69", "expected true or false", ""},
		{"duplicate name", "mesh: meshes/hook.stl}", "mesh: meshes/hook.stl}, {name: hook, colour: body, mesh: meshes/b.stl}", "name-twice", "5:67", `"hook" is taken`, "another name"},
		{"unknown role", "colour: body, mesh", "colour: boddy, mesh", "name-unknown", "5:30", `no colour role is called "boddy"`, "did you mean body?"},
		{"unknown filament", "body: clay", "body: cley", "name-unknown", "4:17", `no filament of the series is called "cley"`, "did you mean clay?"},
		{"unknown variant", "mesh: meshes/hook.stl", "mesh: meshes/hook.stl, only: [left]", "name-unknown", "5:66", `no variant is called "left"`, ""},
		{"unknown board", "colours:", "variants: [{name: a, board: 96boards-cee}]\ncolours:", "name-unknown", "4:29", `"96boards-cee"`, "did you mean 96boards-ce?"},
		{"unknown item", "colours:", "assembly: [{title: Go, uses: {hok: 1}}]\ncolours:", "name-unknown", "4:31", `"hok"`, "did you mean hook?"},
		{"unknown joint target", "colours:", "fasteners: [{name: s, screw: M3x8, through: [hook], into: bass}]\ncolours:", "name-unknown", "4:59", `"bass"`, "known: hook"},
		{"path out", "meshes/hook.stl", "../hook.stl", "path-outside", "5:42", "leaves the design's folder", "copy the file"},
		{"absolute path", "meshes/hook.stl", "/home/hook.stl", "path-outside", "5:42", "outside the design's folder", "copy the file"},
		{"drive path", "meshes/hook.stl", `'C:\hook.stl'`, "path-outside", "5:42", "backslashes", "C:/hook.stl"},
		{"revision", "1.0.0", "1.0", "revision-malformed", "3:22", `"1.0"`, "three plain numbers"},
		{"date", "2027-01-05", "2027-02-30", "value-wrong", "3:35", "no day 2027-02-30", ""},
		{"name form", "name: hook", "name: Left Hook", "value-wrong", "5:16", `"Left Hook"`, "write left-hook"},
		{"curly quotes", "title: Twine Hook", "title: “Twine Hook”", "quote-curly", "1:8", "typographic", "plain quotes"},
		{"tab", "colours: {body: clay}", "colours:\n\tbody: clay", "text-unreadable", "5:", "", "tab"},
		{"anchor", "body: clay", "body: &x clay", "yaml-feature", "4:", "anchor", "write the value out"},
		{"tag", "title: Twine Hook", "title: !!str Twine", "yaml-feature", "1:", "tag", ""},
		{"second document", "colours:", "---\ncolours:", "yaml-feature", "5:", "second document", "one document"},
		{"one of words", "colours:", "teaser: titel\ncolours:", "value-wrong", "4:9", "nothing, title, picture", "did you mean title?"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if !strings.Contains(base, c.old) {
				t.Fatalf("the case does not apply: %q", c.old)
			}
			text := strings.Replace(base, c.old, c.new, 1)
			_, _, found := Decode("twine-hook", "d.yaml", []byte(text), known)
			for _, f := range found {
				if f.Code == c.code && strings.HasPrefix(fmt.Sprintf("%d:%d", f.At.Line, f.At.Column), c.at) &&
					strings.Contains(f.Text, c.text) && strings.Contains(f.Hint, c.hint) && f.Hint != "" {
					if n := finding.Count(found, finding.Error); n > 1 {
						t.Errorf("%d errors for one mistake: %v", n, found)
					}
					return
				}
			}
			t.Errorf("no finding %s at %s with %q, hint %q; found:", c.code, c.at, c.text, c.hint)
			for _, f := range found {
				t.Logf("%s: %s: %s | %s", f.At, f.Code, f.Text, f.Hint)
			}
		})
	}
	if _, _, found := Decode("twine-hook", "d.yaml", []byte(base), known); len(found) != 0 {
		t.Errorf("the base is not clean: %v", found)
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte(base))
	for _, n := range []string{"vent-minder.yaml", "other-forms.yaml"} {
		data, err := os.ReadFile("testdata/" + n)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte("a: [[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[1"))
	f.Add([]byte("a: &x [*x, *x]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, _, found := Decode("x", "x.yaml", data, known)
		if d == nil && finding.Count(found, finding.Error) == 0 {
			t.Error("no design and no error")
		}
		if d != nil {
			for _, v := range d.VariantNames() {
				d.Tally(v)
			}
			d.Files()
		}
	})
}
