package sheet

import (
	"bytes"
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
)

func bellDrop(t testing.TB, language, story string) Drop {
	in := bell(t, language)
	d := *in.Design
	d.Story = val(design.Path("story.md"))
	d.Supplied = []design.Gift{{What: val(design.Text("moss filament")), By: val(design.Text("a sponsor")), Disclose: val(design.Bool(true))}, {What: val(design.Text("secret")), By: val(design.Text("nobody"))}}
	d.Links = []design.Link{{What: val(design.Text("video")), URL: val(design.URL("https://example.org/v")), Audience: val(design.Audience("early"))}}
	f := *in.Facts
	f.Texts = []facts.Text{{File: "story.md", Body: story}}
	return Drop{Design: &d, Facts: &f, House: in.House, BOM: in.BOM, Audience: "early", Licence: "LicenseRef-Early-Access", Later: "CC-BY-SA-4.0",
		Early: Moment{design.Date{Year: 2027, Month: 3, Day: 5}, "17:00", "Europe/Lisbon"}, Public: Moment{design.Date{Year: 2027, Month: 3, Day: 26}, "17:00", "Europe/Lisbon"}}
}

func TestAnnounce(t *testing.T) {
	const story = "# Frost Bell\n\n{title} prints in {print_time} from {grams}, public on {public}. {nonsense} `{title}` <script>x</script> [a](b.html)\n\n## Why\n\nCold *beans*."
	in := bellDrop(t, "en", story)
	a := Announce(in)
	var text, page, md bytes.Buffer
	for _, print := range []error{a.Text(&text), a.HTML(&page), a.Markdown(&md)} {
		if print != nil {
			t.Fatal(print)
		}
	}
	got := squeeze(text.String())
	for _, want := range []string{"Frost Bell prints in 4 h 40 min from 44.0 g, public on 26 March 2027, 17:00 (Europe/Lisbon). {nonsense} {title}", "Why", "Cold beans.",
		"Out for supporters: 5 March 2027", "moss filament was given by a sponsor.", "video: https://example.org/v", "the clapper is 2 mm longer", "Ask Hollow Lane Workshop first.", "CC-BY-SA-4.0"} {
		if !strings.Contains(got, squeeze(want)) {
			t.Errorf("the text lacks %q:\n%s", want, text.String())
		}
	}
	for _, never := range []string{"script", "secret", "b.html"} {
		if strings.Contains(got+page.String()+md.String(), never) {
			t.Errorf("%q came through", never)
		}
	}
	if strings.Count(got, "Frost Bell") != 2 {
		t.Errorf("the title stands %d times, want 2 (head and sentence)", strings.Count(got, "Frost Bell"))
	}
	if !reflect.DeepEqual(a.Unknown, []string{"nonsense"}) || a.Missing != nil {
		t.Errorf("unknown %v, missing %v", a.Unknown, a.Missing)
	}
	if m := malformed(page.Bytes()); m != "" {
		t.Error(m)
	}
	if strings.Contains(page.String(), "<html") || strings.Contains(page.String(), "<style") {
		t.Error("a piece to paste must not be a page")
	}

	in.Audience, in.Licence = "public", "CC-BY-SA-4.0"
	var public bytes.Buffer
	if err := Announce(in).Text(&public); err != nil {
		t.Fatal(err)
	}
	if s := public.String(); strings.Contains(s, "example.org/v") || strings.Contains(s, "supporters") || !strings.Contains(s, "26 March 2027") {
		t.Errorf("the public text tells what is for supporters:\n%s", s)
	}

	in.BOM.Variants[0].PrintSeconds = nil
	if b := Announce(in); !reflect.DeepEqual(b.Missing, []string{"print_time"}) {
		t.Errorf("missing: %v", b.Missing)
	}
	if both := AnnounceTogether("This week", a, Announce(in)); len(both.Blocks) != len(a.Blocks)*2-0 && len(both.Blocks) < len(a.Blocks) {
		t.Errorf("%d blocks of two texts", len(both.Blocks))
	}
}

// TestPlaceholdersAreKnown holds that each placeholder that is offered has a value.
func TestPlaceholdersAreKnown(t *testing.T) {
	n := &notice{Drop: bellDrop(t, "en", ""), out: &Announcement{}}
	n.BOM.Variants = append(n.BOM.Variants, bom.Variant{Variant: "tall", Title: "Tall", Parts: n.BOM.Variants[0].Parts, Filament: n.BOM.Variants[0].Filament})
	for _, p := range Placeholders {
		if _, ok := n.value(p); !ok {
			t.Errorf("{%s} is offered and not known", p)
		}
	}
	if v, _ := n.value("grams"); v != "44.0\u00a0g" {
		t.Errorf("equal masses of two variants: %q", v)
	}
	if v, _ := n.value("variants"); v != "Tall" {
		t.Errorf("variants: %q", v)
	}
}

// TestMarkdownComesBack prints blocks as Markdown and reads them again: the same blocks.
func TestMarkdownComesBack(t *testing.T) {
	for _, body := range []string{
		"A *b* **c** `d` [e](https://example.org/a_b?c=d&e=f).", "## h\n\n- a\n- b\n\n  c\n- d\n\n1. x\n2. y", "> q\n>\n> r", "```\na\n\n*b*\n```", "a\\\nb", "1\\. not a list", `\# not a heading \* \_ \<b\> &amp;amp;`,
		"`` a`b ``", "a {title} | b ~c~", "\\- x", "\\+ y", "x &lt; y",
	} {
		first := Markdown(body, 2)
		second := Markdown(markdownOf(first), 2)
		a, _ := json.Marshal(first)
		b, _ := json.Marshal(second)
		if !bytes.Equal(a, b) {
			t.Errorf("%q became %q:\n%s\n%s", body, markdownOf(first), a, b)
		}
	}
}

func TestShots(t *testing.T) {
	in := bell(t, "en")
	s := Shots(in)
	var b bytes.Buffer
	if err := s.Text(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"[ ] A cover", "[ ] A picture that shows the part clamp half.", "[ ] Step 2: Join the halves"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the list lacks %q:\n%s", want, b.String())
		}
	}
	demoIn, _ := demo(t, "soil-stake", design.Plain, "en")
	if s := Shots(demoIn); len(s.Sections) != 0 {
		t.Errorf("the soil stake has all its pictures: %+v", s.Sections)
	}
	var page bytes.Buffer
	if err := s.HTML(&page, nil); err != nil {
		t.Fatal(err)
	}
	for _, f := range faults(readPage(t, page.Bytes())) {
		t.Error(f)
	}
}
