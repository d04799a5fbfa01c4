package sheet

import (
	"strings"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
)

// Accent is the accent colour of a house that chose none: a dark blue that is grey enough in print.
const Accent = "#1f4e79"

// ContentDigits is how many digits of the content's digest stand at the foot of a page: enough to tell two
// revisions of one design apart, short enough to read out.
const ContentDigits = 12

// composer carries what all sections need.
type composer struct {
	Input
	tongue
	bill   bom.Variant
	items  []design.Item
	boards []design.BoardUse
	out    *Sheet
}

// Compose makes the sheet of one variant. It reads no file; the same input gives the same tree.
func Compose(in Input) *Sheet {
	c := newComposer(in)
	d := in.Design
	s := c.out
	*s = Sheet{Design: d.Folder, Title: string(d.Title.V), Summary: string(d.Summary.V), Revision: d.Revision().String(),
		Date: d.Dated().String(), Dated: c.date(d.Dated()), Variant: in.Variant, Audience: string(in.Audience), Builds: max(1, in.BOM.Builds), Licence: in.Licence,
		Maker: string(in.House.Maker.Name.V), MakerURL: string(in.House.Maker.URL.V), Content: in.Content, Language: codes[c.tongue],
		Accent: string(in.House.Accent.Or(Accent)), Logo: in.Logo, Page: string(d.Page.V), Code: squareCode(string(d.Page.V))}
	if len(s.Content) > ContentDigits {
		s.Content = s.Content[:ContentDigits]
	}
	s.VariantTitle = c.variantTitle()
	s.Head = c.head()
	c.section("safety", c.safety())
	c.section("parts", c.parts())
	c.section("print", c.print())
	c.section("shopping", c.shopping())
	c.section("variants", c.variants())
	c.section("tools", c.tools())
	c.section("screws", c.screws())
	c.section("steps", c.steps())
	c.section("wiring", c.wiring())
	c.section("power", c.power())
	c.section("about", c.about())
	if len(s.Sections) > 1 {
		b := Block{Kind: Links}
		for _, x := range s.Sections {
			b.Contents = append(b.Contents, Anchor{x.ID, x.Title})
		}
		s.Head = append(s.Head, b)
	}
	c.settle()
	return s
}

func newComposer(in Input) *composer {
	c := &composer{Input: in, tongue: tongueOf(string(in.House.Language.V)), out: &Sheet{}}
	if len(in.BOM.Variants) > 0 {
		c.bill = in.BOM.Variants[0]
	}
	c.items, _ = in.Design.Tally(in.Variant)
	v, _ := in.Design.Variant(in.Variant)
	c.boards = v.BoardList()
	return c
}

// section adds a section with something in it; its title is the table's "section." entry.
func (c *composer) section(id string, blocks []Block) {
	if len(blocks) > 0 {
		c.out.Sections = append(c.out.Sections, Section{ID: id, Title: c.say("section." + id), Blocks: blocks})
	}
}

func (c *composer) count(section, name string, n float64) {
	c.out.Counts = append(c.out.Counts, Count{section, name, n})
}

func (c *composer) variantTitle() string {
	v, _ := c.Design.Variant(c.Variant)
	if v.Title.Set() {
		return string(v.Title.V)
	}
	if c.Variant == design.Plain {
		return ""
	}
	return c.Variant
}

func (c *composer) boardTitle(profile string) string {
	if c.BoardTitle != nil {
		if t := c.BoardTitle(profile); t != "" {
			return t
		}
	}
	return profile
}

// head says what the thing is, whose it is, what may be done with it and what changed.
func (c *composer) head() []Block {
	d := c.Design
	facts := Block{Kind: Pairs}
	add := func(term string, spans ...Span) { facts.Pairs = append(facts.Pairs, Pair{c.say(term), spans}) }
	add("revision", Span{Text: c.out.Revision + ", " + c.out.Dated})
	if t := c.out.VariantTitle; t != "" {
		v, _ := d.Variant(c.Variant)
		spans := []Span{{Text: t}}
		if len(v.BoardRevisions) > 0 {
			var revs []string
			for _, r := range v.BoardRevisions {
				revs = append(revs, string(r.V))
			}
			spans = append(spans, Span{Text: ", " + c.say("board revisions", c.list(revs))})
		}
		if v.Availability.Set() {
			spans = append(spans, Span{Text: " (" + string(v.Availability.V) + ")"})
		}
		add("variant", spans...)
	}
	if c.out.Builds > 1 {
		add("builds", Span{Text: c.say("builds line", c.out.Builds)})
	}
	add("made by", Span{Text: c.out.Maker, Href: c.out.MakerURL})
	if d.Page.Set() {
		add("page", Span{Text: string(d.Page.V), Href: string(d.Page.V)})
	}
	out := []Block{facts}
	if p, ok := c.cover(); ok {
		out = append(out, Block{Kind: Pictures, Large: true, Pictures: []Picture{p}})
	}
	out = append(out, c.licence()...)
	out = append(out, c.changes()...)
	for i, r := range c.Remarks {
		if i == 0 {
			out = append(out, heading(2, c.say("remarks")), text(Para, c.say("remarks line", c.out.Maker)))
			out = append(out, Block{Kind: List})
		}
		last := &out[len(out)-1]
		last.Items = append(last.Items, []Block{text(Para, r)})
	}
	return out
}

