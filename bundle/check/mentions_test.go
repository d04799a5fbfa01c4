package check

import (
	"slices"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/unit"
)

// story is a design whose story is a text, with some files in its folder.
func story(body string, files ...facts.File) *Input {
	d := &design.Design{File: at.File, Story: design.Val[design.Path]{V: "texts/story.md", At: at}}
	return &Input{Design: d, Facts: &facts.Design{Files: files, Texts: []facts.Text{{File: "texts/story.md", Body: body}}}}
}

func TestFilesNamedInTexts(t *testing.T) {
	for body, want := range map[string]int{
		"Print hook.stl twice.":                          0,
		"Print Hook.STL twice.":                          0,
		"Print meshes/hook.stl, then peg.stl.":           1,
		"The sheet is sheet.html, the list bom.csv.":     0,
		"See https://hollow-lane.example/old/peg.stl":    0,
		"peg.stl, peg.stl and again peg.stl":             1,
		"Version 1.stl is gone; e.g. the step is 3.step": 2,
	} {
		in := story(body, facts.File{Path: "meshes/hook.stl", Named: true})
		if got := codes(in, filesInTexts); len(got) != want {
			t.Errorf("%q: found %q, want %d", body, got, want)
		}
	}
}

func TestLinks(t *testing.T) {
	front := facts.File{Path: "photos/front.jpg", Named: true}
	spare := facts.File{Path: "texts/spare.md"}
	for body, want := range map[string]int{
		"See [the front][1].\n\n[1]: ../photos/front.jpg":      0,
		"See [the front][1].\n\n[1]: <../photos/moved.jpg>":    1,
		"[^1]: a note, not a link to a file":                   0,
		`<img alt="x" src="../photos/moved.jpg">`:              1,
		`<a href='../photos/front.jpg'>front</a>`:              0,
		"![front](../photos/front.jpg)":                        0,
		`[front](../photos/front.jpg "The front")`:             0,
		"![front](photos/front.jpg)":                           1, // from the text's own folder
		"[spare](spare.md)":                                    1, // there, but no bundle holds it
		"[out](/etc/motd)":                                     1,
		"[up](../../other/story.md)":                           1,
		"[page](https://hollow-lane.example) [m](mailto:x@y)":  0,
		"# A heading, *here*\n\n[up](#a-heading-here)":         0,
		"# A heading\n\n[up](#another)":                        1,
		"`[code](gone.md)`\n\n```\n[fenced](gone.md)\n```\n":   0,
		"~~~\n[fenced](gone.md)\n~~~\n[open](gone.md)":         1,
		"a ` lone tick and [a link](gone.md)":                  1,
		"[angle](<../photos/front.jpg>) and [](../photos/x.y)": 1,
	} {
		if got := codes(story(body, front, spare), links); len(got) != want {
			t.Errorf("%q: found %q, want %d", body, got, want)
		}
	}
	r := &report{variants: []string{design.Plain}}
	in := story("first\r\n\r\n[text](gone.md)\r\n", front)
	links(in, r)
	if p := r.findings[0].At; p.File != "designs/x/texts/story.md" || p.Line != 3 || p.Column != 8 || p.Width != len("gone.md") {
		t.Errorf("the place is %+v", p)
	}
}

func TestSettingsNamedInTexts(t *testing.T) {
	for body, want := range map[string]int{
		"Print it with 15 % infill and 3 perimeters.": 0,
		"Print it with 15% infill, layer height 0.2.": 0,
		"Print it with 20 % infill.":                  1,
		"Infill: 40%, 4 perimeters, 0,3 mm layers":    3,
		"walls: 4": 1,
		"The box has 4 walls and 50 % more room.": 0,
	} {
		in := story(body)
		in.House = &design.House{Print: design.Print{Layer: design.Val[unit.Length]{V: 0.2, At: at}, Walls: design.Val[design.Int]{V: 3, At: at}, Infill: design.Val[unit.Share]{V: 0.15, At: at}}}
		in.Design.Parts = []design.Part{{At: at}}
		if got := codes(in, settingsInTexts); len(got) != want {
			t.Errorf("%q: found %q, want %d", body, got, want)
		}
	}
}

func TestSizesNamedInTexts(t *testing.T) {
	for body, want := range map[string]int{
		"Glue the magnet of 6 x 3 in.":              0,
		"Glue the 3x6 magnet in.":                   0,
		"Glue the 6x2 magnet in.":                   1,
		"Press the bearing, 50x65, home.":           1,
		"A board of 40 x 40, screwed with M3 x 12.": 0,
		"The M3x12 beside the magnet.":              0,
	} {
		in := story(body)
		in.Design.Bought = []design.Bought{{At: at, Name: design.Val[design.Name]{V: "magnet", At: at}, What: text("disc magnet"),
			Size: design.Size{Diameter: design.Val[unit.Length]{V: 6, At: at}, Height: design.Val[unit.Length]{V: 3, At: at}}}}
		if got := codes(in, quantities); len(got) != want {
			t.Errorf("%q: found %q, want %d", body, got, want)
		}
	}
}

func TestHeadings(t *testing.T) {
	got := headings("# Twine Hook\ntext\n## What, now?\n#Grüße_1\n")
	if want := []string{"twine-hook", "what-now", "grüße_1"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

// FuzzTexts: no text makes a rule about texts fail, and places lie inside it.
func FuzzTexts(f *testing.F) {
	for _, s := range []string{"", "[a](b)\n", "`[a](", "```\n~~~", "# ", "](", "6x", "M3x", "magnet 6x3 a", "\xff](\xff)", "100 % infill"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		in := story(s)
		in.House = &design.House{Licence: text("CC-BY-4.0")}
		in.Design.Bought = []design.Bought{{What: text("rod"), Size: design.Size{Length: design.Val[unit.Length]{V: 6, At: at}}}}
		r := &report{variants: []string{design.Plain}}
		for _, x := range []func(*Input, *report){links, filesInTexts, settingsInTexts, licenceInTexts, quantities} {
			x(in, r)
		}
		for _, f := range r.findings {
			if f.At.Line < 1 || f.At.Column < 1 {
				t.Errorf("%q: a finding at %v", s, f.At)
			}
		}
	})
}
