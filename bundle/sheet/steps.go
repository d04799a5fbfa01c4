package sheet

import (
	"fmt"
	"strings"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
)

// stepIndices are the indices into Assembly of the steps that the variant has, in order. A step's number on
// the sheet is its place in this list, counted from 1.
func (c *composer) stepIndices() []int {
	var out []int
	for i, s := range c.Design.Assembly {
		if s.Only.Has(c.Variant) {
			out = append(out, i)
		}
	}
	return out
}

// steps is one block a step: what it takes, what it needs, what can hurt, what to do.
func (c *composer) steps() []Block {
	var out []Block
	for n, i := range c.stepIndices() {
		out = append(out, c.step(n+1, i))
	}
	return out
}

func (c *composer) step(number, i int) Block {
	s := c.Design.Assembly[i]
	b := Block{Kind: Group, ID: fmt.Sprintf("step-%d", number), Title: c.say("step title", number, s.Title.V)}
	var after []string
	for _, a := range s.After {
		after = append(after, string(a.V))
	}
	if len(after) > 0 {
		b.Blocks = append(b.Blocks, text(Para, c.say("after", c.list(after))))
	}
	if s.Repeats() > 1 {
		b.Blocks = append(b.Blocks, text(Para, c.say("times", s.Repeats())))
	}
	if uses := c.uses(i); len(uses.Items) > 0 {
		b.Blocks = append(b.Blocks, uses)
	}
	if tools := c.stepTools(i); len(tools) > 0 {
		b.Blocks = append(b.Blocks, Block{Kind: Para, Spans: []Span{{Text: c.say("tools here"), Strong: true}, {Text: " " + strings.Join(tools, ", ")}}})
	}
	w := Block{Kind: Warnings}
	for _, k := range c.cautionKeys(i) {
		w.Cautions = append(w.Cautions, c.caution(k))
	}
	if len(w.Cautions) > 0 {
		b.Blocks = append(b.Blocks, w)
	}
	b.Blocks = append(b.Blocks, c.stepText(s)...)
	if s.Makes.Set() {
		b.Blocks = append(b.Blocks, Block{Kind: Para, Spans: []Span{{Text: c.say("makes", s.Repeats(), s.Makes.V)}}})
	}
	switch {
	case s.Picture.File.Set():
		b.Blocks = append(b.Blocks, Block{Kind: Pictures, Pictures: []Picture{{File: string(s.Picture.File.V), Alt: string(s.Picture.Alt.V)}}})
	case c.StepImage != nil:
		if p := c.StepImage(i); p != nil {
			b.Blocks = append(b.Blocks, Block{Kind: Pictures, Pictures: []Picture{*p}})
		}
	}
	return b
}

// stepText is the step's own text, or its Markdown file.
func (c *composer) stepText(s design.Step) []Block {
	body := string(s.Text.V)
	if f, ok := s.TextFile(); ok {
		body, ok = c.Facts.Text(string(f))
		if !ok {
			return nil // package check says that the file is missing
		}
	}
	return Markdown(body, 4)
}

// uses lists what a step takes up, by the tally.
func (c *composer) uses(step int) Block {
	list := Block{Kind: List, Title: c.say("uses")}
	for _, it := range c.items {
		n := 0.0
		for _, u := range it.UsedIn {
			if u.Step == step {
				n += u.Count
			}
		}
		if n == 0 {
			continue
		}
		c.count("step", it.Name, n)
		spans := []Span{{Text: c.amount(it, n), Strong: true}, {Text: " "}}
		list.Items = append(list.Items, []Block{{Kind: Para, Spans: append(spans, c.thing(it)...)}})
	}
	return list
}

func (c *composer) amount(it design.Item, n float64) string {
	if it.Kind == design.BoughtItem {
		if b, _ := c.Design.BoughtPart(it.Name); b.Unit.Set() {
			return c.short(n) + nbsp + string(b.Unit.V)
		}
	}
	return c.short(n) + nbsp + "×"
}

// thing names an item as a builder finds it: a part by its title and colour, a fastener by its designation, a
// bought part by what was ordered.
func (c *composer) thing(it design.Item) []Span {
	switch it.Kind {
	case design.PartItem:
		p, _ := c.Design.Part(it.Base)
		name := c.partName(p)
		if strings.HasSuffix(it.Name, ".mirrored") {
			name += " (" + c.say("mirrored") + ")"
		}
		for _, f := range c.bill.Filament {
			if f.Role == string(p.Colour.V) {
				return []Span{{Text: name + ", "}, {Text: f.Filament, Swatch: f.Colour}}
			}
		}
		return []Span{{Text: name}}
	case design.FastenerItem:
		f, _ := c.Design.Fastener(it.Base)
		des, _, _ := bom.Designation(f, it, c.Variant)
		return []Span{{Text: des}, {Text: " (" + it.Base + ")", Em: true}}
	case design.BoardItem:
		for _, b := range c.boards {
			if string(b.Name.V) == it.Name {
				return []Span{{Text: it.Name + ": " + c.boardTitle(string(b.Profile.V))}}
			}
		}
	case design.BoughtItem:
		for _, b := range c.bill.Bought {
			if b.Name == it.Name {
				return []Span{{Text: it.Name + ": " + b.What}}
			}
		}
	case design.MadeItem:
		return []Span{{Text: it.Name + ", " + c.say("made before")}}
	}
	return []Span{{Text: it.Name}}
}
