package sheet

import (
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/bom"
	"dropwright/bundle/hardware"
)

// shopping is everything to order, once.
func (c *composer) shopping() []Block {
	var out []Block
	b := c.bill
	// A column without any figure stays away.
	extra := func(t *Table, packs, cost bool) {
		if packs {
			t.Columns = append(t.Columns, Column{Title: c.say("packs"), Share: 1.5})
		}
		if cost {
			t.Columns = append(t.Columns, Column{Title: c.say("cost"), Right: true, Share: 1.5})
		}
	}
	if len(b.Fasteners) > 0 {
		t := &Table{Caption: c.say("fasteners caption"), Columns: []Column{{Title: c.say("designation"), Share: 4}, {Title: c.say("count"), Right: true, Share: 1}, {Title: c.say("used for"), Share: 3}}}
		packs := slices.ContainsFunc(b.Fasteners, func(f bom.Fastener) bool { return f.Packs != nil })
		cost := slices.ContainsFunc(b.Fasteners, func(f bom.Fastener) bool { return f.Cost != nil })
		extra(t, packs, cost)
		for _, f := range b.Fasteners {
			name := Cell{Spans: []Span{{Text: f.Designation}}, Note: c.fastenerTitle(f)}
			if f.Optional {
				name.Note = join(", ", name.Note, c.say("optional"))
			}
			if f.Note != "" {
				name.Note = join("; ", name.Note, f.Note)
			}
			r := Row{Cells: []Cell{name, cell(fmt.Sprint(f.Count)), cell(c.list(f.UsedBy))}}
			if packs {
				r.Cells = append(r.Cells, cell(c.packs(f.Packs, f.PackOf)))
			}
			if cost {
				r.Cells = append(r.Cells, cell(c.price(f.Cost)))
			}
			t.Rows = append(t.Rows, r)
			c.count("fastener", f.Designation, float64(f.Count))
		}
		out = append(out, Block{Kind: Grid, Table: t})
	}
	if len(b.Bought) > 0 {
		t := &Table{Caption: c.say("bought caption"), Columns: []Column{{Title: c.say("thing"), Share: 5}, {Title: c.say("count"), Right: true, Share: 1.2}, {Title: c.say("called here"), Share: 2}}}
		packs := slices.ContainsFunc(b.Bought, func(x bom.Bought) bool { return x.Packs != nil })
		cost := slices.ContainsFunc(b.Bought, func(x bom.Bought) bool { return x.Cost != nil })
		extra(t, packs, cost)
		for _, x := range b.Bought {
			n := c.short(x.Count)
			if x.Unit != "" {
				n += nbsp + x.Unit
			}
			name := Cell{Spans: []Span{{Text: x.What}}}
			if x.Optional {
				name.Note = c.say("optional")
			}
			if len(x.Instead) > 0 {
				name.Note = join("; ", name.Note, c.say("instead", c.or(x.Instead)))
			}
			if x.Kind == "board" {
				name.Note = join("; ", name.Note, c.boardNote(x.Name))
			}
			r := Row{Cells: []Cell{name, cell(n), cell(x.Name)}}
			if packs {
				r.Cells = append(r.Cells, cell(c.packs(x.Packs, x.PackOf)))
			}
			if cost {
				r.Cells = append(r.Cells, cell(c.price(x.Cost)))
			}
			t.Rows = append(t.Rows, r)
			c.count("bought", x.Name, x.Count)
		}
		out = append(out, Block{Kind: Grid, Table: t})
	}
	if rows := c.filamentRows(); len(rows) > 0 {
		t := &Table{Caption: c.say("filament caption"), Rows: rows, Columns: []Column{{Title: c.say("filament"), Share: 5}}}
		if slices.ContainsFunc(b.Filament, func(f bom.Filament) bool { return f.Grams != nil }) {
			t.Columns = append(t.Columns, Column{Title: c.say("mass"), Right: true, Share: 2})
			for i, f := range b.Filament {
				t.Rows[i].Cells = append(t.Rows[i].Cells, cell(figure(f.Grams, c.tongue.grams)))
			}
		}
		if slices.ContainsFunc(b.Filament, func(f bom.Filament) bool { return f.Cost != nil }) {
			t.Columns = append(t.Columns, Column{Title: c.say("cost"), Right: true, Share: 1.5})
			for i, f := range b.Filament {
				t.Rows[i].Cells = append(t.Rows[i].Cells, cell(c.price(f.Cost)))
			}
		}
		out = append(out, Block{Kind: Grid, Table: t})
	}
	if len(b.Supplies) > 0 {
		out = append(out, Block{Kind: Para, Spans: []Span{{Text: c.say("supplies"), Strong: true}, {Text: " " + c.list(b.Supplies) + "."}}})
	}
	if len(out) == 0 {
		return []Block{text(Para, c.say("nothing to buy"))}
	}
	if b.Cost != nil {
		key := "cost together"
		if !b.Complete {
			key = "cost of what has a price"
		}
		out = append(out, text(Para, c.say(key, c.money(*b.Cost, c.BOM.Currency))))
	}
	return out
}