// cover is the picture that stands for the design: the one marked so, or the first of the variant.
func (c *composer) cover() (Picture, bool) {
	var first *design.Photo
	for i, p := range c.Design.Photos {
		if !p.Only.Has(c.Variant) {
			continue
		}
		if first == nil || bool(p.Cover.V) && !bool(first.Cover.V) || len(p.Only) > 0 && len(first.Only) == 0 {
			first = &c.Design.Photos[i] // a picture made for this variant shows it better than the common cover
		}
	}
	if first == nil {
		return Picture{}, false
	}
	return Picture{File: string(first.File.V), Alt: string(first.Alt.V)}, true
}

func (c *composer) changes() []Block {
	t := &Table{Caption: c.say("changes caption"), Columns: []Column{{Title: c.say("revision"), Share: 1.2}, {Title: c.say("date"), Share: 2}, {Title: c.say("what changed"), Share: 6}}}
	for _, x := range c.Design.Changes {
		t.Rows = append(t.Rows, row(x.Revision.V.String(), c.date(x.Date.V), string(x.Text.V)))
	}
	out := []Block{heading(2, c.say("changes")), {Kind: Grid, Table: t}}
	return append(out, c.reprint()...)
}

// reprint answers who built the revision before: which parts must be printed anew.
func (c *composer) reprint() []Block {
	if c.Since == "" {
		return nil
	}
	r := &Table{Caption: c.say("reprint caption", c.Since), Columns: []Column{{Title: c.say("part"), Share: 2}, {Title: c.say("print anew"), Share: 1.5}, {Title: c.say("why"), Share: 5}}}
	any := false
	for _, x := range c.Reprint {
		any = any || x.Answer != "no"
		answer := x.Answer
		if c.has("reprint." + answer) {
			answer = c.say("reprint." + answer)
		}
		name := x.Part
		if p, ok := c.Design.Part(x.Part); ok {
			name = c.partName(p)
		}
		line := row(name, answer, c.reprintWhy(x))
		line.Cells[1].Spans[0].Strong = x.Answer != "no"
		r.Rows = append(r.Rows, line)
	}
	if !any {
		return []Block{{Kind: Para, Spans: []Span{{Text: c.say("reprint caption", c.Since), Strong: true}, {Text: " " + c.say("reprint none")}}}}
	}
	return []Block{{Kind: Grid, Table: r}}
}

// reprintWhy gives the reason: the comparison's own sentence, or in another language what became of the part.
func (c *composer) reprintWhy(x Reprint) string {
	if c.tongue == english || !c.has("change."+x.Change) {
		return x.Why
	}
	why := c.say("change." + x.Change)
	if x.Deviation != nil && *x.Deviation >= 0.005 {
		why = join(", ", why, c.say("change by", c.number(*x.Deviation, 2)+nbsp+"mm"))
	}
	return why
}

// about closes the sheet: credits, what was given, links.
func (c *composer) about() []Block {
	var out []Block
	d := c.Design
	list := Block{Kind: List}
	for _, x := range d.Credits {
		spans := []Span{{Text: c.say("credit", x.What.V, x.By.V)}}
		if x.Licence.Set() {
			spans = append(spans, Span{Text: ", " + string(x.Licence.V)})
		}
		if x.Changed.Set() {
			spans = append(spans, Span{Text: "; " + c.say("credit changed", x.Changed.V)})
		}
		if x.Link.Set() {
			spans = append(spans, Span{Text: ", "}, Span{Text: string(x.Link.V), Href: string(x.Link.V)})
		}
		list.Items = append(list.Items, []Block{{Kind: Para, Spans: spans}})
	}
	for _, x := range d.Supplied {
		if bool(x.Disclose.V) {
			list.Items = append(list.Items, []Block{text(Para, c.say("supplied", x.What.V, x.By.V))})
		}
	}
	for _, x := range d.Links {
		if x.Audience.Set() && x.Audience.V != c.Audience {
			continue
		}
		list.Items = append(list.Items, []Block{{Kind: Para, Spans: []Span{{Text: string(x.What.V) + ": "}, {Text: string(x.URL.V), Href: string(x.URL.V)}}}})
	}
	if len(list.Items) > 0 {
		out = append(out, list)
	}
	return append(out, text(Small, c.say("foot", c.out.Design, c.out.Revision, c.out.Content)))
}

func text(k Kind, s string) Block { return Block{Kind: k, Spans: []Span{{Text: s}}} }

func heading(level int, s string) Block {
	return Block{Kind: Heading, Level: level, Spans: []Span{{Text: s}}}
}

func row(cells ...string) Row {
	var r Row
	for _, x := range cells {
		r.Cells = append(r.Cells, Cell{Spans: []Span{{Text: x}}})
	}
	return r
}

// join puts non-empty texts in a row.
func join(sep string, parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, sep)
}
