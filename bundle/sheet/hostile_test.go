package sheet

import (
	"bytes"
	"image"
	"image/png"
	"io"
	"strings"
	"testing"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

func at(line int) finding.Place { return finding.Place{File: "design.yaml", Line: line, Column: 1} }

func val[T any](v T) design.Val[T] { return design.Val[T]{V: v, At: at(1)} }

// hook is a small design without board or fasteners, written by hand.
func hook() Input {
	house := &design.House{Maker: design.Maker{Name: val(design.Text("Hollow Lane Workshop"))}, Print: design.Print{Layer: val(unit.Length(0.2)), Walls: val(design.Int(3))}}
	house.Filaments = []design.Filament{{Name: val(design.Name("clay")), Material: val(design.Text("PETG")), Colour: val(design.Hex("#8a5a44"))}}
	d := &design.Design{Folder: "twine-hook", Title: val(design.Text("Twine Hook")), Summary: val(design.Text("Holds a ball of twine on a 25 mm rail."))}
	d.Changes = []design.Change{{Revision: val(design.Revision{Major: 1}), Date: val(design.Date{Year: 2027, Month: 1, Day: 5}), Text: val(design.Text("first release"))}}
	d.Colours.Entries = []design.DictEntry[design.Palette]{{Key: "body", Value: design.Palette{At: at(1), Items: []design.Val[design.Name]{val(design.Name("clay"))}}}}
	mesh := val(design.Path("meshes/hook.stl"))
	d.Parts = []design.Part{{Name: val(design.Name("hook")), Colour: val(design.Name("body")), Mesh: design.ByVariant[design.Path]{At: at(1), All: &mesh}}}
	f := &facts.Design{}
	f.Parts = []facts.Part{{Part: "hook", Variant: design.Plain, Mesh: "meshes/hook.stl", Estimate: &facts.Estimate{Grams: 12.34, Metres: 4.1, Seconds: 3700}}}
	in := Input{Design: d, Facts: f, House: house, Variant: design.Plain, Audience: "public", Licence: "CC-BY-4.0", Content: "0123456789abcdef"}
	in.BOM = bom.Compute(d, f, house, []string{design.Plain}, 1, func(string) string { return "" })
	return in
}

// TestHostileTexts puts markup and scripts wherever a maker can write; nothing of it may become markup.
// The forms follow the OWASP cheat sheet on cross-site scripting.
func TestHostileTexts(t *testing.T) {
	attacks := []string{
		`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `'-alert(1)-'`, `</style><script>alert(1)</script>`, `{{.}}`, `</svg><script>alert(1)</script>`,
		`javascript:alert(1)`, `<a href="javascript:alert(1)">x</a>`, `&lt;script&gt;`, "\x00\x01", `<!--`, `]]>`,
	}
	for _, a := range attacks {
		in := hook()
		d := in.Design
		text := val(design.Text(a))
		d.Title, d.Summary, d.ExtraTerms = text, text, text
		d.Changes[0].Text = text
		d.Parts[0].Title = text
		d.Credits = []design.Credit{{What: text, By: text, Link: val(design.URL(a)), Licence: text, Changed: text}}
		d.Links = []design.Link{{What: text, URL: val(design.URL(a))}}
		d.Page = val(design.URL(a))
		in.House.Maker.Name, in.House.Maker.URL = text, val(design.URL(a))
		in.House.Accent = val(design.Hex(a))
		in.House.Filaments[0].Colour = val(design.Hex(a))
		d.Photos = []design.Photo{{File: val(design.Path("x.png")), Alt: text}}
		d.Wiring = design.Wiring{SeenFrom: val(design.View("component side")), Rows: []design.WiringRow{{From: text, To: text, Colour: text, Note: text}}}
		d.Assembly = []design.Step{{Title: text, Text: val(design.Text(a + "\n\n[x](" + a + ") ![" + a + "](" + a + ")")), Tools: []design.Val[design.Text]{text}, After: []design.Val[design.Text]{text}}}
		in.Licence = a
		in.Remarks = []string{a}
		in.PartImage = func(string, bool) string { return a }
		in.Since, in.Reprint = a, []Reprint{{Part: a, Answer: a, Change: a, Why: a}}
		in.Beside = bom.Beside{Variants: []string{design.Plain, a}, Titles: []string{a, a}, Rows: []bom.BesideLine{{Section: "bought", Item: a, What: a, Unit: a, Cells: []string{a, ""}, Seconds: make([]*float64, 2), Differs: true}}}
		d.Page = val(design.URL(a))
		in.BOM = bom.Compute(d, in.Facts, in.House, []string{design.Plain}, 1, func(string) string { return a })
		s := Compose(in)
		var b bytes.Buffer
		if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 3, 2))); err != nil {
			t.Fatal(err)
		}
		pictures := func(string) ([]byte, string, error) { return b.Bytes(), "image/png", nil }
		if err := s.PDF(io.Discard, pictures, "letter"); err != nil {
			t.Errorf("%q: PDF: %v", a, err)
		}
		if err := s.Text(io.Discard); err != nil {
			t.Errorf("%q: text: %v", a, err)
		}
		data := printed(t, s, pictures)
		if m := malformed(data); m != "" {
			t.Errorf("%q: %s", a, m)
		}
		page := readPage(t, data)
		for _, f := range faults(page) {
			t.Errorf("%q: %s", a, f)
		}
	}
}

// TestPicturesAreRefused holds that only JPEG and PNG go in, and that nothing is written when one fails.
func TestPicturesAreRefused(t *testing.T) {
	in := hook()
	in.Design.Photos = []design.Photo{{File: val(design.Path("x.svg")), Alt: val(design.Text("x"))}}
	s := Compose(in)
	for _, images := range []Images{
		func(string) ([]byte, string, error) { return []byte("<svg/>"), "image/svg+xml", nil },
		func(string) ([]byte, string, error) { return nil, "", bytes.ErrTooLarge },
	} {
		var b bytes.Buffer
		if err := s.HTML(&b, images); err == nil || !strings.Contains(err.Error(), "x.svg") || b.Len() > 0 {
			t.Errorf("HTML: error %v, %d bytes written", err, b.Len())
		}
		if err := s.PDF(&b, images, "a4"); err == nil || !strings.Contains(err.Error(), "x.svg") || b.Len() > 0 {
			t.Errorf("PDF: error %v, %d bytes written", err, b.Len())
		}
	}
}