// filamentRows is one row a filament; figures that are known come after.
func (c *composer) filamentRows() []Row {
	var out []Row
	for _, f := range c.bill.Filament {
		x := Cell{Spans: []Span{{Text: f.Filament, Swatch: f.Colour}}, Note: join(", ", f.Material, f.Colour)}
		if len(f.Also) > 0 {
			x.Note = join("; ", x.Note, c.say("or also", c.or(f.Also)))
		}
		out = append(out, Row{Cells: []Cell{x}})
	}
	return out
}

// boardNote is what the variant says of its board. It has one list of board revisions, which is its first
// board's: a second board has a profile of its own.
func (c *composer) boardNote(name string) string {
	v, _ := c.Design.Variant(c.Variant)
	if b := v.BoardList(); len(b) == 0 || string(b[0].Name.V) != name {
		return ""
	}
	var revs []string
	for _, r := range v.BoardRevisions {
		revs = append(revs, string(r.V))
	}
	note := ""
	if len(revs) > 0 {
		note = c.say("board revisions", c.list(revs))
	}
	return join("; ", note, string(v.Availability.V))
}

// fastenerTitle is a designation in words for who has never seen a standard, with the tool that turns it.
func (c *composer) fastenerTitle(f bom.Fastener) string {
	return join(", ", c.fastenerWords(f)...)
}

// fastenerWords are what a fastener is and what turns it.
func (c *composer) fastenerWords(f bom.Fastener) []string {
	d, err := hardware.ParseDesignation(f.Designation)
	if err != nil {
		return []string{c.say("fastener." + f.Kind)}
	}
	title := d.Title()
	if c.has("title." + title) {
		title = c.say("title." + title)
	}
	if t, _, ok := hardware.Tool(d); ok {
		return []string{title, c.driver(t)}
	}
	return []string{title}
}

// driver is the tool in the language's words.
func (c *composer) driver(t hardware.Driver) string {
	switch {
	case t.Size == "" && c.has("tool."+t.Kind):
		return c.say("tool." + t.Kind)
	case t.Size == "" || !c.has("driver."+t.Kind):
		return t.String()
	}
	size := strings.Replace(t.Size, " mm", nbsp+"mm", 1)
	if c.tongue == german {
		size = strings.Replace(size, ".", ",", 1)
	}
	return c.say("driver."+t.Kind, size)
}

func (c *composer) packs(n *int, of *float64) string {
	if n == nil || of == nil {
		return unknown
	}
	return c.say("packs of", *n, c.short(*of))
}

func (c *composer) price(x *float64) string {
	return figure(x, func(v float64) string { return c.money(v, c.BOM.Currency) })
}

// or joins words: a, b or c.
func (c *composer) or(words []string) string {
	if len(words) < 2 {
		return join("", words...)
	}
	return join(", ", words[:len(words)-1]...) + " " + c.say("or") + " " + words[len(words)-1]
}
